"""NVIDIA's cards by one child of their tool: late, torn and dying lines, and nobody who waits for them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shipworthy.machine.capture import nvidia_smi, nvidia_stream, tied
from shipworthy.machine.capture.nvidia_stream import MOST_LINE_BYTES, STALE_S, NvidiaStream
from shipworthy.machine.root import LIVE
from shipworthy.machine.sensors import devices, list_columns, measured_part
from shipworthy.machine.sensors_graphics import NvidiaCard
from shipworthy.model.runlog import Column, Event, LogLine, Row
from shipworthy.model.time import SystemClock
from shipworthy.model.words import Origin, PartKind
from shipworthy.stress.limits import temperature_columns
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.readers import Readers
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.silence import SILENT_S
from shipworthy.stress.watch import Watch, required_of
from tests.stress.nvidia_tool import PLACE, PretendTool, end_all, is_alive, line, until


@pytest.fixture
def tool(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PretendTool]:
    """The pretend tool, as that of this machine."""
    pretend = PretendTool(tmp_path)
    monkeypatch.setattr(nvidia_smi, "TOOLS", (str(pretend.path),))
    monkeypatch.setattr(nvidia_smi, "has_card", lambda _: True)
    yield pretend
    end_all(pretend)


@pytest.fixture
def stream(tool: PretendTool) -> Iterator[NvidiaStream]:
    made = NvidiaStream(str(tool.path), time.monotonic)
    yield made
    made.close()


def heat(stream: NvidiaStream, place: str = PLACE) -> float | None:
    latest = stream.latest(place)
    return None if latest is None else latest[1][0]


def of_tool() -> tuple[Column, ...]:
    return tuple(column for column in list_columns(LIVE) if column.source.startswith("nvidia-smi "))


def test_the_last_line_of_each_card_is_what_it_gives(tool: PretendTool, stream: NvidiaStream) -> None:
    other = "00000000:0B:00.0"
    tool.say(line(41), line(57, bus_id=other), "No such line\n")
    until(lambda: (heat(stream), heat(stream, "pci:0000:0b:00.0")) == (41.0, 57.0))
    tool.say(line(42))
    until(lambda: heat(stream) == 42.0)
    assert len(tool.starts()) == 1
    assert "clocks_event_reasons.active" in tool.starts()[0][1]
    assert tool.starts()[0][1].endswith("--format=csv,noheader,nounits --loop-ms=250")


def test_a_line_that_is_late_is_no_value_and_the_next_is_one(tool: PretendTool, stream: NvidiaStream) -> None:
    until(lambda: heat(stream) == 41.0)
    tool.put("mute")
    began_s = time.monotonic()
    until(lambda: heat(stream) is None)
    assert time.monotonic() - began_s > STALE_S / 2
    tool.say(line(43))
    tool.take("mute")
    until(lambda: heat(stream) == 43.0)
    assert len(tool.starts()) == 1


def test_a_child_that_dies_is_followed_by_another_and_its_torn_line_is_none(
    tool: PretendTool, stream: NvidiaStream, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nvidia_stream, "AGAIN_S", 1.5)
    until(lambda: heat(stream) == 41.0)
    (first,) = tool.alive()
    tool.put("die", line(99)[:-3])  # what is left of it would be a line: without its end it is none
    seen: set[float | None] = set()
    until(lambda: seen.add(heat(stream)) or not is_alive(first))
    tool.say(line(44))
    until(lambda: seen.add(heat(stream)) or 44.0 in seen)
    assert seen == {41.0, None, 44.0}
    assert len(tool.starts()) == 2


def test_a_driver_that_does_not_know_the_newer_name_is_asked_by_the_older(
    tool: PretendTool, stream: NvidiaStream, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nvidia_stream, "AGAIN_S", 120.0)
    tool.put("refuse", "clocks_event_reasons")
    until(lambda: heat(stream) == 41.0)
    assert ["clocks_throttle_reasons" in arguments for _, arguments in tool.starts()] == [False, True]


def test_a_tool_that_only_refuses_is_not_started_all_the_time(
    tool: PretendTool, stream: NvidiaStream, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nvidia_stream, "AGAIN_S", 0.5)
    tool.put("refuse", "pci.bus_id")
    began_s = time.monotonic()
    until(lambda: heat(stream) is not None or len(tool.starts()) >= 4)
    assert time.monotonic() - began_s >= 0.5
    tool.take("refuse")
    until(lambda: heat(stream) == 41.0)  # a card that is back is found again


def test_a_stream_that_is_closed_ends_its_child_and_starts_no_other(
    tool: PretendTool, stream: NvidiaStream, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nvidia_stream, "AGAIN_S", 0.05)
    until(lambda: heat(stream) == 41.0)
    stream.close()
    until(lambda: not tool.alive())
    until(lambda: heat(stream) is None)
    time.sleep(0.3)
    assert len(tool.starts()) == 1


ENGINE = """
import sys, time
from shipworthy.machine.capture.nvidia_stream import NvidiaStream
stream = NvidiaStream(sys.argv[1], time.monotonic)
while time.sleep(0.01) is None:
    if stream.latest(sys.argv[2]):
        print("speaks", flush=True)
        time.sleep(3600)
"""


def test_the_child_dies_with_whoever_reads_it(tool: PretendTool) -> None:
    command = [sys.executable, "-c", ENGINE, str(tool.path), PLACE]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as engine:
        assert engine.stdout is not None and engine.stdout.readline() == "speaks\n"
        assert len(tool.alive()) == 1
        engine.send_signal(signal.SIGKILL)
    until(lambda: not tool.alive(), most_s=2.0)


def test_a_mute_child_dies_with_whoever_reads_it(tool: PretendTool) -> None:
    """One that prints nothing would never notice that its pipe is closed: the kernel ends it."""
    command = [sys.executable, "-c", ENGINE, str(tool.path), PLACE]
    tool.put("mute")
    with subprocess.Popen(command) as engine:
        until(lambda: tool.alive())
        engine.send_signal(signal.SIGKILL)
    until(lambda: not tool.alive(), most_s=2.0)


def test_a_command_that_is_tied_hears_of_a_closed_pipe(tmp_path: Path) -> None:
    command = [sys.executable, "-I", "-S", tied.__file__, str(os.getpid()), "/usr/bin/env", "yes"]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        child.stdout.read(64)
        child.stdout.close()
        assert child.wait(60) == -signal.SIGPIPE


def test_a_command_is_not_run_for_a_parent_that_is_gone() -> None:
    command = [sys.executable, "-I", "-S", tied.__file__, "1", "/usr/bin/env", "echo", "ran"]
    ended = subprocess.run(command, capture_output=True, check=False)
    assert (ended.returncode, ended.stdout) == (70, b"")


def lines_of(*pieces: bytes) -> list[bytes]:
    read, write = os.pipe()
    found = nvidia_stream._lines(read)
    got: list[bytes] = []
    for piece in pieces:
        os.write(write, piece)
    os.close(write)
    got += found
    os.close(read)
    return got


def test_lines_come_whole_however_they_were_cut_and_endless_ones_do_not() -> None:
    assert lines_of(b"on", b"e\ntw", b"o\n\nthr") == [b"one", b"two", b""]
    long = b"x" * (MOST_LINE_BYTES + 1)
    assert lines_of(long, b"y", b"y\nafter\n", b"torn") == [b"after"]


def test_a_machine_with_the_tool_has_the_columns_of_its_cards(tool: PretendTool) -> None:
    columns = of_tool()
    assert {column.place for column in columns} == {PLACE}
    assert [c.critical for c in columns if c.quantity == "temperature"] == [95.0]
    assert sorted({c.quantity for c in columns}) == [
        "clock",
        "fan control",
        "power",
        "temperature",
        "throttle",
        "utilisation",
    ]
    assert measured_part(LIVE, columns[0]) is PartKind.GRAPHICS
    (device,) = devices(LIVE, columns)
    assert isinstance(device, NvidiaCard) and device.at == tuple(range(9))


def test_without_the_tool_nothing_changes(tool: PretendTool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nvidia_smi, "TOOLS", (str(tool.folder / "none"),))
    assert of_tool() == ()
    monkeypatch.setattr(nvidia_smi, "TOOLS", (str(tool.path),))
    monkeypatch.setattr(nvidia_smi, "has_card", lambda _: False)
    assert of_tool() == ()


def test_a_tool_that_gives_no_report_leaves_the_cards_that_its_driver_has(
    tool: PretendTool, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool.put("report", "<nvidia_smi_log/>")
    assert of_tool() == ()
    monkeypatch.setattr("shipworthy.machine.sensors_graphics.driven_places", lambda _: (PLACE,))
    assert [(c.place, c.critical) for c in of_tool()] == [(PLACE, None)] * 9


class Guarding:
    """A guard's look at the card's temperature, as its threads take it."""

    def __init__(self) -> None:
        self.columns = temperature_columns(of_tool())
        self.watch = Watch(self.columns, (), required_of(LIVE, self.columns))
        self.readers = Readers(devices(LIVE, self.columns), 0.2)

    def look(self) -> None:
        row = self.readers.row()
        self.watch.look(row, time.monotonic(), self.readers.read_s())

    def silent_s(self) -> float:
        silent = self.watch.silent(time.monotonic())
        return 0.0 if silent is None else silent.silent_s


@pytest.fixture
def guarding(tool: PretendTool) -> Iterator[Guarding]:
    made = Guarding()
    yield made
    made.readers.leave()


def looked(guarding: Guarding, true: Callable[[], object]) -> Callable[[], object]:
    return lambda: guarding.look() or true()


def test_a_card_at_its_critical_temperature_is_a_crossing(tool: PretendTool, guarding: Guarding) -> None:
    tool.say(line(94))
    until(looked(guarding, guarding.watch.spoke))
    for _ in range(20):
        guarding.look()
    assert guarding.watch.crossing() is None
    tool.say(line(95))
    until(looked(guarding, lambda: guarding.watch.crossing()))
    crossing = guarding.watch.crossing()
    assert crossing is not None
    assert (crossing.found_c, crossing.limit_c, crossing.origin) == (95.0, 95.0, Origin.DEVICE)
    assert crossing.column.place == PLACE


def test_one_line_that_is_read_often_confirms_nothing(tool: PretendTool, guarding: Guarding) -> None:
    """A garbled line, and then none for a while: however often the guard looks, it is one reading."""
    until(looked(guarding, guarding.watch.spoke))
    tool.put("mute")
    time.sleep(0.3)  # what it was about to print has come
    stream = guarding.readers._devices[0]._stream  # type: ignore[attr-defined]
    stream._given[PLACE] = (time.monotonic(), (120.0, *stream._given[PLACE][1][1:]))
    seen = 0
    until_s = time.monotonic() + STALE_S - 0.3
    while time.monotonic() < until_s:
        guarding.look()
        seen += guarding.watch.doubtful()
        assert guarding.watch.crossing() is None
        time.sleep(0.02)
    assert seen > 5


def test_a_card_that_falls_silent_is_a_required_part_that_is_silent(
    tool: PretendTool, guarding: Guarding
) -> None:
    assert required_of(LIVE, guarding.columns) == ((0,),)
    until(looked(guarding, guarding.watch.spoke))
    tool.put("mute")
    until(looked(guarding, lambda: guarding.silent_s() > SILENT_S))
    tool.take("mute")
    until(looked(guarding, lambda: guarding.silent_s() < 1.0))


def test_a_card_that_never_spoke_is_not_required(tool: PretendTool, guarding: Guarding) -> None:
    tool.put("mute")
    guarding.look()
    until(looked(guarding, tool.alive))
    assert guarding.watch.silent(time.monotonic() + 1000) is None and not guarding.watch.spoke()


def test_a_card_that_the_kernel_suspended_is_not_silent(tool: PretendTool) -> None:
    asleep: set[str] = set()
    watch = Watch(temperature_columns(of_tool()), (), ((0,),), asleep.__contains__)
    watch.look((50.0,), 0.0)
    asleep.add(PLACE)
    assert watch.silent(0.5) is not None  # too short to ask
    assert watch.silent(100.0) is None
    asleep.clear()
    silent = watch.silent(100.0)
    assert silent is not None and silent.silent_s == 100.0


class Other:
    """A sensor beside the card."""

    at = (9,)

    def read(self) -> tuple[float | None, ...]:
        return (40.0,)


def test_a_tool_that_hangs_costs_its_own_columns_only(tool: PretendTool) -> None:
    tool.put("mute")
    (card,) = devices(LIVE, of_tool())
    readers = Readers((card, Other()), 0.25)
    try:
        until(lambda: tool.alive() or readers.row() is None)
        for _ in range(20):
            assert readers.row() == (None,) * 9 + (40.0,)
            assert readers.kept_waiting() == 0
        tool.take("mute")
        until(lambda: readers.row() == (41.0, None, 71.25, 1350.0, 0.03, 0.0, 0.0, 0.0, 0.0, 40.0))
    finally:
        readers.leave()
    until(lambda: not tool.alive())


def test_a_run_log_has_the_cards_values_its_slow_downs_and_its_silence(
    tool: PretendTool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nvidia_stream, "AGAIN_S", 0.2)
    lines: list[LogLine] = []
    columns = of_tool()
    log = SegmentLog(lines.append, SystemClock())

    def rows() -> list[tuple[float | None, ...]]:
        return [said.v for said in lines if isinstance(said, Row)]

    def events() -> list[str]:
        return [said.code for said in lines if isinstance(said, Event)]

    with Sampling(columns, devices(LIVE, columns), 20.0, log) as sampling:
        until(lambda: any(row[0] == 41.0 for row in rows()))
        tool.say(line(88, busy=100, reasons=0x28))
        until(lambda: any(row[0] == 88.0 for row in rows()))
        (pid,) = tool.alive()
        tool.put("mute")
        os.kill(pid, signal.SIGKILL)  # the next one says nothing for a while
        until(lambda: "sensor.silent" in events())
        tool.say(line(60))
        tool.take("mute")
        until(lambda: rows()[-1][0] == 60.0 and "sensor.back" in events())
        sampling.check()
    hot = next(row for row in rows() if row[0] == 88.0)
    by_channel = dict(zip((column.channel for column in columns), hot, strict=True))
    assert by_channel["utilization.gpu"] == 1.0
    assert [name for name, value in by_channel.items() if "slowdown" in name and value] == [
        "hw_slowdown",
        "sw_thermal_slowdown",
    ]
    assert events() == ["sensor.silent", "sensor.back"]  # of all its columns together
    until(lambda: not tool.alive())
