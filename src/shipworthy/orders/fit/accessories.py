"""The small things that the parts need, and that are forgotten more often than parts (common practice)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from shipworthy.model.catalogue import BoardFacts, CardFacts, StorageFacts, SupplyFacts
from shipworthy.model.fit import BuildLine, FitFinding
from shipworthy.model.words import Category
from shipworthy.orders.fit.build import Build, Fitted, pieces
from shipworthy.orders.fit.m2 import is_m2
from shipworthy.orders.fit.places import sata_devices
from shipworthy.orders.fit.rules import SHOULD, Rule, rule

_WORDS = {
    "support": r"\b(?:(?:gpu|vga|graphics|card)\W.{0,30})?(?:support|holder|brace|anti-?sag)\b",
    "hub": r"\b(?:fan|pwm)\b.{0,20}\b(?:hub|controller)s?\b",
    "controller": r"\b(?:a?rgb|lighting|led)\b.{0,20}\b(?:hub|controller)s?\b",
    "antenna": r"\b(?:antennas?|antennae|aerials?)\b",
    "cord": r"\b(?:power|mains) (?:cord|cable|lead)s?\b|\bcord sets?\b|\bC13\b|\bIEC 60320\b",
    "sata": r"\bSATA\b.{0,20}\b(?:cable|lead|cord)s?\b",
    "screw": r"\bM\.?2\b.{0,20}\bscrews?\b",
}
_PATTERNS = {kind: re.compile(words, re.IGNORECASE) for kind, words in _WORDS.items()}
_INSIDE = re.compile(
    r"\b(?:PCI-?e|PCI Express|EPS|SATA|Molex|12VHPWR|12V-?2x6|(?:4|8|6|2|16|20|24)[ -]?pin|sleeved)\b",
    re.IGNORECASE,
)
"""Power cables of the supply's own side: no cord to the wall."""
_LINES = (Category.ACCESSORY, Category.CABLE, Category.COOLER, Category.FAN)


def accessory(build: Build, kind: str) -> tuple[BuildLine, ...]:
    """Return the lines that sell an accessory of that kind, by their words."""
    found = (line for line in build.in_category(*_LINES) if _PATTERNS[kind].search(line.text))
    return tuple(line for line in found if kind != "cord" or not _INSIDE.search(line.text))


def wireless_parts(build: Build) -> tuple[Fitted[Any], ...]:
    """Return the parts that may have Wi-Fi: boards and network cards."""
    cards = (card for card in build.of(CardFacts) if card.category is Category.NETWORK)
    return (*build.of(BoardFacts), *cards)


@rule("accessories.antennas", SHOULD, "common practice: in the box of the board or card, and left there")
def _antennas(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for part in wireless_parts(build):
        wireless = part.ask("wireless")
        if wireless.known and not wireless.value:
            yield rule.conforms(wireless=wireless)
        elif wireless.known and not accessory(build, "antenna"):
            yield rule.cannot_tell("in-the-box", wireless=wireless)
        else:
            yield rule.judge(lambda _: True, wireless=wireless)


@rule("accessories.cord", SHOULD, "common practice: a cord with the plug of the customer's country")
def _cord(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for supply in build.of(SupplyFacts):
        ordered = accessory(build, "cord")
        if ordered:
            yield rule.conforms(cord=ordered[0].text)
        else:
            yield rule.cannot_tell("country", supply=supply.text)


@rule(
    "accessories.sata-cables", SHOULD, "common practice: one data cable a drive; boards come with two or so"
)
def _sata_cables(rule: Rule, build: Build) -> Iterator[FitFinding]:
    wanted, unknown = sata_devices(build)
    ordered = sum(line.quantity for line in accessory(build, "sata"))
    if unknown:
        yield rule.cannot_tell("", unknown, drives=wanted)
    elif wanted and ordered >= wanted:
        yield rule.conforms(drives=wanted, cables=ordered)
    elif wanted:
        yield rule.cannot_tell("in-the-box", drives=wanted, cables=ordered)


@rule("accessories.m2-screws", SHOULD, "common practice: screws or latches come with the board")
def _screws(rule: Rule, build: Build) -> Iterator[FitFinding]:
    wanted = pieces(drive for drive in build.of(StorageFacts) if is_m2(drive))
    if wanted and accessory(build, "screw"):
        yield rule.conforms(drives=wanted)
    elif wanted:
        yield rule.cannot_tell("in-the-box", drives=wanted)
