"""What progress tells each second: loads' rates beside their limits, and the temperatures nearest theirs."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from shipworthy.model.base import Scalar
from shipworthy.model.plan import Limit
from shipworthy.model.progress import Progress, progress
from shipworthy.model.runlog import Column
from shipworthy.stress.limits import TEMPERATURE, limits_of
from shipworthy.stress.wire import Worked

WINDOW_S = 6.0
"""A rate is that of the last seconds; a target that reported nothing for so long is shown no more."""
HOTTEST_MOST = 3


@dataclass
class Paces:
    """How fast each target of a step works, kind of work by kind of work."""

    _reports: dict[tuple[str, str], dict[str, deque[tuple[float, Worked]]]] = field(default_factory=dict)

    def hear(self, worked: Worked, now_s: float) -> None:
        targets = self._reports.setdefault((worked.load, worked.unit_of_work), defaultdict(deque))
        targets[worked.target].append((now_s, worked))

    def told(self, now_s: float) -> Iterator[Progress]:
        """Yield one record for each load and kind of work that has gone on lately."""
        for (load, unit), targets in self._reports.items():
            lately = [pace for reports in targets.values() if (pace := _pace(reports, now_s)) is not None]
            if lately:
                yield _told(load, unit, lately)


def _pace(reports: deque[tuple[float, Worked]], now_s: float) -> tuple[float, float | None] | None:
    """Return a target's rate and its limit, in units a second of its own working time; None if it rests."""
    while reports and now_s - reports[0][0] > WINDOW_S:
        reports.popleft()
    seconds = sum(worked.seconds for _, worked in reports)
    if seconds <= 0:
        return None
    return sum(worked.work for _, worked in reports) / seconds, reports[-1][1].limit


def _told(load: str, unit: str, paces: Sequence[tuple[float, float | None]]) -> Progress:
    """Sum up a load's targets. The limit is told once every target has measured its own."""
    named: dict[str, Scalar] = {
        "load": load,
        "unit": unit,
        "targets": len(paces),
        "rate": round(sum(rate for rate, _ in paces), 3),
    }
    limits = [limit for _, limit in paces if limit]
    if len(limits) < len(paces):
        return progress("burn-in.load-unmeasured", **named)
    shares = [rate / limit for (rate, _), limit in zip(paces, limits, strict=True)]
    return progress(
        "burn-in.load",
        **named,
        limit=round(sum(limits), 3),
        lowest_ratio=round(min(shares), 3),
        limit_ratio=round(sum(rate for rate, _ in paces) / sum(limits), 3),
        highest_ratio=round(max(shares), 3),
    )


def heat_told(
    row: Iterable[tuple[Column, float | None]], limits: Sequence[Limit], most: int = HOTTEST_MOST
) -> tuple[Progress, ...]:
    """Return the temperatures nearest to the limit that stops them first; the hottest, where none has one."""
    seen = [
        (column, found_c, min(limits_of(column, limits), key=lambda limit: limit.value, default=None))
        for column, found_c in row
        if column.quantity == TEMPERATURE and found_c is not None
    ]
    seen.sort(key=lambda one: (one[2] is None, (one[2].value if one[2] else 0.0) - one[1]))
    return tuple(_heat(*one) for one in seen[:most])


def _heat(column: Column, found_c: float, limit: Limit | None) -> Progress:
    named: dict[str, Scalar] = {
        "label": column.label or column.channel,
        "place": column.place,
        "found_c": round(found_c, 1),
    }
    if limit is None:
        return progress("burn-in.heat-no-limit", **named)
    margin_c = round(limit.value - found_c, 1)
    return progress(
        "burn-in.heat", **named, limit_c=limit.value, margin_c=margin_c, origin=limit.origin.value
    )
