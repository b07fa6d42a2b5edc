"""Does the cooler go onto the socket and into the case, and is it strong enough?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any

from shipworthy.model.catalogue import BoardFacts, CaseFacts, CoolerFacts, ProcessorFacts, RadiatorPlace
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit import tables
from shipworthy.orders.fit.build import Build, Fitted, pieces
from shipworthy.orders.fit.processor import spelt
from shipworthy.orders.fit.rules import MUST, SHOULD, Rule, rule

_NARROW_FANS, _WIDE_FANS = 120, 140
"""Radiators are as long as so many fans of 120 or of 140 mm."""


@rule("cooler.socket", MUST, "the cooler maker's list; sockets of one hole pattern by tables.toml")
def _socket(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for cooler in build.of(CoolerFacts):
        seats: tuple[Fitted[Any], ...] = build.of(BoardFacts) or build.of(ProcessorFacts)
        for board in seats:
            listed, raw = cooler.ask("sockets"), board.ask("socket")
            socket = spelt(raw)
            if not listed.known or not socket.known:
                yield rule.cannot_tell(cooler=listed, board=socket)
                continue
            told = tables.mounts(listed.value, socket.value)
            narrow = "narrow" in str(raw.value).casefold()
            if told is None or told.answer is None or (told.answer and narrow):
                yield rule.cannot_tell("kit", cooler=listed, board=socket)
            elif told.answer:
                yield rule.conforms(cooler=listed, board=socket, source=told.source)
            else:
                yield rule.differs(cooler=listed, board=socket)


@rule("cooler.height", MUST, "the case maker's figure")
def _height(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for cooler, case in product(build.of(CoolerFacts), build.of(CaseFacts)):
        liquid = cooler.ask("liquid")
        if liquid.known and liquid.value:
            continue
        yield rule.judge(
            lambda _, height, room: height <= room,
            liquid=liquid,
            height=cooler.ask("height_mm"),
            room=case.ask("cooler_height_mm"),
        )


@rule(
    "cooler.radiator",
    MUST,
    "the case maker's list of places; 120 and 140 mm fans differ in width: common practice",
)
def _radiator(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for cooler, case in product(build.of(CoolerFacts), build.of(CaseFacts)):
        liquid, size, places = cooler.ask("liquid"), cooler.ask("radiator_mm"), case.ask("radiators")
        if not liquid.known or not liquid.value:
            continue
        if not size.known or not places.known:
            yield rule.cannot_tell(radiator=size, places=places)
        elif places_for(places.value, size.value):
            yield rule.conforms(radiator=size, places=places)
        elif any(place.longest_mm >= size.value for place in places.value):
            yield rule.cannot_tell("width", radiator=size, places=places)
        else:
            yield rule.differs(radiator=size, places=places)


@rule("cooler.rated", SHOULD, "the cooler maker's figure against the processor maker's limit")
def _rated(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for cooler, processor in product(build.of(CoolerFacts), build.of(ProcessorFacts)):
        rated, draws, least = cooler.ask("rated_w"), processor.ask("limit_w"), processor.ask("tdp_w")
        if rated.known and least.known and least.value > rated.value:
            yield rule.differs(rated=rated, draws=least)
        else:
            yield rule.judge(lambda rated, draws: draws <= rated, rated=rated, draws=draws)


@rule("cooler.presence", MUST, "common practice: no processor runs without a cooler")
def _presence(rule: Rule, build: Build) -> Iterator[FitFinding]:
    coolers, processors = build.of(CoolerFacts), build.of(ProcessorFacts)
    for processor in processors:
        included = processor.ask("cooler_included")
        if coolers:
            yield rule.conforms(coolers=pieces(coolers))
        elif included.known and not included.value:
            yield rule.cannot_tell("none", included=included)  # the customer may have one
        else:
            yield rule.judge(lambda _: True, included=included)


def places_for(places: Sequence[RadiatorPlace], size_mm: float) -> list[RadiatorPlace]:
    """Return the places that surely take a radiator: as long as it or longer, and for fans of its width."""
    return [
        place
        for place in places
        if place.longest_mm >= size_mm and _fan_width(place.longest_mm) == _fan_width(size_mm) is not None
    ]


def _fan_width(length_mm: float) -> int | None:
    """Return the width of the fans that a radiator of that length has: 120 for 240, 140 for 280."""
    fits = [width for width in (_NARROW_FANS, _WIDE_FANS) if length_mm % width == 0]
    return fits[0] if len(fits) == 1 else None
