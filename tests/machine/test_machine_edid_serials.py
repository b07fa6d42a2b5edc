"""Serials of an EDID: found in every block, replaced, and every sum that held holds again."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.edid.blocks import read_edid
from shipworthy.machine.parse.edid.facts import display_facts
from shipworthy.machine.parse.edid.serials import rewritten, serial_places
from tests.machine.edid_bytes import base, cta, data_block, displayid, displayid_block, text_descriptor

NUMBER = (0x1A2B3C4D).to_bytes(4, "little")
TILE = bytes([0x80, 0x10, 0x00, 0]) + bytes(9) + b"TRN" + bytes.fromhex("3412") + NUMBER
PRODUCT = b"TRN" + bytes.fromhex("3412") + NUMBER + bytes([1, 20, 0])
OWN = bytes.fromhex("10fa00") + b"TN0000SECRET"


def change(old: bytes, kind: str) -> bytes:
    return {"number": b"\x07\0\0\0", "text": b"PSEUDONYM-1", "own": b""}[kind]


def whole() -> bytes:
    first = base(serial=0x1A2B3C4D, extensions=3, descriptors=(text_descriptor(0xFF, b"TN0000SECRET"),))
    blocks = displayid(displayid_block(0x12, TILE), displayid_block(0, PRODUCT), displayid_block(0x7F, OWN))
    return first + cta(data_block(3, OWN), data_block(2, b"\x10")) + blocks + first


def test_no_serial_is_left_in_any_block_and_the_rest_stands() -> None:
    data = whole()
    assert read_edid(data).faults == read_edid(rewritten(data, lambda old, kind: old)).faults
    new = rewritten(data, change)
    assert NUMBER not in new and b"SECRET" not in new
    assert all(read_edid(new).sound)
    before = {(f.kind, f.where) for f in read_edid(data).faults}
    assert {(f.kind, f.where) for f in read_edid(new).faults} == before
    old_facts = {f.name: f.value for f in display_facts(data)}
    facts = {f.name: f.value for f in display_facts(new)}
    assert (facts["serial"], facts["serial_number"]) == ("PSEUDONYM-1", "7")
    assert {name for name, value in facts.items() if value != old_facts[name]} == {"serial", "serial_number"}


def test_a_sum_that_did_not_hold_is_left_as_it_is() -> None:
    data = bytearray(whole())
    data[40] ^= 1
    assert read_edid(rewritten(bytes(data), change)).sound == read_edid(bytes(data)).sound


def test_serials_of_real_displays_go_and_their_sums_hold(reference: Path) -> None:
    import tarfile

    with tarfile.open(reference / "edid" / "edid-decode-samples.tar.xz") as tar:
        files = [f.read() for m in tar if m.name.endswith(".edid") and (f := tar.extractfile(m))]
    assert len(files) == 41
    for data in files:
        new = rewritten(data, change)
        assert read_edid(new).sound == read_edid(data).sound
        serial = next(f.value for f in display_facts(data) if f.name == "serial")
        if isinstance(serial, str) and not serial.isdecimal():
            assert serial.encode() not in new


@given(st.binary(max_size=700), st.sampled_from([2, 0x70]))
def test_nothing_raises_and_the_length_stays(data: bytes, tag: int) -> None:
    for edid in (data, base(extensions=1) + bytes([tag]) + data):
        assert len(rewritten(edid, change)) == len(edid)
        assert all(place.at + place.length <= len(edid) and place.length > 0 for place in serial_places(edid))
