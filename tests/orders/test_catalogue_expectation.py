"""An expectation that several values would satisfy, and that says from which part of a list it is."""

from __future__ import annotations

import tomllib
from pathlib import Path

import msgspec
import pytest

from shipworthy.model.base import Trouble, decode
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.files import order_json, order_toml, read_order

NUMBERS = Expectation(
    aspect=Aspect.PART_NUMBER, want="FQ5-60-8X", or_else=("FQ5608X/K", "00-1180-01"), source="fennec-quiet-16"
)
ORDER = Order(
    order_id="KD-1",
    shop="Kestrel Desk",
    units=("KD-1-1",),
    lines=(
        OrderLine(
            line_id="1",
            category=Category.MEMORY,
            text="Fennec Quiet 16GB (2x8GB) DDR5-6000",
            expectations=(NUMBERS,),
        ),
    ),
)


def test_the_wanted_value_comes_first_of_those_that_would_do() -> None:
    assert NUMBERS.wants == ("FQ5-60-8X", "FQ5608X/K", "00-1180-01")
    assert Expectation(aspect=Aspect.MODEL, want="Quiet").wants == ("Quiet",)


def test_other_values_and_the_source_are_written_and_read_again() -> None:
    assert msgspec.convert(tomllib.loads(order_toml(ORDER)), Order) == ORDER
    assert decode(order_json(ORDER), Order, "order.json") == ORDER


def test_an_order_of_before_has_neither() -> None:
    text = order_json(ORDER).replace(b'"or_else": [', b'"or_else_": [')
    with pytest.raises(Trouble):
        decode(text, Order, "order.json")
    tree = msgspec.to_builtins(ORDER)
    del tree["lines"][0]["expectations"][0]["or_else"], tree["lines"][0]["expectations"][0]["source"]
    old = msgspec.convert(tree, Order)
    assert old.lines[0].expectations[0].or_else == ()
    assert "or_else" not in order_toml(old)


def test_a_person_may_write_them(tmp_path: Path) -> None:
    path = tmp_path / "order.toml"
    path.write_text(order_toml(ORDER), "utf-8")
    assert read_order(path) == ORDER


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ('aspect = "capacity", want = 1, unit = "bytes", or_else = ["x"]', "wants 'x'"),
        ('aspect = "capacity", want = 1, unit = "bytes", or_else = [0]', "wants 0"),
        ('aspect = "capacity", want = 1, unit = "bytes", or_else = [nan]', "no quantity"),
        ('aspect = "model", want = "a", or_else = ["\\u0007"]', "no text"),
        ('aspect = "model", want = "a", or_else = "b"', "or_else"),
    ],
)
def test_what_is_wrong_with_another_value_is_said(tmp_path: Path, wish: str, says: str) -> None:
    path = tmp_path / "order.toml"
    head = order_toml(ORDER).split("[[lines]]")[0]
    line = f'[[lines]]\ncategory = "memory"\ntext = "x"\nexpectations = [{{ {wish} }}]\n'
    path.write_text(head + line, "utf-8")
    with pytest.raises(Trouble) as caught:
        read_order(path)
    assert says in str(caught.value)
