"""Run a plan: start line, rows, steps under the guard, reports, stop line (ADR 0009).

The engine works in the caller's process and writes only through the `write` it is given. Loads and
guard are processes of their own; the machine that they act on is always the one that we run on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import devices, list_columns
from shipworthy.machine.sensors_graphics import sleeps
from shipworthy.model.base import Scalar, Trouble, values
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.progress import Sink, progress
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import Columns, ConfigurationSeen, LogLine, Start, Stop
from shipworthy.model.time import Clock, Moment
from shipworthy.model.words import Cores, Ending
from shipworthy.stress import power_cycles
from shipworthy.stress.cooling import cool_down
from shipworthy.stress.guarding import GuardHandle, GuardLost
from shipworthy.stress.hearing import Attending, Hearing
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.plans import check_plan, plan_digest
from shipworthy.stress.power_cycles import BARE, PowerSteps, Surroundings, what_to_do
from shipworthy.stress.protocol import BLOCK_S, Ground, Job, Target
from shipworthy.stress.registry import Found, find_load
from shipworthy.stress.rhythm import Rhythm
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.watching import Watching
from shipworthy.stress.wire import Begin, Child, Halt, Setup, StepOver, short

CONFIGURATION_S = 30.0
FLOOR_SHARE = 0.5  # of a reserve: loads leave the whole of it alone, the guard stops at half of it

ENDINGS = {
    "": Ending.COMPLETED,
    "person": Ending.STOPPED_BY_PERSON,
    "guard.limit": Ending.STOPPED_BY_GUARD,
    power_cycles.ANNOUNCED: Ending.AWAITING_POWER,
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
    ground: Ground,
    read_configuration: Callable[[], Configuration],
    stop: threading.Event,
    digest: str | None = None,
    outside_loads: tuple[str, ...] = (),
    around: Surroundings = BARE,
) -> Ending:
    """Run the steps of a plan from `first_step` on, and return how it ended.

    `write` returns when a line is safe enough to count on; `show` hears of progress at most about once a
    second; `stop` is set by whoever wants the run to end (Ctrl-C). digest: of the plan as it is kept, if
    that is not how it would be written today. around: for power cycles; a restart ends the segment
    (`Ending.AWAITING_POWER`), and the next one looks for it. Call it from a thread that lives until then.
    Raises Trouble, before anything is started, for a plan that cannot be run here.
    """
    check_plan(plan, outside_loads)
    loads = _loads_of(plan, outside_loads)
    for request in (request for step in plan.steps[first_step:] for request in step.loads):
        loads[request.load].load.targets(request, ground, root)
    log = SegmentLog(write, clock)
    configuration = read_configuration()
    columns = list_columns(root)
    began = clock.now()
    log.write(
        Start(
            run_id=run_id,
            segment=segment,
            nonce=nonce,
            at=began,
            seed=seed,
            tool=tool,
            plan_digest=digest or plan_digest(plan),
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
    sampler = Sampling(columns, devices(root, columns), plan.sample_hz, log, partial(sleeps, root))
    with sampler as sampling, Watching(root, log) as watching:
        run = _Run(
            plan,
            root,
            seed,
            ground,
            read_configuration,
            configuration,
            stop,
            loads,
            log,
            sampling,
            show,
            clock,
            began,
            around,
        )
        code, failed = run.steps(first_step)
        watching.check()
        if code == "person":
            cool_down(log, sampling, show, plan.limits)
    ending = Ending.FAILED_TO_RUN if failed else ENDINGS[code]
    log.finish(lambda t_s: Stop(at=clock.now(), t_s=t_s, ending=ending, reason=code))
    if run.announced is not None:
        around.sync()  # before anybody is told to switch it off
        show(what_to_do(run.announced))
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
    ground: Ground
    read_configuration: Callable[[], Configuration]
    configuration: Configuration
    stop: threading.Event
    loads: dict[str, Found]
    log: SegmentLog
    sampling: Sampling
    show: Sink
    clock: Clock
    began: Moment
    around: Surroundings
    announced: PlanStep | None = None  # the restart for which the segment ends

    def steps(self, first_step: int) -> tuple[str, bool]:
        """Run the steps under a guard. Whatever happens, guard and loads are gone when this returns."""
        guard = GuardHandle()
        hearing = Hearing(guard, self.log, self.sampling, self.show, self.plan)
        cycles = self._power_steps(hearing)
        try:
            guard.order(self._setup())
            if cycles.take_up(first_step, self.plan.steps[first_step : first_step + 1]):
                first_step += 1
            for index, step in enumerate(self.plan.steps[first_step:], first_step):
                if step.power is None:
                    code, failed = self._step(hearing, index, step)
                else:
                    code, failed = self._cycle_power(hearing, cycles, index, step), False
                if code:
                    return code, failed
            return "", False
        except GuardLost as lost:
            guard.kill()
            self.log.event("guard.lost", said=short(lost))
            return "guard.lost", True
        finally:
            guard.end()

    def _power_steps(self, hearing: Hearing) -> PowerSteps:
        def see(step: PlanStep, before: Configuration | None) -> None:
            self._see_configuration(hearing, step, before)

        return PowerSteps(
            self.log, self.show, self.clock, self.began, self.around, hearing.next, see, self.stop
        )

    def _cycle_power(self, hearing: Hearing, cycles: PowerSteps, index: int, step: PlanStep) -> str:
        self._see_configuration(hearing, step)
        if self.stop.is_set():
            return "person"
        self._show_step(index, step)
        code = cycles.run(index, step)
        if code == power_cycles.ANNOUNCED:
            self.announced = step
        return code

    def _setup(self) -> Setup:
        return Setup(
            root=str(self.root.folder),
            work_folders=self.ground.work_folders,
            limits=self.plan.limits,
            memory_floor_bytes=int(self.plan.memory_reserve_bytes * FLOOR_SHARE),
            disk_floor_bytes=int(self.plan.disk_reserve_bytes * FLOOR_SHARE) if _writes(self.plan) else 0,
        )

    def _step(self, hearing: Hearing, index: int, step: PlanStep) -> tuple[str, bool]:
        self._see_configuration(hearing, step)
        if self.stop.is_set():
            return "person", False
        try:
            begin = self._begin(step)
        except Trouble as trouble:
            wanted = ", ".join(request.load for request in step.loads)
            said: dict[str, Scalar] = {"load": wanted, "target": "this machine", "why": short(trouble)}
            self.log.event("load.could-not", values(step=step.step, **said))
            self.show(progress("load.could-not", **said))
            return "load.could-not", True
        named = values(step=step.step, index=index)
        self.log.event("step.began", named, seconds_s=step.seconds)
        self._show_step(index, step)
        self._tell_without_target(step, begin)
        if step.loads and not begin.children:
            self.log.event("step.without-target", named)
            self.log.event("step.ended", named)
            return "", False
        over = self._attend(hearing, step, begin)
        if over.code:
            self.log.event("step.cut-short", named, why=over.code)
        else:
            self.log.event("step.ended", named)
        self._see_configuration(hearing, step)
        return over.code, over.failed

    def _tell_without_target(self, step: PlanStep, begin: Begin) -> None:
        at_work = {child.job.load for child in begin.children}
        for request in step.loads:
            if request.load not in at_work:
                named: dict[str, Scalar] = {"step": step.step, "load": request.load}
                self.log.event("load.without-target", values(**named))
                self.show(progress("load.without-target", **named))

    def _show_step(self, index: int, step: PlanStep) -> None:
        self.show(
            progress(
                "burn-in.step",
                step=step.step,
                number=index + 1,
                steps=len(self.plan.steps),
                step_s=step.seconds,
                loads=", ".join(request.load for request in step.loads) or step.power or "no load",
            )
        )

    def _attend(self, hearing: Hearing, step: PlanStep, begin: Begin) -> StepOver:
        """Write down what guard and loads say until the step is over."""
        hearing.begin(begin)
        attending, halted = Attending(hearing, step, len(begin.children)), False
        while (over := attending.hear()) is None:
            if self.stop.is_set() and not halted:
                halted = True
                hearing.guard.order(Halt())
        return over

    def _begin(self, step: PlanStep) -> Begin:
        children = [child for request in step.loads for child in self._children(step, request)]
        return Begin(step=step.step, seconds=step.seconds, children=tuple(children), limits=step.limits)

    def _children(self, step: PlanStep, request: LoadRequest) -> tuple[Child, ...]:
        found = self.loads[request.load]
        targets = found.load.targets(request, self.ground, self.root)
        in_turn = request.cores is Cores.IN_TURN
        return tuple(
            Child(
                entry=found.entry,
                cpus=target.cpus,
                environment=target.environment,
                job=self._job(step, request, target, number, len(targets)),
                begin_share=number / len(targets) if in_turn else 0.0,
                end_share=(number + 1) / len(targets) if in_turn else 1.0,
            )
            for number, target in enumerate(targets)
        )

    def _job(self, step: PlanStep, request: LoadRequest, target: Target, number: int, peers: int) -> Job:
        return Job(
            step=step.step,
            load=request.load,
            target=target.name,
            request=request,
            seed=self.seed,
            work_folder=target.work_folder or self.ground.work_folders[0],
            memory_reserve_bytes=self.plan.memory_reserve_bytes,
            disk_reserve_bytes=self.plan.disk_reserve_bytes,
            drive=target.drive,
            peers=peers,
            number=number,
            block_s=Rhythm(request.intensity, request.pulse_hz).block_s(BLOCK_S),
        )

    def _see_configuration(
        self, hearing: Hearing, step: PlanStep, before: Configuration | None = None
    ) -> None:
        """Read the configuration in a thread, hearing guard and stop meanwhile, and write what was seen.

        before: what it is compared with; None for that of the segment's start.
        """
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
            hearing.next()
        if not seen:
            self.log.event("configuration.not-read", step=step.step)
            return
        if isinstance(seen[0], BaseException):
            raise seen[0]
        digest, changed = seen[0].digest, _changed(before or self.configuration, seen[0])
        self.log.write_now(
            lambda t_s: ConfigurationSeen(t_s=t_s, step=step.step, digest=digest, changed=changed)
        )


def _changed(before: Configuration, after: Configuration) -> tuple[str, ...]:
    return tuple(key for key, _, _ in before.changes_to(after))


def _writes(plan: Plan) -> bool:
    return any(request.write_budget_bytes for step in plan.steps for request in step.loads)
