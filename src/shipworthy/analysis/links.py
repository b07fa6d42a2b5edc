"""The link of a card or a drive while the part worked: as fast and as wide as both its ends can be?

A reading at rest cannot tell: a part that has nothing to do lowers the speed of its link. Under load each
link on its way has to run at what was sold, or, where the order says nothing, at what its ends can do
together. Lanes are given up by no part to save power; its speed follows a card's own state, so that one which
only says of itself that it is busy has to have shown the speed, and one that a load works on has to keep it.
Bounds here are our choice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Segment
from shipworthy.analysis.worked import Worked, time_at_work
from shipworthy.machine.parse.pci.links import gbit_s
from shipworthy.machine.parse.sensors.links import SPEED, WIDTH, end_of
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
class _Link:
    """One link on a part's way. end: the place of its end away from the root. most: what both ends can do."""

    end: str
    speed: Curve
    width: Curve
    speed_most: float | None
    width_most: float | None

    @property
    def told(self) -> NDArray[np.bool_]:
        """In which samples it gave both."""
        return ~np.isnan(self.speed.v) & ~np.isnan(self.width.v)


@dataclass(frozen=True)
class _Seen:
    """How one link ran under load. due: what it should run at, None where that is not told. fast, wide: the
    shares of the samples in which it did; narrow: in how many it lacked lanes."""

    end: str
    due: State | None
    usual: State
    best: State
    fast: float = 0.0
    wide: float = 0.0
    narrow: int = 0

    @property
    def keeps_lanes(self) -> bool:
        return self.wide >= KEEPS_LANES or (self.narrow <= 1 and self.wide > 0)


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
        function: lines[match.line]
        for match in matches
        if match.line in lines and lines[match.line].category in (Category.GRAPHICS, Category.STORAGE)
        for place in match.places
        for function in _functions(reading, place)
    }
    targets = {report.target for segment in segments for report in segment.of(Report)}
    for place, links in _ways(curves, reading).items():
        named = {target for target in targets if place in _functions(reading, target)}
        worked = time_at_work(place, named, segments, curves)
        line = of_place.get(place)
        found = _judged(place, links, worked, line, basis)
        if line is not None or found.outcome is Outcome.DIFFERS:
            yield found


def _functions(reading: Reading, place: str) -> set[str]:
    """Return the bus's functions that answer for what is at a place, by all the places it is known by."""
    part = reading.at(place)
    places = (place,) if part is None else (place, part.place, *part.also_at)
    return {one.partition("/")[0] for one in places}


def _ways(curves: Sequence[Curve], reading: Reading) -> dict[str, list[_Link]]:
    """Return the links of each part, those nearest to the root first."""
    widths = {(c.column.place, c.column.channel): c for c in curves if c.column.quantity == WIDTH}
    ways: dict[str, list[_Link]] = {}
    for curve in curves:
        column, width = curve.column, widths.get((curve.column.place, curve.column.channel))
        if column.quantity == SPEED and width is not None:
            link = _Link(end_of(column), curve, width, speed_most=column.high, width_most=width.column.high)
            ways.setdefault(column.place, []).append(link)
    return {place: _told_by_reading(place, links, reading) for place, links in ways.items()}


def _told_by_reading(place: str, links: list[_Link], reading: Reading) -> list[_Link]:
    """Return the links; what a way of one link can do is the reading's, where the column does not tell."""
    part = reading.at(place)
    if len(links) != 1 or part is None:
        return links
    (link,) = links
    speed, width = part.number("path_speed_max_gt_s"), part.number("path_width_max")
    return [
        replace(
            link,
            speed_most=speed if link.speed_most is None else link.speed_most,
            width_most=width if link.width_most is None else link.width_most,
        )
    ]


def _judged(
    place: str, links: Sequence[_Link], worked: Worked, line: OrderLine | None, basis: Basis
) -> Finding:
    """Return what became of a part's way.

    A card with a switch of its own may tell of the link within it what means nothing (2.5 GT/s on one lane,
    always; from memory). So each link is held to its own most, and not the whole way to the least of it.
    """
    curve = links[0].speed
    asked = worked.mask(curve.t_s) & np.logical_and.reduce([link.told for link in links])
    loaded_s = float(asked.sum()) * curve.interval_s
    named: dict[str, Scalar] = {"place": place, "loaded_s": round(loaded_s)}
    outcome, code = Outcome.NOT_CHECKED, "link.not-loaded"
    if loaded_s >= LEAST_S:
        wishes = [None if _is_within(link, links, place, line) else line for link in links]
        seen = [_seen(link, asked, wish) for link, wish in zip(links, wishes, strict=True)]
        outcome, code, told = _word(seen, worked, loaded_s)
        named |= _said(told, place)
    return basis.finding(
        code,
        outcome,
        Aspect.LINK,
        named,
        of_part=place,
        of_line=line.line_id if line is not None else "",
        of_category=line.category if line is not None else Category.UNIT,
    )


def _is_within(link: _Link, links: Sequence[_Link], place: str, line: OrderLine | None) -> bool:
    """Whether a link lies within a card, behind its own switch: what was sold is not that one."""
    return len(links) > 1 and link.end == place and line is not None and line.category is Category.GRAPHICS


def _seen(link: _Link, asked: NDArray[np.bool_], line: OrderLine | None) -> _Seen:
    states = list(zip(link.speed.v[asked].tolist(), map(int, link.width.v[asked].tolist()), strict=True))
    due, usual = _due(link, line), Counter(states).most_common(1)[0][0]
    best = max(states, key=lambda state: gbit_s(*state))
    if due is None:
        return _Seen(link.end, None, usual, best)
    fast = sum(speed >= due[0] for speed, _ in states)
    wide = sum(width >= due[1] for _, width in states)
    narrow = len(states) - wide
    return _Seen(link.end, due, usual, best, fast / len(states), wide / len(states), narrow)


def _due(link: _Link, line: OrderLine | None) -> State | None:
    """Return what a link should run at: what was sold, and where nothing was said of that, what it can."""
    wish = line.wanted(Aspect.LINK) if line is not None else None
    sold = find_pci_links(str(wish.want)) if wish is not None else ()
    speed, width = link.speed_most, link.width_most
    if len(sold) == 1:
        speed, width = sold[0].speed_gt_s, width if sold[0].width is None else sold[0].width
    return None if speed is None or width is None else (speed, int(width))


def _word(seen: Sequence[_Seen], worked: Worked, loaded_s: float) -> tuple[Outcome, str, _Seen]:
    """Return the outcome, its code, and the link that it is told of: the worst, of equals the slot's own."""
    known = [one for one in seen if one.due is not None]
    slow = [one for one in known if one.fast < KEEPS_SPEED]
    follows = not worked.by_load and all(one.fast * loaded_s >= LEAST_S for one in known)
    at_fault = [one for one in known if not one.keeps_lanes or (one in slow and not follows)]
    if at_fault:
        return Outcome.DIFFERS, "link.narrow-under-load", _worst(at_fault)
    untold = [one for one in seen if one.due is None]
    if untold:
        return Outcome.CANNOT_TELL, "link.most-untold", untold[0]
    return Outcome.CONFORMS, "link.follows-its-part" if slow else "link.under-load", _worst(known)


def _worst(seen: Sequence[_Seen]) -> _Seen:
    return min(seen, key=lambda one: min(one.fast, one.wide))


def _said(one: _Seen, place: str) -> dict[str, Scalar]:
    said: dict[str, Scalar] = {"usual": _text(one.usual), "best": _text(one.best)}
    if one.end != place:
        said["place"] = f"{place} ({one.end})"
    if one.due is not None:
        said |= {"due": _text(one.due), "share_ratio": round(min(one.fast, one.wide), 3)}
    return said


def _text(state: State) -> str:
    speed, width = state
    return f"{speed:g} GT/s on {width} {'lane' if width == 1 else 'lanes'}"
