"""What was written to a drive is counted from the run logs of all attempts, also of killed ones."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from shipworthy.jobs.ledger import UNREPORTED_BYTES, attempt_folders, written_by_place, written_by_serial
from shipworthy.jobs.unit import UnitFolder, read_unit
from shipworthy.machine.root import Root
from shipworthy.model.base import digest_of, encode, values
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import Event, LogLine, Report, Start, Stop
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Ending
from shipworthy.stress.loads.storage import AND
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


def test_one_that_was_killed_for_a_limit_or_died_may_have_written_one_more_report_though_the_run_ended(
    read: dict[str, str], tmp_path: Path
) -> None:
    def event(code: str, **named: str) -> Event:
        return Event(t_s=2.0, code=code, values=values(step="s", **named))

    before = (start("a"), ready(read[NVME]), report(read[NVME], 5 * MIB), report(read[NVME], 3 * MIB))
    died = event("load.died", load="storage", target=read[NVME], how="ended by SIGKILL")
    for number, (more, expected) in enumerate(
        [
            ((event("step.cut-short", why="person"),), 8),  # it had the time to finish and to report
            ((event("step.cut-short", why="guard.limit"),), 13),
            ((died, event("step.cut-short", why="load.died")), 13),
            ((event("load.died", load="march", target="memory", how=""),), 8),
            ((died, ready(read[NVME]), report(read[NVME], MIB)), 14),
        ]
    ):
        one = attempt(read, tmp_path / str(number), *before, *more, STOP)
        assert written_by_place(one) == {read[NVME]: expected * MIB}, more


def test_a_spoiled_line_in_the_middle_may_have_told_of_a_report(read: dict[str, str], tmp_path: Path) -> None:
    one = attempt(
        read, tmp_path / "one", start("a"), report(read[NVME], 5 * MIB), report(read[NVME], MIB), STOP
    )
    log = one / "burn-in/log-001.jsonl"
    lines = log.read_bytes().split(b"\n")
    lines[2] = lines[2][:40] + b"\0" * 8 + lines[2][48:]
    log.write_bytes(b"\n".join(lines))
    assert b"written_bytes" in lines[2]
    assert written_by_place(one) == {read[NVME]: 10 * MIB}


def test_a_file_on_several_drives_counts_for_each_of_them(read: dict[str, str], tmp_path: Path) -> None:
    both = AND.join((read[NVME], read[SATA]))
    one = attempt(read, tmp_path / "one", start("a"), report(both, 5 * MIB), report(read[SATA], MIB), STOP)
    assert written_by_serial([one], [NVME, SATA]) == {NVME: 5 * MIB, SATA: 6 * MIB}


def test_a_drive_that_was_changed_before_a_segment_is_not_charged_for_it(
    read: dict[str, str], tmp_path: Path
) -> None:
    """The reading is that of the first segment; what was built in later stands in the later log."""
    place = read[NVME]
    other = Configuration.of({f"storage/{place}/serial": "KD-NEW", f"storage/{place}/model": "another"})
    one = attempt(read, tmp_path / "one", start("a"), report(place, 5 * MIB), STOP)
    later = msgspec.structs.replace(start("a", 2), configuration=other)
    attempt(read, tmp_path / "one", later, report(place, 7 * MIB), STOP, segment=2)
    assert written_by_serial([one], [NVME, "KD-NEW"]) == {NVME: 5 * MIB, "KD-NEW": 7 * MIB}
    (one / "reading/reading.json").write_bytes(b"{}")
    assert written_by_serial([one], [NVME, "KD-NEW"]) == {NVME: 0, "KD-NEW": 7 * MIB}


def test_a_serial_of_any_signs_is_found(read: dict[str, str], tmp_path: Path) -> None:
    odd = 'KD "7\\ é'
    one = attempt(read, tmp_path / "one", start("a"), report(read[NVME], MIB), STOP)
    path = one / "reading/reading.json"
    path.write_bytes(path.read_bytes().replace(NVME.encode(), msgspec.json.encode(odd)[1:-1]))
    assert written_by_serial([one], [odd]) == {odd: MIB}


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


def test_of_a_run_that_was_copied_while_it_ran_the_longer_log_counts(
    read: dict[str, str], tmp_path: Path
) -> None:
    lines = (start("a"), ready(read[NVME]), *(report(read[NVME], MIB) for _ in range(20)), STOP)
    early = attempt(read, tmp_path / "early", *lines[:4])
    whole = attempt(read, tmp_path / "whole", *lines)
    for folders in ([early, whole], [whole, early]):
        assert written_by_serial(folders, [NVME]) == {NVME: 20 * MIB}


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


def test_a_folder_that_may_not_be_listed_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the records are a file system of their own, root's `lost+found` lies among them."""
    (tmp_path / "unit-1/attempt-001/data").mkdir(parents=True)
    (tmp_path / "lost+found").mkdir()
    listed = Path.iterdir

    def refuse(folder: Path) -> Iterator[Path]:
        if folder.name == "lost+found":
            raise PermissionError(13, "Permission denied")
        return listed(folder)

    monkeypatch.setattr(Path, "iterdir", refuse)
    assert [folder.parent.name for folder in attempt_folders(tmp_path)] == ["attempt-001"]
