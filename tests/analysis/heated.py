"""Run logs of a machine with a heat of its own: rows at 4 Hz, events and reports, sound unless asked."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec

from shipworthy.analysis import Segment, analyse
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import values
from shipworthy.model.facts import Fact, Part
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Column, Columns, ConfigurationSeen, Event, LogLine, Report, Row, Stop
from shipworthy.model.words import Ending, PartKind, Unit
from shipworthy.sim.thermal import Stage, foster_step
from tests.analysis.logs import CONFIGURATION, DRIVE, FAN, MATCHES, ORDER, PROCESSOR, at, reading, start

HZ = 4.0
BASE_MHZ, LIMIT_W = 3600, 90.0
POWER = Column(
    quantity="power", place="socket:0", channel="intel-rapl:0", label="package-0", unit=Unit.WATTS, source="x"
)
BUSY, CLOCKS = (
    tuple(
        Column(quantity=quantity, place=f"cpu:{n}", channel=quantity, label="", unit=unit, source="x")
        for n in (0, 1)
    )
    for quantity, unit in (("utilisation", Unit.RATIO), ("clock", Unit.MEGAHERTZ))
)
COUNTERS = tuple(
    Column(quantity="throttle", place=place, channel=channel, label=place, unit=Unit.COUNT, source="x")
    for place, channel in (
        ("cpu:0", "core_throttle_count"),
        ("cpu:1", "core_throttle_count"),
        ("socket:0", "package_throttle_count"),
    )
)
COLUMNS = (PROCESSOR, FAN, POWER, *BUSY, *CLOCKS, *COUNTERS)
DIE, SPREADER, COOLER = Stage(0.10, 0.3), Stage(0.12, 3.0), Stage(0.20, 90.0)
NO_COOLER = (DIE, SPREADER, Stage(1.6, 4.0))
"""Nothing but the spreader to take the heat: little mass, and air through a film."""
LOADS = tuple(LoadRequest(load=name) for name in ("matrix", "march", "storage"))
PLAN = Plan(
    plan_id="test",
    steps=(
        PlanStep(step="idle", seconds=20),
        PlanStep(step="cores", seconds=60, loads=LOADS[:1]),
        PlanStep(step="everything", seconds=120, loads=LOADS),
        PlanStep(step="cool-down", seconds=60),
    ),
)
PREPARING_S = 3.0


@dataclass
class Heated:
    """A machine and what is wrong with it. idle_w and full_w: of the package.

    rpm: the fan's speed by time and temperature. mhz: of the processor when busy; a processor that saves
    itself falls to a quarter of it. rate: of reads by time. counted: slow-downs by time, of core 0 and the
    package. power: the factor on what the package's counter shows, by time; None where it may not be read.
    facts: of the processor. silent: whether a load's report is missing, by time, load and target. checks: in
    each report.
    """

    seed: int = 0
    stages: Sequence[Stage] = (DIE, SPREADER, COOLER)
    air_c: float = 24.0
    idle_w: float = 15.0
    full_w: float = LIMIT_W
    throttles: bool = True
    rpm: Callable[[float, float], float] = lambda t_s, c: 600 + max(0.0, min(1.0, (c - 40) / 40)) * 900
    mhz: float = 4200.0
    rate: Callable[[float], float] = lambda t_s: 900e6
    technology: str = "NVMe"
    counted: Callable[[float], float] = lambda t_s: 0.0
    power: Callable[[float], float] | None = lambda t_s: 1.0
    base_mhz: int | None = BASE_MHZ
    max_mhz: int | None = None
    limit_w: float | None = LIMIT_W
    silent: Callable[[float, str, str], bool] = lambda t_s, load, target: False
    checks: Callable[[str, str], int] = lambda load, target: 10
    limits: tuple[Limit, ...] = ()
    critical: float | None = PROCESSOR.critical
    plan: Plan = PLAN
    events: tuple[Event, ...] = ()
    limit: float = 104.0

    def segment(self) -> Segment:
        return Segment(file="burn-in/log-001.jsonl", lines=tuple(self._lines()))

    def analysis(self) -> Analysis:
        return analyse(self.plan, [self.segment()], ORDER, MATCHES, self.reading(), self.limits)

    def reading(self) -> Reading:
        facts = tuple(
            Fact(name=name, source="cpu", value=value)
            for name, value in (
                ("online_cpus", "0-1"),
                ("base_mhz", self.base_mhz),
                ("max_mhz", self.max_mhz),
                ("power_limit_long_w", self.limit_w),
            )
            if value is not None
        )
        drive = Part(
            kind=PartKind.STORAGE,
            place=DRIVE,
            facts=(Fact(name="technology", source="nvme", value=self.technology),),
        )
        bare = reading()
        parts = (Part(kind=PartKind.PROCESSOR, place="socket:0", facts=facts), drive)
        return Reading(**{f: getattr(bare, f) for f in bare.__struct_fields__} | {"parts": parts})

    def _lines(self) -> list[LogLine]:
        columns = (msgspec.structs.replace(PROCESSOR, critical=self.critical), *COLUMNS[1:])
        lines: list[LogLine] = [start(), Columns(columns=columns)]
        timed: list[LogLine] = [*self.events]
        t_s, working = 0.0, []
        for index, step in enumerate(self.plan.steps):
            named = values(step=step.step, index=index)
            timed.append(Event(t_s=t_s, code="step.began", values=named))
            if step.loads:
                for load, target in self._targets(step):
                    who = values(step=step.step, load=load, target=target)
                    timed.append(Event(t_s=t_s, code="load.started", values=who))
                    ended_s = t_s + PREPARING_S + step.seconds
                    timed.append(Event(t_s=ended_s, code="load.stopped", values=who))
                t_s += PREPARING_S
                timed.append(Event(t_s=t_s, code="step.under-load", values=values(step=step.step)))
                working.append((t_s, t_s + step.seconds))
                timed += self._reports(step, t_s)
            t_s += step.seconds
            timed.append(Event(t_s=t_s, code="step.ended", values=named))
            timed.append(ConfigurationSeen(t_s=t_s, step=step.step, digest=CONFIGURATION.digest))
        timed += self._rows(t_s, working)
        lines += sorted(timed, key=lambda line: line.t_s)  # type: ignore[union-attr]
        lines.append(Stop(at=at(100 + t_s), t_s=t_s, ending=Ending.COMPLETED))
        return lines

    def _rows(self, end_s: float, working: Sequence[tuple[float, float]]) -> list[Row]:
        noise = random.Random(self.seed)
        rises: tuple[float, ...] = tuple(stage.resistance_k_w * self.idle_w for stage in self.stages)
        rows, hot_c = [], self.air_c + sum(rises)
        for n in range(int(end_s * HZ) + 1):
            t_s = n / HZ
            busy = any(begin <= t_s < end for begin, end in working)
            watts = self.full_w if busy else self.idle_w
            if self.throttles and hot_c >= 94.0:
                watts = min(watts, 25.0)  # the processor saves itself
            rises = foster_step(self.stages, rises, watts, 1 / HZ)
            hot_c = self.air_c + sum(rises)
            use = noise.uniform(0.97, 1.0) if busy else noise.uniform(0.0, 0.04)
            saving = self.throttles and busy and watts < self.full_w
            clock = (self.mhz / 4 if saving else self.mhz) if busy else 1200.0
            counted = self.counted(t_s)
            shown = None if self.power is None else watts * noise.uniform(0.98, 1.02) * self.power(t_s)
            rows.append(
                Row(
                    t_s=t_s + noise.uniform(0, 0.02),
                    v=(
                        round(hot_c + noise.uniform(-0.4, 0.4)),
                        round(self.rpm(t_s, hot_c)),
                        shown,
                        *(use, use),
                        *(clock, clock),
                        *(counted, 0.0, counted),
                    ),
                )
            )
        return rows

    def _targets(self, step: PlanStep) -> list[tuple[str, str]]:
        targets = {"matrix": ("cpu:0", "cpu:1"), "march": ("memory",), "storage": (DRIVE,)}
        targets |= {"caches": ("cpu:0", "cpu:1"), "exchange": ("cpus",)}
        return [(request.load, target) for request in step.loads for target in targets[request.load]]

    def _reports(self, step: PlanStep, begin_s: float) -> list[LogLine]:
        found: list[LogLine] = []
        for second in range(1, int(step.seconds) + 1):
            t_s = begin_s + second
            for load, target in self._targets(step):
                if self.silent(t_s, load, target):
                    continue
                storage = load == "storage"
                found.append(
                    Report(
                        t_s=t_s,
                        step=step.step,
                        load=load,
                        target=target,
                        work=self.rate(t_s) if storage else 100.0,
                        unit_of_work="bytes read and compared" if storage else "units",
                        seconds=1.0,
                        checks=self.checks(load, target),
                        wrong=0,
                        limit=None if storage else self.limit,
                    )
                )
        return found
