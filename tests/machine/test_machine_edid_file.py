"""Files with an EDID: binary, hex dumps in their usual forms, texts with a dump in them, and what is none."""

from __future__ import annotations

from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.edid.file import describe, edid_of_file, parse, recognises
from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.edid_bytes import base, cta, data_block, text_descriptor

EDID = base(extensions=1, descriptors=(text_descriptor(0xFC, "Norvik N27"),)) + cta(
    data_block(2, b"\x90\x61")
)


def lines(data: bytes, size: int, gap: str) -> list[str]:
    return [
        data[at : at + size].hex(gap) if gap else data[at : at + size].hex()
        for at in range(0, len(data), size)
    ]


def dump(data: bytes) -> str:
    """Lines of 16 bytes, an empty one between blocks: the form of decoders' texts."""
    return "\n\n".join("\n".join(lines(data[at : at + 128], 16, " ")) for at in range(0, len(data), 128))


def xxd(data: bytes) -> str:
    rows = enumerate(lines(data, 16, ""))
    return "\n".join(
        f"{n * 16:08x}: {' '.join(t[i : i + 4] for i in range(0, 32, 4))}  ..abcdef" for n, t in rows
    )


def hexdump(data: bytes) -> str:
    rows = enumerate(lines(data, 16, " "))
    return "\n".join(f"{n * 16:08x}:  {t[:23]}  {t[24:]}  |..abcdef|" for n, t in rows)


FORMS = {
    "binary": EDID,
    "one line": EDID.hex().encode(),
    "spaces": EDID.hex(" ").encode(),
    "upper case": EDID.hex(" ").upper().encode(),
    "lines": "\n".join(lines(EDID, 16, "")).encode(),
    "tabs": "\n".join(f"\t\t{line}" for line in lines(EDID, 16, "")).encode(),
    "array": ",\n".join(
        ", ".join(f"0x{byte:02x}" for byte in EDID[at : at + 8]) for at in range(0, 256, 8)
    ).encode(),
    "xxd": xxd(EDID).encode(),
    "hexdump": hexdump(EDID).encode(),
    "text": f"Display:\n\n{dump(EDID)}\n\n----\n\nBlock 0:\n  Maker: LFQ\nChecksum: 0x12\n".encode(),
    "two dumps": f"EDID (hex):\n{dump(EDID[:128])}\n\nall (hex):\n\n{dump(EDID)}\n\n----\n".encode(),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_holds_the_same_bytes(form: str) -> None:
    assert edid_of_file(FORMS[form]) == EDID
    assert recognises("any", FORMS[form][:4096])


def test_the_longest_edid_is_taken_whole_in_its_longest_form() -> None:
    longest = EDID[:128] + bytes(range(1, 129)) * 255
    lines = (longest[at : at + 16] for at in range(0, len(longest), 16))
    text = "\n".join(", ".join(f"0x{byte:02x}" for byte in line) for line in lines)
    assert edid_of_file(text.encode()) == longest


def test_a_file_of_lines_without_end_has_an_end() -> None:
    for text in (b"00\n" * 300_000, b"00ffffffffffff00\n" * 60_000, b"0x," * 300_000):
        ends(partial(edid_of_file, text))


def test_a_dump_without_a_header_is_given_so_that_its_fault_is_named() -> None:
    bare = b"\x01" + EDID[1:]
    assert edid_of_file(bare.hex(" ").encode()) == bare
    assert not recognises("edid.bin", bare.hex(" ").encode())


@pytest.mark.parametrize(
    "other", [b"", b"processor : 0\nmodel name : x\n", b"\x7fELF\0\0", b"deadbeef\n" * 40, b"{}"]
)
def test_other_files_are_none(other: bytes) -> None:
    assert not recognises("edid", other)


def test_a_file_is_a_display_by_its_name_with_its_faults() -> None:
    good = Reply("edid.1", "/left.bin", SourceOutcome.READ, EDID)
    spoiled = Reply(
        "edid.2", "/right.txt", SourceOutcome.READ, dump(EDID[:130] + b"\x09" + EDID[131:]).encode()
    )
    parsed = parse((good, spoiled, Reply("edid.3", "/none", SourceOutcome.ABSENT)))
    assert [(s.kind, s.place, s.source) for s in parsed.sightings] == [
        (PartKind.DISPLAY, "edid:left.bin", "edid.1"),
        (PartKind.DISPLAY, "edid:right.txt", "edid.2"),
    ]
    models = [next(f.value for f in s.said if f.name == "model") for s in parsed.sightings]
    assert models == ["Norvik N27", "Norvik N27"]
    assert (RemarkKind.BAD_CHECKSUM, "block 1") in [(r.kind, r.where) for r in parsed.remarks]
    assert {remark.source for remark in parsed.remarks} == {"edid.2"}


def test_equal_faults_are_one_remark_with_a_count() -> None:
    table = cta(*[data_block(5, b"\1")] * 5)
    parsed = parse((Reply("edid.1", "/a", SourceOutcome.READ, base(extensions=1) + table),))
    assert [(remark.kind, remark.count) for remark in parsed.remarks] == [(RemarkKind.NOT_UNDERSTOOD, 5)]


def test_people_see_every_block_and_the_faults() -> None:
    titles = [section.title for section in describe(FORMS["text"])]
    assert titles[0] == "Block 0"
    assert "Block 1" in titles and "Video" in titles and "Faults" not in titles
    assert [section.title for section in describe(EDID[:100])] == ["Faults"]


@given(
    st.one_of(
        st.binary(max_size=400), st.text(alphabet="0123456789abcdef \n:|,x", max_size=600).map(str.encode)
    )
)
def test_nothing_raises(data: bytes) -> None:
    reply = Reply("edid.1", "/a", SourceOutcome.READ, data)
    assert len(parse((reply,)).sightings) == 1
    assert isinstance(recognises("a", data), bool)
