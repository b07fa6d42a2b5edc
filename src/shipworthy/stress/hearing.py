"""What guard and loads say: written to the run log, shown as progress, and their answers compared."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from shipworthy.model.base import Scalar, values
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.progress import Progress, Sink, progress
from shipworthy.model.runlog import Report
from shipworthy.stress.agreement import Agreement, Asked, Blamed, Compared, Outcome
from shipworthy.stress.guarding import GuardHandle
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.telling import Paces, heat_told
from shipworthy.stress.wire import Answered, Begin, Go, Message, Repeat, Said, StepOver, Worked

WAIT_S = 0.1
TICK_S = 1.0
SHOWN_MOST = 5  # wrong results shown as progress; the log has them all
ANSWERS = "rounds compared"
BUSY_CODES = ("load.started", "load.ready", "load.stopped")


@dataclass
class Hearing:
    """One segment's ears. checks, wrong and written_bytes: of all loads so far."""

    guard: GuardHandle
    log: SegmentLog
    sampling: Sampling
    show: Sink
    plan: Plan
    checks: int = 0
    wrong: int = 0
    written_bytes: int = 0
    paces: Paces = field(default_factory=Paces)
    _shown_wrong: int = 0
    _step: str = ""
    _peers: Counter[str] = field(default_factory=Counter)
    _agreements: dict[str, Agreement] = field(default_factory=dict)
    _compared: dict[tuple[str, str], int] = field(default_factory=dict)
    _reported_s: float = 0.0

    def next(self) -> Message | None:
        """Write down one message, if one comes, and return it."""
        self.sampling.check()
        message = self.guard.next(WAIT_S)
        if isinstance(message, Said):
            self.log.event(message.code, message.values)
            self._show_said(message)
        elif isinstance(message, Worked):
            self._count(message.checks, message.wrong)
            self.written_bytes += message.written_bytes
            self.paces.hear(message, self.log.t_s())
            self.log.write_now(lambda t_s: _report(message, t_s))
        elif isinstance(message, Answered):
            self._compare(message)
        return message

    def begin(self, begin: Begin) -> None:
        """Let the guard start a step's loads."""
        self._step, self._agreements, self._compared = begin.step, {}, {}
        self._peers = Counter(child.job.load for child in begin.children)
        self.paces = Paces()
        self.guard.order(begin)

    def end(self) -> None:
        """Settle and write down what was compared in the step."""
        for load, agreement in self._agreements.items():
            self._act(load, agreement.close())
        self._report_compared()

    def _count(self, checks: int, wrong: int) -> None:
        self.checks += checks
        self.wrong += wrong

    def _compare(self, said: Answered) -> None:
        agreement = self._agreements.setdefault(said.load, Agreement(self._peers.get(said.load, 1)))
        hear = agreement.hear_again if said.again else agreement.hear
        self._act(said.load, hear(said.target, said.answer))
        if self.log.t_s() - self._reported_s >= TICK_S:
            self._report_compared()

    def _act(self, load: str, outcomes: Iterable[Outcome]) -> None:
        for outcome in outcomes:
            if isinstance(outcome, Compared):
                for target, checks in outcome.checks:
                    self._compared[load, target] = self._compared.get((load, target), 0) + checks
            elif isinstance(outcome, Asked):
                self._ask_again(load, outcome)
            else:
                self._blame(load, outcome)

    def _ask_again(self, load: str, asked: Asked) -> None:
        """Let them do it again, and write down that they differ: what ends the run now hides nothing."""
        named: dict[str, Scalar] = {"step": self._step, "load": load, "targets": ", ".join(asked.targets)}
        self.log.event("load.disputed", values(**named, round=asked.round))
        for target in asked.targets:
            self.guard.order(Repeat(load=load, target=target, round=asked.round))

    def _blame(self, load: str, blamed: Blamed) -> None:
        named: dict[str, Scalar] = {
            "step": self._step,
            "load": load,
            "target": blamed.target,
            "what": "the result of a round that every core computes",
            "where": f"round {blamed.round}: {blamed.how}",
            "expected": blamed.expected,
            "found": blamed.found,
            "wrong": 1,
            "checks": 1,
        }
        said = Said(code="load.wrong", values=values(**named))
        self.log.event(said.code, said.values)
        self._show_said(said)
        self._write_compared(load, blamed.target, 1, 1)

    def _report_compared(self) -> None:
        self._reported_s = self.log.t_s()
        for (load, target), checks in self._compared.items():
            self._write_compared(load, target, checks, 0)
        self._compared = {}

    def _write_compared(self, load: str, target: str, checks: int, wrong: int) -> None:
        self._count(checks, wrong)
        self.log.write_now(
            lambda t_s: Report(
                t_s=t_s,
                step=self._step,
                load=load,
                target=target,
                work=float(checks),
                unit_of_work=ANSWERS,
                seconds=0.0,
                checks=checks,
                wrong=wrong,
            )
        )

    def _show_said(self, said: Said) -> None:
        if said.code == "load.wrong":
            self._shown_wrong += 1
            if self._shown_wrong > SHOWN_MOST:
                return
            self.show(progress("burn-in.wrong", **{v.name: v.value for v in said.values}))
        elif said.code not in BUSY_CODES:
            self.show(progress(said.code, **{v.name: v.value for v in said.values}))


class Attending:
    """One step at work: the loads begin together when all are ready, and progress is told each second."""

    def __init__(self, hearing: Hearing, step: PlanStep, loads: int) -> None:
        self._hearing, self._step, self._getting_ready = hearing, step, loads
        self._began_s = None if loads else hearing.log.t_s()
        self._ticked_s = 0.0

    def hear(self) -> StepOver | None:
        """Hear one message; return what the guard says when the step is over."""
        message = self._hearing.next()
        if isinstance(message, StepOver):
            self._hearing.end()
            return message
        if isinstance(message, Said):
            self._heed(message)
        self._tick()
        return None

    def _heed(self, said: Said) -> None:
        if said.code == "load.ready":
            self._getting_ready -= 1
            if not self._getting_ready:
                self._began_s = self._hearing.log.t_s()
                self._hearing.guard.order(Go())
                self._hearing.log.event("step.under-load", values(step=self._step.step))
        elif said.code == "loads.resumed" and self._began_s is not None:
            self._began_s += next(float(v.value) for v in said.values if v.name == "paused_s")

    def _tick(self) -> None:
        """Tell how it goes: each load, the hottest, and last the step as a whole: it closes the picture."""
        now_s = self._hearing.log.t_s()
        if now_s - self._ticked_s < TICK_S:
            return
        self._ticked_s = now_s
        for told in self._hearing.paces.told(now_s):
            self._hearing.show(told)
        limits = (*self._hearing.plan.limits, *self._step.limits)
        for told in heat_told(self._hearing.sampling.latest(), limits):
            self._hearing.show(told)
        self._hearing.show(self._told(now_s))

    def _told(self, now_s: float) -> Progress:
        steps = self._hearing.plan.steps
        number = steps.index(self._step) + 1
        named: dict[str, Scalar] = {
            "plan": self._hearing.plan.plan_id,
            "step": self._step.step,
            "number": number,
            "steps": len(steps),
        }
        later_s = sum(step.seconds for step in steps[number:])
        left_s = self._step.seconds
        if self._began_s is not None:
            left_s = max(0.0, left_s - (now_s - self._began_s))
        return progress(
            "burn-in.tick-preparing" if self._began_s is None else "burn-in.tick",
            **named,
            left_s=round(left_s),
            all_left_s=round(left_s + later_s),
            checks=self._hearing.checks,
            wrong=self._hearing.wrong,
            written_bytes=self._hearing.written_bytes,
        )


def _report(worked: Worked, t_s: float) -> Report:
    return Report(
        t_s=t_s,
        step=worked.step,
        load=worked.load,
        target=worked.target,
        work=worked.work,
        unit_of_work=worked.unit_of_work,
        seconds=worked.seconds,
        checks=worked.checks,
        wrong=worked.wrong,
        written_bytes=worked.written_bytes,
        limit=worked.limit,
        detail=worked.detail,
    )
