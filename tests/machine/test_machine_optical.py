"""Optical drives: abilities, media, and answers of any bytes whatever."""

from __future__ import annotations

import random
import struct
from pathlib import Path

import pytest

from shipworthy.machine.capture import optical as capture_optical
from shipworthy.machine.parse.optical import source as optical
from shipworthy.machine.parse.optical.mmc import describe, firmware_date, read_configuration
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.devices import by_place, failing, files, read
from tests.machine.recorded import link, write

SATA = "sys/devices/pci0000:00/0000:00:17.0"
PLACE = "pci:0000:00:17.0/ata-3"
INFO = """CD-ROM information, Id: cdrom.c 3.20 2003/12/17

drive name:\t\tsr1\tsr0
drive speed:\t\t24\t48
Can close tray:\t\t1\t1
Can write CD-R:\t\t0\t1
Can read DVD:\t\t1\t1
Can write DVD-R:\t0\t1

"""


def feature(code: int, data: bytes, current: bool = True) -> bytes:
    return struct.pack(">HBB", code, 1 << 2 | current, len(data)) + data


def configuration(current: int, profiles: tuple[int, ...], *others: bytes, told: int | None = None) -> bytes:
    listed = b"".join(struct.pack(">HBB", p, p == current, 0) for p in profiles)
    body = feature(0, listed) + b"".join(others)
    return struct.pack(">IHH", len(body) + 4 if told is None else told, 0, current) + body


WRITER = (0x10, 0x11, 0x1A, 0x1B, 0x08, 0x09, 0x0A, 0x40, 0x41)


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    disk = f"{SATA}/ata7/host6/target6:0:0/6:0:0:0"
    files(tmp_path, disk, {"vendor": "Tarn", "model": "BD-RE TB-16", "rev": "1.02", "type": "5"})
    files(tmp_path, f"{SATA}/ata7/ata_port/ata7", {"port_no": "3"})
    files(tmp_path, f"{disk}/block/sr0", {"size": "2097151"})
    link(tmp_path, f"{disk}/block/sr0/device", disk)
    link(tmp_path, "sys/block/sr0", f"{disk}/block/sr0")
    write(tmp_path, "proc/sys/dev/cdrom/info", INFO)
    others = (feature(0x108, b"TB16-00042 "), feature(0x10C, b"20260115120000\0\0"))
    write(tmp_path, "replies/sr0/get-configuration.bin", configuration(0x10, WRITER, *others))
    return tmp_path


def test_a_drive_tells_what_it_takes_and_what_lies_in_it(machine: Path) -> None:
    parsed = read(machine, capture_optical.capture, optical.parse)
    assert {s.kind for s in parsed.sightings} == {PartKind.OPTICAL_DRIVE}
    told = by_place(parsed)[PLACE]
    assert told == {
        "kernel_name": "sr0",
        "interface": "SATA",
        "maker": "Tarn",
        "model": "BD-RE TB-16",
        "firmware_version": "1.02",
        "serial": "TB16-00042",
        "media_profile": "DVD-ROM",
        "profiles": "DVD-ROM, DVD-R sequential, DVD+RW, DVD+R, CD-ROM, CD-R, CD-RW, BD-ROM, BD-R SRM",
        "firmware_date": "2026-01-15",
        "reads_dvd": True,
        "reads_bd": True,
        "writes_cd": True,
        "writes_dvd": True,
        "writes_bd": True,
    }
    assert parsed.remarks == ()


def test_the_kernels_table_is_a_witness_of_the_drives_own_column(machine: Path) -> None:
    parsed = read(machine, capture_optical.capture, optical.parse)
    (table,) = [s for s in parsed.sightings if s.source == "optical.info"]
    assert {w.name: w.value for w in table.said} == {"reads_dvd": True, "writes_cd": True, "writes_dvd": True}
    assert optical.read_info(INFO)["sr1"]["Can write CD-R"] == "0"


def test_a_drive_without_a_medium_has_none_and_is_no_failure(machine: Path) -> None:
    write(machine, "replies/sr0/get-configuration.bin", configuration(0, (0x10, 0x08)))
    told = by_place(read(machine, capture_optical.capture, optical.parse))[PLACE]
    assert (told["media_profile"], told["profiles"]) == (Absent.NOT_FITTED, "DVD-ROM, CD-ROM")
    assert (told["reads_bd"], told["writes_bd"]) == (False, False)


def test_a_recorded_machine_without_an_answer_was_not_asked(machine: Path) -> None:
    (machine / "replies/sr0/get-configuration.bin").unlink()
    told = by_place(read(machine, capture_optical.capture, optical.parse))[PLACE]
    assert (told["media_profile"], told["reads_dvd"]) == (Absent.NOT_ASKED, True)


@pytest.mark.parametrize(
    ("data", "kind", "profile"),
    [
        (configuration(0x10, WRITER)[:5], RemarkKind.CUT_SHORT, Absent.IMPLAUSIBLE),
        (configuration(0x10, WRITER)[:14], RemarkKind.CUT_SHORT, "DVD-ROM"),
        (configuration(0x10, WRITER, told=4000), RemarkKind.CUT_SHORT, "DVD-ROM"),
        (configuration(0x10, WRITER, b"\x01\x00\x00\xff"), RemarkKind.CUT_SHORT, "DVD-ROM"),
    ],
)
def test_an_answer_that_breaks_off_is_named_and_the_rest_stands(
    machine: Path, data: bytes, kind: RemarkKind, profile: object
) -> None:
    write(machine, "replies/sr0/get-configuration.bin", data)
    parsed = read(machine, capture_optical.capture, optical.parse)
    assert [r.kind for r in parsed.remarks] == [kind]
    assert by_place(parsed)[PLACE]["media_profile"] == profile
    assert by_place(parsed)[PLACE]["model"] == "BD-RE TB-16"


def test_what_the_answer_tells_of_its_length_ends_it() -> None:
    """Bytes behind it are the buffer's, not the drive's."""
    whole = configuration(0x08, (0x08,), told=12)
    told = read_configuration(whole + feature(0x108, b"NOT MINE"))
    assert told is not None
    assert (told.profiles, told.fault, told.data_of(0x108)) == ((0x08,), None, None)


def test_an_unknown_profile_keeps_its_number(machine: Path) -> None:
    write(machine, "replies/sr0/get-configuration.bin", configuration(0x99, (0x99,)))
    assert (
        by_place(read(machine, capture_optical.capture, optical.parse))[PLACE]["profiles"] == "profile 0x0099"
    )


@pytest.mark.parametrize("text", [b"", b"20261301", b"2026", b"abcdefgh", b"\xff" * 14])
def test_a_date_that_is_none_is_none(text: bytes) -> None:
    assert firmware_date(text) is None


def test_a_file_that_fails_costs_its_own_field_alone(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, "6:0:0:0/model")
    told = by_place(read(machine, capture_optical.capture, optical.parse))[PLACE]
    assert (told["model"], told["maker"]) == (Absent.NOT_READABLE, "Tarn")


def test_a_machine_without_a_drive_asks_for_no_table(tmp_path: Path) -> None:
    (tmp_path / "sys/block").mkdir(parents=True)
    write(tmp_path, "proc/sys/dev/cdrom/info", INFO)
    assert read(tmp_path, capture_optical.capture, optical.parse).sightings == ()


def test_every_feature_is_described() -> None:
    sections = describe(
        configuration(0x10, WRITER, feature(0x1F, bytes(4), current=False), feature(0xFF00, b"\1"))
    )
    assert [s.title for s in sections] == ["header", "profile list", "DVD read", "feature 0xff00"]
    assert dict(sections[2].fields)["current"] is False


def test_a_table_without_end_has_an_end() -> None:
    columns, rows = "drive name:" + "\tsr0" * 200_000, "a: 1\n" * 200_000
    assert set(ends(lambda: optical.read_info(f"{columns}\n{rows}"))) <= {"sr0", "sr", "s"}
    assert "sr1" in ends(lambda: optical.read_info(INFO + "\n" + rows))


def test_an_answer_of_features_without_end_has_an_end() -> None:
    data = configuration(0x10, WRITER, bytes(4) * 16000)
    ends(lambda: describe(data))
    told = ends(lambda: read_configuration(data))
    assert told is not None
    assert told.fault is not None
    assert (len(told.features), told.fault.kind) == (256, RemarkKind.NOT_UNDERSTOOD)


def test_any_bytes_whatever_are_taken() -> None:
    chance = random.Random(22)
    seed = configuration(0x10, WRITER, feature(0x108, b"TB16"), feature(0x10C, b"20260115120000"))
    for _ in range(4000):
        data = bytearray(seed)
        for _ in range(chance.randrange(8)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        spoiled = bytes(data[: chance.randrange(len(data) + 1)])
        describe(spoiled)
        told = read_configuration(spoiled)
        assert told is None or len(told.profiles) <= 63
