"""The link of a card or a drive while the part worked: as fast and as wide as both its ends can be?

A reading at rest cannot tell: a part that has nothing to do lowers the speed of its link. Under load it has
to run at what was sold, or, where the order says nothing, at what the ends of each link can do together.
Lanes are given up by no part to save power; its speed follows a card's own state, so that one which only
says of itself that it is busy has to have shown the speed, and one that a load works on has to keep it.
Bounds here are our choice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shipworthy.analysis.curves import Curve, Floats
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Segment
from shipworthy.analysis.worked import Worked, time_at_work
from shipworthy.machine.parse.pci.links import gbit_s
from shipworthy.machine.parse.sensors.links import SPEED, WIDTH
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Report
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.words.kinds import find_pci_links

LEAST_S = 3.0
"""Under load for less than this, a link shows nothing."""
KEEPS_SPEED, KEEPS_LANES = 0.9, 0.99
"""The share of its samples under load in which a link has to have what it is asked for; in one sample alone
it may be seen while it changes its speed."""

State = tuple[float, int]  # GT/s, lanes


@dataclass(frozen=True)
class _Way:
    """What was seen of all links on the way of one part, as one: the least of each in every sample."""

    place: str
    t_s: Floats
    speed: Floats
    width: Floats
    speed_most: float | None
    width_most: float | None


def link_findings(
    order: Order,
    matches: Sequence[Match],
    reading: Reading,
    segments: Sequence[Segment],
    curves: Sequence[Curve],
    basis: Basis,
) -> Iterator[Finding]:
    """Return one finding for each graphics card and NVMe drive that an order line has and whose link was
    sampled; of other parts only that it is narrow."""
    lines = {line.line_id: line for line in order.lines}
    of_place = {
        other.partition("/")[0]: lines[match.line]
        for match in matches
        for place in match.places
        for other in _also(reading, place)
        if match.line in lines and lines[match.line].category in (Category.GRAPHICS, Category.STORAGE)
    }
    reports = [report for segment in segments for report in segment.of(Report)]
    targets = {report.target for report in reports if report.work > 0}
    for way in _ways(curves, reading):
        named = {
            place for place in targets if way.place in {p.partition("/")[0] for p in _also(reading, place)}
        }
        worked = time_at_work(way.place, named, segments, curves)
        line = of_place.get(way.place)
        found = _judged(way, worked, line, basis)
        if line is not None or found.outcome is Outcome.DIFFERS:
            yield found


def _also(reading: Reading, place: str) -> tuple[str, ...]:
    part = reading.at(place)
    return (place,) if part is None else (place, part.place, *part.also_at)


def _ways(curves: Sequence[Curve], reading: Reading) -> Iterator[_Way]:
    for place in dict.fromkeys(c.column.place for c in curves if c.column.quantity == SPEED):
        speeds = [c for c in curves if (c.column.place, c.column.quantity) == (place, SPEED)]
        widths = [c for c in curves if (c.column.place, c.column.quantity) == (place, WIDTH)]
        if widths:
            part = reading.at(place)
            told = (
                (None, None)
                if part is None
                else (part.number("path_speed_max_gt_s"), part.number("path_width_max"))
            )
            yield _Way(
                place=place,
                t_s=speeds[0].t_s,
                speed=np.minimum.reduce([c.v for c in speeds]),
                width=np.minimum.reduce([c.v for c in widths]),
                speed_most=_most(speeds, told[0]),
                width_most=_most(widths, told[1]),
            )


def _most(curves: Sequence[Curve], told: float | None) -> float | None:
    """Return what a way can do: each link's most as the columns have it, else what the reading told."""
    most = [c.column.high for c in curves]
    known = [value for value in most if value is not None]
    return min(known) if known and len(known) == len(most) else told


def _judged(way: _Way, worked: Worked, line: OrderLine | None, basis: Basis) -> Finding:
    interval_s = float(np.median(np.diff(way.t_s))) if len(way.t_s) > 1 else 0.0
    asked = worked.mask(way.t_s) & ~np.isnan(way.speed) & ~np.isnan(way.width)
    loaded_s = float(asked.sum()) * interval_s
    named: dict[str, Scalar] = {"place": way.place, "loaded_s": round(loaded_s)}
    if loaded_s < LEAST_S:
        return _finding(basis, "link.not-loaded", Outcome.NOT_CHECKED, way, line, named)
    speed, width = _wanted(way, line)
    seen = list(zip(way.speed[asked].tolist(), map(int, way.width[asked].tolist()), strict=True))
    usual = Counter(seen).most_common(1)[0][0]
    named |= {"usual": _text(usual), "best": _text(max(seen, key=lambda state: gbit_s(*state)))}
    if speed is None or width is None:
        return _finding(basis, "link.most-untold", Outcome.CANNOT_TELL, way, line, named)
    fast = float(np.mean(way.speed[asked] >= speed))
    wide = float(np.mean(way.width[asked] >= width))
    keeps_lanes = wide >= KEEPS_LANES or int((way.width[asked] < width).sum()) <= 1
    named |= {"due": _text((speed, int(width))), "share_ratio": round(min(fast, wide), 3)}
    if fast >= KEEPS_SPEED and keeps_lanes:
        return _finding(basis, "link.under-load", Outcome.CONFORMS, way, line, named)
    if keeps_lanes and not worked.by_load and fast * loaded_s >= LEAST_S:
        return _finding(basis, "link.follows-its-part", Outcome.CONFORMS, way, line, named)
    return _finding(basis, "link.narrow-under-load", Outcome.DIFFERS, way, line, named)


def _wanted(way: _Way, line: OrderLine | None) -> tuple[float | None, float | None]:
    """Return the speed and the lanes that are asked for: those sold, else those that the way can have."""
    wish = line.wanted(Aspect.LINK) if line is not None else None
    sold = find_pci_links(str(wish.want)) if wish is not None else ()
    if len(sold) != 1:
        return way.speed_most, way.width_most
    return sold[0].speed_gt_s, way.width_most if sold[0].width is None else sold[0].width


def _text(state: State) -> str:
    speed, width = state
    return f"{speed:g} GT/s on {width} {'lane' if width == 1 else 'lanes'}"


def _finding(
    basis: Basis, code: str, outcome: Outcome, way: _Way, line: OrderLine | None, named: dict[str, Scalar]
) -> Finding:
    return basis.finding(
        code,
        outcome,
        Aspect.LINK,
        named,
        of_part=way.place,
        of_line=line.line_id if line is not None else "",
        of_category=line.category if line is not None else Category.UNIT,
    )
