"""The head of an order: from options, the mapping, the source, the file's name, in this order."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath

from shipworthy.model.base import Trouble
from shipworthy.model.intake import HeadValue
from shipworthy.orders.intake.dates import date_of

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
NOBODY = "nobody"
_DATES = "Write it as 2026-03-13."


@dataclass(frozen=True)
class Wanted:
    """What the person said of the order. with_customer: the customer's reference is wanted too."""

    order_id: str = ""
    shop: str = ""
    units: tuple[str, ...] = ()
    due: str = ""
    with_customer: bool = False


def order_head(
    told: Mapping[str, tuple[str, str]], wanted: Wanted, source: str
) -> tuple[dict[str, object], list[HeadValue]]:
    """Return the fields of an order's head, and for each its value and who said so.

    told: name to (value, who). Raises Trouble for an option that an order cannot have.
    """
    order_id, said_id = _order_id(told, wanted, source)
    shop, said_shop = _chosen("shop", wanted.shop, told, "Your shop")
    units, said_units = _units(told, wanted, order_id)
    head: dict[str, object] = {"order_id": order_id, "shop": shop[:200], "units": units}
    said = [
        HeadValue(name="order_id", value=order_id, said_by=said_id),
        HeadValue(name="shop", value=shop[:200], said_by=said_shop),
        HeadValue(name="units", value=", ".join(units), said_by=said_units),
    ]
    due, said_due = _chosen("due", wanted.due, told, "")
    if due:
        day = date_of(due)
        if day is None and said_due == "option":
            raise Trouble(f"{due[:40]!r} is no date that can be read in one way only", "--due", _DATES)
        if day is not None:
            head["due"] = day
        said.append(HeadValue(name="due", value=str(day or ""), said_by=said_due if day else NOBODY))
    if wanted.with_customer and "customer_reference" in told:
        value, who = told["customer_reference"]
        head["customer_reference"] = value[:500]
        said.append(HeadValue(name="customer_reference", value=value[:500], said_by=who))
    return head, said


def as_id(text: str) -> str:
    """Return a text as an order's or a unit's id: other signs become `-`; empty if nothing is left."""
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", text.strip()).strip("-._")
    return plain[:64]


def _order_id(told: Mapping[str, tuple[str, str]], wanted: Wanted, source: str) -> tuple[str, str]:
    if wanted.order_id:
        return _checked(wanted.order_id, "--order-id"), "option"
    if "order_id" in told and (found := as_id(told["order_id"][0])):
        return found, told["order_id"][1]
    stem = as_id(PurePath(source).stem)
    return (stem, "file name") if stem else ("ORDER-1", NOBODY)


def _units(told: Mapping[str, tuple[str, str]], wanted: Wanted, order_id: str) -> tuple[tuple[str, ...], str]:
    if wanted.units:
        units = tuple(_checked(unit, "--unit") for unit in wanted.units)
        said = "option"
    elif "units" in told and told["units"][0]:
        units = tuple(filter(None, (as_id(unit) for unit in told["units"][0].split("\n"))))
        said = told["units"][1]
    else:
        units, said = (), NOBODY
    if len({unit.casefold() for unit in units}) != len(units):
        raise Trouble("two units have one id, or differ by case only", ", ".join(units), "Give each its own.")
    return (units, said) if units else ((f"{order_id[:62]}-1",), NOBODY)


def _chosen(name: str, option: str, told: Mapping[str, tuple[str, str]], otherwise: str) -> tuple[str, str]:
    if option.strip():
        return option.strip(), "option"
    value, who = told.get(name, ("", NOBODY))
    return (value.strip(), who) if value.strip() else (otherwise, NOBODY)


def _checked(text: str, option: str) -> str:
    if _ID.fullmatch(text):
        return text
    raise Trouble(
        f"{text[:64]!r} is no id that an order can have",
        option,
        "Use letters, digits, `.`, `_` and `-`, at most 64, beginning with a letter or digit.",
    )
