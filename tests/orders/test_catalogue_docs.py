"""The pages on the part list say what is there: the examples are read, and every key is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipworthy.model.catalogue import FACTS_OF, CataloguePart
from shipworthy.model.catalogue_used import Decided, LookedUpBy
from shipworthy.orders.catalogue.lists import MOST_BYTES, MOST_LINE_BYTES, SUFFIXES, list_of
from shipworthy.orders.catalogue.numbers import LEAST_SIGNS

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "reference" / "catalogue.md"
TEXT = PAGE.read_text("utf-8")


@pytest.mark.parametrize(("kind", "name"), [("toml", "a.toml"), ("text", "a.csv")])
def test_the_examples_are_lists_of_one_part(kind: str, name: str) -> None:
    (block,) = re.findall(rf"^```{kind}\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
    listed = list_of(block.encode(), Path(name))
    assert listed.faults == ()
    assert [part.part_id for part in listed.parts] == ["fennec-quiet-16"]
    assert listed.parts[0].facts is not None
    assert isinstance(listed.parts[0].facts, FACTS_OF[listed.parts[0].category])


def test_every_key_of_a_part_every_form_and_every_answer_is_named() -> None:
    assert {key for key in CataloguePart.__struct_fields__ if f"`{key}`" not in TEXT} == set()
    assert {suffix for suffix in SUFFIXES if f"catalogue{suffix}" not in TEXT} == set()
    assert {word.value for word in Decided if f"**{word.value}**" not in TEXT} == set()
    assert {way.value for way in LookedUpBy if f"| {way.value} |" not in TEXT} == set()


def test_the_limits_on_the_page_are_those_of_the_code() -> None:
    assert f"A file may have {MOST_BYTES // 10**6} MB" in TEXT
    assert f"a line of more than {MOST_LINE_BYTES // 10**6} MB" in TEXT
    assert LEAST_SIGNS == 4 and "at least four letters and digits" in TEXT
