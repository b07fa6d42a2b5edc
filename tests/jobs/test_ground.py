"""Drives with what is left of their budgets, and what a person may allow with the whole of one."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import msgspec
import pytest

from shipworthy.jobs import ground as ground_module
from shipworthy.jobs.ground import Ask, Grant, budget_bytes, ground_for, left_bytes, rated_by_serial
from shipworthy.jobs.unit import UnitFolder, read_unit
from shipworthy.machine.attached import Attached
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.base import Trouble
from shipworthy.model.facts import Fact
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.policy import Endurance
from shipworthy.model.reading import Configuration, Reading
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind, WholeDrive
from shipworthy.stress.loads import storage_budget, storage_drive
from shipworthy.stress.loads.storage_faults import Pattern
from shipworthy.stress.protocol import Drive, Job
from tests.jobs.test_ledger import NVME, SATA, STOP, attempt, report, start
from tests.machine import recorded

MIB, TB = 2**20, 10**12


def plan(*budgets: int) -> Plan:
    steps = [
        PlanStep(step=f"s{n}", seconds=5, loads=(LoadRequest(load="storage", write_budget_bytes=budget),))
        for n, budget in enumerate(budgets)
    ]
    return Plan(plan_id="small", steps=tuple(steps))


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> tuple[Reading, Root, dict[str, str]]:
    folder = tmp_path_factory.mktemp("ground")
    root = Root(recorded.build(folder / "machine"))
    reading = read_unit(UnitFolder(folder / "unit"), root, nonce=None, clock=PretendClock())
    places = {part.text("serial"): part.place for part in reading.of_kind(PartKind.STORAGE)}
    return reading, root, places | {"folder": str(folder / "unit")}


def test_the_budget_is_one_capacity_or_a_share_of_the_endurance_if_that_is_less() -> None:
    assert budget_bytes(TB) == TB  # 0.2 % of 600 capacities are more than one
    assert budget_bytes(TB, 200 * TB) == TB * 4 // 10
    assert budget_bytes(TB, 0) == 0


def test_the_steps_that_are_left_share_what_is_left() -> None:
    three = plan(100, 0, 300)
    assert left_bytes(1000, 0, three, 0) == 1000
    assert left_bytes(1000, 800, three, 0) == 100  # 200 for two steps that would write 400
    assert left_bytes(1000, 800, three, 1) == 200  # 200 for one that would write 300
    assert left_bytes(1000, 2000, three, 0) == 0


def test_left_for_the_last_step_is_all_that_is_left() -> None:
    assert left_bytes(1000, 800, plan(100, 0, 300), 2) == 200


def test_a_small_drive_has_something_left_for_dozens_of_attempts() -> None:
    """A plan that would write the whole of a stick, twice an attempt."""
    asked, capacity, written = plan(8 * 2**30, 16 * 2**30), 16 * 10**9, 0
    for number in range(60):
        share = left_bytes(budget_bytes(capacity), written, asked, 0)
        drive = Drive(place="p", serial="s", capacity_bytes=capacity, write_left_bytes=share)
        steps = [storage_budget.budget_bytes(step.loads[0], drive) for step in asked.steps]
        assert min(steps) >= MIB
        written += sum(steps)
        assert written <= capacity * 15 // 16 or number > 0
    assert written <= capacity


def test_each_drive_has_left_what_no_attempt_has_written(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    reading, root, places = machine
    own = attempt(places, tmp_path / "own", start("a"), report(places[NVME], 3 * MIB), STOP)
    attempt(
        places,
        tmp_path / "records/unit-1/attempt-001/data",
        start("b"),
        report(places[NVME], 10 * MIB),
        STOP,
    )
    asked = Ask(plan(MIB), own, (tmp_path,), tmp_path / "records")
    ground = ground_for(reading, root, asked)
    drives = {drive.serial: drive for drive in ground.drives}
    assert ground.work_folders == (str(tmp_path),)
    assert drives[NVME].place == places[NVME]
    assert drives[NVME].write_left_bytes == drives[NVME].capacity_bytes - 13 * MIB
    assert drives[SATA].write_left_bytes == drives[SATA].capacity_bytes == 7_814_037_168 * 512
    assert {drive.whole for drive in ground.drives} == {WholeDrive.NOTHING}
    rated = ground_for(reading, root, Ask(plan(MIB), own, (tmp_path,), rated_bytes={NVME: 100 * TB}))
    assert {d.serial: d for d in rated.drives}[NVME].write_left_bytes == TB // 5 - 3 * MIB


def test_a_policy_states_a_drives_endurance_by_words_of_its_model(
    machine: tuple[Reading, Root, dict[str, str]],
) -> None:
    reading, _, places = machine
    parts = reading.of_kind(PartKind.STORAGE)
    model = next(part.text("model") for part in parts if part.place == places[NVME])
    stated = (
        Endurance(model=model.upper(), rated_bytes=300 * TB),
        Endurance(model=model[:-1], rated_bytes=200 * TB),
        Endurance(model="no such model", rated_bytes=1),
    )
    found = rated_by_serial(parts, stated)
    assert found[NVME] == 200 * TB
    assert not {serial for serial, rated in found.items() if rated == 1}


def test_a_drive_that_shows_no_serial_is_counted_in_this_attempt_alone(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    reading, root, places = machine
    silent = msgspec.structs.replace(reading, parts=tuple(map(without_serial, reading.parts)))
    own = attempt(places, tmp_path / "own", start("a"), report(places[NVME], 3 * MIB), STOP)
    other = tmp_path / "records/unit-1/attempt-001/data"
    attempt(places, other, start("b"), report(places[NVME], 10 * MIB), STOP)
    ground = ground_for(silent, root, Ask(plan(MIB), own, (tmp_path,), tmp_path / "records"))
    drive = ground.drive_at(places[NVME])
    assert drive is not None and drive.serial == ""
    assert drive.write_left_bytes == drive.capacity_bytes - 3 * MIB


def without_serial(part: object) -> object:
    facts: tuple[Fact, ...] = tuple(fact for fact in part.facts if fact.name != "serial")  # type: ignore[attr-defined]
    return msgspec.structs.replace(part, facts=facts)  # type: ignore[type-var]


def test_a_drive_in_anothers_place_has_its_own_budget_and_one_more_has_one_too(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    """The reading was taken before; the same drive has been in another unit."""
    reading, _, places = machine
    now = recorded.build(tmp_path / "machine")
    (now / recorded.NVME / "nvme/nvme0/serial").write_text("KD-CHANGED\n")
    own = attempt(places, tmp_path / "own", start("a"), report(places[NVME], 3 * MIB), STOP)
    other = tmp_path / "records/unit-1/attempt-001/data"
    held = Configuration.of({f"storage/{places[SATA]}/serial": "KD-CHANGED"})
    before = msgspec.structs.replace(start("b"), configuration=held)
    attempt(places, other, before, report(places[SATA], 10 * MIB), STOP)
    ground = ground_for(reading, Root(now), Ask(plan(MIB), own, (tmp_path,), tmp_path / "records"))
    drive = ground.drive_at(places[NVME])
    assert drive is not None and drive.serial == "KD-CHANGED"
    assert drive.write_left_bytes == drive.capacity_bytes - 10 * MIB
    assert NVME not in {one.serial for one in ground.drives}

    fewer = msgspec.structs.replace(
        reading, parts=tuple(part for part in reading.parts if part.place != places[NVME])
    )
    ground = ground_for(fewer, Root(now), Ask(plan(MIB), own, (tmp_path,), tmp_path / "records"))
    assert ground.drive_at(places[NVME]) == drive


def test_a_drive_without_a_size_when_it_was_read_has_the_size_that_it_has_now(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    """A reader of cards into which a card was put since then."""
    reading, root, places = machine
    sizes = ("size_bytes", "capacity_bytes")
    parts = tuple(
        msgspec.structs.replace(part, facts=tuple(fact for fact in part.facts if fact.name not in sizes))
        for part in reading.parts
    )
    empty = msgspec.structs.replace(reading, parts=parts)
    drive = ground_for(empty, root, Ask(plan(MIB), tmp_path, (tmp_path,))).drive_at(places[NVME])
    assert drive is not None and drive.write_left_bytes == drive.capacity_bytes > 10**11


def test_what_lies_beside_a_unit_halfs_folder_counts_where_there_are_no_records(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    reading, root, places = machine
    own = attempt(places, tmp_path / "stick/now", start("a"), report(places[NVME], 3 * MIB), STOP)
    attempt(places, tmp_path / "stick/before", start("b"), report(places[NVME], 4 * MIB), STOP)
    attempt(places, tmp_path / "elsewhere/before", start("c"), report(places[NVME], 5 * MIB), STOP)
    drive = ground_for(reading, root, Ask(plan(MIB), own, (tmp_path,))).drive_at(places[NVME])
    assert drive is not None and drive.write_left_bytes == drive.capacity_bytes - 7 * MIB


def test_a_serial_that_is_typed_must_still_be_there(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading, _, places = machine
    other = Attached(places[NVME], "nvme0n1", "KD-CHANGED", 10**12)
    monkeypatch.setattr(ground_module, "attached_drives", lambda root: (other,))
    with pytest.raises(Trouble, match=f"another drive is in the place of the drive {NVME}"):
        ground_for(
            reading, LIVE, Ask(plan(MIB), tmp_path, (tmp_path,), grants=(Grant(NVME, WholeDrive.READ),))
        )


def test_a_drive_that_this_very_burn_in_has_written_before_it_was_cut_off_counts_as_blank(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading, _, places = machine
    loop = looped(tmp_path / "drive.img")
    if loop is None:
        pytest.skip("this account may not make a loop device")
    monkeypatch.setattr(storage_drive, "drive_node", lambda drive, writing, root: loop)
    own = attempt(places, tmp_path / "own", start("a"))
    request = LoadRequest(load="storage", variant="blank-drive", write_budget_bytes=MIB)
    asked = Plan(plan_id="p", steps=(PlanStep(step="whole", seconds=5, loads=(request,)),))
    job = Job(
        step="whole",
        load="storage",
        target=places[NVME],
        request=request,
        seed=start("a").seed,
        work_folder="",
        memory_reserve_bytes=0,
        disk_reserve_bytes=0,
    )

    def blank() -> bool:
        ask = Ask(asked, own, (tmp_path,), grants=(Grant(NVME, WholeDrive.WRITE),))
        drive = ground_for(reading, LIVE, ask).drive_at(places[NVME])
        return drive is not None and drive.blank

    try:
        assert blank()
        with open(loop, "r+b") as drive:
            drive.write(Pattern.of(job.purpose, 1, MIB).expected(0, MIB // 8).tobytes())
        assert blank()
        (own / "burn-in/log-001.jsonl").unlink()
        with pytest.raises(Trouble, match=f"the drive {NVME} is not blank: it holds something"):
            blank()
    finally:
        subprocess.run(["losetup", "--detach", loop], check=True)


def looped(image: Path) -> Path | None:
    image.touch()
    os.truncate(image, 64 * MIB)
    try:
        made = subprocess.run(["losetup", "--find", "--show", image], capture_output=True, text=True)
    except FileNotFoundError:
        return None
    return Path(made.stdout.strip()) if not made.returncode else None


def test_a_recorded_machine_has_no_drive_to_work_on(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    reading, root, _ = machine
    grants = (Grant(NVME, WholeDrive.READ),)
    with pytest.raises(Trouble, match="a recorded machine has no drive to work on"):
        ground_for(reading, root, Ask(plan(MIB), tmp_path, (tmp_path,), grants=grants))


def test_a_serial_that_is_typed_must_be_one_drives(
    machine: tuple[Reading, Root, dict[str, str]], tmp_path: Path
) -> None:
    reading, _, _ = machine

    def ground(*grants: Grant) -> dict[str, WholeDrive]:
        asked = Ask(plan(MIB), tmp_path, (tmp_path,), grants=grants)
        return {drive.serial: drive.whole for drive in ground_for(reading, LIVE, asked).drives}

    found = ground(Grant(NVME + " ", WholeDrive.READ))
    assert (found[NVME], found[SATA]) == (WholeDrive.READ, WholeDrive.NOTHING)
    for typed in (NVME[:-1], "", NVME.lower()):
        with pytest.raises(Trouble, match=f"no drive shows the serial '{typed}'.*{NVME}"):
            ground(Grant(typed, WholeDrive.READ))
    with pytest.raises(Trouble, match=r"no drive is wired there any more|serial was"):
        ground(Grant(NVME, WholeDrive.WRITE))  # not a drive of the machine that we run on
