"""Parts that no order line asks for: another customer's drive, a module too many, a card left from a test.

Each is a difference of the unit, for no line could answer for it. What hangs on the machine from outside has
a code of its own, since it stays on the bench. The bench's own gear is left out by its serial, and named.
Nothing here ever covers anything. ADR 0029.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Iterator, Mapping
from dataclasses import dataclass

from shipworthy.compare.onboard import device_of, is_in_a_slot, is_soldered
from shipworthy.model.base import values
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.known import Gear, Known
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, EvidenceKind, Outcome, PartKind, Unit

_CODES = {
    PartKind.PROCESSOR: "unordered.processor",
    PartKind.MEMORY_MODULE: "unordered.memory-module",
    PartKind.STORAGE: "unordered.drive",
    PartKind.GRAPHICS: "unordered.card",
    PartKind.NETWORK: "unordered.card",
    PartKind.SOUND: "unordered.card",
    PartKind.OPTICAL_DRIVE: "unordered.optical-drive",
    PartKind.DISPLAY: "unordered.plugged-in",
}
_ONLY_IN_SLOTS = frozenset({PartKind.NETWORK, PartKind.SOUND})  # every board has its own
_OF_A_CARD = frozenset({PartKind.GRAPHICS, PartKind.NETWORK, PartKind.SOUND})
"""One card is several of these: its graphics and its sound, or one adapter for each of its jacks."""
_SOLD_WHOLE = {PartKind.PROCESSOR: Category.PROCESSOR, PartKind.MEMORY_MODULE: Category.MEMORY}
"""No PC runs without these: an order that sells none speaks of a machine that had its own already."""
_PLUGGED_IN = "USB"
_KINDS_OF_GEAR = (*_CODES, PartKind.USB_DEVICE)


@dataclass(frozen=True)
class Unordered:
    """extra: parts that nobody ordered, in order of kind and place. left_out: the bench's own, by place."""

    extra: tuple[Part, ...]
    left_out: Mapping[str, Gear]


def unordered_parts(
    reading: Reading, claimed: Collection[str], sold: Container[Category], known: Known
) -> Unordered:
    """Return what is in the machine and on no order line.

    claimed: places of the parts that stand for a line. sold: categories of which the order has a line.
    """
    gear = {one.serial.strip().casefold(): one for one in known.gear}
    left_out = {
        part.place: gear[serial]
        for part in reading.parts
        if part.kind in _KINDS_OF_GEAR
        and part.place not in claimed
        and (serial := part.text("serial").strip().casefold()) in gear
    }
    extra: list[Part] = []
    devices = {device_of(p.place) for p in reading.parts if p.place in claimed and p.kind in _OF_A_CARD}
    for part in sorted(reading.parts, key=lambda part: (part.kind.value, part.place)):
        device = device_of(part.place) if part.kind in _OF_A_CARD else ""
        if part.place in claimed or part.place in left_out or device in devices:
            continue  # a card's sound is a function of the card
        if _counts(part, reading, sold):
            extra.append(part)
            devices |= {device} - {""}
    return Unordered(tuple(extra), left_out)


def unordered_findings(found: Unordered, reading: Reading, evidence: tuple[str, ...]) -> Iterator[Finding]:
    """Return a finding for each part that nobody ordered, and one for each thing of the bench's own."""
    for part in found.extra:
        code = "unordered.plugged-in" if is_plugged_in(part) else _CODES[part.kind]
        serial = part.text("serial") or part.why_absent("serial").value
        named = {"what": what_it_is(part), "kind": part.kind.value, "serial": serial}
        yield _finding(code, Outcome.DIFFERS, part.place, named, reading, evidence)
    for place, gear in sorted(found.left_out.items()):
        named = {"what": gear.what, "serial": gear.serial}
        yield _finding("unordered.bench-gear", Outcome.NOT_CHECKED, place, named, reading, evidence)


def is_plugged_in(part: Part) -> bool:
    """Return whether a part hangs on the machine from outside: a display, or what is on USB."""
    return part.kind is PartKind.DISPLAY or part.text("interface") == _PLUGGED_IN


def what_it_is(part: Part) -> str:
    """Return what a part calls itself, with its maker's name where that is not in it; else its kind."""
    maker, model = part.text("maker"), part.text("model") or part.text("part_number")
    if not model:
        return part.kind.value
    return model if not maker or maker.casefold() in model.casefold() else f"{maker} {model}"


def _counts(part: Part, reading: Reading, sold: Container[Category]) -> bool:
    if part.kind not in _CODES or _is_empty(part):
        return False
    if part.kind is PartKind.PROCESSOR and not part.place.startswith("socket:"):
        return False  # firmware's tables have processors that are not there; the kernel's list has not
    needed = _SOLD_WHOLE.get(part.kind)
    if needed is not None and needed not in sold:
        return False
    if part.kind in _ONLY_IN_SLOTS:
        return is_in_a_slot(part, reading)
    return not is_soldered(part, reading)


def _is_empty(part: Part) -> bool:
    return part.why_absent("size_bytes") is Absent.NOT_FITTED and part.number("size_bytes") is None


def _finding(
    code: str,
    outcome: Outcome,
    place: str,
    named: Mapping[str, str],
    reading: Reading,
    evidence: tuple[str, ...],
) -> Finding:
    return Finding(
        code=code,
        outcome=outcome,
        category=Category.UNIT,
        aspect=Aspect.PRESENCE,
        by=EvidenceKind.READING,
        part=place,
        got=named["what"],
        unit=Unit.TEXT,
        values=values(**named),
        evidence=evidence,
        configuration=reading.configuration.digest,
    )
