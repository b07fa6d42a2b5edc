"""Graphics cards: what their drivers say, and which product a card is.

Sources: attributes of amdgpu, i915 and xe in sysfs (kernel documentation, gpu/amdgpu/driver-misc; from
memory for i915 and xe), `/proc/driver/nvidia` of NVIDIA's driver, and two lists of names: AMD's
`amdgpu.ids` (device, revision, product) and `pci.ids` (device, and cards by their subsystem).

A device id is a chip, not a product: 69 of the 198 ids in `amdgpu.ids` 1.0.0 name several. So a product is
told by device, revision, subsystem and memory together, and where several remain none is named: they are
the fact `model_candidates`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.amdgpu_ids import Products
from shipworthy.machine.parse.pci.facts import SERIAL
from shipworthy.machine.parse.pci.links import offered
from shipworthy.machine.parse.units import GIB
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

AMD, NVIDIA_VENDOR, INTEL = "1002", "10de", "8086"
NVIDIA = "/proc/driver/nvidia/gpus"

_UNKNOWN_PRODUCT = frozenset(("graphics device", "nvidia graphics device", "unknown", "unknown error"))
"""What NVIDIA's driver calls a card that is newer than itself."""

_PRODUCT = re.compile(r"^(.*?)\[([^\[\]]+)\]$")
_GIGABYTES = re.compile(r"\b(\d{1,3}) ?GB\b", re.IGNORECASE)
_NUMBERS = re.compile(r"\d{3,4}")


def chip_temperature_c(degrees: float) -> float | Absent:
    """Return degrees Celsius as a limit or a reading of a card's chip can be."""
    return degrees if 0 < degrees < 150 else Absent.IMPLAUSIBLE


def card_power_w(watts: float) -> float | Absent:
    """Return watts as a card can draw; none draws nothing, and none has 2,000."""
    return watts if 0 < watts < 2000 else Absent.IMPLAUSIBLE


@dataclass(frozen=True, slots=True)
class Naming:
    """What the lists make of a card. model is set only if one product remains."""

    model: str = ""
    candidates: tuple[str, ...] = ()
    chip: str = ""


def product_name(text: str) -> str:
    """Return a driver's name of a card; empty if it says that it does not know it."""
    name = " ".join(text.split())
    return "" if name.casefold() in _UNKNOWN_PRODUCT or is_placeholder(name) else name


def chip_and_products(name: str) -> tuple[str, tuple[str, ...]]:
    """Return chip and products of a name in `pci.ids`, such as `Navi 22 [Radeon RX 6700/6700 XT / 6800M]`.

    A product that begins with its number has the words before the last one's number: `Radeon RX 6700 XT`.
    """
    match = _PRODUCT.match(name)
    if match is None:
        return name, ()
    found: list[str] = []
    for piece in (piece.strip() for piece in match[2].split("/")):
        if piece:
            found.append(_whole(piece, found[-1] if found else ""))
    return match[1].rstrip(), tuple(dict.fromkeys(found))


_VARIANTS = frozenset(("laptop", "max-q", "mobile", "oem", "refresh", "super", "ti", "xt"))


def _whole(piece: str, before: str) -> str:
    """Return a product's whole name; what it shares with the one before stands only there."""
    first, words = piece.split()[0], before.split()
    at = next((i for i, word in enumerate(words) if word[0].isdigit()), None)
    if at is not None and _GIGABYTES.fullmatch(piece) and _GIGABYTES.search(before):  # `Max-Q 8GB/16GB`
        return _GIGABYTES.sub(piece, before)
    if at is not None and first.casefold() in _VARIANTS:  # `3080 Mobile / Max-Q`
        return " ".join([*words[: at + 1], piece])
    if at and first[0].isdigit():  # `Radeon RX 6700/6700 XT`
        return " ".join([*words[:at], piece])
    if re.fullmatch(r"[A-Z]{1,2}\d+", first) and len(words) > 1:  # `Radeon R7 370 / R9 270`
        return f"{words[0]} {piece}"
    return piece


def name_card(
    amd: tuple[tuple[str, ...], bool],
    listed: str,
    card: str,
    memory_bytes: int | None,
) -> Naming:
    """Return what a card is by the lists.

    amd: names by AMD's list, and whether the revision is in it. listed: the device's name in `pci.ids`.
    card: the name of exactly this card (by subsystem) in `pci.ids`.
    """
    chip, products = chip_and_products(listed)
    names, exact = amd
    candidates = names or products
    if not candidates:
        return Naming(model="", candidates=(), chip=chip) if products or not listed else Naming(model=listed)
    chip = chip if products else ""
    candidates, contradicted = _of_memory(_of_card(candidates, card), memory_bytes)
    if len(candidates) == 1 and (exact or not names or card) and not contradicted:
        return Naming(candidates[0], (), chip)
    return Naming("", candidates, chip)


def _of_card(candidates: tuple[str, ...], card: str) -> tuple[str, ...]:
    """Keep the products whose numbers the card's own name has, if there are such."""
    numbers = set(_NUMBERS.findall(card))
    kept = tuple(c for c in candidates if (own := set(_NUMBERS.findall(c))) and own <= numbers)
    return kept or candidates


def _of_memory(candidates: tuple[str, ...], memory_bytes: int | None) -> tuple[tuple[str, ...], bool]:
    """Leave out products whose name tells another size of memory; and whether that would leave none.

    A driver keeps up to a tenth of the memory to itself.
    """
    if not memory_bytes:
        return candidates, False
    kept: list[str] = []
    for candidate in candidates:
        match = _GIGABYTES.search(candidate)
        if match is None or 0.9 <= memory_bytes / (max(int(match[1]), 1) * GIB) <= 1.02:
            kept.append(candidate)
    return (tuple(kept), False) if kept else (candidates, True)


def naming_facts(naming: Naming) -> tuple[Said, ...]:
    """Return the fields of a card's name. Where several products remain, `model` is not offered."""
    fields: list[Said] = []
    if naming.model:
        fields.append(said("model", naming.model))
    elif naming.candidates:
        fields.append(said("model", Absent.NOT_OFFERED))
        fields.append(said("model_candidates", " | ".join(naming.candidates)))
    if naming.chip:
        fields.append(said("chip", naming.chip))
    return tuple(fields)


def read_card_names(text: str) -> dict[tuple[str, str, str, str], str]:
    """Return names of cards by their four ids: vendor, device, and both of the subsystem (`pci.ids`)."""
    names: dict[tuple[str, str, str, str], str] = {}
    vendor = device = ""
    for line in text.splitlines():
        code, _, name = line.strip().partition("  ")
        if line.startswith("#") or not code:
            continue
        if line.startswith("\t\t"):
            maker, _, card = code.partition(" ")
            names[vendor, device, maker, card.strip()] = name.strip()
        elif line.startswith("\t"):
            device = code
        else:
            vendor = code
    return names


def amd_names(
    products: Products | None, vendor: str, device: str, revision: int | None
) -> tuple[tuple[str, ...], bool]:
    """Return the names that AMD's list has for a function's ids (four hexadecimal digits)."""
    if products is None or vendor != AMD or not re.fullmatch(r"[0-9a-f]{4}", device):
        return (), False
    return products.of(int(device, 16), revision)


def driver_facts(listing: Listing, folder: str, address: str) -> tuple[Said, ...]:
    """Return what a graphics driver says of a card: name, memory, firmware, serials."""
    information = nvidia_information(listing.text(f"{NVIDIA}/{address}/information") or "")
    memory = listing.number(f"{folder}/mem_info_vram_total") or listing.number(
        f"{folder}/tile0/physical_vram_size_bytes"
    )
    visible = listing.number(f"{folder}/mem_info_vis_vram_total")
    name = product_name(information.get("Model", "") or listing.text(f"{folder}/product_name") or "")
    serial = listing.text(f"{folder}/serial_number") or ""  # of the function where it is an EUI-64
    bios = information.get("Video BIOS", "") or listing.text(f"{folder}/vbios_version") or ""
    fields = list(
        offered(
            said("model", name or None),
            said("vbios_version", _value(bios)),
            said("uuid", _value(information.get("GPU UUID"))),
            said("serial", None if SERIAL.fullmatch(serial) else _value(serial)),
            said("unique_id", _value(listing.text(f"{folder}/unique_id"))),
            said("part_number", _value(listing.text(f"{folder}/product_number"))),
            said("memory_vendor", _value(listing.text(f"{folder}/mem_info_vram_vendor"))),
        )
    )
    if memory:
        fields.append(said("memory_bytes", memory))
    if visible:
        fields.append(said("visible_memory_bytes", visible))
    clock = listing.number(f"{folder}/tile0/gt0/freq0/rp0_freq")
    if clock:
        fields.append(said("core_clock_max_mhz", clock))
    replays = listing.number(f"{folder}/pcie_replay_count")
    if replays is not None:
        fields.append(said("pcie_replays", replays))
    return (*fields, *_levels(listing.text(f"{folder}/pp_dpm_pcie") or ""))


def _value(text: str | None) -> str | None:
    """Return a driver's text; None if it is none. NVIDIA's driver prints `??` for what it cannot read."""
    return None if text is None or is_placeholder(text) or "?" in text else text


def _levels(text: str) -> tuple[Said, ...]:
    """The speeds and widths that amdgpu switches between (`pp_dpm_pcie`: `1: 16.0GT/s, x16 619Mhz *`)."""
    found = re.findall(r"(\d+(?:\.\d+)?)GT/s,? x(\d+)", text)
    if not found:
        return ()
    best = max((float(speed), int(width)) for speed, width in found)
    return (said("driver_link_max_speed_gt_s", best[0]), said("driver_link_max_width", best[1]))


def nvidia_information(text: str) -> Mapping[str, str]:
    """Return the fields of `/proc/driver/nvidia/gpus/*/information`: `Model: <tabs> NVIDIA …`."""
    pairs = (line.partition(":") for line in text.splitlines() if ":" in line)
    return {name.strip(): value.strip() for name, _, value in pairs}


def resizable_bar(
    memory_bytes: int | None, visible_bytes: int | None, resizable: Iterable[tuple[int, tuple[int, ...]]]
) -> str | None:
    """Return whether the processor reaches the whole of a card's memory at once (`on`) or not (`off`).

    visible_bytes: the largest BAR, or what the driver says. resizable: size now and sizes offered, of each
    BAR that can be resized: of use where nobody tells the memory. None where it cannot be told.
    """
    if memory_bytes and visible_bytes:
        return "on" if visible_bytes >= memory_bytes else "off"
    able = [(now, max(sizes)) for now, sizes in resizable if sizes]
    if not able:
        return None
    now, most = max(able, key=lambda pair: pair[1])
    return "on" if now >= most else "off"
