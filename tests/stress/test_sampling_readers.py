"""Sensors are read side by side: a slow or dying one delays no other; silence is noticed."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import devices, list_columns, measured_part
from shipworthy.model.runlog import Column, Event, LogLine, Row
from shipworthy.model.time import SystemClock
from shipworthy.model.words import PartKind, Unit
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.readers import Readers
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.silence import Silences, events_of
from tests.machine.recorded import chip


class Pretend:
    """A device of one column. It answers `value`, once `answers` is set."""

    def __init__(self, at: int, value: float | None = 1.0) -> None:
        self.at, self.value, self.reads = (at,), value, 0
        self.answers = threading.Event()
        self.answers.set()

    def read(self) -> tuple[float | None, ...]:
        self.reads += 1
        self.answers.wait()
        return (self.value,)


@pytest.fixture
def readers_of() -> Iterator[Callable[..., Readers]]:
    made: list[Readers] = []

    def make(*parts: Pretend, interval_s: float = 60.0) -> Readers:
        made.append(Readers(parts, interval_s))
        return made[-1]

    yield make
    for readers in made:
        readers.leave()


def until(true: Callable[[], bool]) -> None:
    end_s = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.01)


def column(channel: str, place: str = "platform:tarn.0") -> Column:
    return Column(
        quantity="temperature", place=place, channel=channel, label=channel, unit=Unit.CELSIUS, source=""
    )


def test_a_device_that_never_answers_costs_its_own_column_only(
    readers_of: Callable[..., Readers],
) -> None:
    stuck, others = Pretend(1), [Pretend(0), Pretend(2)]
    stuck.answers.clear()
    readers = readers_of(others[0], stuck, others[1])
    until(lambda: readers.row() == (1.0, None, 1.0))
    assert readers.kept_waiting() == 1
    for device in others:
        device.value = 2.0
    until(lambda: readers.row() == (2.0, None, 2.0))
    assert stuck.reads == 1
    stuck.answers.set()


def test_a_device_that_answers_again_is_read_with_the_others_again(
    readers_of: Callable[..., Readers],
) -> None:
    slow, other = Pretend(0), Pretend(1)
    slow.answers.clear()
    readers = readers_of(slow, other)
    until(lambda: bool(readers.row() and readers.kept_waiting()))
    slow.answers.set()
    until(lambda: bool(readers.row()) and not readers.kept_waiting())
    slow.value = other.value = 3.0
    until(lambda: readers.row() == (3.0, 3.0))


def test_many_devices_are_read_by_one_thread(readers_of: Callable[..., Readers]) -> None:
    readers = readers_of(*(Pretend(at) for at in range(1000)))
    until(lambda: readers.row() == (1.0,) * 1000)
    until(lambda: not readers.kept_waiting() or not readers.row())
    assert sum(thread.name == "sensors" for thread in threading.enumerate()) < 20


def test_a_value_that_is_too_old_is_none(readers_of: Callable[..., Readers]) -> None:
    once = Pretend(0)
    readers = readers_of(once, interval_s=0.05)
    until(lambda: readers.row() == (1.0,))
    once.answers.clear()
    until(lambda: readers.row() == (None,))
    once.answers.set()


def test_a_fault_of_a_reader_is_told_to_whoever_asks(readers_of: Callable[..., Readers]) -> None:
    class Broken(Pretend):
        def read(self) -> tuple[float | None, ...]:
            raise KeyError("a fault of ours")

    readers = readers_of(Broken(0))
    with pytest.raises(KeyError, match="a fault of ours"):
        until(lambda: readers.row() == (1.0,))


def test_a_chip_is_one_device_and_so_are_all_clocks(tmp_path: Path) -> None:
    chip(tmp_path, 0, "sys/devices/platform/tarn.0", "coretemp", {"temp1_input": "40000", "temp2_input": "1"})
    chip(tmp_path, 1, "sys/devices/platform/tarn.1", "tarn", {"temp1_input": "41000", "fan1_input": "900"})
    for cpu in (0, 1):
        folder = tmp_path / f"sys/devices/system/cpu/cpu{cpu}/cpufreq"
        folder.mkdir(parents=True)
        (folder / "scaling_cur_freq").write_text("1000000\n")
    columns = list_columns(Root(tmp_path))
    found = devices(Root(tmp_path), columns)
    assert sorted(len(device.at) for device in found) == [2, 2, 2]
    assert sorted(at for device in found for at in device.at) == list(range(len(columns)))
    assert measured_part(Root(tmp_path), columns[0]) is PartKind.PROCESSOR
    assert measured_part(Root(tmp_path), columns[2]) is None


def test_a_pipe_in_a_sensors_place_is_never_opened_and_gives_nothing(tmp_path: Path) -> None:
    chip(tmp_path, 0, "sys/devices/platform/tarn.0", "tarn", {"temp1_input": "40000", "temp2_input": "1"})
    pipe = tmp_path / "sys/devices/platform/tarn.0/hwmon/hwmon0/temp2_input"
    pipe.unlink()
    os.mkfifo(pipe)
    columns = list_columns(Root(tmp_path))
    (device,) = devices(Root(tmp_path), columns)
    assert device.read() == (40.0, None)


def test_a_file_that_is_replaced_or_written_anew_is_seen(tmp_path: Path) -> None:
    chip(tmp_path, 0, "sys/devices/platform/tarn.0", "tarn", {"temp1_input": "40000"})
    file = tmp_path / "sys/devices/platform/tarn.0/hwmon/hwmon0/temp1_input"
    (device,) = devices(Root(tmp_path), list_columns(Root(tmp_path)))
    assert device.read() == (40.0,)
    file.with_name("new").write_text("41000\n")
    file.with_name("new").rename(file)
    assert device.read() == (41.0,)
    file.rename(file.with_name("away"))
    assert device.read() == (None,)
    file.write_text("42000\n")
    assert device.read() == (42.0,)
    file.write_text("127000\n")  # nothing is wired: no temperature
    assert device.read() == (None,)


def sampled(folder: Path, rows: int) -> list[LogLine]:
    """Run the sampler until it has written so many rows."""
    lines: list[LogLine] = []
    columns = list_columns(Root(folder))
    log = SegmentLog(lines.append, SystemClock())
    with Sampling(columns, devices(Root(folder), columns), 10.0, log) as sampling:
        until(lambda: sum(isinstance(line, Row) for line in lines) >= rows)
        sampling.check()
    return lines


def test_a_machine_without_sensors_is_sampled(tmp_path: Path) -> None:
    assert [line.v for line in sampled(tmp_path, 3) if isinstance(line, Row)][:3] == [()] * 3


def test_a_thousand_sensors_are_sampled(tmp_path: Path) -> None:
    for number in range(100):
        values = {f"temp{n}_input": f"{40 + n}000" for n in range(1, 11)}
        chip(tmp_path, number, f"sys/devices/platform/tarn.{number}", "tarn", values)
    rows = [line.v for line in sampled(tmp_path, 8) if isinstance(line, Row)]
    assert len(rows[-1]) == 1000
    assert any(None not in row for row in rows)


def test_silence_is_told_once_for_a_place_and_its_end_too() -> None:
    silences = Silences((column("temp1"), column("temp2"), column("temp1", "pci:0000:01:00.0")))
    assert silences.look((40.0, 41.0, None), 0.0) == ()
    assert silences.look((None, None, None), 4.9) == ()
    turns = silences.look((None, None, None), 5.0)
    ((code, named),) = events_of(turns)
    assert code == "sensor.silent"
    assert {v.name: v.value for v in named} == {
        "label": "temp1",
        "place": "platform:tarn.0",
        "channel": "temp1, temp2",
        "silent_s": 5.0,
    }
    assert silences.look((None, None, None), 6.0) == ()
    ((code, named),) = events_of(silences.look((42.0, None, None), 8.0))
    assert (code, {v.name: v.value for v in named}["silent_s"]) == ("sensor.back", 8.0)
    assert not silences.spoke(2)
    assert isinstance(Event(t_s=0.0, code=code, values=named), Event)
