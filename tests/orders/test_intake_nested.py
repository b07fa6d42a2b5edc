"""Nested JSON by a mapping: paths into lists, fixed values, conditions, and nothing that goes by unread."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from shipworthy.model.base import Trouble, encode
from shipworthy.model.intake import Became, Intake
from shipworthy.model.mapping import Mapping
from shipworthy.model.words import Category
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source
from shipworthy.orders.intake.mapping import read_mapping
from shipworthy.orders.intake.nested import steps_of

MAPPING = """
ignore = ["meta"]

[order_at]
order_id = "order.number"
shop = "order.seller"
units = "order.machines[].id"
due = "order.ship_by"
customer_reference = "order.buyer.ref"

[[lines]]
at = "order.items[]"
where = { path = "kind", equals = "goods" }
text = ["title", "options[].value"]
quantity = "count"
category = "group.name"
maker = "brand"
part_number = "codes.mpn"
gtin = "codes.ean"

[[lines]]
at = "order.items[]"
where = { path = "kind", equals = "card" }
leave_out = true

[[lines]]
at = "order.work[]"
text = "."
fixed_category = "service"

[categories]
"Quiet things" = "cooler"
"""
EXPORT: dict[str, Any] = {
    "meta": {"version": 7},
    "order": {
        "number": "KD-0412",
        "seller": "Kestrel Desk",
        "ship_by": "2026-03-13",
        "machines": [{"id": "KD-0412-1"}, {"id": "KD-0412-2"}],
        "buyer": {"ref": "C-77", "email": "ada@post.example"},
        "items": [
            {
                "kind": "goods",
                "title": "Halberd Fjord 360",
                "options": [{"value": "white"}, {"value": "long leads"}],
                "count": 2,
                "group": {"name": "Quiet things"},
                "brand": "Halberd",
                "codes": {"mpn": "HF-360", "ean": "2000000000015"},
                "unitPrice": 129.5,
            },
            {"kind": "card", "title": "Gift card", "count": 1},
        ],
        "work": ["Assembly", "Burn-in of 24 h"],
    },
}


@pytest.fixture
def mapping(tmp_path: Path) -> Mapping:
    (tmp_path / "shop.toml").write_text(MAPPING, "utf-8")
    return read_mapping(tmp_path / "shop.toml")


def imported(tree: object, mapping: Mapping | None, **wanted: Any) -> Intake:
    return import_source(json.dumps(tree).encode(), "export.json", Wanted(**wanted), mapping).intake


def test_an_export_is_read_by_its_mapping(mapping: Mapping) -> None:
    intake = imported(EXPORT, mapping)
    order = intake.order
    assert order is not None
    assert (order.order_id, order.shop, order.units) == (
        "KD-0412",
        "Kestrel Desk",
        ("KD-0412-1", "KD-0412-2"),
    )
    assert str(order.due) == "2026-03-13" and order.customer_reference == ""
    first = order.lines[0]
    assert (first.category, first.quantity) == (Category.COOLER, 2)
    assert first.text == "Halberd Fjord 360, white, long leads"
    assert (first.maker, first.part_number, first.gtin) == ("Halberd", "HF-360", "2000000000015")
    assert [(line.category, line.text) for line in order.lines[1:]] == [
        (Category.SERVICE, "Assembly"),
        (Category.SERVICE, "Burn-in of 24 h"),
    ]
    assert not intake.open_rows
    left = {row.place: row.left_out for row in intake.rows if row.became is Became.LEFT_OUT}
    assert left == {
        "order.buyer.ref": ("customer",),
        "order.buyer.email": ("personal data",),
        "order.items[].unitPrice": ("price",),
    }
    assert "ada@" not in encode(intake).decode() and "129.5" not in encode(intake).decode()


def test_the_customers_reference_comes_only_when_asked_for(mapping: Mapping) -> None:
    order = imported(EXPORT, mapping, with_customer=True).order
    assert order is not None and order.customer_reference == "C-77"


def test_what_no_path_reads_is_told_by_its_path_and_without_its_value(mapping: Mapping) -> None:
    more = json.loads(json.dumps(EXPORT))
    more["order"]["extras"] = [{"what": "engraving of a secret"}, {"what": "paint"}]
    more["order"]["items"][0]["wish"] = "no stickers"
    intake = imported(more, mapping)
    told = {row.place: row.became for row in intake.open_rows}
    assert told == {
        "order.extras[].what": Became.NOT_IMPORTED,
        "order.items[].wish": Became.NOT_IMPORTED,
    }
    assert "secret" not in encode(intake).decode()


def test_one_list_may_be_missing(mapping: Mapping) -> None:
    less = json.loads(json.dumps(EXPORT))
    del less["order"]["work"]
    intake = imported(less, mapping)
    assert intake.order is not None and len(intake.order.lines) == 1 and not intake.open_rows


def test_an_element_that_no_condition_takes_is_told(mapping: Mapping) -> None:
    more = json.loads(json.dumps(EXPORT))
    more["order"]["items"].append({"kind": "rental", "title": "SSD 1TB"})
    (row,) = imported(more, mapping).open_rows
    assert (row.place, row.notes[0].code) == ("order.items[2]", "intake.no-entry-fits")


def test_an_unknown_word_for_a_category_is_a_question_and_the_text_still_counts(mapping: Mapping) -> None:
    more = json.loads(json.dumps(EXPORT))
    more["order"]["items"][0]["group"]["name"] = "Shiny"
    more["order"]["items"][0]["title"] = "SSD 1TB"
    intake = imported(more, mapping)
    assert intake.order is not None and intake.order.lines[0].category is Category.STORAGE
    assert [note.code for note in intake.open_rows[0].notes] == ["intake.category-word-unknown"]


@pytest.mark.parametrize("count", ["2", 2, 2.0, "two"])
def test_a_quantity_is_a_number_or_a_word(mapping: Mapping, count: object) -> None:
    more = json.loads(json.dumps(EXPORT))
    more["order"]["items"][0]["count"] = count
    order = imported(more, mapping).order
    assert order is not None and order.lines[0].quantity == 2


@pytest.mark.parametrize("count", [0, -1, 1.5, 1e9, "1.000", True, {"a": 1}, [1, 2]])
def test_a_quantity_that_is_none_is_not_guessed(mapping: Mapping, count: object) -> None:
    more = json.loads(json.dumps(EXPORT))
    more["order"]["items"][0]["count"] = count
    (row,) = imported(more, mapping).open_rows
    assert row.notes[0].code.startswith("intake.quantity-")
    assert row.became is (Became.NOT_IMPORTED if count in (0, -1) else Became.QUESTION)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"order": {"items": [], "items": []}}', "the key 'items' stands there twice"),
        ('{"order": NaN}', "NaN is not a JSON number"),
        ('{"order": [1, 2}', "not valid JSON"),
        ("[" * 100_000, "not valid JSON|nested"),
        ('{"a":' * 60 + "1" + "}" * 60, "nested deeper than 40"),
        ('{"other": 1}', "nothing at 'order.items"),
    ],
)
def test_bad_json_is_refused_in_one_sentence(mapping: Mapping, text: str, said: str) -> None:
    with pytest.raises(Trouble, match=said) as refused:
        import_source(text.encode(), "export.json", Wanted(), mapping)
    assert "\n" not in str(refused.value)


def test_json_without_a_mapping_asks_for_one() -> None:
    with pytest.raises(Trouble, match="--mapping"):
        import_source(b'{"a": 1}', "export.json", Wanted())


@pytest.mark.parametrize(
    ("path", "steps"),
    [
        ("a", ("a",)),
        ("a.b[].c", ("a", "b", "[]", "c")),
        ("[].x", ("[]", "x")),
        ("a[][]", ("a", "[]", "[]")),
        ('a."b.c[]".d', ("a", "b.c[]", "d")),
    ],
)
def test_a_path_is_keys_and_lists(path: str, steps: tuple[str, ...]) -> None:
    if path == "a[][]":
        with pytest.raises(Trouble, match="no path"):
            steps_of(path)
        assert steps_of("a[].[]") == steps
    else:
        assert steps_of(path) == steps


@pytest.mark.parametrize("path", ["a..b", ".", "a[0]", "a]", 'a."b', "a b[]c"])
def test_what_is_no_path_is_refused(path: str) -> None:
    with pytest.raises(Trouble, match="no path"):
        steps_of(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tabel = 1", "tabel"),
        ("[table]\nquantity = 'Qty'", "text"),
        ("[categories]\nX = 'modem'", "modem"),
        ("[[lines]]\nat = 'a[]'", "without `text`"),
        ("x = ", "not a valid mapping"),
        ("[table]\ntext = []", "not a valid mapping"),
    ],
)
def test_a_bad_mapping_is_refused_in_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "m.toml").write_text(text, "utf-8")
    with pytest.raises(Trouble, match=said) as refused:
        read_mapping(tmp_path / "m.toml")
    assert "\n" not in str(refused.value) and refused.value.where.endswith("m.toml")


def test_a_mapping_with_a_number_of_thousands_of_digits_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "mapping.toml"
    path.write_text(f"[table]\ntext = {'9' * 5_000}\n", "utf-8")
    with pytest.raises(Trouble, match="not a valid mapping"):
        read_mapping(path)
