"""The guard: a process between engine and loads that starts the loads, reads its own limits and stops them.

Run as `python -m shipworthy.stress.guard ENGINE_PID`. It dies with the engine, the loads die with it.
"""

from __future__ import annotations

import sys

from shipworthy.stress.tether import tie_to

if __name__ == "__main__":
    tie_to(int(sys.argv[1]))  # before anything heavy is imported

import os
import select
import signal
import subprocess
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from shipworthy.machine.root import Root
from shipworthy.messages import quantity_text
from shipworthy.model.base import Scalar, values
from shipworthy.model.words import Origin, Unit
from shipworthy.stress.limits import OVERDUE_S, TEMPERATURE
from shipworthy.stress.pausing import Act, Pausing
from shipworthy.stress.watch import Eyes, Silent
from shipworthy.stress.wire import (
    Again,
    Begin,
    Child,
    Go,
    Halt,
    Order,
    Paused,
    Ping,
    Repeat,
    Said,
    Setup,
    StepOver,
    Word,
    Work,
    read_order,
    write_line,
)

PERSON = "person"
TICK_S = 0.1
PING_S = 1.0
GRACE_LIMIT_S = 0.3  # from SIGTERM to SIGKILL when a limit is crossed: all is over within 1 s
GRACE_PERSON_S = 3.0  # when a person stops the run, a block in hand may be finished and reported
GO_S = 0.2  # from the word to the beginning, so that it has reached all of them
PREPARE_S = 180.0  # in which a load has to be ready: to compile its loops, to lock much memory
STUCK_S = 5.0  # after SIGKILL
BURY_S = 2.0  # for each load, when the engine wants no more


@dataclass
class Running:
    """A load process that was started and has not been seen to end."""

    child: Child
    process: subprocess.Popen[bytes]

    def tell(self, word: Word) -> None:
        """Say something to the load. One that does not listen any more is about to end."""
        assert self.process.stdin is not None
        with suppress(OSError):
            os.write(self.process.stdin.fileno(), msgspec.json.encode(word) + b"\n")

    def bury(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()


@dataclass
class Step:
    """The step at hand. stop_code: why it is being ended early; empty while it runs its time."""

    step: str
    seconds: float
    until_s: float  # loads end by themselves, and before their word has come it is that of getting ready
    overdue_s: float
    loads: list[Running] = field(default_factory=list)
    loads_began: bool = False
    stop_code: str = ""
    failed: bool = False
    kill_at_s: float = 0.0
    killed_at_s: float | None = None
    stuck_said: bool = False
    pausing: Pausing = field(default_factory=Pausing)
    waiting: list[Order] = field(default_factory=list)  # orders to loads that stand still


class Guard:
    """One thread, one tick every 0.1 s: orders, loads that ended, limits, a ping."""

    def __init__(self, orders: int, reports: int) -> None:
        self._orders, self._reports = orders, reports
        self._inbox = b""
        self._setup: Setup | None = None
        self._eyes: Eyes | None = None
        self._step: Step | None = None
        self._pinged_s = 0.0

    def run(self) -> None:
        """Work until the engine closes the pipe of orders; then stop what runs and return."""
        while self._take_orders():
            now_s = time.monotonic()
            if now_s - self._pinged_s >= PING_S:
                self._pinged_s = now_s
                write_line(self._reports, Ping())
            if self._eyes is not None and self._eyes.failure is not None:
                raise self._eyes.failure  # blind: it ends, and the loads with it
            if self._step is not None:
                self._tend(self._step, now_s)
        if self._step is not None:
            _signal_all(self._step.loads, signal.SIGKILL)
            for running in self._step.loads:
                with suppress(subprocess.TimeoutExpired):  # stuck in the kernel: nobody can end it
                    running.process.wait(BURY_S)

    def _say(self, code: str, **named: Scalar) -> None:
        write_line(self._reports, Said(code=code, values=values(**named)))

    def _take_orders(self) -> bool:
        readable, _, _ = select.select([self._orders], [], [], TICK_S)
        if readable:
            data = os.read(self._orders, 65536)
            if not data:
                return False
            *lines, self._inbox = (self._inbox + data).split(b"\n")
            for line in lines:
                self._obey(line)
        return True

    def _obey(self, line: bytes) -> None:
        order = read_order(line)
        if isinstance(order, Setup):
            self._set_up(order)
        elif isinstance(order, Begin):
            self._begin(order)
        elif self._step is None:
            return  # it was over before the engine knew
        elif isinstance(order, Halt):
            self._stop(self._step, PERSON, GRACE_PERSON_S, time.monotonic())
        elif self._step.pausing.paused:
            self._step.waiting.append(order)
        else:
            self._pass_on(self._step, order)

    def _pass_on(self, step: Step, order: Order) -> None:
        if isinstance(order, Go):
            self._go(step)
        else:
            assert isinstance(order, Repeat)
            for running in step.loads:
                if (running.child.job.load, running.child.job.target) == (order.load, order.target):
                    running.tell(Again(round=order.round))

    def _go(self, step: Step) -> None:
        at_s = time.monotonic() + GO_S
        step.until_s = at_s + step.seconds
        step.overdue_s = step.until_s + OVERDUE_S
        for running in step.loads:
            running.tell(Work(at_s=at_s))

    def _set_up(self, setup: Setup) -> None:
        self._setup = setup
        self._eyes = Eyes(Root(Path(setup.root)), setup.limits, setup.work_folders, on_start=_hurry)
        if not self._eyes.open():
            self._say("guard.no-temperature", silent_sensors=len(self._eyes.columns))

    def _begin(self, order: Begin) -> None:
        assert self._setup is not None and self._eyes is not None
        self._eyes.watch.hold_to((*self._setup.limits, *order.limits))
        now_s = time.monotonic()
        until_s = now_s + (PREPARE_S if order.children else order.seconds)
        step = self._step = Step(order.step, order.seconds, until_s, until_s + OVERDUE_S)
        for child in order.children:
            try:
                process = _start(child, order.seconds)
            except OSError as error:
                self._load_ended(step, child, 0, f"could not be started: {error.strerror}", now_s)
                return
            step.loads.append(Running(child, process))
            step.loads_began = True
            job = child.job
            self._say("load.started", step=job.step, load=job.load, target=job.target, pid=process.pid)

    def _tend(self, step: Step, now_s: float) -> None:
        self._gather_ended(step, now_s)
        if not step.stop_code or (step.stop_code == PERSON and step.loads):
            self._check_limits(step, now_s)
        if not step.loads and (step.stop_code or step.loads_began or now_s >= step.until_s):
            write_line(self._reports, StepOver(step=step.step, code=step.stop_code, failed=step.failed))
            self._step = None
        elif step.stop_code and now_s >= step.kill_at_s:
            self._kill(step, now_s)

    def _gather_ended(self, step: Step, now_s: float) -> None:
        for running in list(step.loads):
            status = running.process.poll()
            if status is None:
                continue
            step.loads.remove(running)
            running.bury()
            job = running.child.job
            if status != 0 and not step.stop_code:
                self._load_ended(step, running.child, running.process.pid, _status_text(status), now_s)
            else:
                named = values(step=job.step, load=job.load, target=job.target, pid=running.process.pid)
                write_line(self._reports, Said(code="load.stopped", values=named))

    def _load_ended(self, step: Step, child: Child, pid: int, how: str, now_s: float) -> None:
        job = child.job
        self._say("load.died", step=job.step, load=job.load, target=job.target, pid=pid, how=how)
        step.failed = True
        self._stop(step, "load.died", GRACE_LIMIT_S, now_s)

    def _check_limits(self, step: Step, now_s: float) -> None:
        assert self._setup is not None and self._eyes is not None
        crossing = self._eyes.watch.crossing()
        if crossing is not None:
            key = f"{TEMPERATURE}/{crossing.column.place}/{crossing.column.channel}"
            label = crossing.column.label or crossing.column.channel
            self._limit(
                step, now_s, key, label, crossing.found_c, crossing.limit_c, Unit.CELSIUS, crossing.origin
            )
            return
        self._check_floors(step, now_s)
        if not step.stop_code and step.loads:
            self._heed_silence(step, now_s)
        if not step.stop_code and not step.pausing.paused and now_s > step.overdue_s:
            late_s = now_s - step.until_s
            self._limit(
                step, now_s, "time", "time over the step's", late_s, OVERDUE_S, Unit.SECONDS, Origin.TOOL
            )

    def _check_floors(self, step: Step, now_s: float) -> None:
        assert self._setup is not None and self._eyes is not None
        for quantity, label, free, floor in (
            ("memory", "free memory", self._eyes.free_memory_bytes, self._setup.memory_floor_bytes),
            ("disk", "free disk space", self._eyes.free_disk_bytes, self._setup.disk_floor_bytes),
        ):
            if free is not None and free < floor and not step.stop_code:
                self._limit(step, now_s, quantity, label, free, floor, Unit.BYTES, Origin.SHOP)

    def _heed_silence(self, step: Step, now_s: float) -> None:
        """Idle the loads while a required sensor is silent, let them go on when it is back, else stop."""
        assert self._eyes is not None
        silent = self._eyes.watch.silent(now_s)
        act = step.pausing.act(silent.silent_s if silent else 0.0, now_s)
        if act is Act.PAUSE:
            _signal_all(step.loads, signal.SIGSTOP)
            self._say_paused("loads.paused", silent, 0.0)
        elif act is Act.RESUME:
            self._resume(step, silent, now_s)
        elif act is Act.STOP and silent is not None:
            label = silent.column.label or silent.column.channel
            silent_s, most_s = step.pausing.stood_still_s(now_s), step.pausing.back_within_s
            self._limit(step, now_s, "silence", label, silent_s, most_s, Unit.SECONDS, Origin.TOOL)

    def _resume(self, step: Step, silent: Silent | None, now_s: float) -> None:
        """The time that the loads stood still is not the step's. They are told before they wake."""
        paused_s = step.pausing.paused_s(now_s)
        step.pausing.end(now_s)
        step.until_s += paused_s
        step.overdue_s += paused_s
        for running in step.loads:
            running.tell(Paused(seconds=paused_s))
        _signal_all(step.loads, signal.SIGCONT)
        self._say_paused("loads.resumed", silent, paused_s)
        waiting, step.waiting = step.waiting, []
        for order in waiting:
            self._pass_on(step, order)

    def _say_paused(self, code: str, silent: Silent | None, paused_s: float) -> None:
        column = silent.column if silent is not None else None
        self._say(
            code,
            why="sensor.silent",
            label=(column.label or column.channel) if column else "",
            place=column.place if column else "",
            paused_s=round(paused_s, 2),
        )

    def _limit(
        self,
        step: Step,
        now_s: float,
        quantity: str,
        label: str,
        seen: float,
        limit: float,
        unit: Unit,
        origin: Origin,
    ) -> None:
        """Say what was crossed and who set it, and stop the loads."""
        suffix = {Unit.CELSIUS: "c", Unit.BYTES: "bytes", Unit.SECONDS: "s"}[unit]
        numbers: dict[str, Scalar] = {f"seen_{suffix}": round(seen, 2), f"limit_{suffix}": limit}
        self._stop(step, "guard.limit", GRACE_LIMIT_S, now_s)
        self._say(
            "guard.limit",
            step=step.step,
            quantity=quantity,
            label=label,
            seen=quantity_text(round(seen, 1), unit),
            limit=quantity_text(limit, unit),
            origin=origin.value,
            **numbers,
        )

    def _stop(self, step: Step, code: str, grace_s: float, now_s: float) -> None:
        """Let the loads end. A limit that is crossed while they finish what a person has stopped comes first:
        then they end at once, and so does the run."""
        if step.stop_code and (step.stop_code != PERSON or code == PERSON):
            return
        kill_at_s = now_s + grace_s
        step.kill_at_s = min(kill_at_s, step.kill_at_s) if step.stop_code else kill_at_s
        step.stop_code = code
        if step.pausing.paused:
            step.pausing.end(now_s)
            _signal_all(step.loads, signal.SIGCONT)  # what stands still hears no SIGTERM
        _signal_all(step.loads, signal.SIGTERM)

    def _kill(self, step: Step, now_s: float) -> None:
        if step.killed_at_s is None:
            step.killed_at_s = now_s
            _signal_all(step.loads, signal.SIGKILL)
        elif now_s - step.killed_at_s > STUCK_S and not step.stuck_said:
            step.stuck_said = True
            for running in step.loads:
                job, pid = running.child.job, running.process.pid
                self._say("load.stuck", step=job.step, load=job.load, target=job.target, pid=pid)
            step.loads.clear()  # nobody can end them; the run must be able to end


def _start(child: Child, seconds: float) -> subprocess.Popen[bytes]:
    environment = os.environ | {value.name: str(value.value) for value in child.environment}
    instructions = msgspec.json.encode(child).decode()
    command = [sys.executable, "-m", "shipworthy.stress.load_process", str(os.getpid())]
    return subprocess.Popen(
        [*command, repr(seconds), instructions],
        stdin=subprocess.PIPE,
        bufsize=0,
        env=environment,
        start_new_session=True,  # a Ctrl-C in the terminal is for the engine, which stops us in order
    )


def _signal_all(loads: list[Running], number: int) -> None:
    for running in loads:
        running.process.send_signal(number)


def _status_text(status: int) -> str:
    if status < 0:
        return f"ended by {signal.Signals(-status).name}"
    return f"ended with status {status}"


def _hurry() -> None:
    """Ask for real-time priority, which an ordinary account may be refused; loads do not inherit it."""
    try:
        os.sched_setscheduler(0, os.SCHED_RR | os.SCHED_RESET_ON_FORK, os.sched_param(1))
    except OSError:
        return


def main() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _hurry()
    Guard(orders=0, reports=1).run()


if __name__ == "__main__":
    main()
