"""Wrong results: each load and target for itself, what the first was and how the machine stood then."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.frozen import is_of_processor
from shipworthy.analysis.runs import Happened
from shipworthy.model.base import Scalar
from shipworthy.model.runlog import LoadSummary

NEAREST_S = 2.0
"""A sample further away says nothing about the moment of a wrong result (our choice; rows come at 4 Hz)."""
WRONG = "load.wrong"


@dataclass(frozen=True)
class Wrong:
    """The wrong results of one load on one target.

    part: place of the part that the log names, where it is closer than the target. first: the first event of
    it, None where only the count was written. hottest_c and clock_mhz: of the processor, and of that CPU (or
    the fastest one), at that moment; None without a sample near it.
    """

    load: str
    target: str
    wrong: int
    checks: int
    part: str = ""
    first: Happened | None = None
    hottest_c: float | None = None
    clock_mhz: float | None = None

    def named(self) -> dict[str, Scalar]:
        """Return what a finding says of it."""
        said: dict[str, Scalar] = {
            "load": self.load,
            "target": self.target,
            "wrong": self.wrong,
            "checks": self.checks,
        }
        if self.first is not None:
            said |= {"step": self.first.text("step"), "at_s": round(self.first.t_s, 1)}
            said |= {name: self.first.said[name] for name in _TOLD if name in self.first.said}
        if self.hottest_c is not None:
            said["hottest_c"] = round(self.hottest_c, 1)
        if self.clock_mhz is not None:
            said["clock_mhz"] = round(self.clock_mhz)
        return said


_TOLD = ("what", "where", "expected", "found", "part")


def wrong_results(
    loads: Iterable[LoadSummary], events: Iterable[Happened], curves: Sequence[Curve]
) -> tuple[Wrong, ...]:
    """Return every load and target that gave a wrong result, by its reports or by an event alone: a process
    that died before it could report has still said what it saw."""
    counted: dict[tuple[str, str], tuple[int, int]] = {}
    for row in loads:
        wrong, checks = counted.get((row.load, row.target), (0, 0))
        counted[row.load, row.target] = (wrong + row.wrong, checks + row.checks)
    told: dict[tuple[str, str], list[Happened]] = {}
    for event in events:
        if event.code == WRONG:
            told.setdefault((event.text("load"), event.text("target")), []).append(event)
    keys = sorted({key for key, (wrong, _) in counted.items() if wrong} | set(told))
    return tuple(_of(key, counted.get(key, (0, 0)), told.get(key, []), curves) for key in keys)


def _of(
    key: tuple[str, str], counted: tuple[int, int], told: Sequence[Happened], curves: Sequence[Curve]
) -> Wrong:
    wrong = counted[0] or sum(event.count("wrong", 1) for event in told)
    first = told[0] if told else None
    return Wrong(
        load=key[0],
        target=key[1],
        wrong=wrong,
        checks=max(counted[1], wrong),
        part=next((part for event in told if (part := event.text("part"))), ""),
        first=first,
        hottest_c=_hottest_c(first.t_s, curves) if first else None,
        clock_mhz=_clock_mhz(first.t_s, key[1], curves) if first else None,
    )


def _hottest_c(t_s: float, curves: Sequence[Curve]) -> float | None:
    near = [
        value
        for curve in curves
        if curve.column.quantity == "temperature" and is_of_processor(curve.column.place, curve.column.label)
        if (value := curve.nearest(t_s, NEAREST_S)) is not None
    ]
    return max(near, default=None)


def _clock_mhz(t_s: float, target: str, curves: Sequence[Curve]) -> float | None:
    clocks = [curve for curve in curves if curve.column.quantity == "clock"]
    own = [curve for curve in clocks if curve.column.place == target]
    near = [v for curve in own or clocks if (v := curve.nearest(t_s, NEAREST_S)) is not None]
    return max(near, default=None)
