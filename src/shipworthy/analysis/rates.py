"""Drives that got slow: reads below what their kind does, or that fell away within a step.

Writes are only looked at for a note: a drive's fast cache fills, and what it does then is what it is sold for
(trade facts: "judge on the whole curve, not on the peak").
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Segment
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import Order
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Report
from shipworthy.model.words import Aspect, Category, Outcome

READ, WRITTEN = "bytes read and compared", "bytes written"
FLOORS_BYTES_S = {"NVMe": 100e6, "solid state": 60e6, "spinning": 20e6}
"""Reading below this in order, a drive of that kind is broken, badly cooled, or on a link of the wrong width
(common practice, far below what is sold: NVMe thousands of MB/s, SATA up to 560, spinning 80 to 280; our
choice). A kind that is not told has no floor."""
FELL_TO = 0.25
LEAST_REPORTS = 20
"""Reports come about once a second: fewer show no course."""


def slow_findings(
    order: Order, matches: Sequence[Match], reading: Reading, segments: Sequence[Segment], basis: Basis
) -> Iterator[Finding]:
    """Return a difference for each drive whose reads are too slow, and what became of its writes."""
    lines = {
        place: match.line
        for match in matches
        for place in match.places
        if any(one.line_id == match.line and one.category is Category.STORAGE for one in order.lines)
    }
    rates = _rates(segments)
    for place in sorted({target for target, _, unit in rates if unit == READ}):
        of_place = {key: seen for key, seen in rates.items() if key[0] == place}
        yield from _slow(place, lines.get(place, ""), of_place, reading, basis)


def _rates(segments: Sequence[Segment]) -> dict[tuple[str, str, str], list[float]]:
    """Return by target, step and unit of work the rates of the reports, in order."""
    found: dict[tuple[str, str, str], list[float]] = {}
    for segment in segments:
        for report in segment.of(Report):
            if report.unit_of_work in (READ, WRITTEN) and report.seconds > 0 and report.work > 0:
                key = (report.target, report.step, report.unit_of_work)
                found.setdefault(key, []).append(report.work / report.seconds)
    return found


def _slow(
    place: str,
    line: str,
    rates: dict[tuple[str, str, str], list[float]],
    reading: Reading,
    basis: Basis,
) -> Iterator[Finding]:
    reads = [rate for (_, _, unit), seen in rates.items() if unit == READ for rate in seen]
    floor = FLOORS_BYTES_S.get(_technology(reading, place))
    category = Category.STORAGE if line else Category.UNIT
    if floor is not None and len(reads) >= LEAST_REPORTS and median(reads) < floor:
        yield basis.finding(
            "storage.slow",
            Outcome.DIFFERS,
            Aspect.LOAD,
            of_part=place,
            of_line=line,
            of_category=category,
            place=place,
            read_bytes=round(median(reads)),
            floor_bytes=round(floor),
        )
        return
    for (_, step, unit), seen in rates.items():
        early, late = seen[: len(seen) // 2], seen[len(seen) // 2 :]
        if len(seen) < LEAST_REPORTS or median(late) >= FELL_TO * median(early):
            continue
        writes = unit == WRITTEN
        yield basis.finding(
            "storage.writes-fell" if writes else "storage.reads-fell",
            Outcome.CONFORMS if writes else Outcome.DIFFERS,
            Aspect.SPEED if writes else Aspect.LOAD,
            of_part=place,
            of_line=line,
            of_category=category,
            place=place,
            step=step,
            early_bytes=round(median(early)),
            late_bytes=round(median(late)),
        )


def _technology(reading: Reading, place: str) -> str:
    part = reading.at(place)
    return part.text("technology") if part else ""
