"""What was written to a drive is counted from the run logs of all attempts, also of killed ones."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from shipworthy.jobs.ledger import UNREPORTED_BYTES, attempt_folders, written_by_place, written_by_serial
from shipworthy.jobs.unit import UnitFolder, read_unit
from shipworthy.machine.root import Root
from shipworthy.model.base import digest_of, encode, values
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import Event, LogLine, Report, Start, Stop
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Ending
from tests.machine import recorded

MIB = 2**20
NVME, SATA = "QR1TB000451", "QA4-0017"


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return the place of each drive by its serial; the reading lies in `unit`."""
    folder = tmp_path_factory.mktemp("ledger")
    root = Root(recorded.build(folder / "machine"))
    reading = read_unit(UnitFolder(folder / "unit"), root, nonce=None, clock=PretendClock())
    places = {
        part.text("serial"): part.place for part in reading.parts if part.text("serial") in (NVME, SATA)
    }
    return places | {"folder": str(folder / "unit")}


def start(run: str, segment: int = 1) -> Start:
    return Start(
        run_id=run,
        segment=segment,
        nonce=None,
        at=PretendClock().now(),
        seed=1,
        tool=Tool(name="test", version="0"),
        plan_digest=digest_of(b""),
        configuration=Configuration.of({}),
        simulated=False,
    )


def report(place: str, written_bytes: int, load: str = "storage") -> Report:
    return Report(
        t_s=1.0,
        step="s",
        load=load,
        target=place,
        work=1.0,
        unit_of_work="bytes written",
        seconds=1.0,
        checks=0,
        wrong=0,
        written_bytes=written_bytes,
    )


def ready(place: str) -> Event:
    return Event(t_s=0.5, code="load.ready", values=values(step="s", load="storage", target=place))


STOP = Stop(at=PretendClock().now(), t_s=9.0, ending=Ending.COMPLETED)


def attempt(read: dict[str, str], folder: Path, *lines: LogLine, segment: int = 1, rest: bytes = b"") -> Path:
    if not folder.exists():
        (folder / "reading").mkdir(parents=True)
        shutil.copy(Path(read["folder"]) / "reading/reading.json", folder / "reading/reading.json")
        (folder / "burn-in").mkdir()
    log = folder / f"burn-in/log-{segment:03d}.jsonl"
    log.write_bytes(b"".join(encode(line) + b"\n" for line in lines) + rest)
    return folder


def test_what_an_ended_run_wrote_is_counted_by_serial(read: dict[str, str], tmp_path: Path) -> None:
    one = attempt(
        read,
        tmp_path / "one",
        start("a"),
        ready(read[NVME]),
        report(read[NVME], 5 * MIB),
        report(read[NVME], 7 * MIB),
        report(read[SATA], MIB),
        report("memory", 99 * MIB, load="march"),
        STOP,
    )
    assert written_by_serial([one], [NVME, SATA, ""]) == {NVME: 12 * MIB, SATA: MIB}
    assert written_by_serial([one], ["another"]) == {"another": 0}


def test_a_killed_run_may_have_written_one_more_report(read: dict[str, str], tmp_path: Path) -> None:
    one = attempt(
        read,
        tmp_path / "one",
        start("a"),
        ready(read[NVME]),
        report(read[NVME], 5 * MIB),
        report(read[NVME], 3 * MIB),
        rest=b'{"kind":"report","written_bytes":12',
    )
    assert written_by_place(one) == {read[NVME]: 13 * MIB}


def test_a_run_that_was_killed_before_its_first_report_counts_at_its_most(
    read: dict[str, str], tmp_path: Path
) -> None:
    one = attempt(read, tmp_path / "one", start("a"), ready(read[NVME]))
    assert written_by_place(one) == {read[NVME]: UNREPORTED_BYTES}
    attempt(read, tmp_path / "one", start("a", 2), report(read[NVME], MIB), STOP, segment=2)
    assert written_by_place(one) == {read[NVME]: UNREPORTED_BYTES + MIB}


def test_the_same_run_in_two_folders_counts_once(read: dict[str, str], tmp_path: Path) -> None:
    lines = (start("a"), report(read[NVME], 5 * MIB), STOP)
    folders = [attempt(read, tmp_path / name, *lines) for name in ("bench", "unit")]
    folders.append(attempt(read, tmp_path / "later", start("b"), report(read[NVME], 2 * MIB), STOP))
    assert written_by_serial(folders, [NVME]) == {NVME: 7 * MIB}


def test_a_folder_without_a_reading_or_with_a_spoiled_one_counts_nothing(
    read: dict[str, str], tmp_path: Path
) -> None:
    one = attempt(read, tmp_path / "one", start("a"), report(read[NVME], MIB), STOP)
    (one / "reading/reading.json").write_bytes(b'{"serial": "' + NVME.encode())
    assert written_by_serial([one, tmp_path / "nothing"], [NVME]) == {NVME: 0}


def test_sealed_attempts_and_those_in_progress_are_found(tmp_path: Path) -> None:
    for folder in ("unit-1/attempt-001", "unit-1/attempt-002", "unit-2/attempt-001", ".open/0f", ".other/x"):
        (tmp_path / folder / "data").mkdir(parents=True)
    (tmp_path / "unit-1/notes/data").mkdir(parents=True)
    found = [folder.parent.relative_to(tmp_path).as_posix() for folder in attempt_folders(tmp_path)]
    assert found == [".open/0f", "unit-1/attempt-001", "unit-1/attempt-002", "unit-2/attempt-001"]
    assert list(attempt_folders(tmp_path / "nothing")) == []
