"""953 real displays and 41 samples (linuxhw/EDID, CC BY 4.0; edid-decode's own): no field may differ."""

from __future__ import annotations

import sys
from pathlib import Path

from shipworthy.machine.parse.edid.blocks import read_edid
from shipworthy.machine.parse.edid.facts import display_facts
from shipworthy.machine.parse.edid.file import edid_of_file
from shipworthy.model.words import RemarkKind

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))
from decoding.edid import measure, read_all


def test_no_field_of_the_whole_set_differs(reference: Path) -> None:
    """Name, serial, size, every timing, checksums and counts: the goal is no difference."""
    tally = measure(reference / "edid")
    assert tally.examples == []
    assert (tally.items, tally.crashed, tally.differ) == (994, 0, 0)
    assert tally.agree > 70_000


def test_one_real_display_has_a_bad_checksum_and_none_a_bad_header(reference: Path) -> None:
    """index.tsv says so of the 953; the samples are all sound."""
    named = [
        (name, fault.where)
        for name, raw, _ in read_all(reference / "edid")
        for fault in read_edid(edid_of_file(raw)).faults
        if fault.kind in (RemarkKind.BAD_CHECKSUM, RemarkKind.BAD_HEADER)
    ]
    assert len(named) == 1
    name, where = named[0]
    index = (reference / "edid" / "index.tsv").read_text("utf-8").splitlines()[1:]
    assert [row.split("\t")[0] for row in index if row.endswith("\tno")] == [name]
    assert where != "block 0"


def test_the_spoiled_displays_extension_says_nothing(reference: Path) -> None:
    spoiled = next(
        edid_of_file(raw)
        for _, raw, _ in read_all(reference / "edid")
        if not all(read_edid(edid_of_file(raw)).sound)
    )
    facts = {field.name: field.value for field in display_facts(spoiled)}
    assert facts["maker"] is not None
    assert facts["audio"] is None
