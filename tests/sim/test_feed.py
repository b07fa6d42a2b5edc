"""The feed: what the host really does becomes what the unit's sensors show."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.time import PretendClock
from shipworthy.sim import chips, pci
from shipworthy.sim.cpu import frequency_file
from shipworthy.sim.feed import Feed, HostUse, activity_between, parse_use
from shipworthy.sim.parts import Fault
from shipworthy.sim.unit import build

DISK = (259, 0)


class PretendHost:
    """A folder with the few files of a host that the feed reads."""

    def __init__(self, folder: Path) -> None:
        self.root = Root(folder)
        self.busy, self.idle, self.sectors, self.free_kib = [0, 0, 0, 0], [0, 0, 0, 0], 0, 8_000_000
        self.write()

    def passes(self, seconds: int, use: tuple[float, ...] = (0, 0, 0, 0), sectors: int = 0) -> None:
        for cpu, share in enumerate(use):
            self.busy[cpu] += round(100 * seconds * share)
            self.idle[cpu] += round(100 * seconds * (1 - share))
        self.sectors += sectors
        self.write()

    def write(self) -> None:
        proc = self.root.folder / "proc"
        proc.mkdir(parents=True, exist_ok=True)
        rows = [f"cpu{n} {self.busy[n]} 0 0 {self.idle[n]} 0 0 0 0 0 0" for n in range(4)]
        (proc / "stat").write_text("\n".join(["cpu 0 0 0 0 0 0 0 0 0 0", *rows, "btime 1"]) + "\n")
        (proc / "diskstats").write_text(f" 259 0 nvme9n1 1 0 0 0 1 0 {self.sectors} 0 0 0 0\n")
        (proc / "meminfo").write_text(f"MemTotal: 9000000 kB\nMemAvailable: {self.free_kib} kB\n")


@pytest.fixture
def host(tmp_path: Path) -> PretendHost:
    return PretendHost(tmp_path / "host")


@pytest.fixture
def unit(tmp_path: Path) -> Root:
    return build(tmp_path / "unit", cpus=(1, 3), device_number=DISK)


def _number(root: Root, locator: str) -> int:
    return int(root.path(locator).read_text())


def _run(feed: Feed, clock: PretendClock, host: PretendHost, seconds: int, **use: object) -> None:
    for _ in range(seconds):
        clock.sleep_s(1)
        host.passes(1, **use)  # type: ignore[arg-type]
        feed.beat()


def test_load_on_the_lent_cpus_heats_the_unit_and_turns_its_fans(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    feed.beat()
    assert _number(unit, f"{chips.PROCESSOR_CHIP}/temp1_input") == 38_000
    assert _number(unit, frequency_file(1)) == 800_000
    _run(feed, clock, host, 60, use=(0, 1, 0, 1))
    assert _number(unit, f"{chips.PROCESSOR_CHIP}/temp1_input") == 68_000
    assert _number(unit, f"{chips.BOARD_CHIP}/fan1_input") > 1350
    assert _number(unit, f"{chips.BOARD_CHIP}/fan2_input") > 800
    assert _number(unit, frequency_file(3)) == 4_200_000


def _link(root: Root, address: str, when: str) -> str:
    return root.path(f"/sys/bus/pci/devices/{address}/{when}_link_speed").read_text()


def test_a_poor_contact_slows_its_link_once_the_unit_is_warm_and_not_when_it_is_cool_again(
    tmp_path: Path, host: PretendHost
) -> None:
    root = build(tmp_path / "poor", frozenset({Fault.LINK_SLOW}), cpus=(1, 3), device_number=DISK)
    clock = PretendClock()
    feed = Feed(root, clock=clock, host=host.root)
    feed.beat()
    assert _link(root, pci.DRIVE, "current") == "16.0 GT/s PCIe\n"
    _run(feed, clock, host, 30, use=(0, 1, 0, 1))
    assert _link(root, pci.DRIVE, "current") == _link(root, pci.DRIVE_PORT, "current") == "8.0 GT/s PCIe\n"
    assert _link(root, pci.DRIVE, "max") == _link(root, pci.GRAPHICS, "current") == "16.0 GT/s PCIe\n"
    _run(feed, clock, host, 120)
    assert _link(root, pci.DRIVE, "current") == "16.0 GT/s PCIe\n"


def test_a_sound_units_link_keeps_its_speed(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    _run(feed, clock, host, 30, use=(0, 1, 0, 1))
    assert _link(unit, pci.DRIVE, "current") == "16.0 GT/s PCIe\n"


def test_load_on_other_cpus_of_the_host_leaves_it_cold(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    _run(feed, clock, host, 60, use=(1, 0, 1, 0))
    assert _number(unit, f"{chips.PROCESSOR_CHIP}/temp1_input") == 38_000


def test_traffic_on_the_lent_disk_warms_the_drive(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    feed.beat()
    cold = _number(unit, f"{chips.DRIVE_CHIP}/temp1_input")
    _run(feed, clock, host, 60, sectors=2_000_000)
    assert _number(unit, f"{chips.DRIVE_CHIP}/temp1_input") > cold + 8_000


def test_energy_is_power_times_time(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    before_uj = _number(unit, chips.ENERGY_FILE)
    _run(feed, clock, host, 10, use=(0, 1, 0, 1))
    assert (_number(unit, chips.ENERGY_FILE) - before_uj) / 1e6 == pytest.approx(850.0)


def test_energy_moves_between_two_beats_and_never_runs_back(unit: Root, host: PretendHost) -> None:
    clock = PretendClock()
    feed = Feed(unit, clock=clock, host=host.root)
    _run(feed, clock, host, 2, use=(0, 1, 0, 1))
    counts = [_number(unit, chips.ENERGY_FILE)]
    for _ in range(4):
        clock.sleep_s(0.25)
        feed.pulse()
        counts.append(_number(unit, chips.ENERGY_FILE))
    host.passes(1)  # it was idle after all
    feed.beat()
    counts.append(_number(unit, chips.ENERGY_FILE))
    assert counts[4] - counts[0] == pytest.approx(85e6, rel=1e-6)
    assert counts == sorted(counts)


def test_proc_stat_has_the_lent_cpus_and_their_sum(unit: Root, host: PretendHost) -> None:
    feed = Feed(unit, clock=PretendClock(), host=host.root)
    host.passes(10, use=(1, 0.5, 1, 0.25))
    feed.beat()
    lines = unit.path("/proc/stat").read_text().splitlines()
    assert lines == [
        "cpu  750 0 0 1250 0 0 0 0 0 0",
        "cpu1 500 0 0 500 0 0 0 0 0 0",
        "cpu3 250 0 0 750 0 0 0 0 0 0",
    ]


def test_the_unit_never_claims_more_free_memory_than_the_host_has(unit: Root, host: PretendHost) -> None:
    feed = Feed(unit, clock=PretendClock(), host=host.root)
    available = []
    for host.free_kib in (123_456, 64_000_000):
        host.write()
        feed.beat()
        rows = dict(row.split(":") for row in unit.path("/proc/meminfo").read_text().splitlines())
        available.append(int(rows["MemAvailable"].split()[0]))
        assert int(rows["MemTotal"].split()[0]) == 16_259_428
    assert available[0] == 123_456
    assert available[1] < 16_259_428


def test_stolen_and_waiting_time_is_no_heat() -> None:
    before = parse_use("cpu0 0 0 0 0 0 0 0 0 0 0\n", "", (0,), "8:0")
    after = parse_use("cpu0 10 5 5 40 20 6 4 10 10 0\n", "", (0,), "8:0")  # guest 10 is part of user 10
    assert activity_between(before, after, 1.0).cores == (0.3,)


def test_a_count_that_stands_still_or_runs_back_is_no_load() -> None:
    earlier = HostUse(busy=(50,), total=(100,), rows=((50,),), drive_bytes=9)
    assert activity_between(earlier, earlier, 0.2).cores == (0.0,)
    back = HostUse(busy=(40,), total=(110,), rows=((40,),), drive_bytes=3)
    activity = activity_between(earlier, back, 0.2)
    assert activity.cores == (0.0,)
    assert activity.drive_bytes_s == 0.0


def test_a_lent_cpu_that_went_offline_is_named(unit: Root, host: PretendHost) -> None:
    (host.root.folder / "proc/stat").write_text("cpu1 1 1 1 1 1 1 1 1 1 1\n")
    with pytest.raises(Trouble, match="CPU 3, lent to the simulated unit, is not online"):
        Feed(unit, clock=PretendClock(), host=host.root)


def test_a_folder_that_is_no_simulated_unit_is_refused(host: PretendHost) -> None:
    with pytest.raises(Trouble, match=r"simulated-unit\.json"):
        Feed(host.root, clock=PretendClock(), host=host.root)


def test_the_thread_moves_the_sensors_and_a_reader_never_sees_half_a_value(
    unit: Root, host: PretendHost
) -> None:
    clock = PretendClock()
    energy, seen = unit.path(chips.ENERGY_FILE), set()
    with Feed(unit, clock=clock, host=host.root):
        for _ in range(2000):
            clock.sleep_s(0.01)
            seen.add(int(energy.read_text()))  # an empty or torn file would not be a number
            if len(seen) > 2:
                break
            threading.Event().wait(0.005)
    assert len(seen) > 2
    assert not (unit.folder / ".feed-value").exists()


def test_a_feed_that_broke_down_says_so_at_its_end(unit: Root, host: PretendHost) -> None:
    feed = Feed(unit, clock=PretendClock(), host=host.root)
    with pytest.raises(Trouble, match="sensors stopped moving"), feed:
        (host.root.folder / "proc/stat").unlink()
        feed._thread.join()  # it ends at its next beat


def test_a_trouble_inside_is_not_hidden_by_a_broken_feed(unit: Root, host: PretendHost) -> None:
    feed = Feed(unit, clock=PretendClock(), host=host.root)
    with pytest.raises(ZeroDivisionError), feed:
        (host.root.folder / "proc/stat").unlink()
        feed._thread.join()
        raise ZeroDivisionError
