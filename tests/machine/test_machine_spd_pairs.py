"""SPD and slot as one module: by serial, by part number and size, by elimination, and not by guessing."""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.spd.pairs import pairs
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Sighting
from shipworthy.model.words import Absent, PartKind

GIB = 1 << 30


def module(place: str, **facts: Scalar) -> Sighting:
    names = ("serial", "part_number", "size_bytes", "type")
    fields = tuple(said(name, facts.get(name, Absent.NOT_OFFERED)) for name in names)
    return Sighting(kind=PartKind.MEMORY_MODULE, place=place, source="test", said=fields)


def test_a_kit_of_alike_modules_is_told_by_serials_however_spelled() -> None:
    slots = [
        module("smbios:A2", serial="15C774EF", part_number="TARN-16", size_bytes=16 * GIB),
        module("smbios:B2", serial="EB74C715", part_number="TARN-16", size_bytes=16 * GIB),
    ]
    found = [
        module("i2c:0-0051", serial="15C774EB", part_number="TARN-16", size_bytes=16 * GIB),
        module("i2c:0-0053", serial="15C774EF", part_number="TARN-16", size_bytes=16 * GIB),
    ]
    assert pairs(slots, found) == {"i2c:0-0053": "smbios:A2", "i2c:0-0051": "smbios:B2"}


def test_without_serials_alike_modules_are_not_paired_and_others_are() -> None:
    slots = [
        module("smbios:A1", part_number="TARN-16", size_bytes=16 * GIB),
        module("smbios:A2", part_number="TARN-16", size_bytes=16 * GIB),
        module("smbios:B1", part_number="norvik-8g-x1", size_bytes=8 * GIB),
    ]
    found = [
        module("i2c:0-0050", part_number="TARN-16", size_bytes=16 * GIB),
        module("i2c:0-0051", part_number="TARN-16", size_bytes=16 * GIB),
        module("i2c:0-0052", part_number="NORVIK-8G-X100", size_bytes=8 * GIB),
    ]
    assert pairs(slots, found) == {"i2c:0-0052": "smbios:B1"}


def test_one_serial_that_is_told_leaves_the_other_to_elimination() -> None:
    slots = [
        module("smbios:A1", serial="DEADBE01", part_number="TARN-16"),
        module("smbios:A2", serial="00000000", part_number="TARN-16"),
    ]
    found = [
        module("i2c:0-0050", serial="DEADBE01", part_number="TARN-16"),
        module("i2c:0-0051", serial="DEADBE02", part_number="TARN-16"),
    ]
    assert pairs(slots, found) == {"i2c:0-0050": "smbios:A1", "i2c:0-0051": "smbios:A2"}


def test_the_last_two_go_together_only_if_nothing_speaks_against_it() -> None:
    slot = module("smbios:A1", size_bytes=8 * GIB, type="DDR4")
    assert pairs([slot], [module("i2c:0-0050", size_bytes=8 * GIB)]) == {"i2c:0-0050": "smbios:A1"}
    assert pairs([slot], [module("i2c:0-0050", size_bytes=16 * GIB)]) == {}
    assert pairs([slot], [module("i2c:0-0050", type="DDR5")]) == {}


def test_two_modules_of_one_serial_are_told_by_their_part_numbers() -> None:
    slots = [module("smbios:A1", serial="DEADBE01", part_number="TARN-16")]
    found = [
        module("i2c:0-0050", serial="DEADBE01", part_number="TARN-16"),
        module("i2c:0-0051", serial="DEADBE01", part_number="NORVIK-8"),
    ]
    assert pairs(slots, found) == {"i2c:0-0050": "smbios:A1"}
    assert pairs([], found) == {} and pairs(slots, []) == {}
