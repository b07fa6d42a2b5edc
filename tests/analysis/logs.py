"""Run logs written by hand: what a test changes in one place and leaves right in all others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from shipworthy.analysis import Segment
from shipworthy.model.base import values
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.runlog import (
    Column,
    Columns,
    ConfigurationSeen,
    Event,
    LogLine,
    Report,
    Row,
    Start,
    Stop,
)
from shipworthy.model.time import Moment
from shipworthy.model.words import Category, Ending, PartKind, Unit

CONFIGURATION = Configuration.of({"firmware/version": "F7"})
TOOL = Tool(name="shipworthy", version="0")
DRIVE = "pci:0000:04:00.0/nvme-ns-1"
PLAN = Plan(
    plan_id="test",
    steps=(
        PlanStep(step="together", seconds=10, loads=(LoadRequest(load="matrix"), LoadRequest(load="march"))),
        PlanStep(step="rest", seconds=2),
    ),
)
ORDER = Order(
    order_id="KD-1",
    shop="Kestrel Desk",
    units=("KD-1-1",),
    lines=(
        OrderLine(line_id="1", category=Category.PROCESSOR, text="Tarn C7"),
        OrderLine(line_id="2", category=Category.MEMORY, text="Fennec 16GB"),
        OrderLine(line_id="3", category=Category.STORAGE, text="Quarrel 1TB"),
    ),
)
MATCHES = (Match(line="3", places=(DRIVE,)),)
PROCESSOR = Column(
    quantity="temperature",
    place="pci:0000:00:18.3",
    channel="temp1",
    label="Processor",
    unit=Unit.CELSIUS,
    source="sys/class/hwmon/hwmon0/temp1_input",
    critical=95.0,
)
FAN = Column(quantity="fan", place="isa", channel="fan1", label="Cooler", unit=Unit.RPM, source="x")
THROTTLE = Column(quantity="throttle", place="cpu:0", channel="core", label="", unit=Unit.COUNT, source="x")


def at(seconds: float, boot_id: str = "one") -> Moment:
    utc = datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(seconds=seconds)
    return Moment(utc=utc, boot_id=boot_id, monotonic_s=seconds, clock_synchronised=True)


def reading() -> Reading:
    cpu = Part(
        kind=PartKind.PROCESSOR,
        place="socket:0",
        facts=(Fact(name="online_cpus", source="cpu", value="0-1"),),
    )
    return Reading(
        reading_id="r",
        nonce="n",
        taken=at(0),
        took_s=0.1,
        simulated=False,
        tool=TOOL,
        sources=(),
        parts=(cpu,),
        ports=(),
        configuration=CONFIGURATION,
    )


def start(seconds: float = 100.0, segment: int = 1, boot_id: str = "one") -> Start:
    return Start(
        run_id="run",
        segment=segment,
        nonce="n",
        at=at(seconds, boot_id),
        seed=1,
        tool=TOOL,
        plan_digest="sha512:" + "0" * 128,
        configuration=CONFIGURATION,
        simulated=False,
    )


@dataclass
class Run:
    """The parts of a segment, each with a right default."""

    columns: tuple[Column, ...] = (PROCESSOR, FAN)
    rows: Sequence[tuple[float | None, ...]] = field(default_factory=lambda: [(50.0, 900.0)] * 13)
    wrong: dict[str, int] = field(default_factory=dict)
    targets: tuple[tuple[str, str], ...] = (
        ("matrix", "cpu:0"),
        ("matrix", "cpu:1"),
        ("march", "memory"),
        ("storage", DRIVE),
    )
    events: tuple[Event, ...] = ()
    changed: tuple[str, ...] = ()
    ending: Ending | None = Ending.COMPLETED
    step_seconds: float = 10.0

    def lines(self, begin: Start | None = None) -> tuple[LogLine, ...]:
        found: list[LogLine] = [begin or start(), Columns(columns=self.columns)]
        found.append(_step("step.began", "together", 0, 0.0))
        found += [Row(t_s=float(i), v=row) for i, row in enumerate(self.rows)]
        found += [self._report(load, target) for load, target in self.targets]
        found += self.events
        seen = CONFIGURATION.digest if not self.changed else "sha512:" + "c" * 128
        found.append(ConfigurationSeen(t_s=9.0, step="together", digest=seen, changed=self.changed))
        found.append(_step("step.ended", "together", 0, self.step_seconds))
        found += [_step("step.began", "rest", 1, 10.0), _step("step.ended", "rest", 1, 12.0)]
        if self.ending is not None:
            found.append(Stop(at=at(112), t_s=12.0, ending=self.ending))
        return tuple(found)

    def segment(self) -> Segment:
        return Segment(file="burn-in/log-001.jsonl", lines=self.lines())

    def _report(self, load: str, target: str) -> Report:
        return Report(
            t_s=9.5,
            step="together",
            load=load,
            target=target,
            work=100.0,
            unit_of_work="GFLOP",
            seconds=10.0,
            checks=40,
            wrong=self.wrong.get(target, 0),
            limit=12.0,
        )


def _step(code: str, step: str, index: int, t_s: float) -> Event:
    return Event(t_s=t_s, code=code, values=values(step=step, index=index))
