"""One load on one target, in a process of its own.

Run as `python -m shipworthy.stress.load_process GUARD_PID SECONDS CHILD_JSON` by the guard. Once it is ready
it works for that time, or until SIGTERM comes, and dies with the guard.
"""

from __future__ import annotations

import sys

from shipworthy.stress.tether import tie_to

if __name__ == "__main__":
    tie_to(int(sys.argv[1]))  # before anything heavy is imported

import os
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import msgspec

from shipworthy.model.base import Record, Scalar, Trouble, Value, values
from shipworthy.stress.protocol import Block, Job, Load, Work
from shipworthy.stress.registry import load_at
from shipworthy.stress.wire import Child, Said, Worked, short, write_line

REPORT_S = 1.0
BARE_SHARE = 0.04  # of the time goes to measuring the limit
SHOWN_MOST = 8  # wrong results shown in one block; all are counted
NICE = 5  # below the sampler, the guard and the person's terminal
COULD_NOT = 3
CRASHED = 4

Speak = Callable[[Record], None]


@dataclass
class Tally:
    """What was done since the last report."""

    work: float = 0.0
    seconds: float = 0.0
    checks: int = 0
    wrong: int = 0
    written_bytes: int = 0
    unit_of_work: str = ""

    def add(self, block: Block) -> None:
        self.work += block.work
        self.seconds += block.seconds
        self.checks += block.checks
        self.wrong += block.wrong
        self.written_bytes += block.written_bytes


class Limits:
    """The bare rate of each unit of work, and how much of the time went into measuring it."""

    def __init__(self) -> None:
        self._work: dict[str, float] = {}
        self._seconds: dict[str, float] = {}
        self._all_s = 0.0

    def due(self) -> bool:
        return sum(self._seconds.values()) <= BARE_SHARE * self._all_s

    def took(self, seconds: float) -> None:
        self._all_s += seconds

    def add(self, bare: Block, unit: str) -> None:
        self._all_s += bare.seconds
        self._work[unit] = self._work.get(unit, 0.0) + bare.work
        self._seconds[unit] = self._seconds.get(unit, 0.0) + bare.seconds

    def rate(self, unit: str) -> float | None:
        seconds = self._seconds.get(unit, 0.0)
        return self._work[unit] / seconds if seconds > 0 else None


class Shift:
    """The working life of one load process: blocks, bare blocks between them, a report a second."""

    def __init__(self, load: Load, job: Job, speak: Speak, monotonic_s: Callable[[], float]) -> None:
        self._load, self._job, self._speak, self._monotonic_s = load, job, speak, monotonic_s
        self._limits = Limits()
        self._tally = Tally()
        self._reported_s = monotonic_s()
        self._detail: tuple[Value, ...] = ()
        self.stopping = False

    def work_for(self, seconds: float) -> None:
        """Open the load, work for that time, report, and give everything back."""
        began_s = self._monotonic_s()
        work = self._load.open(self._job)
        try:
            self._reported_s = ready_s = self._monotonic_s()
            until_s = ready_s + seconds
            self._say("load.ready", values(prepared_s=round(ready_s - began_s, 3)))
            while not self.stopping and self._monotonic_s() < until_s:
                self._bare(work)
                self._add(work.block())
                for note in work.notes():
                    self._say(note.code, note.values)
                if self._monotonic_s() - self._reported_s >= REPORT_S:
                    self._report(work)
            self._report(work)
        finally:
            work.close()

    def _bare(self, work: Work) -> None:
        if self._limits.due() and (bare := work.bare_block()) is not None:
            self._limits.add(bare, bare.unit_of_work or self._load.about.unit_of_work)
            self._tally.written_bytes += bare.written_bytes

    def _add(self, block: Block) -> None:
        unit = block.unit_of_work or self._load.about.unit_of_work
        if self._tally.unit_of_work not in ("", unit):
            self._flush(())  # a report speaks of one kind of work
        self._tally.unit_of_work = unit
        self._tally.add(block)
        self._limits.took(block.seconds)
        self._show_wrong(block)

    def _show_wrong(self, block: Block) -> None:
        for wrong in block.shown[:SHOWN_MOST]:
            named: dict[str, Scalar] = {"what": short(wrong.what), "where": short(wrong.where)}
            if wrong.expected is not None:
                named["expected"] = wrong.expected
            if wrong.found is not None:
                named["found"] = wrong.found
            self._say("load.wrong", values(**named, wrong=block.wrong, checks=block.checks))

    def _report(self, work: Work) -> None:
        detail = work.detail()
        self._flush(() if detail == self._detail else detail)
        self._detail = detail

    def _flush(self, detail: tuple[Value, ...]) -> None:
        tally = self._tally
        if tally.seconds > 0 or tally.written_bytes or detail:
            unit = tally.unit_of_work or self._load.about.unit_of_work
            self._speak(
                Worked(
                    step=self._job.step,
                    load=self._job.load,
                    target=self._job.target,
                    work=tally.work,
                    unit_of_work=unit,
                    seconds=round(tally.seconds, 6),
                    checks=tally.checks,
                    wrong=tally.wrong,
                    written_bytes=tally.written_bytes,
                    limit=self._limits.rate(unit),
                    detail=detail,
                )
            )
        self._tally = Tally()
        self._reported_s = self._monotonic_s()

    def _say(self, code: str, named: tuple[Value, ...]) -> None:
        job = self._job
        own = values(step=job.step, load=job.load, target=job.target)
        self._speak(Said(code=code, values=own + named))


def _settle(child: Child) -> None:
    """Pin, step back behind sampler and guard, and be the first that the kernel takes when memory ends."""
    if child.cpus:
        os.sched_setaffinity(0, child.cpus)
    os.nice(NICE)
    with suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text("1000")


def main() -> int:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    reports = os.dup(1)
    os.dup2(2, 1)  # whatever a library prints must not mix with the lines of the wire
    child = msgspec.json.decode(sys.argv[3].encode(), type=Child)
    job = child.job

    def speak(message: Record) -> None:
        write_line(reports, message)

    def give_up(code: str, why: str) -> None:
        named = values(step=job.step, load=job.load, target=job.target, why=short(why))
        speak(Said(code=code, values=named))

    try:
        _settle(child)
        shift = Shift(load_at(child.entry, job.load), job, speak, time.monotonic)

        def stop(_number: int, _frame: object) -> None:
            shift.stopping = True

        signal.signal(signal.SIGTERM, stop)
        shift.work_for(float(sys.argv[2]))
    except Trouble as trouble:
        give_up("load.could-not", str(trouble))
        return COULD_NOT
    except MemoryError:
        give_up("load.could-not", "not enough memory. Lower the plan's memory share or its cap.")
        return COULD_NOT
    except Exception as error:  # our bug, or an outside load's: the log says so, the run ends as failed
        give_up("load.crashed", f"{type(error).__name__}: {error}")
        return CRASHED
    return 0


if __name__ == "__main__":
    sys.exit(main())
