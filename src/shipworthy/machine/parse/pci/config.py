"""The configuration space of one PCI function: header, capability lists, PCI Express, errors, resizable BARs.

Source: `/sys/bus/pci/devices/*/config`: 64 bytes for any account, 256 or 4096 for root. Layout: PCI Local
Bus Specification 3.0, chapter 6, and PCI Express Base Specification, 7.5 to 7.8 (both from memory); the
numbers of speeds, widths and slot power also stand in the Linux kernel's `pci_regs.h`.

Only what is decoded is fetched: some devices cannot bear that undefined registers are read. So the walk
takes a function that fetches bytes; on a machine it reads the file, afterwards the pieces that were kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from shipworthy.machine.parse.pci.config_words import (
    AER,
    CORRECTABLE,
    EXPRESS,
    HIGH_POWER,
    PORT_TYPES,
    POWER_MANAGEMENT,
    RESIZABLE_BAR,
    SCALES,
    SERIAL,
    SPEEDS_GT_S,
    SUBSYSTEM,
    UNCORRECTABLE,
    WIDTHS,
    Capability,
    Config,
    Errors,
    Express,
    ResizableBar,
)
from shipworthy.machine.raw import Fault, Section
from shipworthy.model.words import RemarkKind

Fetch = Callable[[int, int], bytes]
"""(offset, count) → bytes; fewer, or none, where there are none or this account may not."""

HEADER_BYTES, LEGACY_BYTES = 64, 256
MOST_CAPABILITIES = 48  # what fits between 40h and FFh, four bytes each
MOST_EXTENDED = 960  # the same from 100h to FFFh


class Space:
    """Numbers in a configuration space, little-endian; None where no bytes came."""

    def __init__(self, fetch: Fetch) -> None:
        self._fetch = fetch

    def data(self, at: int, count: int) -> bytes | None:
        found = self._fetch(at, count)
        return found if len(found) == count else None

    def number(self, at: int, count: int) -> int | None:
        found = self.data(at, count)
        return None if found is None else int.from_bytes(found, "little")


def from_bytes(data: bytes) -> Fetch:
    """Return a fetch over a whole space as a file holds it."""
    return lambda at, count: data[at : at + count]


def from_pieces(pieces: Mapping[int, bytes]) -> Fetch:
    """Return a fetch over the pieces that were read of a space, by their offset."""

    def fetch(at: int, count: int) -> bytes:
        whole = pieces.get(at)
        if whole is not None and len(whole) >= count:
            return whole[:count]
        for begin, data in pieces.items():
            if begin <= at and at + count <= begin + len(data):
                return data[at - begin : at - begin + count]
        return b""

    return fetch


def decode(fetch: Fetch) -> Config | None:
    """Return what a configuration space says; None if there is no header, or nobody answers (all ones)."""
    header = Space(fetch).data(0, HEADER_BYTES)
    if header is None or header[:4] in (b"\xff" * 4, b"\0" * 4):
        return None
    space, faults = Space(fetch), list[Fault]()
    kind = header[14] & 0x7F
    if kind > 2:
        faults.append(Fault(RemarkKind.BAD_HEADER, "offset 0x0e", f"header type 0x{kind:02x}"))
    word = int.from_bytes
    status = word(header[6:8], "little")
    listed, readable = _legacy(space, header, kind, status, faults)
    capabilities = tuple(listed)
    express_at = next((c.at for c in capabilities if c.number == EXPRESS), None)
    extended, extended_readable = _extended(space, faults) if express_at is not None else ([], True)
    every = capabilities + tuple(extended)
    at = {(c.number, c.extended): c.at for c in reversed(every)}
    return Config(
        vendor=word(header[0:2], "little"),
        device=word(header[2:4], "little"),
        command=word(header[4:6], "little"),
        status=status,
        revision=header[8],
        class_code=word(header[9:12], "little"),
        header_type=kind,
        multifunction=bool(header[14] & 0x80),
        subsystem=_subsystem(space, header, kind, at.get((SUBSYSTEM, False))),
        buses=(header[24], header[25], header[26]) if kind in (1, 2) else None,
        bars=_bars(header, kind),
        capabilities=every,
        express=None if express_at is None else _express(space, express_at),
        power_state=_power_state(space, at.get((POWER_MANAGEMENT, False))),
        errors=_errors(space, at.get((AER, True))),
        serial=_serial(space, at.get((SERIAL, True))),
        resizable=_resizable(space, at.get((RESIZABLE_BAR, True)), faults),
        readable=readable,
        extended_readable=readable and extended_readable,
        faults=tuple(faults),
    )


def _bars(header: bytes, kind: int) -> tuple[int, ...]:
    """Return the base address registers: six of a device, two of a bridge, one of CardBus."""
    end = (0x28, 0x18, 0x14)[min(kind, 2)]
    return tuple(int.from_bytes(header[at : at + 4], "little") for at in range(0x10, end, 4))


def _legacy(
    space: Space, header: bytes, kind: int, status: int, faults: list[Fault]
) -> tuple[list[Capability], bool]:
    """Return the capabilities, and whether the list could be followed to its end."""
    found: list[Capability] = []
    if not status & 0x10:
        return found, True
    pointer = header[0x14 if kind == 2 else 0x34] & 0xFC
    seen: set[int] = set()
    while pointer and len(found) < MOST_CAPABILITIES:
        if pointer < 0x40:
            faults.append(Fault(RemarkKind.BAD_REFERENCE, "capability list", f"points to 0x{pointer:02x}"))
            return found, True
        if pointer in seen:
            faults.append(Fault(RemarkKind.BAD_REFERENCE, "capability list", f"a loop at 0x{pointer:02x}"))
            return found, True
        seen.add(pointer)
        entry = space.data(pointer, 2)
        if entry is None:
            return found, False
        if entry[0] == 0xFF:
            faults.append(Fault(RemarkKind.BAD_VALUE, f"capability at 0x{pointer:02x}", "all ones"))
            return found, True
        found.append(Capability(entry[0], pointer))
        pointer = entry[1] & 0xFC
    return found, True


def _extended(space: Space, faults: list[Fault]) -> tuple[list[Capability], bool]:
    found: list[Capability] = []
    pointer, seen = LEGACY_BYTES, set[int]()
    while pointer and len(found) < MOST_EXTENDED:
        if pointer < LEGACY_BYTES or pointer in seen:
            what = "a loop at" if pointer in seen else "points to"
            faults.append(
                Fault(RemarkKind.BAD_REFERENCE, "extended capability list", f"{what} 0x{pointer:03x}")
            )
            return found, True
        seen.add(pointer)
        entry = space.number(pointer, 4)
        if entry is None:
            return found, False
        if entry in (0, 0xFFFFFFFF):  # an empty list, or a bridge on the way that does not pass it on
            return found, True
        found.append(Capability(entry & 0xFFFF, pointer, True, entry >> 16 & 0xF))
        pointer = entry >> 20 & 0xFFC
    return found, True


def _subsystem(space: Space, header: bytes, kind: int, at: int | None) -> tuple[int, int] | None:
    """Of a device it stands in the header, of a bridge in a capability, of a CardBus bridge at 40h."""
    if kind == 0:
        data: bytes | None = header[0x2C:0x30]
    elif kind == 1:
        data = None if at is None else space.data(at + 4, 4)
    else:
        data = space.data(0x40, 4)
    if data is None:
        return None
    return int.from_bytes(data[:2], "little"), int.from_bytes(data[2:], "little")


def _express(space: Space, at: int) -> Express:
    flags = space.number(at + 0x02, 2)
    capable, control = space.number(at + 0x04, 4), space.number(at + 0x08, 2)
    link, state = space.number(at + 0x0C, 4), space.number(at + 0x12, 2)
    version = 0 if flags is None else flags & 0xF
    slot = flags is not None and bool(flags & 0x100)
    slots = space.number(at + 0x14, 4) if slot else None
    target = space.number(at + 0x30, 2) if version >= 2 else None
    return Express(
        port_type=None if flags is None else PORT_TYPES.get(flags >> 4 & 0xF, f"type 0x{flags >> 4 & 0xF:x}"),
        payload_max_bytes=None if capable is None else _payload(capable & 7),
        payload_bytes=None if control is None else _payload(control >> 5 & 7),
        link_max_speed_gt_s=_speed(link),
        link_max_width=_width(link),
        link_speed_gt_s=_speed(state),
        link_width=_width(state),
        target_speed_gt_s=_speed(target),
        slot=slot,
        slot_number=None if slots is None else slots >> 19,
        slot_power_w=None if slots is None else slot_power_w(slots),
    )


def _payload(code: int) -> int | None:
    return 128 << code if code <= 5 else None


def _speed(register: int | None) -> float | None:
    """Bits 3:0 of Link Capabilities, Link Status and Link Control 2."""
    return None if register is None else SPEEDS_GT_S.get(register & 0xF)


def _width(register: int | None) -> int | None:
    """Bits 9:4 of Link Capabilities and Link Status; 0 and what is no width: no link to speak of."""
    lanes = None if register is None else register >> 4 & 0x3F
    return lanes if lanes in WIDTHS else None


def slot_power_w(capabilities: int) -> float | None:
    """Return the slot power limit of Slot Capabilities: value in bits 14:7, scale in 16:15; None if unset."""
    value, scale = capabilities >> 7 & 0xFF, capabilities >> 15 & 3
    if scale == 0 and value >= 0xF0:
        return HIGH_POWER.get(value)
    return round(value * SCALES[scale], 3) or None


def _power_state(space: Space, at: int | None) -> str | None:
    control = None if at is None else space.number(at + 4, 2)
    return None if control is None else ("D0", "D1", "D2", "D3hot")[control & 3]


def _errors(space: Space, at: int | None) -> Errors | None:
    data = None if at is None else space.data(at + 4, 20)
    if data is None:
        return None
    words = [int.from_bytes(data[i : i + 4], "little") for i in range(0, 20, 4)]
    return Errors(words[0], words[1], words[3], words[4])


def _serial(space: Space, at: int | None) -> str | None:
    data = None if at is None else space.data(at + 4, 8)
    return None if data is None else data[::-1].hex("-")


def _resizable(space: Space, at: int | None, faults: list[Fault]) -> tuple[ResizableBar, ...]:
    first = None if at is None else space.number(at + 8, 4)
    if at is None or first is None:
        return ()
    found: list[ResizableBar] = []
    for index in range(min(first >> 5 & 7, 6)):
        able, control = space.number(at + 4 + 8 * index, 4), space.number(at + 8 + 8 * index, 4)
        if able is None or control is None:
            break
        bar, size = control & 7, control >> 8 & 0x3F
        if bar > 5 or size > 43:
            detail = f"BAR {bar}, size code {size}"
            faults.append(Fault(RemarkKind.BAD_VALUE, f"resizable BAR at 0x{at:03x}", detail))
            continue
        sizes = tuple(1 << 20 + bit for bit in range(28) if able >> 4 & 1 << bit)
        found.append(ResizableBar(bar, 1 << 20 + size, sizes))
    return tuple(found)


def names_of(bits: int, names: Mapping[int, str]) -> str:
    """Return the names of the bits that are set, or `none`."""
    found = [names.get(bit, f"bit {bit}") for bit in range(32) if bits >> bit & 1]
    return ", ".join(found) or "none"


def describe(data: bytes) -> tuple[Section, ...]:
    """Return a configuration space field by field, for people; empty for bytes that are none."""
    config = decode(from_bytes(data))
    if config is None:
        return ()
    return (
        _header_section(config),
        *(_capability_section(c, config, data) for c in config.capabilities),
        *(Section(f"fault: {f.kind.value}", f.where, (("detail", f.detail),)) for f in config.faults),
    )


def _header_section(config: Config) -> Section:
    fields: list[tuple[str, str | int | float | bool]] = [
        ("vendor_id", f"0x{config.vendor:04x}"),
        ("device_id", f"0x{config.device:04x}"),
        ("command", f"0x{config.command:04x}"),
        ("status", f"0x{config.status:04x}"),
        ("revision", f"0x{config.revision:02x}"),
        ("class", f"0x{config.class_code:06x}"),
        ("header_type", config.header_type),
        ("multifunction", config.multifunction),
    ]
    fields += [(f"bar_{i}", f"0x{bar:08x}") for i, bar in enumerate(config.bars)]
    if config.buses is not None:
        fields += zip(("primary_bus", "secondary_bus", "subordinate_bus"), config.buses, strict=True)
    if config.subsystem is not None:
        fields += [
            ("subsystem_vendor_id", f"0x{config.subsystem[0]:04x}"),
            ("subsystem_device_id", f"0x{config.subsystem[1]:04x}"),
        ]
    fields.append(("capabilities_readable", config.readable))
    return Section("header", "offset 0x00", tuple(fields))


def _capability_section(capability: Capability, config: Config, data: bytes) -> Section:
    fields = tuple(
        (name, value) for name, value in _capability_fields(capability, config) if value is not None
    )
    if not fields:
        fields = (("bytes", data[capability.at : capability.at + 16].hex(" ")),)
    return Section(capability.name, f"offset 0x{capability.at:03x}", fields)


def _capability_fields(
    capability: Capability, config: Config
) -> Iterator[tuple[str, str | int | float | bool | None]]:
    key = (capability.number, capability.extended)
    if key == (EXPRESS, False) and config.express is not None:
        for name in Express.__slots__:
            yield name, getattr(config.express, name)
    elif key == (POWER_MANAGEMENT, False):
        yield "power_state", config.power_state
    elif key == (SERIAL, True):
        yield "serial", config.serial
    elif key == (AER, True) and config.errors is not None:
        yield "uncorrectable", names_of(config.errors.uncorrectable, UNCORRECTABLE)
        yield "uncorrectable_masked", names_of(config.errors.uncorrectable_mask, UNCORRECTABLE)
        yield "correctable", names_of(config.errors.correctable, CORRECTABLE)
        yield "correctable_masked", names_of(config.errors.correctable_mask, CORRECTABLE)
    elif key == (RESIZABLE_BAR, True):
        for bar in config.resizable:
            yield f"bar_{bar.bar}_size_bytes", bar.size_bytes
            yield f"bar_{bar.bar}_sizes_bytes", ", ".join(map(str, bar.sizes))
