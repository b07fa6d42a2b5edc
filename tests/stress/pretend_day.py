"""A day of burn-in in seconds: the real engine, with a clock that only moves when it is waited for.

Guard and sampler are played by objects in this process that say and write what the real ones would, at the
pretend clock's moments. Everything else is real: engine, hearing, agreement, log, power cycles, and the
analysis of what was written. It shows what many hours do to them, not how fast a load works.
"""

from __future__ import annotations

import math
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from shipworthy.analysis import Segment
from shipworthy.jobs.resuming import steps_ended
from shipworthy.machine.root import Root
from shipworthy.model.base import Record, encode, values
from shipworthy.model.plan import Plan
from shipworthy.model.progress import silent
from shipworthy.model.reading import Tool
from shipworthy.model.runlog import Column, Event, LogLine, Row, read_log
from shipworthy.model.time import Moment
from shipworthy.model.words import Ending, Unit
from shipworthy.stress.engine import run_plan
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.power_cycles import Surroundings, awaited_in
from shipworthy.stress.protocol import Answer, Ground
from shipworthy.stress.sampling import next_beat_s
from shipworthy.stress.wire import Answered, Begin, Go, Halt, Message, Repeat, Said, StepOver, Worked
from tests.analysis.logs import CONFIGURATION

HOUR_S = 3600.0
WAIT_S = 0.25
IDLE_S = 0.01
ANSWER_S = 5.0
SENSORS = 40
COLUMNS = tuple(
    Column(
        quantity="temperature",
        place=f"pci:0000:00:{number:02x}.0",
        channel="temp1",
        label=f"Sensor {number}",
        unit=Unit.CELSIUS,
        source=f"sys/class/hwmon/hwmon{number}/temp1_input",
        critical=95.0,
    )
    for number in range(SENSORS)
)


class Cut(BaseException):
    """The power went, or the process was killed: nothing more is written."""


@dataclass
class DayClock:
    """A clock of a machine that is on, sleeps, is off, and whose wall time is set."""

    utc: datetime = datetime(2026, 3, 2, 8, tzinfo=UTC)
    on_s: float = 40.0
    slept_s: float = 0.0
    starts: int = 1

    def now(self) -> Moment:
        utc = self.utc.replace(microsecond=self.utc.microsecond // 1000 * 1000)
        return Moment(utc=utc, boot_id=f"start-{self.starts}", monotonic_s=self.on_s, clock_synchronised=True)

    def monotonic_s(self) -> float:
        return self.on_s

    def sleep_s(self, seconds: float) -> None:
        self.on_s += seconds
        self.utc += timedelta(seconds=seconds)

    def set_by(self, seconds: float) -> None:
        self.utc += timedelta(seconds=seconds)

    def suspend(self, seconds: float) -> None:
        self.slept_s += seconds
        self.utc += timedelta(seconds=seconds)

    def restart(self, off_s: float) -> None:
        self.utc += timedelta(seconds=off_s)
        self.on_s, self.slept_s, self.starts = 35.0, 0.0, self.starts + 1


@dataclass
class PlayedSampling:
    """Writes the rows that are due each time that the engine looks after its sampler."""

    columns: Sequence[Column]
    devices: object
    hz: float
    log: SegmentLog
    sleeps: Callable[[str], bool]
    _due_s: float = 0.0
    _row: tuple[float | None, ...] = (None,) * SENSORS

    def __enter__(self) -> PlayedSampling:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def check(self) -> None:
        while (now_s := self.log.t_s()) >= self._due_s:
            minutes = now_s / 60
            warmth = round(55 + 20 * math.tanh(minutes / 30) + math.sin(minutes), 1)
            self._row = tuple(warmth + number % 5 for number in range(SENSORS))
            self.log.write(Row(t_s=now_s, v=self._row))
            self._due_s = next_beat_s(self._due_s, now_s, 1 / self.hz)

    def latest(self) -> tuple[tuple[Column, float | None], ...]:
        return tuple(zip(self.columns, self._row, strict=True))


@dataclass
class PlayedGuard:
    """Says what guard and loads would. wrong_round: the round that cpu:1 gets wrong once, in every step."""

    clock: DayClock
    wrong_round: int
    pid: int = 0
    _said: deque[Message] = field(default_factory=deque)
    _step: Begin | None = None
    _until_s: float = math.inf
    _second_s: float = 0.0

    def order(self, record: Record) -> None:
        if isinstance(record, Begin):
            self._step, self._until_s = record, math.inf if record.children else self._ends(record)
            self._second_s = self.clock.on_s
            for code in ("load.started", "load.ready"):
                for child in record.children:
                    named = values(step=record.step, load=child.job.load, target=child.job.target)
                    more = values(pid=9) if code == "load.started" else values(prepared_s=1.0)
                    self._said.append(Said(code=code, values=named + more))
        elif isinstance(record, Go):
            assert self._step is not None
            self._until_s = self._ends(self._step)
        elif isinstance(record, Repeat):
            right = _answer(record.round)
            self._said.append(Answered(load=record.load, target=record.target, answer=right, again=True))
        elif isinstance(record, Halt):
            self._until_s = self.clock.on_s

    def next(self, timeout_s: float) -> Message | None:
        if self._said:
            return self._said.popleft()
        if self._step is None:
            time.sleep(0)  # lets the thread that reads the configuration run
            self.clock.sleep_s(IDLE_S)
            return None
        if self.clock.on_s >= self._until_s:
            over, self._step = StepOver(step=self._step.step, code="", failed=False), None
            return over
        self.clock.sleep_s(min(WAIT_S, max(self._until_s - self.clock.on_s, 0.001)))
        if self.clock.on_s - self._second_s >= 1.0 and self._until_s < math.inf:
            self._second_s = self.clock.on_s
            self._said.extend(self._of_a_second(self._step))
        return None

    def end(self) -> None:
        pass

    kill = end

    def _ends(self, step: Begin) -> float:
        return self.clock.on_s + step.seconds

    def _of_a_second(self, step: Begin) -> Iterator[Message]:
        number = int(self.clock.on_s)
        for child in step.children:
            job = child.job
            yield Worked(
                step=step.step,
                load=job.load,
                target=job.target,
                work=100.0,
                unit_of_work="GFLOP",
                seconds=1.0,
                checks=4,
                wrong=0,
                written_bytes=0,
                limit=104.0,
            )
            if job.load == "matrix" and number % ANSWER_S == 0:
                at = number // int(ANSWER_S)
                wrong = at == self.wrong_round and job.target == "cpu:1"
                answer = _answer(at, "flipped" if wrong else "")
                yield Answered(load=job.load, target=job.target, answer=answer)


def _answer(number: int, spoiled: str = "") -> Answer:
    return Answer(round=number, digest=f"{number:x}{spoiled}", kernel="played")


@dataclass
class Day:
    """A plan, run over many segments; what was written is kept as bytes, as a disk would have it."""

    plan: Plan
    clock: DayClock
    folder: Path
    logs: list[bytearray] = field(default_factory=list)
    _read: list[Segment] = field(default_factory=list)

    def go(self, on_line: Callable[[LogLine], None]) -> Ending | None:
        """Run the next segment; None if it was cut."""
        log = bytearray()

        def write(line: LogLine) -> None:
            data = encode(line) + b"\n"
            try:
                on_line(line)
            except Cut:
                log.extend(data[: len(data) // 2])
                raise
            log.extend(data)

        segments = self.segments()
        self.logs.append(log)
        try:
            return run_plan(
                self.plan,
                root=Root(self.folder),
                clock=self.clock,
                nonce="n",
                segment=len(self.logs),
                first_step=steps_ended(segments),
                seed=1,
                run_id="run",
                tool=Tool(name="test", version="0"),
                write=write,
                show=silent,
                ground=Ground(work_folders=(str(self.folder),)),
                read_configuration=lambda: CONFIGURATION,
                stop=threading.Event(),
                around=Surroundings(awaited=awaited_in(s.lines for s in segments)),
            )
        except Cut:
            return None

    def segments(self) -> tuple[Segment, ...]:
        """Read the logs back, as a record's reader does."""
        for number, log in list(enumerate(self.logs, 1))[len(self._read) :]:
            lines, torn = read_log(bytes(log), number)
            self._read.append(
                Segment(file=f"burn-in/log-{number:03d}.jsonl", lines=tuple(lines), torn=bool(torn))
            )
        return tuple(self._read)


def is_event(line: LogLine, code: str, step: str) -> bool:
    said = {v.name: v.value for v in line.values} if isinstance(line, Event) else {}
    return isinstance(line, Event) and line.code == code and said.get("step") == step
