"""The verb `doctor`: what is worth mending is said once, and what most PCs lack is not complained of."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import msgspec
import pytest

from shipworthy.jobs import doctor as job
from shipworthy.jobs.doctor import EVERYWHERE, doctor
from shipworthy.jobs.errands import Bench
from shipworthy.machine.root import Root
from shipworthy.model.reading import RawRow, Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from tests.cli.calling import Call, caller
from tests.machine.recorded import build, write


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


def bench(folder: Path) -> Bench:
    return Bench(
        records=folder / "records",
        packs=folder / "packs",
        key=folder / "key.json",
        trust=folder / "trust.json",
        zone="UTC",
        show=lambda event: None,
        clock=PretendClock(),
    )


def said(machine: Path, folder: Path) -> dict[str, list[object]]:
    """Return the first value of each complaint, by its code."""
    found: dict[str, list[object]] = {}
    for complaint in doctor(Root(machine), bench(folder)):
        found.setdefault(complaint.code, []).append(complaint.values[0].value if complaint.values else None)
    return found


def with_rows(reading: Reading, change: dict[str, tuple[SourceOutcome, str]]) -> Reading:
    def new(row: RawRow) -> RawRow:
        outcome, error = change.get(row.id, (row.outcome, row.error))
        return msgspec.structs.replace(row, outcome=outcome, error=error)

    return msgspec.structs.replace(reading, sources=tuple(new(row) for row in reading.sources))


def test_what_most_pcs_lack_is_no_complaint(tmp_path: Path) -> None:
    found = said(build(tmp_path / "machine"), tmp_path)
    assert "doctor.source-empty" not in found
    assert "doctor.source-absent" not in found, found.get("doctor.source-absent")


def test_what_every_pc_has_is_missed(tmp_path: Path) -> None:
    machine = build(tmp_path / "machine")
    (machine / "sys/firmware/dmi/tables/DMI").unlink()
    (machine / "proc/meminfo").unlink()
    assert sorted(map(str, said(machine, tmp_path)["doctor.source-absent"])) == ["meminfo", "smbios"]
    assert {"smbios.table", "meminfo"} <= set(EVERYWHERE)


def test_modules_whose_chips_no_driver_serves_are_named_once(tmp_path: Path) -> None:
    assert "doctor.no-spd" in said(build(tmp_path / "machine"), tmp_path)
    served = build(tmp_path / "served")
    write(served, "sys/bus/i2c/devices/0-0050/name", "ee1004\n")
    write(served, "sys/bus/i2c/devices/0-0050/eeprom", bytes(512))
    assert "doctor.no-spd" not in said(served, tmp_path)


def test_what_is_refused_or_fails_comes_first_and_a_missing_tool_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take = job.read_unit

    def spoiled(*given: object, **named: object) -> Reading:
        reading = take(*given, **named)  # type: ignore[arg-type]
        change = {
            "battery": (SourceOutcome.REFUSED, "EACCES"),
            "kernel": (SourceOutcome.FAILED, "EIO"),
            "nvidia-smi": (SourceOutcome.ABSENT, "the tool is not installed"),
            "pci.names": (SourceOutcome.ABSENT, "ENOENT"),
        }
        return with_rows(reading, change)

    monkeypatch.setattr(job, "read_unit", spoiled)
    found = said(build(tmp_path / "machine"), tmp_path)
    assert list(found)[:2] == ["doctor.source-failed", "doctor.source-refused"]
    assert found["doctor.source-refused"] == ["battery"]
    assert found["doctor.no-tool"] == ["nvidia-smi"] and found["doctor.no-names"] == ["pci"]


def test_advice_that_is_the_same_is_given_once(call: Call, tmp_path: Path) -> None:
    done = call("doctor", "--records", tmp_path, "--key", tmp_path / "k", "--trust", tmp_path / "t")
    lines = done.out.splitlines()
    assert done.code == 1 and lines
    assert all(one != other for one, other in pairwise(lines))
