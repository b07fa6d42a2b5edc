"""A reading for people: first the parts that an order speaks of, then how many others there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from shipworthy.cli.show import wrapped
from shipworthy.messages import quantity_text, scalar_text
from shipworthy.model.facts import Part
from shipworthy.model.words import Absent, PartKind, Unit

ORDERED = (
    PartKind.PROCESSOR,
    PartKind.BOARD,
    PartKind.MEMORY,
    PartKind.MEMORY_MODULE,
    PartKind.UNPLACED_MODULE,
    PartKind.GRAPHICS,
    PartKind.STORAGE,
    PartKind.OPTICAL_DRIVE,
    PartKind.POWER_SUPPLY,
    PartKind.NETWORK,
    PartKind.BLUETOOTH,
    PartKind.SOUND,
    PartKind.DISPLAY,
    PartKind.CHASSIS,
    PartKind.FIRMWARE,
    PartKind.SYSTEM,
    PartKind.SECURITY_MODULE,
    PartKind.BATTERY,
)
"""The kinds that an order, or the question whose machine it is, speaks of; in the order of an order."""
_BINARY = (PartKind.MEMORY, PartKind.MEMORY_MODULE, PartKind.UNPLACED_MODULE, PartKind.GRAPHICS)
_DETAILS: dict[PartKind, tuple[tuple[str, str], ...]] = {
    PartKind.PROCESSOR: (("cores", "{} cores"), ("threads", "{} threads")),
    PartKind.MEMORY: (("fitted_bytes", "{} fitted"), ("real_bytes", "{}"), ("usable_bytes", "{} usable")),
    PartKind.MEMORY_MODULE: (("size_bytes", "{}"), ("type", "{}"), ("configured_speed_mt_s", "runs at {}")),
    PartKind.UNPLACED_MODULE: (("size_bytes", "{}"), ("type", "{}")),
    PartKind.GRAPHICS: (("memory_bytes", "{}"),),
    PartKind.STORAGE: (("size_bytes", "{}"), ("technology", "{}"), ("firmware_version", "firmware {}")),
    PartKind.OPTICAL_DRIVE: (("firmware_version", "firmware {}"),),
    PartKind.POWER_SUPPLY: (("max_power_w", "{}"),),
    PartKind.NETWORK: (("technology", "{}"), ("speed_mbit_s", "{}"), ("mac", "address {}")),
    PartKind.SOUND: (("codec", "codec {}"),),
    PartKind.DISPLAY: (("diagonal_inch", "{} inch"),),
    PartKind.CHASSIS: (("type", "{}"),),
    PartKind.FIRMWARE: (
        ("version", "{}"),
        ("date", "of {}"),
        ("mode", "{}"),
        ("secure_boot", "Secure Boot: {}"),
    ),
    PartKind.SECURITY_MODULE: (("tpm_version", "TPM {}"), ("firmware_version", "firmware {}")),
    PartKind.BATTERY: (("capacity_percent", "{} % charged"), ("cycles", "{} cycles")),
    PartKind.SLOT: (("label", "{}"), ("type", "{}"), ("in_use", "in use: {}")),
    PartKind.CONNECTOR: (("label", "{}"), ("internal_label", "{}"), ("connector", "{}")),
    PartKind.CACHE: (("label", "{}"), ("size_bytes", "{}")),
    PartKind.SENSOR_CHIP: (("name", "{}"),),
    PartKind.KERNEL: (("release", "{}"),),
    PartKind.ONBOARD_DEVICE: (("label", "{}"), ("type", "{}")),
    PartKind.PROBE: (("label", "{}"), ("measures", "{}")),
}
_INDENT = 16


def show_parts(parts: Sequence[Part], *, every: bool) -> None:
    """Print a line for each part that an order speaks of, and a count of the others. every: all of them."""
    shown = [part for kind in ORDERED for part in parts if part.kind is kind]
    empty = [part for part in shown if _is_empty_slot(part)]
    for part in shown:
        if every or part not in empty:
            _line(part.kind.value, _described(part))
    if empty and not every:
        places = (part.place.removeprefix("smbios:") for part in empty)
        _line("empty", f"{_counted(empty)}: {', '.join(places)}")
    others = [part for part in parts if part.kind not in ORDERED]
    if every:
        for part in others:
            _line(part.kind.value, _described(part))
    elif others:
        _line("also", f"{_counted(others)}: `--all` lists them")


def _line(head: str, text: str) -> None:
    """A head that is longer than its column has a line of its own."""
    if len(head) >= _INDENT:
        wrapped(head)
        head = ""
    wrapped(f"{head:<{_INDENT}}{text}", _INDENT)


def _described(part: Part) -> str:
    named = _name(part)
    words = [named] if named else []
    words += list(_details(part))
    if part.text("serial"):
        words.append(f"serial {part.text('serial')}")
    return f"{', '.join(words) or 'says nothing of itself'}  [{part.place}]"


def _name(part: Part) -> str:
    """Return maker and model; the maker once, where the model begins with it too."""
    maker, model = part.text("maker"), part.text("model") or part.text("part_number")
    if not model and part.text("vendor_id"):
        model = f"{part.text('vendor_id')}:{part.text('device_id')}".replace("0x", "")
    return model if model.casefold().startswith(maker.casefold()) else f"{maker} {model}".strip()


def _details(part: Part) -> Iterator[str]:
    for name, form in _DETAILS.get(part.kind, ()):
        value = part.value(name)
        if value is None or value == "":
            continue
        if name.endswith("_bytes"):
            yield form.format(quantity_text(value, Unit.BYTES, binary=part.kind in _BINARY))
        else:
            yield form.format(scalar_text(name, value))


def _is_empty_slot(part: Part) -> bool:
    return part.kind is PartKind.MEMORY_MODULE and part.why_absent("size_bytes") is Absent.NOT_FITTED


def _counted(parts: Iterable[Part]) -> str:
    """Return how many of each kind there are: `12 pci devices, 1 kernel`."""
    counts = Counter(part.kind.value for part in parts)
    return ", ".join(f"{count} {kind if count == 1 else _plural(kind)}" for kind, count in counts.items())


def _plural(kind: str) -> str:
    return f"{kind[:-1]}ies" if kind.endswith("y") else f"{kind}s"
