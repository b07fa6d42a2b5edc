"""Sensors that stand still while the machine works: named, and not used."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
import pytest

from shipworthy.analysis import analyse
from shipworthy.analysis.curves import Curve
from shipworthy.analysis.frozen import frozen_sensors, looks_frozen
from shipworthy.model.analysis import Analysis
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import Column
from shipworthy.model.words import Aspect, Outcome, Unit
from tests.analysis.logs import FAN, MATCHES, ORDER, PLAN, PROCESSOR, Run, reading

QUIET, BUSY = [0.02] * 30, [0.98] * 30


def test_a_sensor_that_never_moves_while_its_part_works_looks_frozen() -> None:
    assert looks_frozen([42.0] * 60, QUIET + BUSY)
    assert looks_frozen([42.0] * 62, [*QUIET, 0.5, 0.5, *BUSY])


@pytest.mark.parametrize(
    ("values", "load"),
    [
        ([42.0] * 59 + [42.1], QUIET + BUSY),  # it moved
        ([42.0] * 60, [0.5] * 60),  # the load did not change
        ([42.0] * 60, [0.0, 1.0] * 30),  # it changed faster than heat does
        ([42.0] * 40, QUIET + BUSY[:10]),  # too short
        ([None] * 60, QUIET + BUSY),  # nothing was read
        ([42.0] * 30 + [None] * 30, QUIET + BUSY),  # nothing was read under load
        ([], []),
    ],
)
def test_one_that_has_had_no_reason_to_move_does_not(
    values: list[float | None], load: list[float | None]
) -> None:
    assert not looks_frozen(values, load)


# In a run log


BOARD = msgspec.structs.replace(PROCESSOR, place="isa:0290", channel="temp2", label="CPUTIN")
DRIVE = msgspec.structs.replace(PROCESSOR, place="pci:0000:04:00.0", label="Composite", critical=85.0)
BUSY_0, BUSY_1 = (
    Column(
        quantity="utilisation", place=f"cpu:{n}", channel="utilisation", label="", unit=Unit.RATIO, source="x"
    )
    for n in (0, 1)
)
WARMS_UP = [40.0] * 30 + [40.0 + n for n in range(30)]
STANDS = [40.0] * 60


def run(
    *temperatures: tuple[Column, Sequence[float | None]], load: Sequence[float | None] = (*QUIET, *BUSY)
) -> Analysis:
    """Return the analysis of a run with these temperatures, and two processors that are equally busy."""
    columns = (*(column for column, _ in temperatures), FAN, BUSY_0, BUSY_1)
    rows = [
        (*seen, 900.0, busy, busy)
        for *seen, busy in zip(*(values for _, values in temperatures), load, strict=True)
    ]
    return analyse(PLAN, [Run(columns=columns, rows=rows).segment()], ORDER, MATCHES, reading(), ())


def of_heat(analysis: Analysis) -> dict[str, Finding]:
    return {finding.code: finding for finding in analysis.findings if finding.aspect is Aspect.HEAT}


def test_a_sensor_that_moves_with_the_load_is_judged() -> None:
    assert list(of_heat(run((PROCESSOR, WARMS_UP)))) == ["heat.within-limits"]


def test_one_that_stands_still_does_not_show_that_the_machine_stayed_cool() -> None:
    analysis = run((PROCESSOR, STANDS))
    found = of_heat(analysis)
    assert list(found) == ["heat.no-processor", "heat.sensor-frozen"]
    assert {finding.outcome for finding in found.values()} == {Outcome.CANNOT_TELL}
    frozen = found["heat.sensor-frozen"]
    told = {value.name: value.value for value in frozen.values}
    assert (told, frozen.part) == ({"label": "Processor", "stayed_c": 40.0}, PROCESSOR.place)
    assert analysis.thermals == ()
    assert PROCESSOR in {series.column for series in analysis.series}, "its curve is still to be seen"


def test_a_drives_temperature_does_not_stand_in_for_a_frozen_one() -> None:
    assert list(of_heat(run((PROCESSOR, STANDS), (DRIVE, STANDS)))) == [
        "heat.no-processor",
        "heat.sensor-frozen",
    ]


def test_beside_one_that_moves_a_frozen_one_is_named_and_the_other_judged() -> None:
    analysis = run((PROCESSOR, WARMS_UP), (BOARD, STANDS))
    found = of_heat(analysis)
    assert list(found) == ["heat.within-limits"]
    (frozen,) = [f for f in analysis.findings if f.code == "heat.sensor-frozen"]
    assert {v.name: v.value for v in frozen.values}["label"] == "CPUTIN"
    assert frozen.aspect is Aspect.HEALTH, "a board's input that is not wired leaves heat not open"
    assert {v.name: v.value for v in found["heat.within-limits"].values}["label"] == "Processor"
    assert [row.channel for row in analysis.thermals] == ["temp1"]


@pytest.mark.parametrize("load", [QUIET * 2, BUSY * 2, [None] * 60])
def test_without_a_change_of_load_nothing_is_frozen(load: list[float | None]) -> None:
    assert list(of_heat(run((PROCESSOR, STANDS), load=load))) == ["heat.within-limits"]


def curve(column: Column, t_s: Sequence[float], v: Sequence[float | None]) -> Curve:
    return Curve(column, np.array(t_s), np.array(v, np.float64))


def test_the_load_is_the_mean_of_the_processors_that_say_how_busy_they_are() -> None:
    t_s = [float(n) for n in range(60)]
    still = curve(PROCESSOR, t_s, STANDS)
    first = curve(BUSY_0, t_s, (*QUIET, *BUSY))
    idle = curve(BUSY_1, t_s, (*QUIET, *QUIET))
    silent = curve(BUSY_1, t_s, (None,) * 60)
    assert frozen_sensors([still, first, silent]) == (still,)
    assert frozen_sensors([still, first, idle]) == ()  # the mean changed by less than half
    assert frozen_sensors([still]) == ()


def test_a_sensor_and_a_load_of_other_times_are_not_compared() -> None:
    still = curve(PROCESSOR, tuple(map(float, range(60))), tuple(STANDS))
    load = curve(BUSY_0, tuple(n + 0.5 for n in range(60)), (*QUIET, *BUSY))
    assert frozen_sensors([still, load]) == ()
