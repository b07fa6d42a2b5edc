"""One load on one target, in a process of its own.

Run as `python -m shipworthy.stress.load_process GUARD_PID SECONDS CHILD_JSON` by the guard. Once it is ready
it waits for the word to begin, works for its share of that time, or until SIGTERM comes, and dies with the
guard.
"""

from __future__ import annotations

import sys

from shipworthy.stress.tether import tie_to

if __name__ == "__main__":
    tie_to(int(sys.argv[1]))  # before anything heavy is imported

import os
import select
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import msgspec

from shipworthy.model.base import Record, Scalar, Trouble, Value, values
from shipworthy.stress.protocol import Block, Load, Work
from shipworthy.stress.registry import load_at
from shipworthy.stress.rhythm import Rhythm
from shipworthy.stress.wire import (
    Again,
    Answered,
    Child,
    Paused,
    Said,
    Word,
    Worked,
    read_word,
    short,
    write_line,
)
from shipworthy.stress.wire import (
    Work as Begun,
)

REPORT_S = 1.0
BARE_SHARE = 0.04  # of the time goes to measuring the limit
SHOWN_MOST = 8  # wrong results shown in one block; all are counted
NICE = 5  # below the sampler, the guard and the person's terminal
WAIT_S = 0.2
COULD_NOT = 3
CRASHED = 4
GUARD_GONE = 5

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


class Words:
    """What the guard says down a pipe, as it comes."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor, self._rest = descriptor, b""

    def heard(self, wait_s: float = 0.0) -> list[Word]:
        """Return what was said since the last call, waiting for it at most that long."""
        if not select.select([self._descriptor], [], [], wait_s)[0]:
            return []
        data = os.read(self._descriptor, 65536)
        if not data:
            raise SystemExit(GUARD_GONE)
        *lines, self._rest = (self._rest + data).split(b"\n")
        return [read_word(line) for line in lines]


class Shift:
    """The working life of one load process: blocks, bare blocks between them, a report a second."""

    def __init__(
        self, load: Load, child: Child, speak: Speak, words: Words, monotonic_s: Callable[[], float]
    ) -> None:
        self._load, self._child, self._job, self._speak = load, child, child.job, speak
        self._words, self._monotonic_s = words, monotonic_s
        self._rhythm = Rhythm(child.job.request.intensity, child.job.request.pulse_hz)
        self._until_s = 0.0
        self._limits = Limits()
        self._tally = Tally()
        self._reported_s = monotonic_s()
        self._detail: tuple[Value, ...] = ()
        self.stopping = False

    def work_for(self, seconds: float) -> None:
        """Open the load, wait for the word, work for its share of that time, report, give everything back."""
        opened_s = self._monotonic_s()
        work = self._load.open(self._job)
        try:
            self._say("load.ready", values(prepared_s=round(self._monotonic_s() - opened_s, 3)))
            at_s = self._await_word()
            self._until_s = at_s + seconds * self._child.end_share
            self._sleep_until(work, at_s + seconds * self._child.begin_share)
            self._reported_s = self._monotonic_s()
            while self._goes_on(work):
                now_s = self._monotonic_s()
                if (rest_s := self._rhythm.rest_s(now_s)) > 0:
                    time.sleep(max(0.0, min(rest_s, self._until_s - now_s)))
                else:
                    self._piece(work)
            self._report(work)
        finally:
            work.close()

    def _await_word(self) -> float:
        """Return when the step begins; at once where it is being stopped before that."""
        while not self.stopping:
            at_s, paused_s = None, 0.0
            for word in self._words.heard(WAIT_S):
                if isinstance(word, Begun):
                    at_s = word.at_s
                elif isinstance(word, Paused) and at_s is not None:  # right after its beginning, unheard
                    paused_s += word.seconds
            if at_s is not None:
                return at_s + paused_s
        return self._monotonic_s()

    def _sleep_until(self, work: Work, begin_s: float) -> None:
        while not self.stopping and (left_s := begin_s - self._monotonic_s()) > 0:
            time.sleep(min(left_s, WAIT_S))
            paused_s = self._stood_still(work)
            self._until_s += paused_s
            begin_s += paused_s

    def _goes_on(self, work: Work) -> bool:
        """Whether there is time left, by all that was heard: a pause may have moved the end."""
        self._until_s += self._stood_still(work)
        return not self.stopping and self._monotonic_s() < self._until_s

    def _piece(self, work: Work) -> None:
        if self._limits.due() and (bare := work.bare_block()) is not None:
            self._add_bare(self._without_pause(work, bare))
        self._add(self._without_pause(work, work.block()))
        for note in work.notes():
            self._say(note.code, note.values)
        if self._monotonic_s() - self._reported_s >= REPORT_S:
            self._report(work)

    def _without_pause(self, work: Work, block: Block) -> Block:
        """Return a block without the time in which the process stood still: the guard told of that before
        it let it go on, so the word is there."""
        paused_s = self._stood_still(work)
        self._until_s += paused_s
        if not 0 < paused_s < block.seconds:  # a longer pause fell between two blocks
            return block
        return msgspec.structs.replace(block, seconds=block.seconds - paused_s)

    def _stood_still(self, work: Work) -> float:
        """Heed what was said since the last call; return for how long the process stood still in between."""
        paused_s = 0.0
        for word in self._words.heard():
            if isinstance(word, Paused):
                paused_s += word.seconds
            elif isinstance(word, Again) and (answer := work.again(word.round)) is not None:
                job = self._job
                self._speak(Answered(load=job.load, target=job.target, answer=answer, again=True))
        return paused_s

    def _add_bare(self, bare: Block) -> None:
        self._limits.add(bare, bare.unit_of_work or self._load.about.unit_of_work)
        self._tally.written_bytes += bare.written_bytes

    def _add(self, block: Block) -> None:
        for answer in block.answers:
            self._speak(Answered(load=self._job.load, target=self._job.target, answer=answer))
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
            if wrong.part:
                named["part"] = wrong.part
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
        shift = Shift(load_at(child.entry, job.load), child, speak, Words(0), time.monotonic)

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
