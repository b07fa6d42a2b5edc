"""What lshw knows from SMBIOS and the kernel: system, board, firmware, processors, memory and its modules."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

from shipworthy.machine.listing import said
from shipworthy.machine.parse.cpu.words import instruction_sets
from shipworthy.machine.parse.lshw_xml.nodes import Node, given, maker_of
from shipworthy.machine.raw import remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

_TYPE = re.compile(r"\b((?:LP|GDDR|DDR)\w*|DDR|SDRAM|RDRAM|EDO)\b")
_FORM = re.compile(r"(?:Project-specific )?(\w*(?:DIMM|SIMM|RIMM)|Row of chips|Chip|TSOP|DIP)\b")


_CHASSIS = {
    "low-profile": "Low Profile Desktop",
    "pizzabox": "Pizza Box",
    "mini-tower": "Mini Tower",
    "all-in-one": "All In One",
}


def firmware_sightings(source: str, nodes: Sequence[Node]) -> tuple[list[Sighting], list[Remark]]:
    """Return sightings, and what is wrong."""
    found: list[Sighting] = []
    for node in nodes:
        for kind, place, fields in _singles(node):
            found.append(Sighting(kind=kind, place=place, source=source, said=fields))
    processors, remarks = _processors(source, nodes)
    return [*found, *processors, *_modules(source, nodes)], remarks


def _singles(node: Node) -> Iterator[tuple[PartKind, str, tuple[Said, ...]]]:
    if node.kind == "system" and not node.above:
        yield PartKind.SYSTEM, "system", _system(node)
        chassis = node.setting("chassis")
        if not isinstance(chassis, Absent):
            yield PartKind.CHASSIS, "chassis", (said("type", _CHASSIS.get(chassis, chassis.capitalize())),)
    if node.id == "core" and node.kind == "bus":
        yield PartKind.BOARD, "board", _board(node)
    if node.id == "firmware":
        version, date = node.text("version"), node.text("date")
        fields = (said("maker", node.text("vendor")), said("version", version), said("date", date))
        yield PartKind.FIRMWARE, "firmware", (*fields, said("rom_bytes", node.number("capacity", "bytes")))
    if node.id == "memory" and node.kind == "memory" and node.raw("description") == "System Memory":
        yield PartKind.MEMORY, "memory", (said("fitted_bytes", node.number("size", "bytes") or None),)


def _system(node: Node) -> tuple[Said, ...]:
    """The model has the SKU behind it in brackets, be it a placeholder."""
    model, sku = node.text("product"), node.setting("sku", placeholders=True)
    if not isinstance(model, Absent) and not isinstance(sku, Absent):
        model = given(model.removesuffix(f" ({sku})"))
    uuid = node.setting("uuid")
    return (
        said("maker", node.text("vendor")),
        said("model", model),
        said("version", node.text("version")),
        said("serial", node.text("serial")),
        said("uuid", uuid if isinstance(uuid, Absent) else uuid.lower()),
        said("family", node.setting("family")),
        said("sku", node.setting("sku")),
    )


def _board(node: Node) -> tuple[Said, ...]:
    names = (("maker", "vendor"), ("model", "product"), ("version", "version"), ("serial", "serial"))
    return tuple(said(name, node.text(tag)) for name, tag in names)


def _processors(source: str, nodes: Sequence[Node]) -> tuple[list[Sighting], list[Remark]]:
    """A slot holds one processor: where several nodes name the same slot, the first with a model counts."""
    slots: dict[str, list[Node]] = {}
    for node in nodes:
        if node.kind == "processor" and not node.disabled:
            slots.setdefault(node.raw("slot") or node.raw("businfo") or "unnamed", []).append(node)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for slot, members in slots.items():
        first = next((node for node in members if node.raw("product")), members[0])
        place = f"socket:{len(found)}"
        found.append(Sighting(kind=PartKind.PROCESSOR, place=place, source=source, said=_processor(first)))
        if len(members) > 1:
            detail = f"{len(members)} processors in one slot: they are one"
            remarks.append(remark(source, RemarkKind.REPEATED, f"slot {slot}"[:80], detail))
    return found, remarks


def _processor(node: Node) -> tuple[Said, ...]:
    clock = node.number("clock", "Hz")
    microcode = node.setting_number("microcode")
    return (
        said("maker", maker_of(node.text("vendor"))),
        said("model", node.text("product")),
        said("socket", node.text("slot")),
        said("serial", node.text("serial")),
        said("instruction_sets", instruction_sets(node.capabilities()) or None),
        *([said("cores", node.setting_number("cores"))] if node.setting_number("cores") else []),
        *([said("cores_enabled", enabled)] if (enabled := node.setting_number("enabledcores")) else []),
        *([said("threads", threads)] if (threads := node.setting_number("threads")) else []),
        *([said("microcode", hex(microcode))] if microcode else []),
        *([said("external_clock_mhz", clock // 1_000_000)] if clock else []),
    )


def _modules(source: str, nodes: Sequence[Node]) -> Iterator[Sighting]:
    """`slot` is the locator; the bank's locator is not in the report. Repeated places get a number, as
    SMBIOS's do. handle: number of the structure in SMBIOS."""
    seen: Counter[str] = Counter()
    for node in nodes:
        if node.id != "bank" or node.kind != "memory":
            continue
        locator = node.text("slot")
        place = f"smbios:{locator if not isinstance(locator, Absent) else 'unnamed'}"
        seen[place] += 1
        handle = re.fullmatch(r"DMI:([0-9A-F]{4})", node.element.get("handle") or "")
        yield Sighting(
            kind=PartKind.MEMORY_MODULE,
            place=place if seen[place] == 1 else f"{place}#{seen[place]}",
            source=source,
            said=_module(node, locator),
            also_at=(f"smbios-handle:0x{handle[1].lower()}",) if handle else (),
        )


def _module(node: Node, locator: str | Absent) -> tuple[Said, ...]:
    description = node.raw("description")
    kind, form = _TYPE.search(description), _FORM.search(description)
    size, clock = node.number("size", "bytes"), node.number("clock", "Hz")
    empty = "[empty]" in description or not size
    facts = (
        ("type", kind[1] if kind else None),
        ("firmware_speed_mt_s", round(clock / 1e6) if clock else None),
        ("maker", node.text("vendor")),
        ("part_number", node.text("product")),
        ("serial", node.text("serial")),
    )
    return (
        said("locator", locator),
        said("size_bytes", Absent.NOT_FITTED if empty else size),
        said("form_factor", form[1] if form else None),
        *(said(name, Absent.NOT_FITTED if empty else value) for name, value in facts),
    )
