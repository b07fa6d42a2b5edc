"""Orders drafted from readings: natural texts, and nothing that the reading does not tell."""

from __future__ import annotations

import pytest

from shipworthy.model.base import Trouble
from shipworthy.model.orders import Order
from shipworthy.model.words import Absent, Aspect, PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from tests.compare import machines as m


def draft(*parts: m.Part) -> Order:
    return draft_order(m.machine(*parts), order_id="DRAFT", shop="Kestrel Desk", unit_id="KD-1")


def test_the_texts_read_as_a_shop_writes_them() -> None:
    order = draft(
        m.processor("Tarn C7 8-Core Processor", cores=8),
        m.module("A2"),
        m.module("B2"),
        m.drive(),
        m.drive(
            "pci:9",
            model="Quarrel Heron",
            size_bytes=2_000_398_934_016,
            interface="SATA",
            technology="spinning",
        ),
        m.part(PartKind.BOARD, "board", maker="Holloway", model="Holloway B6-Q", version="1.3"),
        m.part(PartKind.NETWORK, "pci:n", vendor_id="0x4b44", device_id="0x2500", speed_mbit_s=2500),
        m.part(PartKind.DISPLAY, "drm:1", model="Lindwall L27Q", width_px=2560, height_px=1440),
    )
    assert {line.line_id: line.text for line in order.lines} == {
        "processor": "Tarn C7 8-Core Processor, 8 cores",
        "board": "Holloway B6-Q rev 1.3",
        "memory": "32GB (2x16GB) DDR5-6000 memory",
        "storage-1": "Quarrel M2 1TB NVMe SSD",
        "storage-2": "Quarrel Heron 2TB SATA hard disk",
        "network": "Network adapter 4b44:2500 2500 Mbit/s",
        "display": "Lindwall L27Q display 2560x1440",
    }
    assert all(line.expectations == () for line in order.lines)


def test_equal_drives_are_one_line_with_a_quantity() -> None:
    order = draft(m.drive("pci:1"), m.drive("pci:2"))
    assert [(line.line_id, line.quantity) for line in order.lines] == [("storage", 2)]


def test_what_the_grammar_would_misread_is_given_as_data() -> None:
    (line,) = draft(m.drive(model="Quarrel 500GB Edition", size_bytes=1_000_204_886_016)).lines
    assert [(e.aspect.value, e.want) for e in line.expectations] == [("capacity", 1_000_204_886_016)]
    (line,) = with_expectations(draft(m.drive(model="Quarrel 500GB Edition"))).lines
    assert sum(e.aspect.value == "capacity" for e in line.expectations) == 1


def test_a_stick_of_the_bench_is_in_no_draft() -> None:
    assert [line.category.value for line in draft(m.processor(), m.drive(interface="USB")).lines] == [
        "processor"
    ]


@pytest.mark.parametrize(
    ("usable_gib", "text"),
    [(23.5, "24GB memory"), (15.4, "16GB memory"), (9.2, "10GB memory"), (504.9, "512GB memory")],
)
def test_without_modules_the_total_is_what_the_usable_memory_comes_from(usable_gib: float, text: str) -> None:
    assert draft(m.memory(int(usable_gib * m.GIB))).lines[0].text == text


@pytest.mark.parametrize("usable_gib", [3.8, 5.77, 13.4, 20.9])
def test_a_total_that_is_not_the_only_one_is_not_guessed(usable_gib: float) -> None:
    order = draft(m.processor(), m.memory(int(usable_gib * m.GIB)))
    assert [line.category.value for line in order.lines] == ["processor"]


@pytest.mark.parametrize(
    ("real_mib", "text"), [(8192, "8GB memory"), (65_534, "64GB memory"), (6656, ""), (8678, "")]
)
def test_what_a_kernel_counts_is_the_total_unless_there_are_holes_in_it(real_mib: int, text: str) -> None:
    usable = int(5.77 * m.GIB)
    part = m.part(PartKind.MEMORY, "memory", usable_bytes=usable, real_bytes=real_mib << 20)
    order = draft(m.processor(), part)
    assert [line.text for line in order.lines[1:]] == [text][: len(order.lines) - 1]
    assert (len(order.lines) == 2) is bool(text)


def test_a_speed_that_the_part_number_contradicts_is_left_open() -> None:
    kit = m.module("A2", maker="Corsair", part_number="CMK32GX5M2B6000C36", configured_speed_mt_s=4800)
    (line,) = with_expectations(draft(kit)).lines
    assert line.wanted(Aspect.SPEED) is None and line.wanted(Aspect.TECHNOLOGY) is not None
    as_sold = m.module("A2", maker="Corsair", part_number="CMK32GX5M2B6000C36", configured_speed_mt_s=6000)
    (line,) = with_expectations(draft(as_sold)).lines
    assert line.wanted(Aspect.SPEED) is not None


def test_modules_of_which_a_line_would_say_the_same_are_on_one_line() -> None:
    odd = m.module("A2", type="Other"), m.module("B2", type=Absent.NOT_OFFERED)
    (line,) = with_expectations(draft(*odd)).lines
    count = line.wanted(Aspect.COUNT)
    assert count is not None and count.want == 2


def test_a_module_that_cannot_be_read_makes_no_line_of_its_own() -> None:
    order = draft(m.module("A2"), m.module("B2", size_bytes=Absent.NOT_READABLE), m.memory(31 * m.GIB))
    assert [line.text for line in order.lines] == ["32GB memory"]


def test_a_reading_of_nothing_is_trouble() -> None:
    with pytest.raises(Trouble, match="no part"):
        draft()
