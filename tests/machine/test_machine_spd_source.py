"""The source `spd`: which devices of the bus are asked, where they are, and what becomes of a refusal."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shipworthy.machine.capture import spd as capture_spd
from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.parse.spd import source as spd
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine import spd_bytes
from tests.machine.recorded import link, write

SMBUS = "sys/devices/pci0000:00/0000:00:1f.4/i2c-0"


def device(root: Path, name: str, kind: str, image: bytes | None, folder: str = SMBUS) -> None:
    write(root, f"{folder}/{name}/name", kind + "\n")
    if image is not None:
        write(root, f"{folder}/{name}/eeprom", image)
    link(root, f"sys/bus/i2c/devices/{name}", f"{folder}/{name}")


def said(sighting: Sighting, name: str) -> object:
    return next(f.value if f.value is not None else f.absent for f in sighting.said if f.name == name)


def test_the_modules_of_a_bus_are_read_and_nothing_else_on_it(tmp_path: Path) -> None:
    device(tmp_path, "0-0050", "ee1004", spd_bytes.ddr4())
    device(tmp_path, "0-0051", "spd", spd_bytes.ddr3())
    device(tmp_path, "0-0053", "spd5118", spd_bytes.ddr5())
    device(tmp_path, "0-0054", "24c02", spd_bytes.ddr3())  # a board's own memory
    link(tmp_path, "sys/bus/i2c/devices/i2c-0", SMBUS)
    replies = capture_spd.capture(Root(tmp_path))
    assert [r.id for r in replies] == ["spd", "spd.0-0050", "spd.0-0051", "spd.0-0053"]
    assert replies[1].data == spd_bytes.ddr4()
    parsed = spd.parse(tuple(replies))
    assert [s.kind for s in parsed.sightings] == [PartKind.MEMORY_MODULE] * 3
    assert [s.place for s in parsed.sightings] == [
        "pci:0000:00:1f.4/i2c-0-0050",
        "pci:0000:00:1f.4/i2c-0-0051",
        "pci:0000:00:1f.4/i2c-0-0053",
    ]
    assert [said(s, "type") for s in parsed.sightings] == ["DDR4", "DDR3", "DDR5"]
    assert parsed.remarks == ()


def test_a_bus_without_a_wired_place_is_told_by_its_number(tmp_path: Path) -> None:
    device(tmp_path, "7-0050", "ee1004", spd_bytes.ddr4(), folder="sys/devices/i2c-7")
    parsed = spd.parse(tuple(capture_spd.capture(Root(tmp_path))))
    assert [s.place for s in parsed.sightings] == ["i2c:7-0050"]


def test_without_the_bus_there_is_nothing_to_say(tmp_path: Path) -> None:
    replies = capture_spd.capture(Root(tmp_path))
    assert [(r.id, r.outcome) for r in replies] == [("spd", SourceOutcome.ABSENT)]
    assert spd.parse(tuple(replies)).sightings == ()


def test_a_module_that_no_driver_serves_is_named_and_is_no_part(tmp_path: Path) -> None:
    """So it is on a system whose bus driver knows the modules and whose module driver is not loaded."""
    device(tmp_path, "0-0050", "ee1004", None)
    parsed = spd.parse(tuple(capture_spd.capture(Root(tmp_path))))
    assert parsed.sightings == ()
    assert [(r.kind, r.detail) for r in parsed.remarks] == [(RemarkKind.NOT_ANSWERED, "no driver serves it")]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_this_account_may_not_read_is_refused(tmp_path: Path) -> None:
    device(tmp_path, "0-0050", "ee1004", spd_bytes.ddr4())
    (tmp_path / SMBUS / "0-0050/eeprom").chmod(0)
    replies = capture_spd.capture(Root(tmp_path))
    assert replies[1].outcome is SourceOutcome.REFUSED


@pytest.mark.parametrize(
    ("outcome", "error", "wanted"),
    [
        (SourceOutcome.REFUSED, "EACCES", "this account may not read it"),
        (SourceOutcome.FAILED, "EIO", "EIO"),  # the bus gave up
        (SourceOutcome.EMPTY, "", "it is blank"),  # all zeros: never written
    ],
)
def test_a_read_that_failed_is_named_and_gives_no_value(
    outcome: SourceOutcome, error: str, wanted: str
) -> None:
    parsed = spd.parse((_head(), Reply("spd.0-0050", "/x", outcome, error=error)))
    assert parsed.sightings == ()
    assert [(r.source, r.kind, r.detail) for r in parsed.remarks] == [
        ("spd.0-0050", RemarkKind.NOT_ANSWERED, wanted)
    ]


def test_faults_name_the_reply_and_the_bytes() -> None:
    image = bytearray(spd_bytes.ddr4())
    image[4] ^= 0xFF
    parsed = spd.parse((_head(), Reply("spd.0-0050", "/x", SourceOutcome.READ, bytes(image), suffix="bin")))
    (remark,) = parsed.remarks
    assert (remark.source, remark.kind, remark.where) == (
        "spd.0-0050",
        RemarkKind.BAD_CHECKSUM,
        "bytes 0-125",
    )
    assert said(parsed.sightings[0], "size_bytes") is Absent.IMPLAUSIBLE
    assert said(parsed.sightings[0], "serial") == "DEADBE01"


def test_a_whole_image_of_rubbish_is_named_and_is_no_part() -> None:
    parsed = spd.parse((_head(), Reply("spd.0-0050", "/x", SourceOutcome.READ, b"\x77" * 512, suffix="bin")))
    assert parsed.sightings == ()
    assert [r.kind for r in parsed.remarks] == [RemarkKind.BAD_HEADER]


def _head() -> Reply:
    names = ("0-0050", "i2c-0")
    rows = (
        ListingRow(path=spd.DEVICES, names=names),
        ListingRow(path=f"{spd.DEVICES}/0-0050/name", text="ee1004\n"),
        ListingRow(path=f"{spd.DEVICES}/0-0050", link=f"/{SMBUS}/0-0050"),
    )
    return Reply("spd", spd.DEVICES, SourceOutcome.READ, encode_listing(rows), suffix="jsonl")
