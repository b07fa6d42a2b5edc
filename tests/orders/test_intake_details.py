"""What stands below a part: its words, its count, its contents; and a bundle's parts."""

from __future__ import annotations

import pytest

from shipworthy.model.intake import Became, Intake
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source


def imported(text: str) -> Intake:
    return import_source(text.encode(), "order.txt", Wanted()).intake


def sold(text: str) -> list[tuple[int, str, str]]:
    order = imported(text).order
    return [(line.quantity, line.text, line.category.value) for line in order.lines] if order else []


def codes(text: str) -> list[str]:
    return [note.code.removeprefix("intake.") for row in imported(text).rows for note in row.notes]


DRIVE = "Osier N40 2TB                128.50\n"


def test_a_name_that_is_broken_over_rows_is_one_part() -> None:
    text = DRIVE + "   NVMe SSD, M.2 2280,\n   PCIe 4.0 x4\n"
    assert sold(text) == [(1, "Osier N40 2TB, NVMe SSD, M.2 2280, PCIe 4.0 x4", "storage")]
    assert [row.became for row in imported(text).rows] == [Became.LINE, Became.JOINED, Became.JOINED]


def test_a_price_at_the_end_of_a_broken_name_is_the_parts_price() -> None:
    text = "Corrie GeForce RTX 4070 Twin OC\n   graphics card, 12GB      559.00\n"
    assert sold(text) == [(1, "Corrie GeForce RTX 4070 Twin OC graphics card, 12GB", "graphics")]


def test_words_below_tell_what_a_part_is() -> None:
    assert sold("Osprey Fold 2      89.00\n   Micro ATX case, black\n") == [
        (1, "Osprey Fold 2, Micro ATX case, black", "case")
    ]
    assert codes("Osprey Fold 2      89.00\n   Micro ATX case, black\n") == []
    fans = "   3 x 120 mm fans pre-installed\n"
    assert sold(f"Osprey Fold 2      89.00\n   Micro ATX case\n{fans}")[0][2] == "case"
    assert codes(f"Osprey Fold 2      89.00\n{fans}") != []


def test_rows_with_a_price_or_a_count_of_their_own_are_parts_of_their_own() -> None:
    assert len(sold(DRIVE + "   Tern 120 mm fan   9.00\n")) == 2
    assert len(sold(DRIVE + "   2 x Tern 120 mm fan   9.00\n")) == 2
    assert len(sold(DRIVE + "2. Tern 120 mm fan\n")) == 2
    assert len(sold("  1 x Ryzen 9 9900X\n 10 x Tern 120 mm fan\n100 x Screws M3\n  2 x SSD 1TB\n")) == 4


@pytest.mark.parametrize(
    ("below", "count"),
    [("Qty: 3", 3), ("x3   33.00", 3), ("\t3\t33.00", 3), ("3 pcs", 3), ("× 1   9.00", 1)],
)
def test_a_count_in_a_row_of_its_own_is_the_parts(below: str, count: int) -> None:
    assert sold(f"Tern 120 mm fan\n{below}\n") == [(count, "Tern 120 mm fan", "fan")]
    assert codes(f"Tern 120 mm fan\n{below}\n") == []


def test_a_count_behind_a_label_of_no_use_is_not_lost_with_it() -> None:
    """Cells of a shop's page, pasted: the count stands in the row of the lead time."""
    text = "Tern 140 mm fan\nLieferzeit: sofort     14,90 €     3     44,70 €\n"
    assert sold(text) == [(3, "Tern 140 mm fan", "fan")]
    assert imported(text).rows[1].left_out == ("price", "shop's own number")
    assert sold("Unknown thing\n     79,00 €     1     79,00 €\n") == [(1, "Unknown thing", "accessory")]


def test_a_bare_number_below_a_part_is_asked_about_and_one_below_a_counted_part_adds_nothing() -> None:
    assert sold("Tern 120 mm fan\n3\n") == [(3, "Tern 120 mm fan", "fan")]
    assert codes("Tern 120 mm fan\n3\n") == ["quantity-or-position"]
    assert sold("2x Tern 120 mm fan\n3   9.00\n")[0] == (2, "Tern 120 mm fan", "fan")


CASE = "* Osprey Nook case     89.00\n"


def test_what_comes_with_a_part_is_in_its_text_and_no_line() -> None:
    text = CASE + "    - 3 x 120 mm fans pre-installed\n    - glass side\n"
    assert sold(text) == [(1, "Osprey Nook case, 3 x 120 mm fans pre-installed, glass side", "case")]


def test_a_part_below_a_part_of_another_kind_is_a_line_and_a_question() -> None:
    text = CASE + "    - 3 x Tern 120 mm fan\n"
    assert sold(text)[1] == (3, "Tern 120 mm fan", "fan")
    assert codes(text) == ["part-or-content"]


def test_the_modules_of_a_kit_are_in_its_text() -> None:
    text = "* Fennec Quiet memory kit DDR5-6000    99.00\n    - 2 x 16GB modules\n"
    assert sold(text) == [(1, "Fennec Quiet memory kit DDR5-6000, 2 x 16GB modules", "memory")]


BUNDLE = "* Starter bundle, AM5    489.00\n"
PARTS = "    - AMD Ryzen 5 9600X\n    - Fennec 32GB (2x16GB) DDR5-6000\n"


def test_a_bundle_is_the_heading_of_its_parts() -> None:
    intake = imported(BUNDLE + PARTS)
    assert intake.rows[0].became is Became.NO_PART and intake.rows[0].left_out == ("price",)
    assert [line[2] for line in sold(BUNDLE + PARTS)] == ["processor", "memory"]
    assert codes(BUNDLE + PARTS) == []


def test_a_bundle_of_unknown_contents_and_a_kit_that_is_one_part_stay_lines() -> None:
    assert len(sold(BUNDLE)) == 1 and codes(BUNDLE) != []
    assert len(sold(BUNDLE + "    - AMD Ryzen 5 9600X\n")) == 2
    kit = "* Tern fan kit    29.00\n    - Tern hub, 4 ports\n    - Ryzen 7 9700X\n"
    assert imported(kit).rows[0].became is Became.LINE


def test_what_is_said_of_a_configurators_line_at_the_margin_is_asked_about() -> None:
    text = "Case: Osprey Fold 2\nColour: white\nWarranty: 3 years\n"
    assert sold(text) == [(1, "Osprey Fold 2, Colour: white", "case"), (1, "Warranty: 3 years", "service")]
    assert codes(text) == ["joined-maybe"]


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ("Second drive: Osier N80 4TB M.2 NVMe", (1, "Osier N80 4TB M.2 NVMe", "storage")),
        ("Case fan (front): 2 x Tern 140", (2, "Tern 140", "fan")),
        ("Cable sleeves: grey", (1, "Cable sleeves: grey", "accessory")),
        ("Fan curve silent", (1, "Fan curve silent", "service")),
        ("Assembly: yes", (1, "Assembly", "service")),
        ("Wi-Fi card    yes", (1, "Wi-Fi card", "network")),
        ("WLAN: ja, Wi-Fi 6E", (1, "WLAN: ja, Wi-Fi 6E", "network")),
        ("Customisation: lid painted red", (1, "lid painted red", "customisation")),
        ("Mémoire : 32 Go (2 x 16 Go) DDR5-6000", (1, "32 Go (2 x 16 Go) DDR5-6000", "memory")),
    ],
)
def test_a_label_tells_what_it_is_and_stays_where_it_says_more(row: str, line: tuple[int, str, str]) -> None:
    assert sold(row) == [line]


@pytest.mark.parametrize(
    "row",
    ["Third drive: none", "Optical drive: not selected", "Wireless: onboard", "Graphics: integrated",
     "DVD drive    not included", "Disque dur : aucun", "Sans système d'exploitation", "Lighting: off",
     "GPU: keine (iGPU reicht)", "- OS none", "GPU      none, the processor has graphics"],
)  # fmt: skip
def test_what_is_not_wanted_is_told_and_no_line(row: str) -> None:
    (told,) = imported(row).rows
    assert told.became is Became.NO_PART and told.words


@pytest.mark.parametrize(
    ("row", "count", "text"),
    [
        ("Osier N80 2TB NVMe drive - two of these", 2, "Osier N80 2TB NVMe drive"),
        ("Osier D7 4TB hard disk, a pair", 2, "Osier D7 4TB hard disk"),
        ("Tern 140 mm fans (four)", 4, "Tern 140 mm fans"),
        ("Tern 140 mm fan, three pcs", 3, "Tern 140 mm fan"),
        ("Fennec 32GB DDR5-6000, one kit", 1, "Fennec 32GB DDR5-6000"),
        ("deux ventilateurs Tern", 2, "ventilateurs Tern"),
        ("Tern fan Model Ten", 1, "Tern fan Model Ten"),
        ("Boîtier Osprey (neuf)", 1, "Boîtier Osprey (neuf)"),
    ],
)
def test_a_count_in_words_stands_before_or_behind(row: str, count: int, text: str) -> None:
    assert sold(row)[0][:2] == (count, text)


def test_several_parts_in_one_row_are_asked_about() -> None:
    row = "SSD: 1x Osier N80 2 TB, 1x Osier N80 4 TB"
    assert len(sold(row)) == 1 and codes(row) == ["several-parts"]
    assert codes("1x Case with fans, 2x 120 mm and 1x 140 mm") == []
    assert codes("1 x Fennec 32GB, 2 x 16GB DDR5-6000 memory") == []


def test_a_whole_computer_is_the_heading_of_the_parts_below_it() -> None:
    text = (
        "Glade gaming PC    1,899.00\n  CPU: Ryzen 7 7700X\n  RAM: 32GB (2x16GB) DDR5-6000\n  Window: none\n"
    )
    assert imported(text).rows[0].became is Became.NO_PART
    assert [line[2] for line in sold(text)] == ["processor", "memory"]


def test_numbers_in_brackets_go_where_they_belong() -> None:
    order = imported("Tern fan (#TQ120)\nOsier 2TB SSD (SKU: 88213)\nFennec DDR5 RAM [MPN: F5-32X]\n").order
    assert order is not None
    assert [line.text for line in order.lines] == ["Tern fan", "Osier 2TB SSD", "Fennec DDR5 RAM"]
    assert [line.part_number for line in order.lines] == ["", "", "F5-32X"]
    assert sold("Windows 11 Pro (64-bit)") == [(1, "Windows 11 Pro (64-bit)", "system software")]
