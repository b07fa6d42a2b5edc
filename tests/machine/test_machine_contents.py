"""What lies on the drives, from udev's records: seen, seen to be nothing, or looked at by nobody."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from shipworthy.machine.reading import take_reading
from shipworthy.machine.root import LIVE, Root
from shipworthy.machine.sources import SOURCES
from shipworthy.model.base import Scalar
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, PartKind
from tests.machine.recorded import NVME, build

NVME_PLACE = "pci:0000:04:00.0/nvme-ns-1"
LINK = "S:disk/by-id/nvme-QUARREL_M2_9K2200417\n"
NODE = f"{NVME}/nvme/nvme0/nvme0n1"


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    root = build(tmp_path / "machine")
    shutil.rmtree(root / NODE / "nvme0n1p1")
    return root


def write(machine: Path, path: str, text: str) -> None:
    file = machine / path.lstrip("/")
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text)


def add_drive(machine: Path, udev: str | None) -> None:
    write(machine, f"{NODE}/dev", "259:0\n")
    if udev is not None:
        write(machine, "run/udev/data/b259:0", udev)


def add_partition(machine: Path, number: int, udev: str | None) -> None:
    write(machine, f"{NODE}/nvme0n1p{number}/partition", f"{number}\n")
    write(machine, f"{NODE}/nvme0n1p{number}/dev", f"259:{number}\n")
    if udev is not None:
        write(machine, f"run/udev/data/b259:{number}", udev)


def facts(machine: Path, place: str = NVME_PLACE, *names: str) -> dict[str, Scalar | Absent]:
    reading = take_reading(Root(machine), lambda name, data: None, nonce=None, clock=PretendClock())
    part = reading.at(place)
    assert part is not None
    wanted = names or ("partitions", "partition_table", "file_systems")
    return {name: part.why_absent(name) if part.value(name) is None else part.value(name) for name in wanted}


def test_partitions_and_what_is_in_them(machine: Path) -> None:
    add_drive(machine, LINK + "E:ID_PART_TABLE_TYPE=gpt\n")
    add_partition(machine, 1, LINK + "E:ID_FS_TYPE=vfat\nE:ID_FS_LABEL=ESP\nE:ID_FS_UUID=AA-BB\n")
    add_partition(machine, 2, LINK + "E:ID_FS_TYPE=BitLocker\n")
    told = {"partitions": 2, "partition_table": "gpt", "file_systems": "vfat, BitLocker"}
    assert facts(machine) == told


def test_a_drive_on_which_somebody_looked_and_found_nothing(machine: Path) -> None:
    add_drive(machine, LINK)
    assert facts(machine) == {"partitions": 0, "partition_table": "none", "file_systems": "none"}


def test_a_file_system_on_the_whole_drive_is_seen_without_a_partition(machine: Path) -> None:
    add_drive(machine, LINK + "E:ID_FS_TYPE=ext4\n")
    assert facts(machine) == {"partitions": 0, "partition_table": "none", "file_systems": "ext4"}


@pytest.mark.parametrize("udev", [None, "E:ID_SERIAL=x\n", ""], ids=["no record", "not looked into", "empty"])
def test_where_nobody_looked_nothing_is_said_to_be_there_or_not(machine: Path, udev: str | None) -> None:
    add_drive(machine, udev)
    told = facts(machine)
    assert (told["partition_table"], told["file_systems"]) == (Absent.NOT_OFFERED, Absent.NOT_OFFERED)


def test_one_partition_that_nobody_looked_into_leaves_the_file_systems_open(machine: Path) -> None:
    add_drive(machine, LINK + "E:ID_PART_TABLE_TYPE=gpt\n")
    add_partition(machine, 1, LINK + "E:ID_FS_TYPE=vfat\n")
    add_partition(machine, 2, None)
    told = facts(machine)
    assert (told["partitions"], told["file_systems"]) == (2, Absent.NOT_OFFERED)


def test_no_label_identifier_or_serial_of_udev_is_kept(machine: Path) -> None:
    add_drive(machine, LINK + "E:ID_SERIAL_SHORT=9K2200417\nE:ID_FS_UUID=11-22\nE:ID_FS_LABEL=ines\n")
    (source,) = [source for source in SOURCES if source.name == "contents"]
    kept = b"".join(reply.data for reply in source.capture(Root(machine)))
    for personal in (b"9K2200417", b"11-22", b"ines", b"QUARREL"):
        assert personal not in kept


OS_RELEASE = """\
PRETTY_NAME="Heron Linux 7.1 (Quiet)"
NAME='Heron Linux'
VERSION_ID="7.1"
ID=heron
VARIANT="Studio Edition"
BUG_REPORT_URL="https://bugs.example/"
BROKEN="never closed
"""


def test_the_system_that_runs_tells_its_name(machine: Path) -> None:
    write(machine, "usr/lib/os-release", OS_RELEASE)
    names = ("system_id", "system_name", "system_version", "system_edition", "system_on")
    assert facts(machine, "kernel", *names) == {
        "system_id": "heron",
        "system_name": "Heron Linux",
        "system_version": "7.1",
        "system_edition": "Studio Edition",
        "system_on": Absent.NOT_ASKED,
    }, "where a recorded machine runs from, nobody can ask"


def test_the_file_below_etc_is_the_one_that_counts(machine: Path) -> None:
    write(machine, "usr/lib/os-release", OS_RELEASE)
    write(machine, "etc/os-release", "ID=wren\n")
    assert facts(machine, "kernel", "system_id", "system_name") == {
        "system_id": "wren",
        "system_name": Absent.NOT_ASKED,
    }


def test_this_machine_is_asked_without_harm() -> None:
    (source,) = [source for source in SOURCES if source.name == "contents"]
    parsed = source.parse(tuple(source.capture(LIVE)))
    assert {sighting.kind for sighting in parsed.sightings} <= {PartKind.STORAGE, PartKind.KERNEL}
