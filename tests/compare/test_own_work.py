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
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import Report, Start, Stop
from shipworthy.model.words import Aspect, Category, Ending, Origin, Unit
from tests.compare import machines as m

GB = 10**9
LIMITS = tuple(
    Limit(quantity=f"storage/{name}", value=value, unit=unit, origin=Origin.SHOP)
    for name, value, unit in (
        ("power_on_hours", 24.0, Unit.HOURS),
        ("power_cycles", 50.0, Unit.COUNT),
        ("written_bytes", 200.0 * GB, Unit.BYTES),
    )
)
WORK = OwnWork(serial="QM2-0001", written_bytes=300 * GB, hours=30.0, starts=4)


def newness(drive: Part, *work: OwnWork) -> Finding:
    order = m.order(m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD"))
    found = compare(order, m.machine(drive), LIMITS, (), Known(own_work=work))
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


def _log(folder: Path, run: str, *, at: object, serial: str, stop_s: float | None) -> None:
    start = Start(
        run_id=run,
        segment=1,
        nonce=None,
        at=at,  # type: ignore[arg-type]
        seed=1,
        tool=Tool(name="test", version="1"),
        plan_digest="sha512:" + "0" * 128,
        configuration=Configuration.of({"storage/pci:0000:04:00.0/nvme-ns-1/serial": serial}),
        simulated=False,
    )
    report = Report(
        t_s=10.0,
        step="a",
        load="storage",
        target="pci:0000:04:00.0/nvme-ns-1",
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


def test_own_work_is_added_up_from_the_logs_of_attempts_before_the_reading(tmp_path: Path) -> None:
    reading = m.machine(worn())
    before = msgspec.structs.replace(m.MOMENT, utc=m.MOMENT.utc.replace(year=m.MOMENT.utc.year - 1))
    for number, (run, at, stop_s) in enumerate(
        [("first", before, 7200.0), ("killed", before, None), ("this one", m.MOMENT, 3600.0)], 1
    ):
        folder = tmp_path / "KD-0412-1" / f"attempt-00{number}" / "data"
        folder.mkdir(parents=True)
        (folder / "reading").mkdir()
        (folder / "reading" / "reading.json").write_bytes(encode(reading))
        _log(folder, run, at=at, serial="QM2-0001", stop_s=stop_s)
    (found,) = own_work(tmp_path, reading)
    assert (found.serial, found.hours) == ("QM2-0001", 2.0)  # of the killed one no hours, of this one nothing
    assert found.written_bytes >= 14 * GB
    assert own_work(tmp_path, m.machine(m.drive(serial="QM2-0009"))) == ()
