"""The ten hardest real cases of the tables of names: what the comparison says of each, without part numbers
and with those of the record. In five of them the table itself is at odds with the machine."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))

from matching_outcome import outcome
from matching_tables import Table, table_of

from bench.matching import Hidden, Shown

HARD = [
    # sold as another series than its own numbers: the shop has to say which
    (
        "board",
        "ASRock Z270 Killer SLI LGA1151 DDR4 ATX",
        "Z270 Killer SLI/ac",
        ("differs", "board.model.differs"),
        ("cannot tell", "board.model.against-its-number"),
    ),
    # firmware that names both siblings alike: the label tells of Wi-Fi
    (
        "board",
        "MSI Z690 MEG UNIFY WIFI LGA1700 DDR5 ATX",
        "MEG Z690 UNIFY (MS-7D28)",
        ("for a person", "board.model.wireless-by-label"),
        ("accepted", "board.part-number.conforms"),
    ),
    # a list that cut the number at its slash: the sibling's whole name
    (
        "board",
        "Asus A88X A88XM-A/USB 3.1 FM2+ DDR3 Micro ATX",
        "A88XM-A",
        ("cannot tell", "board.model.cannot-tell"),
        ("cannot tell", "board.part-number.cut-short"),
    ),
    # a row that joins boards of two makers
    (
        "board",
        "Gigabyte B450M GAMING AM4 DDR4 Micro ATX",
        "B450M Gaming",
        ("differs", "board.maker.differs"),
        ("differs", "board.maker.differs"),
    ),
    # two houses and one piece of a name
    (
        "storage",
        'AMD Radeon R3 120GB SSD 2.5" SATA 6.0 Gb/s',
        "GeIL ZENITH R3_120GB",
        ("cannot tell", "storage.model.cannot-tell"),
        ("cannot tell", "storage.part-number.not-shown"),
    ),
    # a record whose number is that of the sibling of another form
    (
        "storage",
        'Kingston KC600 256GB SSD 2.5" SATA 6.0 Gb/s',
        "KINGSTON SKC600MS256G",
        ("differs", "storage.form-factor.differs"),
        ("differs", "storage.form-factor.differs"),
    ),
    # one drive that two houses sold
    (
        "storage",
        'Western Digital Ultrastar DC HC520 12 TB 3.5" HDD 7200RPM SATA 6.0 Gb/s Internal',
        "HGST HUH721212ALN600",
        ("for a person", "storage.maker.sold-by-another"),
        ("accepted", "storage.part-number.conforms"),
    ),
    # a revision of the chips off; the record's name and number contradict each other
    (
        "memory",
        "SAMSUNG 8GB DDR4 PC4-21300 2666MHz 288 PIN UDIMM 1.2V CL 19 Desktop ram Memory Module"
        " M378A1K43DB2-CTD",
        "M378A1K43CB2-CTD",
        ("differs", "memory.model.differs"),
        ("accepted, a setting to fix", "memory.speed.not-set"),
    ),
    # a speed that no machine has
    (
        "memory",
        "Kingston KVR1333D3N9/4G Green DDR3-1333 CL9 4GB (1x4GB)",
        "KVR1333D3N9/4G",
        ("for a person", "memory.speed.read-setup"),
        ("for a person", "memory.speed.read-setup"),
    ),
    # the clock, or half of the speed: nothing tells which
    (
        "memory",
        "Corsair Vengeance LPX Black / Yellow DDR4-3200 CL16 256GB (8x32GB)",
        "CMK256GX4M8E3200C16",
        ("cannot tell", "memory.speed.half-of-rated"),
        ("cannot tell", "memory.speed.half-of-rated"),
    ),
]


@cache
def tables(names: Path, category: str) -> Table:
    return table_of(names, category)


@pytest.mark.parametrize(("category", "sold", "fitted", "hidden", "shown"), HARD, ids=[h[2] for h in HARD])
def test_a_hard_case(
    category: str,
    sold: str,
    fitted: str,
    hidden: tuple[str, str],
    shown: tuple[str, str],
    reference: Path,
) -> None:
    table = tables(reference / "names", category)
    pairs = [p for p in table.pairs if p.retail.name == sold and fitted in p.device.strings]
    assert pairs, "the tables have no such pair"
    for way, (word, code) in ((Hidden(), hidden), (Shown(), shown)):
        results = [outcome(way.line(table.category, p.retail), p.device) for p in pairs]
        assert any(r.word == word and code in {f.code for f in r.findings} for r in results), [
            (r.word, [f.code for f in r.findings]) for r in results
        ]
