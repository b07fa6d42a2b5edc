"""One view of the run log's segments: how they ended, on one axis of time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

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
from shipworthy.model.words import Ending

L = TypeVar("L", Columns, ConfigurationSeen, Event, Report, Row)


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

    @property
    def seconds(self) -> float:
        """Monotonic seconds from the start to the last line that has a time."""
        return max((line.t_s for line in self.lines if not isinstance(line, Start | Columns)), default=0.0)

    def of(self, kind: type[L]) -> Iterator[L]:
        """Return the lines of one kind, in order."""
        return (line for line in self.lines if isinstance(line, kind))

    def summary(self) -> SegmentSummary:
        return SegmentSummary(
            file=self.file,
            ending=self.ending,
            seconds=self.seconds,
            boot_id=self.start.at.boot_id if self.start else None,
        )


def offsets_s(segments: Sequence[Segment]) -> tuple[float, ...]:
    """Return when each segment began, in s since the first one did.

    Within one start of the machine the monotonic clock tells; over a restart only wall time can, and where
    that runs backwards (a new board's clock) the segment is put at the end of the one before it.
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
    if first.start is None or segment.start is None:
        return earliest
    if first.start.at.boot_id == segment.start.at.boot_id and segment.start.at.boot_id is not None:
        return max(earliest, segment.start.at.monotonic_s - first.start.at.monotonic_s)
    return max(earliest, (segment.start.at.utc - first.start.at.utc).total_seconds())


def step_spans(segments: Sequence[Segment]) -> tuple[StepSpan, ...]:
    """Return when each step ran; one that was cut off ends with its segment."""
    spans: list[StepSpan] = []
    for segment, offset in zip(segments, offsets_s(segments), strict=True):
        began: dict[str, float] = {}
        for event in segment.of(Event):
            step = next((str(v.value) for v in event.values if v.name == "step"), "")
            if event.code == "step.began":
                began[step] = event.t_s
            elif event.code == "step.ended" and step in began:
                spans.append(StepSpan(step=step, begin_s=offset + began.pop(step), end_s=offset + event.t_s))
        spans += [
            StepSpan(step=step, begin_s=offset + t_s, end_s=offset + segment.seconds)
            for step, t_s in began.items()
        ]
    return tuple(spans)
