"""What the texts of parts say that no machine reports: power supplies, coolers, fans."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Unit
from shipworthy.orders.expect.said import Said, agreed, word
from shipworthy.words.cooling import Millimetres, find_fan_sizes, find_packs, find_radiators
from shipworthy.words.forms import find_supply_forms
from shipworthy.words.power import find_grades, find_watts


def of_supply(line: OrderLine) -> Iterator[Said]:
    """Yield the watts, the 80 PLUS grade and the form of a power supply."""
    yield from agreed(Aspect.RATED_POWER, find_watts(line.text), lambda w: w.watts, Unit.WATTS)
    yield from word(Aspect.EFFICIENCY, find_grades(line.text))
    yield from word(Aspect.FORM, find_supply_forms(line.text))


def of_cooler(line: OrderLine) -> Iterator[Said]:
    """Yield the size of a liquid cooler's radiator."""
    yield from agreed(Aspect.SIZE, find_radiators(line.text), _mm, Unit.MILLIMETRES)


def of_fan(line: OrderLine) -> Iterator[Said]:
    """Yield the size of a fan, and how many there are of all the packs."""
    yield from agreed(Aspect.SIZE, find_fan_sizes(line.text), _mm, Unit.MILLIMETRES)
    # `3x … fan` of a line with quantity 3 says that quantity again; a pack of 3 says how many one piece is
    packs = [p for p in find_packs(line.text) if "pack" in p.words.casefold() or p.count != line.quantity]
    for said in agreed(Aspect.COUNT, tuple(packs), lambda p: p.count, Unit.COUNT):
        if isinstance(said.want, int):
            yield Said(said.aspect, said.want * line.quantity, said.words, said.unit)
        else:
            yield said


def _mm(found: Millimetres) -> float:
    return int(found.mm) if found.mm.is_integer() else found.mm
