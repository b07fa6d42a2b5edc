"""Run a plan: start line, rows, steps under the guard, reports, stop line (ADR 0009).

The engine works in the caller's process and writes only through the `write` it is given. Loads and
guard are processes of their own; the machine that they act on is always the one that we run on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import Sampler, list_columns
from shipworthy.model.base import Scalar, Trouble, values
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.progress import Sink, progress
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import Columns, ConfigurationSeen, LogLine, Report, Start, Stop
from shipworthy.model.time import Clock
from shipworthy.model.words import Ending
from shipworthy.stress.guarding import GuardHandle, GuardLost
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.plans import check_plan, plan_digest
from shipworthy.stress.protocol import Job
from shipworthy.stress.registry import Found, find_load
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.wire import Begin, Child, Halt, Message, Said, Setup, StepOver, Worked, short

WAIT_S = 0.1
TICK_S = 1.0
CONFIGURATION_S = 30.0
FLOOR_SHARE = 0.5  # of a reserve: loads leave the whole of it alone, the guard stops at half of it
SHOWN_MOST = 5  # wrong results shown as progress; the log has them all

ENDINGS = {
    "": Ending.COMPLETED,
    "person": Ending.STOPPED_BY_PERSON,
    "guard.limit": Ending.STOPPED_BY_GUARD,
}


def run_plan(
    plan: Plan,
    *,
    root: Root,
    clock: Clock,
    nonce: str | None,
    segment: int,
    first_step: int,
    seed: int,
    run_id: str,
    tool: Tool,
    write: Callable[[LogLine], None],
    show: Sink,
    work_folders: tuple[Path, ...],
    read_configuration: Callable[[], Configuration],
    stop: threading.Event,
    outside_loads: tuple[str, ...] = (),
) -> Ending:
    """Run the steps of a plan from `first_step` on, and return how it ended.

    `write` returns when a line is safe enough to count on; `show` hears of progress at most about once a
    second; `stop` is set by whoever wants the run to end (Ctrl-C). Call it from a thread that lives until
    it returns. Raises Trouble, before anything is started, for a plan that cannot be run here.
    """
    check_plan(plan, outside_loads)
    loads = _loads_of(plan, outside_loads)
    log = SegmentLog(write, clock)
    configuration = read_configuration()
    columns = list_columns(root)
    log.write(
        Start(
            run_id=run_id,
            segment=segment,
            nonce=nonce,
            at=clock.now(),
            seed=seed,
            tool=tool,
            plan_digest=plan_digest(plan),
            configuration=configuration,
            simulated=root.simulated,
            first_step=first_step,
        )
    )
    log.write(Columns(columns=columns))
    for found in loads.values():
        if found.outside:
            named = values(load=found.load.name, distribution=found.distribution, version=found.version)
            log.event("load.outside", named, digest=found.digest)
    with Sampling(columns, Sampler(root, columns), plan.sample_hz, log) as sampling:
        run = _Run(
            plan,
            root,
            seed,
            work_folders,
            read_configuration,
            configuration,
            stop,
            loads,
            log,
            sampling,
            show,
        )
        code, failed = run.steps(first_step)
    ending = Ending.FAILED_TO_RUN if failed else ENDINGS[code]
    log.finish(lambda t_s: Stop(at=clock.now(), t_s=t_s, ending=ending, reason=code))
    return ending


def _loads_of(plan: Plan, outside_loads: tuple[str, ...]) -> dict[str, Found]:
    names = {request.load for step in plan.steps for request in step.loads}
    return {name: find_load(name, outside_loads) for name in sorted(names)}


@dataclass
class _Run:
    """One segment at work. Ends of steps are (code, failed): what stopped it early, and whether by fault."""

    plan: Plan
    root: Root
    seed: int
    work_folders: tuple[Path, ...]
    read_configuration: Callable[[], Configuration]
    configuration: Configuration
    stop: threading.Event
    loads: dict[str, Found]
    log: SegmentLog
    sampling: Sampling
    show: Sink
    checks: int = 0
    wrong: int = 0
    shown_wrong: int = 0

    def steps(self, first_step: int) -> tuple[str, bool]:
        """Run the steps under a guard. Whatever happens, guard and loads are gone when this returns."""
        guard = GuardHandle()
        try:
            guard.order(self._setup())
            for index, step in enumerate(self.plan.steps[first_step:], first_step):
                code, failed = self._step(guard, index, step)
                if code:
                    return code, failed
            return "", False
        except GuardLost as lost:
            guard.kill()
            self.log.event("guard.lost", said=short(lost))
            return "guard.lost", True
        finally:
            guard.end()

    def _setup(self) -> Setup:
        return Setup(
            root=str(self.root.folder),
            work_folders=tuple(map(str, self.work_folders)),
            limits=self.plan.limits,
            memory_floor_bytes=int(self.plan.memory_reserve_bytes * FLOOR_SHARE),
            disk_floor_bytes=int(self.plan.disk_reserve_bytes * FLOOR_SHARE) if _writes(self.plan) else 0,
        )

    def _step(self, guard: GuardHandle, index: int, step: PlanStep) -> tuple[str, bool]:
        self._see_configuration(guard, step)
        if self.stop.is_set():
            return "person", False
        try:
            begin = self._begin(step)
        except Trouble as trouble:
            self.log.event("load.could-not", step=step.step, why=short(trouble))
            return "load.could-not", True
        named = values(step=step.step, index=index)
        self.log.event("step.began", named, seconds_s=step.seconds)
        self.show(
            progress(
                "burn-in.step",
                step=step.step,
                number=index + 1,
                steps=len(self.plan.steps),
                step_s=step.seconds,
                loads=", ".join(request.load for request in step.loads) or "rest",
            )
        )
        guard.order(begin)
        over = self._attend(guard, step)
        if over.code:
            self.log.event("step.cut-short", named, why=over.code)
        else:
            self.log.event("step.ended", named)
        self._see_configuration(guard, step)
        return over.code, over.failed

    def _begin(self, step: PlanStep) -> Begin:
        return Begin(
            step=step.step,
            seconds=step.seconds,
            children=tuple(
                Child(
                    entry=self.loads[request.load].entry,
                    cpus=target.cpus,
                    environment=target.environment,
                    job=Job(
                        step=step.step,
                        load=request.load,
                        target=target.name,
                        request=request,
                        seed=self.seed,
                        work_folder=target.work_folder or str(self.work_folders[0]),
                        memory_reserve_bytes=self.plan.memory_reserve_bytes,
                        disk_reserve_bytes=self.plan.disk_reserve_bytes,
                    ),
                )
                for request in step.loads
                for target in self.loads[request.load].load.targets(request, self.work_folders, self.root)
            ),
        )

    def _attend(self, guard: GuardHandle, step: PlanStep) -> StepOver:
        """Write down what guard and loads say until the step is over."""
        began_s = None if step.loads else self.log.t_s()
        ticked_s, halted = 0.0, False
        while True:
            message = self._hear(guard)
            if isinstance(message, StepOver):
                return message
            if isinstance(message, Said) and message.code == "load.ready":
                began_s = self.log.t_s()  # its time counts from here
            if self.stop.is_set() and not halted:
                halted = True
                guard.order(Halt())
            now_s = self.log.t_s()
            if now_s - ticked_s >= TICK_S:
                ticked_s = now_s
                self._tick(step, None if began_s is None else max(0.0, step.seconds - (now_s - began_s)))

    def _hear(self, guard: GuardHandle) -> Message | None:
        """Write down one message, if one comes, and return it."""
        self.sampling.check()
        message = guard.next(WAIT_S)
        if isinstance(message, Said):
            self.log.event(message.code, message.values)
            self._show_said(message)
        elif isinstance(message, Worked):
            self.checks += message.checks
            self.wrong += message.wrong
            self.log.write_now(lambda t_s: _report(message, t_s))
        return message

    def _show_said(self, said: Said) -> None:
        if said.code == "load.wrong":
            self.shown_wrong += 1
            if self.shown_wrong > SHOWN_MOST:
                return
            self.show(progress("burn-in.wrong", **{v.name: v.value for v in said.values}))
        elif said.code not in ("load.started", "load.ready", "load.stopped"):
            self.show(progress(said.code, **{v.name: v.value for v in said.values}))

    def _tick(self, step: PlanStep, left_s: float | None) -> None:
        if left_s is None:
            self.show(progress("burn-in.tick-preparing", step=step.step))
            return
        named: dict[str, Scalar] = {
            "step": step.step,
            "left_s": round(left_s),
            "checks": self.checks,
            "wrong": self.wrong,
        }
        hottest = self.sampling.hottest()
        if hottest is None:
            self.show(progress("burn-in.tick", **named))
        else:
            label, hottest_c = hottest
            self.show(progress("burn-in.tick-hottest", **named, label=label, hottest_c=hottest_c))

    def _see_configuration(self, guard: GuardHandle, step: PlanStep) -> None:
        """Read the configuration in a thread, hearing guard and stop meanwhile, and write what was seen."""
        seen: list[Configuration | BaseException] = []

        def read() -> None:
            try:
                seen.append(self.read_configuration())
            except BaseException as failure:  # raised again by the engine's thread
                seen.append(failure)

        thread = threading.Thread(target=read, name="configuration", daemon=True)
        thread.start()
        asked_s = self.log.t_s()
        while thread.is_alive() and self.log.t_s() - asked_s < CONFIGURATION_S and not self.stop.is_set():
            self._hear(guard)
        if not seen:
            self.log.event("configuration.not-read", step=step.step)
            return
        if isinstance(seen[0], BaseException):
            raise seen[0]
        digest, changed = seen[0].digest, _changed(self.configuration, seen[0])
        self.log.write_now(
            lambda t_s: ConfigurationSeen(t_s=t_s, step=step.step, digest=digest, changed=changed)
        )


def _changed(before: Configuration, after: Configuration) -> tuple[str, ...]:
    return tuple(key for key, _, _ in before.changes_to(after))


def _writes(plan: Plan) -> bool:
    return any(request.write_budget_bytes for step in plan.steps for request in step.loads)


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
