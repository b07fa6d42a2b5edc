"""A drive that the bench itself has worked on is as new as it was: its counters without our own work."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from shipworthy.compare import compare
from shipworthy.jobs.own_work import own_work
from shipworthy.model.base import encode
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.known import Known, OwnWork
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.runlog import Report, Start, Stop
from shipworthy.model.words import Aspect, Category, Ending
from shipworthy.stress.loads.storage import AND
from tests.compare import machines as m

GB = 10**9
WORK = OwnWork(serial="QM2-0001", written_bytes=300 * GB, hours=30.0, starts=4)


def newness(drive: Part, *work: OwnWork) -> Finding:
    order = m.order(m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD"))
    found = compare(order, m.machine(drive), m.LIMITS, (), Known(own_work=work))
    return m.finding(found, Aspect.NEWNESS)


def worn(**said: int) -> Part:
    return m.drive(serial="QM2-0001", **said)


def test_what_our_own_burn_ins_wrote_does_not_make_a_drive_used() -> None:
    drive = worn(written_bytes=310 * GB, power_on_hours=33, power_cycles=15)
    assert newness(drive).code == "storage.newness.used"
    assert newness(drive, WORK).code == "storage.newness.counters"


@pytest.mark.parametrize(
    "said",
    [
        {"written_bytes": 501 * GB, "power_on_hours": 33},
        {"written_bytes": 310 * GB, "power_on_hours": 55},
        {"written_bytes": 310 * GB, "power_cycles": 55},
    ],
)
def test_growth_beyond_our_own_work_is_somebody_elses(said: dict[str, int]) -> None:
    assert newness(worn(**said), WORK).code == "storage.newness.used"


def test_work_on_another_serial_is_no_excuse() -> None:
    other = msgspec.structs.replace(WORK, serial="QM2-0002")
    assert newness(worn(written_bytes=310 * GB), other).code == "storage.newness.used"
    assert newness(m.drive(written_bytes=310 * GB), WORK).code == "storage.newness.used"  # no serial at all


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"written_bytes": 310 * GB, "power_on_hours": 28}, "storage.newness.implausible"),
        ({"written_bytes": 310 * GB, "power_on_hours": 29}, "storage.newness.counters"),
        ({"written_bytes": 298 * GB, "power_on_hours": 33}, "storage.newness.implausible"),
        ({"written_bytes": 300 * GB - 2**29, "power_on_hours": 33}, "storage.newness.counters"),
        ({"written_bytes": 310 * GB, "power_on_hours": 33, "power_cycles": 1}, "storage.newness.counters"),
    ],
)
def test_a_counter_below_our_own_work_was_set_back_or_is_another_drives(
    said: dict[str, int], code: str
) -> None:
    assert newness(worn(**said), WORK).code == code


def _log(
    folder: Path,
    run: str,
    *,
    at: object,
    serial: str,
    stop_s: float | None,
    simulated: bool = False,
    target: str = "pci:0000:04:00.0/nvme-ns-1",
) -> None:
    start = Start(
        run_id=run,
        segment=1,
        nonce=None,
        at=at,  # type: ignore[arg-type]
        seed=1,
        tool=Tool(name="test", version="1"),
        plan_digest="sha512:" + "0" * 128,
        configuration=Configuration.of({"storage/pci:0000:04:00.0/nvme-ns-1/serial": serial}),
        simulated=simulated,
    )
    report = Report(
        t_s=10.0,
        step="a",
        load="storage",
        target=target,
        work=1.0,
        unit_of_work="bytes",
        seconds=1.0,
        checks=1,
        wrong=0,
        written_bytes=7 * GB,
    )
    lines: list[Start | Report | Stop] = [start, report]
    if stop_s is not None:
        lines.append(Stop(at=at, t_s=stop_s, ending=Ending.COMPLETED))  # type: ignore[arg-type]
    (folder / "burn-in").mkdir(parents=True)
    text = b"".join(msgspec.json.encode(one) + b"\n" for one in lines)
    (folder / "burn-in" / "log-001.jsonl").write_bytes(text)


BEFORE = msgspec.structs.replace(m.MOMENT, utc=m.MOMENT.utc.replace(year=m.MOMENT.utc.year - 1))


def _attempt(records: Path, number: int, read: Reading, run: str, **log: object) -> None:
    """Write the folder of an attempt: its reading, under an id of its own, and the log of its burn-in."""
    folder = records / "KD-0412-1" / f"attempt-{number:03d}" / "data"
    (folder / "reading").mkdir(parents=True)
    (folder / "reading" / "reading.json").write_bytes(encode(read))
    known: dict[str, object] = {"at": BEFORE, "serial": "QM2-0001", "stop_s": 7200.0}
    _log(folder, run, **{**known, **log})  # type: ignore[arg-type]


def _earlier(reading: Reading) -> Reading:
    return msgspec.structs.replace(reading, reading_id="an earlier one")


def test_own_work_is_added_up_from_the_logs_of_attempts_before_the_reading(tmp_path: Path) -> None:
    reading = m.machine(worn())
    _attempt(tmp_path, 1, _earlier(reading), "first")
    _attempt(tmp_path, 2, _earlier(reading), "killed", stop_s=None)
    _attempt(tmp_path, 3, _earlier(reading), "later", at=m.MOMENT)
    (found,) = own_work(tmp_path, reading)
    assert (found.serial, found.hours) == (
        "QM2-0001",
        2.0,
    )  # of the killed one no hours, of the later nothing
    assert found.written_bytes == 14 * GB  # and of the killed one only what it reported
    assert own_work(tmp_path, m.machine(m.drive(serial="QM2-0009"))) == ()


def test_the_burn_in_of_a_readings_own_attempt_came_after_it_whatever_the_clock_says(tmp_path: Path) -> None:
    reading = m.machine(worn())
    _attempt(tmp_path, 1, reading, "its own")
    assert own_work(tmp_path, reading) == ()


def test_within_one_start_the_clock_that_never_jumps_tells_what_came_first(tmp_path: Path) -> None:
    taken = msgspec.structs.replace(m.MOMENT, boot_id="b", monotonic_s=100.0)
    reading = msgspec.structs.replace(m.machine(worn()), taken=taken)
    set_back = msgspec.structs.replace(BEFORE, boot_id="b", monotonic_s=200.0)
    _attempt(tmp_path, 1, _earlier(reading), "after, by a clock that was set back", at=set_back)
    assert own_work(tmp_path, reading) == ()


def test_a_simulated_burn_in_did_nothing_to_a_drive(tmp_path: Path) -> None:
    reading = m.machine(worn())
    _attempt(tmp_path, 1, _earlier(reading), "pretended", simulated=True)
    assert own_work(tmp_path, reading) == ()
    assert own_work(tmp_path, msgspec.structs.replace(reading, simulated=True)) != ()


def test_of_a_file_over_two_drives_each_has_its_share(tmp_path: Path) -> None:
    reading = m.machine(worn())
    place = "pci:0000:04:00.0/nvme-ns-1"
    _attempt(
        tmp_path, 1, _earlier(reading), "striped", target=AND.join((place, "pci:0000:05:00.0/nvme-ns-1"))
    )
    (found,) = own_work(tmp_path, reading)
    assert found.written_bytes == 7 * GB // 2


@pytest.mark.parametrize(
    "drives",
    [
        (m.drive(serial="0000000000"),),
        (m.drive(serial="QM2-0001"), m.drive("pci:0000:05:00.0/nvme-ns-1", serial="QM2-0001")),
    ],
    ids=["a placeholder", "two drives with one serial"],
)
def test_a_serial_that_does_not_tell_one_drive_from_others_has_no_work(
    tmp_path: Path, drives: tuple[Part, ...]
) -> None:
    reading = m.machine(*drives)
    _attempt(tmp_path, 1, _earlier(reading), "a", serial=drives[0].text("serial"))
    assert own_work(tmp_path, reading) == ()
