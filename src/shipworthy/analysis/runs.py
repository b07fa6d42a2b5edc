"""One view of the run log's segments: how they ended, on one axis of time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar, cast

from shipworthy.model.base import Scalar
from shipworthy.model.runlog import (
    Columns,
    ConfigurationSeen,
    Event,
    LogLine,
    Report,
    Row,
    SegmentSummary,
    Start,
    StepSpan,
    Stop,
)
from shipworthy.model.time import Moment
from shipworthy.model.words import Ending

L = TypeVar("L", Columns, ConfigurationSeen, Event, Report, Row)
UNDER_LOAD = "step.under-load"
DAY_S = 86_400.0


@dataclass(frozen=True)
class Segment:
    """One segment as it was read. file: its place in the record. torn: whether its last line was cut."""

    file: str
    lines: tuple[LogLine, ...]
    torn: bool = False

    @property
    def start(self) -> Start | None:
        """The first line; None if even that was lost."""
        return self.lines[0] if self.lines and isinstance(self.lines[0], Start) else None

    @property
    def stop(self) -> Stop | None:
        return self.lines[-1] if self.lines and isinstance(self.lines[-1], Stop) else None

    @property
    def ending(self) -> Ending:
        """How it ended; without a stop line it was interrupted, whatever the lines before say."""
        return self.stop.ending if self.stop and not self.torn else Ending.INTERRUPTED

    @cached_property
    def seconds(self) -> float:
        """Monotonic seconds from the start to the last line that has a time."""
        return max((line.t_s for line in self.lines if not isinstance(line, Start | Columns)), default=0.0)

    def of(self, kind: type[L]) -> Iterable[L]:
        """Return the lines of one kind, in order."""
        return cast("list[L]", self._by_kind.get(kind, []))

    @cached_property
    def _by_kind(self) -> dict[type, list[LogLine]]:
        """A day's log has a third of a million rows: they are sorted once, not for every question."""
        found: dict[type, list[LogLine]] = {}
        for line in self.lines:
            found.setdefault(type(line), []).append(line)
        return found

    def summary(self) -> SegmentSummary:
        return SegmentSummary(
            file=self.file,
            ending=self.ending,
            seconds=self.seconds,
            boot_id=self.start.at.boot_id if self.start else None,
        )


@dataclass(frozen=True)
class Happened:
    """An event on the burn-in's one axis of time. t_s: s since it began. number: of its segment, from 0."""

    t_s: float
    code: str
    said: dict[str, Scalar]
    number: int

    def text(self, name: str) -> str:
        """Return a named value as text; empty where the event does not say it."""
        return str(self.said.get(name, ""))

    def count(self, name: str, default: int = 0) -> int:
        """Return a named whole number; the default where the event does not say one."""
        value = self.said.get(name, default)
        return value if isinstance(value, int) and not isinstance(value, bool) else default


def happenings(segments: Sequence[Segment]) -> tuple[Happened, ...]:
    """Return every event of every segment, in order."""
    return tuple(
        Happened(offset + event.t_s, event.code, {v.name: v.value for v in event.values}, number)
        for number, (segment, offset) in enumerate(zip(segments, offsets_s(segments), strict=True))
        for event in segment.of(Event)
    )


def offsets_s(segments: Sequence[Segment]) -> tuple[float, ...]:
    """Return when each segment began, in s since the first one did.

    Within one start of the machine the monotonic clock tells; over a restart only wall time can. Where that
    runs backwards (a new board's clock), or was set meanwhile, the segment is put at the end of the one
    before.
    """
    offsets: list[float] = []
    for segment in segments:
        offsets.append(_offset_s(segments, offsets, segment))
    return tuple(offsets)


def _offset_s(segments: Sequence[Segment], offsets: Sequence[float], segment: Segment) -> float:
    if not offsets:
        return 0.0
    first, previous = segments[0], segments[len(offsets) - 1]
    earliest = offsets[-1] + previous.seconds
    if first.start is None or previous.start is None or segment.start is None:
        return earliest
    if first.start.at.boot_id == segment.start.at.boot_id and segment.start.at.boot_id is not None:
        return max(earliest, segment.start.at.monotonic_s - first.start.at.monotonic_s)
    if previous.stop is not None:
        return earliest + _away_s(previous.stop.at, segment.start.at)
    return earliest + max(0.0, _away_s(previous.start.at, segment.start.at) - previous.seconds)


def _away_s(before: Moment, after: Moment) -> float:
    """Return the time between two moments by wall clock; 0 where it cannot be so."""
    away_s = (after.utc - before.utc).total_seconds()
    was_set = before.clock_synchronised != after.clock_synchronised
    return 0.0 if was_set and away_s > DAY_S else max(0.0, away_s)


def step_spans(segments: Sequence[Segment], events: Iterable[Happened]) -> tuple[StepSpan, ...]:
    """Return when each step ran; one that was cut off ends with its segment."""
    ends = [o + s.seconds for s, o in zip(segments, offsets_s(segments), strict=True)]
    spans: list[StepSpan] = []
    for number, of_segment in _by_segment(events, len(segments)):
        spans += _spans(of_segment, ends[number])
    return tuple(spans)


def _by_segment(events: Iterable[Happened], count: int) -> Iterator[tuple[int, list[Happened]]]:
    found: list[list[Happened]] = [[] for _ in range(count)]
    for event in events:
        found[event.number].append(event)
    yield from enumerate(found)


def _spans(events: Iterable[Happened], end_s: float) -> Iterator[StepSpan]:
    began: dict[str, float] = {}
    loaded: dict[str, float] = {}
    for event in events:
        step = event.text("step")
        if event.code == "step.began":
            began[step] = event.t_s
        elif event.code == UNDER_LOAD:
            loaded[step] = event.t_s
        elif event.code in ("step.ended", "step.cut-short") and step in began:
            yield StepSpan(
                step=step, begin_s=began.pop(step), end_s=event.t_s, under_load_s=loaded.pop(step, None)
            )
    for step, begin_s in began.items():
        yield StepSpan(step=step, begin_s=begin_s, end_s=end_s, under_load_s=loaded.get(step))
