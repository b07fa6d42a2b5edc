"""What the comparison makes of one order line and one machine, in one word. For `bench/matching.py`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from matching_tables import Device, Retail, reading

from shipworthy.compare import compare
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.orders.expect import with_expectations

WORDS = ("accepted", "accepted, a setting to fix", "for a person", "cannot tell", "differs")
"""*for a person*: all that a reading can show conforms, and the rest is an inspection item by name."""

# What decides whether a line is the part that was sold. (Newness, maker and presence say nothing of it.) The
# table of boards has no field for a revision, so a board that is sold by its revision stays open.
_DECIDES = {
    Category.PROCESSOR: {Aspect.MODEL},
    Category.BOARD: {Aspect.MODEL, Aspect.VERSION},
    Category.STORAGE: {Aspect.MODEL, Aspect.CAPACITY, Aspect.TECHNOLOGY, Aspect.INTERFACE},
    Category.GRAPHICS: {Aspect.MODEL, Aspect.VARIANT, Aspect.CAPACITY},
    Category.MEMORY: {Aspect.MODEL, Aspect.CAPACITY, Aspect.COUNT, Aspect.TECHNOLOGY, Aspect.SPEED},
}
# What speaks against a part where it differs. (That a table of names tells of no form, a machine may.)
_AGAINST = {Aspect.PART_NUMBER, Aspect.FORM}
# One of them is enough: a number tells the part, and so does a name.
_NAMES = (Aspect.MODEL, Aspect.PART_NUMBER)
_SETTINGS = frozenset(
    f"memory.speed.{ending}"
    for ending in ("below-sold", "below-module", "not-set", "profile-off", "profile-unread", "set-above")
)
"""Differences whose sentence names the memory profile, or a speed set in the firmware, as what to change."""


@dataclass(frozen=True)
class Result:
    word: str
    findings: tuple[Finding, ...]


def line_of(category: Category, retail: Retail, numbers: tuple[str, ...] = ()) -> OrderLine:
    """Return the order line of a retail part. Of its part numbers any will do, as where a list adds them."""
    told = [number[:200] for number in numbers if _is_number(number)]
    wish = [Expectation(aspect=Aspect.PART_NUMBER, want=told[0], or_else=tuple(told[1:]))] if told else []
    return OrderLine(
        line_id="1", category=category, text=retail.name, maker=retail.maker, expectations=tuple(wish)
    )


def order_of(line: OrderLine) -> Order:
    """Return an order of that line alone."""
    return Order(order_id="names", shop="names", units=("names",), lines=(line,))


def shows(number: str, device: Device) -> bool:
    """Return whether a part number stands in what a device says."""
    return _is_number(number) and _plain(number) in _plain(" ".join(device.strings))


def _is_number(text: str) -> bool:
    """Of four letters and digits at least: the records hold pieces of names among the numbers."""
    return len(_plain(text)) >= 4


def outcome(line: OrderLine, device: Device) -> Result:
    """Return what the comparison says of one line and this machine."""
    findings = compare(with_expectations(order_of(line)), reading(device.parts), (), ()).findings
    about = [f for f in findings if f.aspect in _DECIDES[line.category] or f.aspect is Aspect.PART_NUMBER]
    against = _DECIDES[line.category] | _AGAINST
    differing = [f for f in findings if f.outcome is Outcome.DIFFERS and f.aspect in against]
    if any(f.code not in _SETTINGS for f in differing):
        return Result("differs", findings)
    about = [f for f in about if f.outcome is not Outcome.DIFFERS]
    names = [f for f in about if f.aspect in _NAMES]
    rest = {f.outcome for f in about if f.aspect not in _NAMES}
    word = _joined(rest | _of_names(names))
    if word == "accepted" and differing:
        word = "accepted, a setting to fix"
    return Result(word if about else "cannot tell", findings)


def is_speed_alone_open(result: Result) -> bool:
    """Return whether a module is the one sold by its number, and nothing but the speed that runs is open: it
    cannot be told, or a person reads it."""
    open_ones = {f.aspect for f in result.findings if f.outcome is Outcome.CANNOT_TELL}
    decides = _DECIDES[Category.MEMORY]
    open_ones |= {f.aspect for f in result.findings if f.outcome is Outcome.NOT_CHECKED} & decides
    by_number = any(f.aspect is Aspect.PART_NUMBER and f.outcome is Outcome.CONFORMS for f in result.findings)
    is_open = result.word in ("for a person", "cannot tell")
    return is_open and by_number and open_ones <= {Aspect.SPEED, Aspect.MAKER}


def leaves_number_to_label(result: Result) -> bool:
    """Return whether the part number is not shown, and the name is what told the part."""
    return any(f.aspect is Aspect.PART_NUMBER and f.outcome is Outcome.NOT_CHECKED for f in result.findings)


def _of_names(names: list[Finding]) -> set[Outcome]:
    said = {f.outcome for f in names}
    if Outcome.CONFORMS in said:
        return {Outcome.CONFORMS}
    if any(f.aspect is Aspect.MODEL for f in names):  # a number that is not shown is told by the name
        said = {f.outcome for f in names if f.aspect is Aspect.MODEL}
    return said


def _joined(outcomes: set[Outcome]) -> str:
    if Outcome.CANNOT_TELL in outcomes:
        return "cannot tell"
    return "for a person" if Outcome.NOT_CHECKED in outcomes else "accepted"


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.casefold())
