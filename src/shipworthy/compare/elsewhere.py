"""A part whose serial stands in the record of another unit: it was another customer's, or still is.

It holds, unless a restocking entry of a person clears what was seen until its day. ADR 0029.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from shipworthy.compare.unordered import is_plugged_in, what_it_is
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.base import Scalar, values
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.known import Known, Restocking, Seen
from shipworthy.model.orders import OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, PartKind, Unit

KINDS = (
    PartKind.BOARD,
    PartKind.PROCESSOR,
    PartKind.MEMORY_MODULE,
    PartKind.STORAGE,
    PartKind.GRAPHICS,
    PartKind.OPTICAL_DRIVE,
    PartKind.DISPLAY,
    PartKind.POWER_SUPPLY,
)
"""Kinds of parts that go from one unit to another and have a serial of their own."""
_LEAST_SIGNS = 4  # the tool's own rule: shorter ones are counters of a maker's, and many parts have them


def serial_of(part: Part) -> str:
    """Return the serial by which a part can be told from all others; empty where it has none."""
    serial = part.text("serial").strip()
    plain = serial.replace("-", "").replace(":", "").replace(" ", "").replace(".", "")
    return "" if len(plain) < _LEAST_SIGNS or is_placeholder(serial) or is_placeholder(plain) else serial


def telling_parts(reading: Reading) -> dict[str, Part]:
    """Return the parts with a serial that tells one part from all others, by that serial.

    A serial that several parts of one machine have tells none of them.
    """
    parts = [part for part in reading.parts if part.kind in KINDS]
    all_serials = Counter(part.text("serial").strip() for part in reading.parts)
    return {serial: part for part in parts if (serial := serial_of(part)) and all_serials[serial] == 1}


def elsewhere_findings(
    reading: Reading, owners: Mapping[str, OrderLine], known: Known, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return a finding for each part that stands in another unit's record: a difference, or, where somebody
    has restocked it since, that somebody has.

    owners: the order line of each place that has one. What hangs on the machine from outside and is on no
    line goes from unit to unit by its nature.
    """
    mine = telling_parts(reading)
    for serial, part in sorted(mine.items()):
        owner = owners.get(part.place)
        if owner is None and is_plugged_in(part):
            continue
        seen = [one for one in known.seen if one.serial == serial and _may_be(one, part)]
        if not seen:
            continue
        last = max(seen, key=lambda one: (one.on, one.unit_id, one.attempt))
        cleared = _cleared(last, known)
        units = ", ".join(sorted({f"{one.unit_id}, attempt {one.attempt}" for one in seen}))
        named: dict[str, Scalar] = {"what": what_it_is(part), "serial": serial, "units": units}
        if cleared is not None:
            named |= {"by": cleared.by, "on": cleared.on.isoformat(), "why": cleared.why}
        yield Finding(
            code="elsewhere.seen-in-another-unit" if cleared is None else "elsewhere.restocked",
            outcome=Outcome.DIFFERS if cleared is None else Outcome.NOT_CHECKED,
            category=Category.UNIT if owner is None else owner.category,
            aspect=Aspect.CONDITION,
            by=EvidenceKind.READING,
            line="" if owner is None else owner.line_id,
            part=part.place,
            got=serial,
            unit=Unit.TEXT,
            values=values(**named),
            evidence=evidence,
            configuration=reading.configuration.digest,
        )


def _may_be(seen: Seen, part: Part) -> bool:
    """Makers number each product on its own, so the same serial of another kind or model is another part."""
    model = part.text("model") or part.text("part_number")
    return seen.kind is part.kind and (not model or not seen.model or model == seen.model)


def _cleared(last: Seen, known: Known) -> Restocking | None:
    """Return the entry that came after the part was seen last."""
    entries = [one for one in known.restocked if one.serial.strip() == last.serial and one.on >= last.on]
    return max(entries, key=lambda one: one.on, default=None)
