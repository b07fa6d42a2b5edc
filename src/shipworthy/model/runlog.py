"""The run log: lines of JSON in segments, one segment a start (ADR 0009).

`burn-in/log-001.jsonl`: a `start` line, a `columns` line, then rows, reports and events as they happen,
and a `stop` line if the run came to an end that we could still write. No stop line means interrupted.
"""

from __future__ import annotations

from typing import Any, Literal, TypeAlias

from shipworthy.model.base import Digest, Record, RecordPath, Value, decode_lines
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.time import Moment
from shipworthy.model.words import Ending, Unit


class Column(Record):
    """What one number of every row is.

    quantity: temperature, fan, fan control, power, clock, utilisation, throttle, link speed, link width.
    place: where it is wired (`pci:0000:00:18.3`, `cpu:3`). channel: the driver's own name (`temp1`).
    label: what the driver calls it, for people. The limits are the device's own, apart; None where it
    names none. Of a link `high` is no limit but the most that both its ends can do. source: the file below
    the machine's root, or `nvidia-smi` and its field.
    """

    quantity: str
    place: str
    channel: str
    label: str
    unit: Unit
    source: str
    high: float | None = None
    critical: float | None = None


class Start(Record, tag_field="kind", tag="start"):
    """First line of a segment. seed: from which every random stream of the run is drawn."""

    schema: Literal[1] = 1
    run_id: str
    segment: int
    nonce: str | None
    at: Moment
    seed: int
    tool: Tool
    plan_digest: Digest
    configuration: Configuration
    simulated: bool
    first_step: int = 0  # index of the plan's step at which this segment begins


class Columns(Record, tag_field="kind", tag="columns"):
    columns: tuple[Column, ...]


class Row(Record, tag_field="kind", tag="row"):
    """One sample.

    t_s: monotonic seconds since the segment's start. None: this sensor gave nothing this time.
    """

    t_s: float
    v: tuple[float | None, ...]


class Event(Record, tag_field="kind", tag="event"):
    """Something happened: a code and its values (`step.began`, `guard.limit`, `load.wrong` …)."""

    t_s: float
    code: str
    values: tuple[Value, ...] = ()


class ConfigurationSeen(Record, tag_field="kind", tag="configuration"):
    """The configuration, read before and after every step. changed: keys that differ from the start's."""

    t_s: float
    step: str
    digest: Digest
    changed: tuple[str, ...] = ()


class Report(Record, tag_field="kind", tag="report"):
    """What one load's process has done since its last report.

    target: what this process stresses (`cpu:1`, `memory`, a drive's place). work: units done; unit_of_work:
    what one is. checks: results verified; wrong: results that were wrong. limit: the rate that was
    measured in this run for the same work without checks, in units a second; None until measured.
    """

    t_s: float
    step: str
    load: str
    target: str
    work: float
    unit_of_work: str
    seconds: float
    checks: int
    wrong: int
    written_bytes: int = 0
    limit: float | None = None
    detail: tuple[Value, ...] = ()


class Stop(Record, tag_field="kind", tag="stop"):
    """Last line. ending has no default: how it ended is always said."""

    at: Moment
    t_s: float
    ending: Ending
    reason: str = ""  # code of what stopped it; empty when completed


LogLine: TypeAlias = Start | Columns | Row | Event | ConfigurationSeen | Report | Stop


def read_log(data: bytes, where: object) -> tuple[list[LogLine], bytes]:
    """Return the lines of a segment, and the bytes of a torn end (expected after a power cut).

    A file system may have lost a page of the last moments and kept a later one: it reads as zeros, which no
    line of ours holds. What was known for sure ends before it.
    """
    kind: Any = LogLine
    hole = data.find(b"\0")
    whole = len(data) if hole < 0 else data.rfind(b"\n", 0, hole) + 1
    lines, torn = decode_lines(data[:whole], kind, where)
    return lines, torn + data[whole:]


class Series(Record):
    """One curve as it is drawn later: times in s since the burn-in began, and values (None: no sample)."""

    column: Column
    t_s: tuple[float, ...]
    v: tuple[float | None, ...]


class StepSpan(Record):
    """When a step ran, in s since the burn-in began. under_load_s: from when on all its loads were at work;
    None for a rest, for one whose loads never all began, and in logs of the tool's first version."""

    step: str
    begin_s: float
    end_s: float
    under_load_s: float | None = None


class LoadSummary(Record):
    """All reports of one load on one target, added up. rate and limit in units of work a second."""

    load: str
    target: str
    unit_of_work: str
    work: float
    seconds: float
    checks: int
    wrong: int
    written_bytes: int
    rate: float | None
    limit: float | None


class SegmentSummary(Record):
    file: RecordPath
    ending: Ending
    seconds: float
    boot_id: str | None


class ThermalSummary(Record):
    """Of one temperature: what it reached, against which limit. None where there is none."""

    place: str
    channel: str
    label: str
    idle_c: float | None
    highest_c: float
    limit_c: float | None
    limit_origin: str
