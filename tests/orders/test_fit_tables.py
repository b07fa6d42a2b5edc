"""Tables of platforms: each row with its source, none against another, and against real names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bench import fit as bench
from shipworthy.model.catalogue import BoardFacts, CataloguePart, ProcessorFacts
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit import check_fit
from shipworthy.orders.fit.numbering import chipset, processor
from shipworthy.orders.fit.spelling import form_factor_of, socket_of
from shipworthy.orders.fit.tables import Knows, family_of, knows, mounts, seats, table
from tests.orders.test_fit_facts import an_order


@pytest.mark.parametrize("name", ["seats", "mounts", "support", "stated"])
def test_every_row_of_a_table_has_its_source(name: str) -> None:
    assert table(name)
    assert all(row["source"].startswith(("from memory", "common practice")) for row in table(name))


def test_every_single_table_has_its_source() -> None:
    assert all(table(name)["source"] for name in ("single", "registered", "nesting", "single_type"))


def test_sockets_and_form_factors_of_the_tables_are_in_their_one_spelling() -> None:
    sockets = [s for row in table("mounts") for s in row["sockets"]]
    sockets += [row["socket"] for row in table("support")] + table("single")["sockets"]
    sockets += [*table("registered")["never"], *table("registered")["always"], *table("single_type")["types"]]
    assert {s for s in sockets if socket_of(s) != s} == set()
    forms = {*table("sizes"), *table("nested"), *(f for row in table("nested").values() for f in row)}
    assert {f for f in forms if form_factor_of(f) != f} == set()


def test_no_row_contradicts_itself_or_another() -> None:
    seen: dict[tuple[str, str, str], str] = {}
    for row in table("support"):
        for chip in row["chipsets"]:
            for answer in ("start", "later", "never"):
                for family in row.get(answer, ()):
                    key = (row["socket"], chip, family)
                    assert key not in seen, key
                    seen[key] = answer
    assert len(seen) > 250


def test_a_larger_form_holds_only_smaller_ones() -> None:
    sizes = table("sizes")
    for large, small_ones in table("nested").items():
        for small in small_ones:
            assert sizes[small][0] <= sizes[large][0] and sizes[small][1] <= sizes[large][1], (large, small)


def test_answers_of_the_tables() -> None:
    told = knows("LGA1151", "Intel Z170", "Kaby Lake")
    assert told is not None and told.answer is Knows.LATER
    assert knows("LGA1151", "Z170", "Zen 4") is None
    assert knows("AM5", "B999", "Zen 4") is None
    assert family_of("Skylake-S", "Core i5-6500") == "Skylake"
    assert family_of("Skylake", "Xeon E3-1230 v5") == "Server: Skylake"
    assert family_of("Raphael", "EPYC 4344P") == "Server: Zen 4"  # boards for Ryzen may know it or not
    assert knows("AM5", "B650", "Server: Zen 4") is None
    assert seats("FM2", "FM2+").answer and not seats("FM2+", "FM2").answer


@pytest.mark.parametrize(
    ("socket", "chipset_of_board", "code_name", "answer"),
    [
        ("AM4", "B350", "Raven Ridge", Knows.LATER),  # a year younger than the board
        ("AM4", "B350", "Summit Ridge", Knows.FROM_THE_START),
        ("AM4", "B450", "Picasso", Knows.LATER),
        ("AM4", "B450", "Pinnacle Ridge", Knows.FROM_THE_START),
        ("AM4", "X570", "Renoir", Knows.LATER),
        ("AM4", "X570", "Matisse", Knows.FROM_THE_START),
        ("AM4", "B550", "Picasso", None),  # some makers of boards have it in their lists, most have not
        ("AM4", "B550", "Pinnacle Ridge", Knows.NEVER),
        ("AM5", "B650", "Phoenix", Knows.LATER),
        ("AM5", "B650", "Raphael", Knows.FROM_THE_START),
        ("AM5", "B850", "Phoenix", Knows.FROM_THE_START),
        ("LGA1851", "B860", "Lion Cove / Skymont", Knows.LATER),  # a core of two generations
        ("LGA1851", "B860", "Arrow Lake-S", Knows.FROM_THE_START),
    ],
)
def test_what_came_later_than_its_core_is_a_family_of_its_own(
    socket: str, chipset_of_board: str, code_name: str, answer: Knows | None
) -> None:
    told = knows(socket, chipset_of_board, family_of(code_name, ""))
    assert (told.answer if told else None) is answer


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("Core Ultra 7 270K Plus", "Arrow Lake Refresh"),
        ("Core Ultra 5 250KF Plus", "Arrow Lake Refresh"),
        ("Core Ultra 7 265K", "Arrow Lake"),
        ("Core Ultra 7 265K plus cooler", "Arrow Lake Refresh"),  # read wrongly, it warns and passes nothing
        ("Ryzen 7 8700G", "Phoenix"),
        ("Ryzen 7 7700", "Zen 4"),
    ],
)
def test_the_number_tells_what_came_later(text: str, family: str) -> None:
    found = processor(text)
    assert found is not None and found.family == family


def test_server_processors_are_never_taken_for_desktop_ones() -> None:
    """A Xeon of the Skylake family has the socket of Z170 boards, which do not start it."""
    told = knows("LGA1151", "Z170", family_of("Skylake", "Xeon E3-1230 v5"))
    assert told is not None and told.answer is Knows.NEVER


def test_mounts_by_list_by_holes_and_by_kit() -> None:
    assert mounts(("LGA 1155",), "LGA1200").answer is True  # type: ignore[union-attr]
    assert mounts(("AM4",), "AM5").answer is None  # type: ignore[union-attr]
    assert mounts(("AM4",), "LGA1700").answer is False  # type: ignore[union-attr]
    assert mounts(("AM4", "a new one"), "LGA1700") is None


# Against real names


def of_kind(reference: Path, category: Category) -> Iterator[CataloguePart]:
    parts = bench.parts_in(reference / "names")
    yield from parts[category]


def test_a_processors_number_tells_the_socket_of_its_record(reference: Path) -> None:
    told, other = 0, []
    for part in of_kind(reference, Category.PROCESSOR):
        found = processor(part.name)
        if found and isinstance(part.facts, ProcessorFacts):
            told += 1
            if socket_of(part.facts.socket) != found.socket:
                other.append((part.name, part.facts.socket))
    assert told > 150
    assert other == []


def test_a_boards_chipset_tells_the_socket_of_its_record(reference: Path) -> None:
    told, other = 0, []
    for part in of_kind(reference, Category.BOARD):
        found = chipset(part.name)
        if found and isinstance(part.facts, BoardFacts) and part.facts.socket:
            told += 1
            if socket_of(part.facts.socket) != found.socket:
                other.append((part.name, part.facts.socket))
    assert told > 1000
    assert other == []


def test_texts_alone_never_say_the_opposite_of_the_records(reference: Path) -> None:
    """What an order without a part list is told is less, and never the other way round."""
    parts = bench.parts_in(reference / "names")
    opposite = []
    decided = (Outcome.CONFORMS, Outcome.DIFFERS)
    for order, fit in bench.builds(parts, 200, 21):
        full = {(f.rule, f.lines): f.outcome for f in fit.findings}
        for finding in check_fit(order).findings:
            other = full.get((finding.rule, finding.lines))
            if finding.outcome in decided and other in decided and other is not finding.outcome:
                opposite.append((order.order_id, finding.rule))
    assert opposite == []


def test_a_class_of_towers_is_no_list_of_boards() -> None:
    def told(case: str) -> Outcome:
        order = an_order((Category.BOARD, "Marl E-ATX board"), (Category.CASE, case))
        (found,) = (f for f in check_fit(order).findings if f.rule == "board.form-factor")
        return found.outcome

    assert told("Brant ATX tower") is Outcome.CANNOT_TELL
    assert told("Brant Mini-ITX case") is Outcome.DIFFERS
