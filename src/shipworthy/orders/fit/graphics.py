"""Does the graphics card go into the case and into the board?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from shipworthy.model.catalogue import (
    BoardFacts,
    CardFacts,
    CaseFacts,
    CoolerFacts,
    FanFacts,
    GraphicsFacts,
)
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.accessories import accessory
from shipworthy.orders.fit.build import Build, Fitted, Pieces, pieces
from shipworthy.orders.fit.cooler import places_for
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule

FAN_MM = 25.0
"""How thick a usual 120 or 140 mm fan is (common practice; slim ones have 15 mm)."""
HEAVY_SLOTS, HEAVY_MM = 3.0, 300.0
"""From which size a card is counted as heavy where its weight is not told (common practice)."""


def pairs(build: Build) -> Iterator[tuple[Fitted[GraphicsFacts], Fitted[CaseFacts]]]:
    return product(build.of(GraphicsFacts), build.of(CaseFacts))


@rule("graphics.length", MUST, "the case maker's figure")
def _length(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card, case in pairs(build):
        length, room = card.ask("length_mm"), case.ask("graphics_length_mm")
        yield rule.judge(lambda length, room: length <= room, length=length, room=room)


@rule(
    "graphics.behind-radiator",
    MUST,
    "the makers' figures; a fan of 25 mm before the radiator: common practice",
)
def _behind_radiator(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card, case in pairs(build):
        for cooler in build.of(CoolerFacts):
            if cooler.facts.liquid:
                yield _radiator_in_the_way(rule, card, case, cooler)


def _radiator_in_the_way(
    rule: Rule, card: Fitted[GraphicsFacts], case: Fitted[CaseFacts], cooler: Fitted[CoolerFacts]
) -> FitFinding:
    length, room = card.ask("length_mm"), case.ask("graphics_length_mm")
    places, size = case.ask("radiators"), cooler.ask("radiator_mm")
    if not (length.known and room.known and places.known and size.known):
        return rule.cannot_tell(length=length, room=room, places=places, radiator=size)
    fitting = places_for(places.value, size.value)
    given: Given = {"length": length, "room": room, "radiator": size, "places": places}
    if any(place.place.casefold() != "front" for place in fitting):
        return rule.conforms(**given)
    if not fitting:  # the rule of the radiator's place says so
        return rule.cannot_tell("no-place", **given)
    thick = cooler.ask("radiator_thickness_mm")
    slack = room.value - length.value
    if thick.known and slack >= thick.value + FAN_MM:
        return rule.conforms(**given, thick=thick)
    if thick.known and slack < thick.value:
        return rule.differs(**given, thick=thick)
    return rule.cannot_tell("" if not thick.known else "fans", **given, thick=thick)


@rule(
    "graphics.front-fans",
    SHOULD,
    "common practice: a maker's figure seldom says whether front fans are counted",
)
def _front_fans(rule: Rule, build: Build) -> Iterator[FitFinding]:
    if not build.of(FanFacts):
        return
    for card, case in pairs(build):
        length, room = card.ask("length_mm"), case.ask("graphics_length_mm")
        if length.known and room.known and 0 <= room.value - length.value < FAN_MM:
            yield rule.cannot_tell("fans", length=length, room=room)
        elif not (length.known and room.known) or length.value <= room.value:
            yield rule.judge(lambda length, room: room - length >= FAN_MM, length=length, room=room)


@rule("graphics.height", MUST, "the case maker's figure")
def _height(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card, case in pairs(build):
        height, room = card.ask("height_mm"), case.ask("graphics_height_mm")
        yield rule.judge(lambda height, room: height <= room, height=height, room=room)


@rule("graphics.slots", MUST, "the case maker's figure; a card takes up whole slots")
def _slots(rule: Rule, build: Build) -> Iterator[FitFinding]:
    cards = build.of(GraphicsFacts)
    if not cards:
        return
    unknown = [card.ask("slots") for card in cards if not card.ask("slots").known]
    unplaced = [card for card in build.of(CardFacts) if not card.ask("interface").known]
    others = pieces(card for card in build.of(CardFacts) if _plugged(card))
    wanted = Pieces(sum(card.quantity * math.ceil(card.facts.slots or 0) for card in cards), ()) + others
    for case in build.of(CaseFacts):
        slots = case.ask("slots")
        if unknown:
            yield rule.cannot_tell(card=unknown[0], slots=slots)
            continue
        card = cards[0].ask("slots")
        if slots.known and wanted <= slots.value < wanted + pieces(unplaced):
            interfaces = [each.ask("interface") for each in unplaced]
            yield rule.cannot_tell("", interfaces, card=card, slots=slots)
        else:
            yield rule.judge(lambda _, slots: wanted <= slots, card=card, slots=slots, wanted=wanted)


@rule(
    "graphics.support",
    SHOULD,
    "common practice: cards of three slots or 300 mm sag, and come loose in transit",
)
def _support(rule: Rule, build: Build) -> Iterator[FitFinding]:
    ordered = bool(accessory(build, "support"))
    for card in build.of(GraphicsFacts):
        slots, length, included = card.ask("slots"), card.ask("length_mm"), card.ask("support_included")
        light = slots.known and length.known and slots.value < HEAVY_SLOTS and length.value < HEAVY_MM
        heavy = (slots.known and slots.value >= HEAVY_SLOTS) or (length.known and length.value >= HEAVY_MM)
        if light or ordered or (included.known and included.value):
            yield rule.conforms(slots=slots, length=length)
        elif heavy and included.known:
            yield rule.differs(slots=slots, length=length, included=included)
        else:
            yield rule.cannot_tell(
                "" if not heavy else "heavy", slots=slots, length=length, included=included
            )


@rule("cards.slots", MUST, "the board maker's list of slots; a graphics card wants one with at least 8 lanes")
def _board_slots(rule: Rule, build: Build) -> Iterator[FitFinding]:
    graphics, cards = build.of(GraphicsFacts), build.of(CardFacts)
    unknown = [card.ask("interface") for card in cards if not card.ask("interface").known]
    others = [card for card in cards if _plugged(card)]
    if not graphics and not others and not unknown:
        return
    for board in build.of(BoardFacts):
        slots = board.ask("slots")
        if not slots.known:
            yield rule.cannot_tell(slots=slots)
            continue
        wanted, wide = pieces(graphics) + pieces(others), [s for s in slots.value if (s.lanes or 0) >= 8]
        if wanted > len(slots.value):
            yield rule.differs(slots=slots, wanted=wanted)
        elif unknown or pieces(graphics) > len(wide):
            yield rule.cannot_tell("" if unknown else "lanes", unknown, slots=slots, wanted=wanted)
        elif graphics and others:
            yield rule.cannot_tell("covered", slots=slots, wanted=wanted)
        else:
            yield rule.conforms(slots=slots, wanted=wanted)


def _plugged(card: Fitted[CardFacts]) -> bool:
    """Whether a card takes a slot, and is no USB or M.2 one."""
    return "pci" in card.facts.interface.casefold() and "m.2" not in card.facts.interface.casefold()
