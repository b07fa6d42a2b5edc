"""Plans of a second or two, and what a run of them wrote."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.progress import Progress
from shipworthy.model.runlog import Event, LogLine
from shipworthy.model.words import Ending
from shipworthy.stress.protocol import Job

MIB = 2**20
L = TypeVar("L")

SMALL = {
    "matrix": LoadRequest(load="matrix", size=256),
    "march": LoadRequest(load="march", memory_cap_bytes=64 * MIB),
    "storage": LoadRequest(load="storage", write_budget_bytes=16 * MIB),
}


def request_for(load: str) -> LoadRequest:
    return SMALL.get(load, LoadRequest(load=load, size=128))


def small_plan(*steps: tuple[str, float, tuple[str, ...]], limits: tuple[Limit, ...] = ()) -> Plan:
    return Plan(
        plan_id="small",
        sample_hz=5.0,
        limits=limits,
        memory_reserve_bytes=64 * MIB,
        disk_reserve_bytes=64 * MIB,
        steps=tuple(
            PlanStep(step=step, seconds=seconds, loads=tuple(request_for(load) for load in loads))
            for step, seconds, loads in steps
        ),
    )


def job_for(load: str, work_folder: Path, **request: Any) -> Job:
    return Job(
        step="test",
        load=load,
        target="test",
        request=LoadRequest(load=load, **request),
        seed=11,
        work_folder=str(work_folder),
        memory_reserve_bytes=64 * MIB,
        disk_reserve_bytes=64 * MIB,
    )


@dataclass
class Run:
    """What a run wrote and showed, and how it ended."""

    ending: Ending | None = None
    lines: list[LogLine] = field(default_factory=list)
    shown: list[Progress] = field(default_factory=list)

    def of(self, kind: type[L]) -> list[L]:
        return [line for line in self.lines if isinstance(line, kind)]

    def events(self, code: str) -> list[dict[str, Any]]:
        return [{v.name: v.value for v in e.values} for e in self.of(Event) if e.code == code]
