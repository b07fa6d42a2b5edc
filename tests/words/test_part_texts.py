"""The grammar of part texts: what a shop writes, and what it means."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.words import Category
from shipworthy.words.counts import (
    find_cores,
    find_diagonals,
    find_pci_ids,
    find_resolutions,
    find_revisions,
)
from shipworthy.words.kinds import (
    find_colours,
    find_interfaces,
    find_memory_types,
    find_pci_links,
    find_technologies,
)
from shipworthy.words.makers import maker_key, without_maker
from shipworthy.words.marketed import bytes_by_rule, is_marketed_as, marketed_gb
from shipworthy.words.models import model_text
from shipworthy.words.sizes import Base, find_kits, find_sizes, size_text
from shipworthy.words.speeds import find_memory_speeds, find_network_speeds

GIB = 2**30


@pytest.mark.parametrize(
    ("text", "base", "size_bytes"),
    [
        ("1TB", Base.DECIMAL, 10**12),
        ("1 TB", Base.DECIMAL, 10**12),
        ("1.92TB", Base.DECIMAL, 1_920_000_000_000),
        ("1,5 TB", Base.DECIMAL, 1_500_000_000_000),
        ("1,000GB", Base.DECIMAL, 10**12),
        ("256GiB", Base.DECIMAL, 256 * GIB),
        ("32GB", Base.BINARY, 32 * GIB),
        ("32 gb", Base.BINARY, 32 * GIB),
        ("512MB", Base.BINARY, 512 * 2**20),
        ("16G", Base.BINARY, 16 * GIB),
        ("16 Go", Base.BINARY, 16 * GIB),
        ("2 To", Base.DECIMAL, 2 * 10**12),
        ("1 Tio", Base.DECIMAL, 2**40),
    ],
)
def test_a_size_has_the_base_of_its_trade_unless_it_names_one(text: str, base: Base, size_bytes: int) -> None:
    (size,) = find_sizes(text, base)
    assert (size.size_bytes, size.words) == (size_bytes, text)


@pytest.mark.parametrize(
    "text", ["6 Gb/s", "6Gbps", "DDR5-6000", "2.5GbE", "M.2-2280", "16GX4", "A4GB1", "2 to", "1 To 2"]
)
def test_what_only_looks_like_a_size_is_none(text: str) -> None:
    assert find_sizes(text, Base.DECIMAL) == ()


@pytest.mark.parametrize("text", ["2x16GB", "2 x 16 GB", "(2×16GB)", "16GB x2", "2x 16GB DDR5", "2 x 16 Go"])
def test_a_kit_is_so_many_modules_of_a_size(text: str) -> None:
    (kit,) = find_kits(text)
    assert (kit.count, kit.module_bytes) == (2, 16 * GIB)


def test_a_kit_may_only_give_its_number() -> None:
    (kit,) = find_kits("32GB kit of 2")
    assert (kit.count, kit.module_bytes) == (2, None)
    assert [size.size_bytes for size in find_sizes("32GB kit of 2", Base.BINARY)] == [32 * GIB]


def test_the_modules_of_a_kit_are_not_among_the_sizes() -> None:
    assert [size.words for size in find_sizes("32GB (2x16GB)", Base.BINARY)] == ["32GB"]


@pytest.mark.parametrize("text", ["8GB 1Rx8", "8GB 2Rx4"])
def test_the_ranks_of_a_module_are_no_kit(text: str) -> None:
    assert find_kits(text) == ()


@pytest.mark.parametrize("text", ["DDR5-6000", "DDR5 6000", "6000MHz", "6000 MT/s", "6000MT/s", "PC5-48000"])
def test_one_speed_has_many_spellings(text: str) -> None:
    assert [speed.speed_mt_s for speed in find_memory_speeds(text)] == [6000]


def test_module_names_mean_the_rates_of_the_standard(reference: Path) -> None:
    """JEDEC JESD79: PC3-10600 is 1333 MT/s over eight bytes, rounded."""
    with (reference / "check-values/ddr-bandwidth.csv").open() as file:
        for row in csv.DictReader(file):
            wanted = int(row["MT_per_s"])
            assert [s.speed_mt_s for s in find_memory_speeds(row["module_name"])] == [wanted]
            assert [s.speed_mt_s for s in find_memory_speeds(row["name"])] == [wanted]


@pytest.mark.parametrize(
    ("text", "mbit_s"),
    [("2.5GbE", 2500), ("10GBASE-T", 10_000), ("Gigabit", 1000), ("1000 Mbit/s", 1000), ("10 Gb/s", 10_000)],
)
def test_network_speeds_are_counted_in_mbit_s(text: str, mbit_s: int) -> None:
    assert [speed.speed_mbit_s for speed in find_network_speeds(text)] == [mbit_s]


def test_kinds_are_told_by_the_words_of_the_trade() -> None:
    text = "Quarrel M2 1TB NVMe SSD, PCIe 4.0 x4, gray"
    assert {word.meaning for word in find_technologies(text)} == {"solid state"}
    assert [word.meaning for word in find_interfaces(text)] == ["NVMe"]
    assert [(link.generation, link.width) for link in find_pci_links(text)] == [(4, 4)]
    assert [word.meaning for word in find_colours(text)] == ["grey"]
    assert [word.meaning for word in find_technologies("4TB HDD 7200RPM")] == ["spinning", "spinning"]
    assert [word.meaning for word in find_memory_types("DDR5-6000 and LPDDR5X")] == ["DDR5", "LPDDR5X"]


def test_counts_revisions_ids_and_screens_are_read() -> None:
    assert [count.count for count in find_cores("8-Core")] == [8]
    assert [count.count for count in find_cores("a six core processor")] == [6]
    assert [found.revision for found in find_revisions("Holloway B6-Q (rev. 1.3)")] == ["1.3"]
    assert find_revisions("Holloway B6-Q V2") == ()
    assert [(i.vendor, i.device) for i in find_pci_ids("Network adapter 8086:15F3")] == [("8086", "15f3")]
    screen = 'Lindwall L27Q 27" 2560x1440'
    assert [found.inches for found in find_diagonals(screen)] == [27]
    assert [(r.width_px, r.height_px) for r in find_resolutions(screen)] == [(2560, 1440)]
    assert [(r.width_px, r.height_px) for r in find_resolutions("1440p")] == [(2560, 1440)]


def test_every_find_keeps_the_words_it_came_from_and_where_they_stand() -> None:
    text = "Fennec Quiet 16GB (2x8GB) DDR5-6000"
    finds = [*find_kits(text), *find_sizes(text, Base.BINARY), *find_memory_speeds(text)]
    assert len(finds) == 3
    assert all(text[find.start : find.end] == find.words for find in finds)


@pytest.mark.parametrize(
    ("text", "category", "model"),
    [
        ("Tarn C7-S 8-Core Processor @ 4.20GHz", Category.PROCESSOR, "Tarn C7-S"),
        ("Tarn(R) Core(TM) i7-7700K CPU @ 4.20GHz", Category.PROCESSOR, "Tarn Core i7-7700K"),
        ("Quarrel M2 1TB NVMe SSD", Category.STORAGE, "Quarrel M2"),
        ('Quarrel Q7 Pro 2TB 2.5" SATA 6.0 Gb/s SSD', Category.STORAGE, "Quarrel Q7 Pro"),
        ("Holloway B6-Q board, rev 1.3, Micro ATX", Category.BOARD, "Holloway B6-Q"),
        ("Lindwall L27Q 27 inch display, 2560x1440", Category.DISPLAY, "Lindwall L27Q"),
        ("Sable 210 12GB GDDR6 graphics card", Category.GRAPHICS, "Sable 210"),
        ("Tarn C7-S, 8x 3.90GHz, boxed ohne Kühler", Category.PROCESSOR, "Tarn C7-S"),
        ("Tarn C7-S, 2,50-4,70 GHz, tray", Category.PROCESSOR, "Tarn C7-S"),
        ("Tarn 5600X 3.6GHz", Category.PROCESSOR, "Tarn 5600X"),  # no count of cores: the model's own letter
        ("Tarn C7 8X", Category.PROCESSOR, "Tarn C7 8X"),
        ("Quarrel M2 1TB M.2 NVMe mit Kühlkörper", Category.STORAGE, "Quarrel M2"),
        ("Quarrel M2 1 TB NVMe avec dissipateur", Category.STORAGE, "Quarrel M2"),
        ("Mobo: Holloway B6-Q", Category.BOARD, "Holloway B6-Q"),
        ("Sable 210 12GB Grafikkarte, schwarz", Category.GRAPHICS, "Sable 210"),
        ("Sable Weissach 210", Category.GRAPHICS, "Sable Weissach 210"),
    ],
)
def test_the_model_is_what_the_grammar_leaves(text: str, category: Category, model: str) -> None:
    assert model_text(text, category) == model


def test_makers_are_the_same_however_spelled() -> None:
    assert maker_key("ASUSTeK COMPUTER INC.") == maker_key("Asus") == "asus"
    assert maker_key("Micro-Star International Co., Ltd.") == maker_key("MSI")
    assert maker_key("Western Digital") == maker_key("WDC")
    assert without_maker("Holloway B6-Q", "Holloway Boards") == "B6-Q"
    assert without_maker("Holloway B6-Q") == "Holloway B6-Q"


def test_marketed_sizes_have_the_block_counts_of_the_makers_agreement(reference: Path) -> None:
    """IDEMA LBA1-03 (SFF-8447)."""
    with (reference / "check-values/storage-lba.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 18
    for row in rows:
        sold_gb, size_bytes = int(row["marketed_GB"]), int(row["bytes_512"])
        assert bytes_by_rule(sold_gb) == size_bytes
        assert marketed_gb(size_bytes) == sold_gb
        assert is_marketed_as(size_bytes, sold_gb * 10**9)
    sizes = sorted(int(row["marketed_GB"]) for row in rows)
    alike = {(1000, 1024), (2000, 2048), (4000, 4096)}  # one TB of either kind
    for smaller, larger in itertools.pairwise(sizes):
        assert not is_marketed_as(bytes_by_rule(smaller), larger * 10**9)
        assert is_marketed_as(bytes_by_rule(larger), smaller * 10**9) == ((smaller, larger) in alike)


def test_the_largest_drives_fall_short_of_the_rule_and_are_sold_all_the_same() -> None:
    assert is_marketed_as(16_000_900_661_248, 16 * 10**12)
    assert is_marketed_as(10_000_831_348_736, 10 * 10**12)


@given(st.integers(min_value=10 * 10**9, max_value=30 * 10**12))
def test_a_written_size_means_the_size_it_was_written_for(size_bytes: int) -> None:
    (read,) = find_sizes(size_text(size_bytes, Base.DECIMAL), Base.DECIMAL)
    assert is_marketed_as(size_bytes, read.size_bytes)


@given(st.text(max_size=80))
def test_no_text_breaks_the_grammar(text: str) -> None:
    finders = (find_memory_speeds, find_network_speeds, find_technologies, find_interfaces, find_memory_types)
    for finder in (*finders, find_cores, find_revisions, find_pci_ids, find_diagonals, find_resolutions):
        assert all(text[find.start : find.end] == find.words for find in finder(text))
    for category in Category:
        model_text(text, category)
