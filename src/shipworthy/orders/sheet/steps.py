"""Steps that are common to the trade, and the cautions that belong to this build."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.catalogue import CaseFacts, CoolerFacts
from shipworthy.model.words import Category
from shipworthy.orders.sheet.build import Work, say
from shipworthy.words.loops import find_loop_words

_TWO_PEOPLE_KG = 15.0
"""From about here a shop lifts with two people or a trolley (common practice)."""


def steps_of(work: Work) -> tuple[str, ...]:
    """Return the steps in the order of the work; those of parts that are not there are left out."""
    return tuple(say(f"step.{name}") for name in _steps(work))


def _steps(work: Work) -> Iterator[str]:
    def has(*categories: Category) -> bool:
        return bool(work.lines(*categories))

    yield "unpack"
    if has(Category.BOARD):
        yield "board-outside"
        yield "standoffs"
    if has(Category.COOLER, Category.PROCESSOR):
        yield "paste"
    yield "leads"
    if has(Category.GRAPHICS):
        yield "card"
    yield "nothing-loose"
    yield "first-start"
    yield "settings"
    if has(Category.SYSTEM_SOFTWARE):
        yield "system"
    yield "proof"
    yield "pack"


def cautions_of(work: Work) -> tuple[str, ...]:
    """Return the cautions of a build, mains first. They defer to local codes and makers' instructions."""
    return tuple(say(f"caution.{name}") for name in _cautions(work))


def _cautions(work: Work) -> Iterator[str]:
    yield "mains"
    yield "leads"
    yield "static"
    if any(find_loop_words(line.text, loose_pieces=True) for line in work.lines(Category.COOLER)):
        yield "loop"
    elif any(cooler.facts.liquid for cooler in work.build.of(CoolerFacts)):
        yield "sealed-liquid"
    yield "heat"
    case = work.first(CaseFacts)
    yield "weight-heavy" if case and (case.weight_kg or 0) >= _TWO_PEOPLE_KG else "weight"
    yield "defer"
