"""Looking up: numbers in any spelling, names in any order, and never a sibling for the part."""

from __future__ import annotations

import random

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.base import digest_of
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.catalogue_used import Decided, LookedUpBy
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import index_bytes, index_from, indexed
from shipworthy.orders.catalogue.lookup import Catalogue, Found
from shipworthy.orders.catalogue.numbers import gtin_key, number_key
from tests.orders import catalogue_samples as samples

LIST = samples.catalogue()


def ids(found: Found) -> list[str]:
    return [candidate.part.part_id for candidate in found.candidates]


def one(found: Found) -> str | None:
    return None if found.part is None else found.part.part_id


# Numbers


@pytest.mark.parametrize(
    "said", ["FQ5-60-8X", "fq5 60 8x", "FQ5608X", " FQ5\u201160\u20138X ", "ＦＱ５-60-8X"]
)
def test_a_part_number_is_found_in_any_spelling(said: str) -> None:
    found = LIST.by_number(said)
    assert (one(found), found.by) == ("fennec-quiet-16", LookedUpBy.PART_NUMBER)


@pytest.mark.parametrize("said", ["FQ5-60-8", "FQ5-60-8XX", "FQ5/60/8X", "", "---", "8X"])
def test_a_part_number_that_is_nearly_one_is_none(said: str) -> None:
    assert LIST.by_number(said).decided is Decided.NONE


def test_a_part_number_of_several_parts_gives_them_all() -> None:
    found = LIST.by_number("FQ5 SHARED")
    assert (found.decided, ids(found)) == (Decided.SEVERAL, ["fennec-quiet-32", "fennec-quiet-64"])


def test_a_number_is_looked_for_in_its_category() -> None:
    assert LIST.by_number("QM2X-1T0", Category.STORAGE).decided is Decided.ONE
    assert LIST.by_number("QM2X-1T0", Category.BOARD).decided is Decided.NONE


@pytest.mark.parametrize("said", ["2000000000015", "02000000000015", "2 000000 000015"])
def test_a_gtin_is_one_in_all_its_lengths(said: str) -> None:
    assert one(LIST.by_gtin(said)) == "fennec-quiet-16"


def test_twelve_digits_are_thirteen_with_a_zero() -> None:
    assert gtin_key("400000000015") == gtin_key("0400000000015") == gtin_key("00400000000015") != ""


@pytest.mark.parametrize(
    "said", ["2000000000016", "200000000001", "20000000000151", "", "abc", "２００００００００００１５"]
)
def test_a_gtin_with_a_wrong_check_digit_or_length_is_none(said: str) -> None:
    assert gtin_key(said) == ""
    assert LIST.by_gtin(said).decided is Decided.NONE


@given(st.text(max_size=60))
def test_a_number_key_is_the_same_however_it_is_spaced(text: str) -> None:
    assert number_key(text) == number_key(f" {text}- ")
    assert number_key(number_key(text)) == number_key(text)


# Names


@pytest.mark.parametrize("part", samples.PARTS, ids=lambda part: part.part_id)
def test_a_name_of_the_list_is_found_in_any_order_of_its_words(part: CataloguePart) -> None:
    words = part.name.split()
    for seed in range(5):
        random.Random(seed).shuffle(words)
        assert one(LIST.by_name(" ".join(words), part.category)) == part.part_id, words


@pytest.mark.parametrize(
    ("said", "category", "part_id"),
    [
        ("Quiet 16GB (2x8GB) DDR5-6000", Category.MEMORY, "fennec-quiet-16"),  # no maker
        ("Fennec Quiet 2 x 8 GB DDR5 6000 MHz 16 GB kit", Category.MEMORY, "fennec-quiet-16"),
        ("Marlin Core 7 7600K 8-core LGA1700 desktop processor", Category.PROCESSOR, "marlin-7600"),
        ("Marlin® Core™ 7-7600K (16 threads)", Category.PROCESSOR, "marlin-7600"),
        ("Ibis B660M Terrace WIFI", Category.BOARD, "ibis-b660"),  # socket and form follow from the model
        ("Ibis Terrace B660M 2nd edition", Category.BOARD, "ibis-b660"),  # its other name
        ("Quarrel M2X NVMe SSD 1000GB PCIe 4.0 x4", Category.STORAGE, "quarrel-1tb"),
        ("Sandpiper Breeze Heron HX 680 16 GB graphics card", Category.GRAPHICS, "heron-680"),
        ("sandpiper breeze heron hx680 16gb white", None, "heron-680-white"),
    ],
)
def test_what_says_the_same_in_other_words_is_the_part(said: str, category: Category, part_id: str) -> None:
    assert one(LIST.by_name(said, category)) == part_id


@pytest.mark.parametrize(
    "said",
    [
        "Sandpiper Breeze Heron HX 670 12GB",  # the list has the 670 Ti alone
        "Sandpiper Breeze Heron HX 670 SUPER 12GB",
        "Sandpiper Breeze Heron HX 680 Ti 16GB",
        "Sandpiper Breeze Heron HX 680 8GB",
        "Sandpiper Breeze Heron HX 690 16GB",
        "Marlin Core 7 7600",
        "Marlin Core 7 7600KF",
        "Marlin Core 5 7600K",
        "Marlin Core 7 17600K",
        "Quarrel M2X 2TB NVMe SSD",
        "Quarrel M2 1TB NVMe SSD PCIe 4.0 x4",  # the x of x4 is not that of M2X
        "Fennec Quiet 16GB (2x8GB) DDR5-6400",
        "Fennec Quiet 16GB (2x8GB) DDR4-6000",
        "Fennec Quiet 16GB (1x16GB) DDR5-6000",
        "Ibis B660M Terrace",
        "Ibis B660 Terrace WIFI",
        "Ibis B660M Terrace WIFI AM5",
        "Ibis B660M Terrace WIFI LGA1700-3 Micro ATX",
        "Samsung Breeze Heron HX 680 16GB",  # a maker that is known, and another one
        "",
        "   ",
        "()",
    ],
)
def test_a_sibling_is_never_taken_for_the_part(said: str) -> None:
    found = LIST.by_name(said)
    assert found.decided is not Decided.ONE, ids(found)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("Ibis Z97 Terrace DDR3 ATX", "Ibis Z97 Terrace 3 DDR3 ATX"),  # the 3 of DDR3 is another
        ('Quarrel Disk 4TB 4.5" 5900 rpm', 'Quarrel Disk 4TB 3.5" 5900 rpm'),
        ("Ibis X99 LGA2011-4 DDR4", "Ibis X99 LGA2011-3 DDR4"),
    ],
)
def test_a_lone_number_is_not_part_of_another(said: str, name: str) -> None:
    for category in (Category.BOARD, Category.STORAGE):
        part = CataloguePart(part_id="x", category=category, maker="Ibis", name=name)
        assert samples.catalogue([part]).by_name(said, category).decided is not Decided.ONE
        assert samples.catalogue([part]).by_name(name, category).decided is Decided.ONE


def test_a_lone_number_may_have_grown_together_with_its_neighbour() -> None:
    part = CataloguePart(
        part_id="x", category=Category.BOARD, maker="Ibis", name="Ibis Z97 Terrace 3 DDR3 ATX"
    )
    whole = samples.catalogue([part])
    for said in ("Terrace3 Z97 DDR3 ATX", "Z97 Terrace-3 ATX DDR3", "Ibis Z97 Terrace 3 DDR3"):
        assert one(whole.by_name(said, Category.BOARD)) == "x", said


def test_what_leaves_the_size_open_may_be_several() -> None:
    found = LIST.by_name("Fennec Quiet DDR5-6000", Category.MEMORY)
    assert found.decided is Decided.SEVERAL
    assert set(ids(found)) == {"fennec-quiet-16", "fennec-quiet-32", "fennec-quiet-64"}


def test_one_that_is_left_is_asked_for_and_not_guessed() -> None:
    found = LIST.by_name("Quarrel NVMe SSD 1TB", Category.STORAGE)
    assert (found.decided, ids(found)) == (Decided.SEVERAL, ["quarrel-1tb"])


def test_where_none_is_it_the_nearest_are_shown_as_others() -> None:
    found = LIST.by_name("Sandpiper Breeze Heron HX 670 12GB", Category.GRAPHICS)
    assert (found.decided, ids(found)[0]) == (Decided.NONE, "heron-670-ti")


def test_two_records_of_one_name_are_several() -> None:
    twin = msgspec.structs.replace(samples.CORE, part_id="marlin-7600-tray", part_numbers=("MC7-7600K-TRAY",))
    found = samples.catalogue((*samples.PARTS, twin)).by_name(samples.CORE.name)
    assert (found.decided, ids(found)) == (Decided.SEVERAL, ["marlin-7600", "marlin-7600-tray"])


def test_a_word_more_in_the_text_leaves_it_open() -> None:
    assert LIST.by_name("Quarrel M2X 1TB NVMe SSD pearl", Category.STORAGE).decided is Decided.SEVERAL


def test_a_name_is_looked_for_in_its_category() -> None:
    assert LIST.by_name(samples.CORE.name, Category.BOARD).decided is Decided.NONE
    assert LIST.by_name("anything at all", Category.CABLE).decided is Decided.NONE


@given(st.text(max_size=200))
def test_no_text_breaks_a_look_up(text: str) -> None:
    for category in (None, *Category):
        found = LIST.by_name(text, category)
        assert len(found.candidates) <= 8
        assert (found.part is not None) == (found.decided is Decided.ONE)


def test_an_empty_list_answers_none() -> None:
    empty = samples.catalogue(())
    assert len(empty) == 0
    assert empty.by_name("Fennec Quiet").decided is Decided.NONE
    assert empty.by_number("FQ5-60-8X").decided is Decided.NONE
    assert empty.part("fennec-quiet-16") is None


# The index


def test_a_list_that_is_kept_answers_as_one_that_is_new() -> None:
    kept = index_from(index_bytes(indexed(samples.PARTS, digest_of(b"x"))), digest_of(b"x"))
    assert kept is not None
    again = Catalogue(kept)
    for part in samples.PARTS:
        assert again.part(part.part_id) == part
        assert one(again.by_name(part.name)) == part.part_id


def test_an_index_of_another_list_or_version_or_a_damaged_one_is_none() -> None:
    data = index_bytes(indexed(samples.PARTS, digest_of(b"x")))
    assert index_from(data, digest_of(b"y")) is None
    for place in range(0, len(data), 97):
        assert (
            index_from(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :], digest_of(b"x")) is None
        )
    assert index_from(data[:-1], digest_of(b"x")) is None
    assert index_from(b"", digest_of(b"x")) is None
    old = indexed(samples.PARTS, digest_of(b"x"))
    old.layout = "another version"
    assert index_from(index_bytes(old), digest_of(b"x")) is None
