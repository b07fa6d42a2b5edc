"""Wrong results: each load and target for itself, what the first was and how the machine stood then."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.runs import Happened
from shipworthy.machine.parse.sensors.drivers import is_of_processor
from shipworthy.model.base import Scalar
from shipworthy.model.runlog import LoadSummary

NEAREST_S = 2.0
"""A sample further away says nothing about the moment of a wrong result (our choice; rows come at 4 Hz)."""
WRONG, DISPUTED = "load.wrong", "load.disputed"


TOGETHER_S = 0.5
SHOWN_MOST = 8
"""Of one block of work that many wrong results are told one by one, at the same moment, and each names the
number of all."""


@dataclass(frozen=True)
class Wrong:
    """The wrong results of one load on one target, or on those of which it cannot be told who was wrong.

    part: place of the part that the log names, where it is closer than the target. first: the first event of
    it, None where only the count was written. hottest_c and clock_mhz: of the processor, and of that CPU (or
    the fastest one), at that moment; None without a sample near it.
    """

    load: str
    targets: tuple[str, ...]
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
            "target": ", ".join(self.targets),
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
    that died before it could report has still said what it saw.

    Where cores differ and nothing tells which is right, all that are concerned are one; so are those that
    differed when the run was cut off.
    """
    events = list(events)
    events += _left_open(events)
    counted: dict[tuple[str, str], tuple[int, int]] = {}
    for row in loads:
        wrong, checks = counted.get((row.load, row.target), (0, 0))
        counted[row.load, row.target] = (wrong + row.wrong, checks + row.checks)
    told: dict[tuple[str, str], list[Happened]] = {}
    for event in events:
        if event.code == WRONG:
            told.setdefault((event.text("load"), event.text("target")), []).append(event)
    keys = sorted({key for key, (wrong, _) in counted.items() if wrong} | set(told))
    return tuple(
        _of([key for key in keys if key in alike], counted, told, curves) for alike in _alike(keys, told)
    )


def _left_open(events: Sequence[Happened]) -> Iterator[Happened]:
    """Yield, as wrong results, disputes after which the log blames nobody: the run ended meanwhile."""
    settled = {
        (event.number, event.text("step"), event.text("load"), event.text("where").partition(":")[0])
        for event in events
        if event.code == WRONG
    }
    for event in events:
        number = f"round {event.said.get('round')}"
        at = (event.number, event.text("step"), event.text("load"), number)
        if event.code == DISPUTED and at not in settled:
            what = "the result of a round that every core computes"
            where = f"{number}: the cores differed, and the run ended before they could do it again"
            said: dict[str, Scalar] = {"target": event.text("targets"), "what": what, "where": where}
            yield replace(event, code=WRONG, said={**event.said, **said, "wrong": 1, "checks": 1})


def _alike(
    keys: Sequence[tuple[str, str]], told: Mapping[tuple[str, str], Sequence[Happened]]
) -> list[list[tuple[str, str]]]:
    """Return the keys, those together of which the log tells nothing but the same disputes."""
    groups: dict[object, list[tuple[str, str]]] = {}
    for key in keys:
        disputes = tuple(_dispute(event) for event in told.get(key, ()))
        together = (key[0], disputes) if disputes and all(disputes) else key
        groups.setdefault(together, []).append(key)
    return list(groups.values())


def _dispute(event: Happened) -> tuple[int, str, str] | None:
    """Return where cores differed; None where it is told what the result had to be, or of one core alone."""
    undecided = event.said.get("expected") == "" and event.said.get("found") is not None
    return (event.number, event.text("step"), event.text("where")) if undecided else None


def _of(
    keys: Sequence[tuple[str, str]],
    counted: Mapping[tuple[str, str], tuple[int, int]],
    told: Mapping[tuple[str, str], Sequence[Happened]],
    curves: Sequence[Curve],
) -> Wrong:
    events = told.get(keys[0], ())
    wrong = max(counted.get(key, (0, 0))[0] for key in keys) or _told_wrong(events)
    first = events[0] if events else None
    return Wrong(
        load=keys[0][0],
        targets=tuple(target for _, target in keys),
        wrong=wrong,
        checks=max(wrong, sum(counted.get(key, (0, 0))[1] for key in keys)),
        part=next((part for event in events if (part := event.text("part"))), ""),
        first=first,
        hottest_c=_hottest_c(first.t_s, curves) if first else None,
        clock_mhz=_clock_mhz(first.t_s, keys[0][1], curves) if first else None,
    )


def _told_wrong(events: Sequence[Happened]) -> int:
    """Return how many wrong results events tell of: those of one block name the same number."""
    total, at = 0, 0
    while at < len(events):
        first, many = events[at], max(1, events[at].count("wrong", 1))
        total += many
        end = at + 1
        while end < min(len(events), at + min(many, SHOWN_MOST)) and _of_one_block(first, events[end]):
            end += 1
        at = end
    return total


def _of_one_block(one: Happened, other: Happened) -> bool:
    same = all(one.said.get(name) == other.said.get(name) for name in ("step", "wrong", "checks"))
    return same and one.number == other.number and other.t_s - one.t_s <= TOGETHER_S


def _hottest_c(t_s: float, curves: Sequence[Curve]) -> float | None:
    near = [
        value
        for curve in curves
        if curve.column.quantity == "temperature" and is_of_processor(curve.column.place, curve.column.label)
        if (value := curve.nearest(t_s, NEAREST_S)) is not None
    ]
    return max(near, default=None)


def _clock_mhz(t_s: float, target: str, curves: Sequence[Curve]) -> float | None:
    clocks = [c for c in curves if c.column.quantity == "clock" and c.column.place.startswith("cpu:")]
    own = [curve for curve in clocks if curve.column.place == target]
    near = [v for curve in own or clocks if (v := curve.nearest(t_s, NEAREST_S)) is not None]
    return max(near, default=None)
