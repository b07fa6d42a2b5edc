"""Segments of one run, one after the other, under clocks that restart and jump."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import msgspec

from shipworthy.machine.root import Root
from shipworthy.model.base import values
from shipworthy.model.plan import Plan
from shipworthy.model.progress import Progress
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import ConfigurationSeen, Event, LogLine
from shipworthy.model.time import Moment, SystemClock
from shipworthy.model.words import Ending
from shipworthy.stress.engine import run_plan
from shipworthy.stress.power_cycles import DriveCount, Surroundings, awaited_in
from shipworthy.stress.protocol import Ground


class BootClock(SystemClock):
    """The machine's clock, of a start of our choosing, whose wall time can be set while it runs."""

    def __init__(self, boot_id: str | None = "one", ahead_s: float = 0.0) -> None:
        super().__init__()
        self.boot, self.ahead_s = boot_id, ahead_s

    def now(self) -> Moment:
        moment = super().now()
        utc = moment.utc + timedelta(seconds=self.ahead_s)
        return msgspec.structs.replace(moment, utc=utc, boot_id=self.boot)


@dataclass
class Runs:
    """A plan, run segment by segment. happened: lines and progress in the order in which they came."""

    plan: Plan
    folder: Path
    drives: tuple[DriveCount, ...] = ()
    settings: dict[str, str | int | float | bool] = field(default_factory=lambda: {"memory/speed": 5600})
    segments: list[tuple[LogLine, ...]] = field(default_factory=list)
    happened: list[LogLine | Progress | str] = field(default_factory=list)

    def go(
        self,
        clock: BootClock,
        first_step: int = 0,
        on_line: Callable[[LogLine, threading.Event], None] | None = None,
    ) -> Ending:
        lines: list[LogLine] = []
        stop = threading.Event()

        def write(line: LogLine) -> None:
            lines.append(line)
            self.happened.append(line)
            if on_line:
                on_line(line, stop)

        for name in ("machine", "work"):
            (self.folder / name).mkdir(exist_ok=True)
        ending = run_plan(
            self.plan,
            root=Root(self.folder / "machine"),
            clock=clock,
            nonce="n-1",
            segment=len(self.segments) + 1,
            first_step=first_step,
            seed=5,
            run_id="run-1",
            tool=Tool(name="test", version="0"),
            write=write,
            show=self.happened.append,
            ground=Ground(work_folders=(str(self.folder / "work"),)),
            read_configuration=lambda: Configuration.of(self.settings),
            stop=stop,
            around=Surroundings(
                sync=lambda: self.happened.append("synced"),
                read_drives=lambda: self.drives,
                awaited=awaited_in(self.segments),
            ),
        )
        self.segments.append(tuple(lines))
        return ending

    def events(self, code: str, segment: int = -1) -> list[dict[str, object]]:
        found = [line for line in self.segments[segment] if isinstance(line, Event) and line.code == code]
        return [{v.name: v.value for v in event.values} for event in found]

    def seen(self, segment: int = -1) -> list[ConfigurationSeen]:
        return [line for line in self.segments[segment] if isinstance(line, ConfigurationSeen)]

    def order_of(self, *codes: str) -> list[str]:
        """Return these codes, and `synced`, in the order in which they came to log or screen."""
        return [code for code in map(_code, self.happened) if code in (*codes, "synced")]


def _code(one: object) -> str:
    if isinstance(one, str):
        return one
    return f"shown {one.code}" if isinstance(one, Progress) else getattr(one, "code", type(one).__name__)


def event(code: str, t_s: float = 0.0, **named: str | int | float) -> Event:
    return Event(t_s=t_s, code=code, values=values(**named))
