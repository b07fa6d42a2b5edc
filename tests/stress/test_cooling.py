"""The cool-down after a stop by hand: heat is measured on, and a second Ctrl-C skips it."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import devices, list_columns
from shipworthy.model.progress import Progress
from shipworthy.model.runlog import Event, LogLine, Row
from shipworthy.model.time import SystemClock
from shipworthy.stress.cooling import cool_down
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.sampling import Sampling


@pytest.fixture
def warm_root(tmp_path: Path) -> Root:
    folder = tmp_path / "sys/class/hwmon/hwmon0"
    folder.mkdir(parents=True)
    for name, text in (("name", "coretemp"), ("temp1_input", "81000"), ("temp1_crit", "100000")):
        (folder / name).write_text(f"{text}\n", "utf-8")
    return Root(tmp_path)


def test_heat_is_measured_and_shown_while_it_cools(warm_root: Root) -> None:
    lines: list[LogLine] = []
    shown: list[Progress] = []
    _cool(warm_root, lines, shown.append, 0.5)
    assert [line.code for line in lines if isinstance(line, Event)] == ["cooling.began", "cooling.ended"]
    assert any(isinstance(line, Row) and line.v == (81.0,) for line in lines)
    assert {"cooling.began", "burn-in.heat", "burn-in.tick-cooling"} <= {event.code for event in shown}


def test_a_second_ctrl_c_skips_what_is_left_and_the_log_says_how_long_it_was(warm_root: Root) -> None:
    lines: list[LogLine] = []

    def press(event: Progress) -> None:
        if event.code == "burn-in.tick-cooling":
            raise KeyboardInterrupt

    _cool(warm_root, lines, press, 600.0)
    (ended,) = [line for line in lines if isinstance(line, Event) and line.code == "cooling.ended"]
    assert float(str(ended.values[0].value)) < 600


def test_a_machine_that_shows_no_temperature_is_not_waited_for(tmp_path: Path) -> None:
    lines: list[LogLine] = []
    _cool(Root(tmp_path), lines, lambda _: None, 600.0)
    assert not [line for line in lines if isinstance(line, Event)]


def _cool(root: Root, lines: list[LogLine], show: object, seconds: float) -> None:
    log, columns = SegmentLog(lines.append, SystemClock()), list_columns(root)
    with Sampling(columns, devices(root, columns), 20.0, log) as sampling:
        while columns and not any(isinstance(line, Row) and line.v[0] is not None for line in list(lines)):
            sampling.check()
        cool_down(log, sampling, show, (), seconds)  # type: ignore[arg-type]
