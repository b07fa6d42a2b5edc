"""What to lay in the tray: what comes loose with the parts, and is forgotten more often than a part."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.catalogue import BoardFacts, GraphicsFacts, SupplyFacts
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.sheet.build import Build, say, wanted
from shipworthy.words.names import Name

_HEAVY_CARD_MM = 300.0
"""From this length on a card is held by a support before it travels (common practice)."""


def tray_of(build: Build) -> tuple[str, ...]:
    """Return the accessories that the parts of a build bring or need, besides those that are sold."""
    return tuple(dict.fromkeys(_tray(build)))


def _tray(build: Build) -> Iterator[str]:
    if _has_wireless(build):
        yield say("tray.antennas")
    if build.lines(Category.POWER_SUPPLY):
        if not _sells(build, "cord", "mains lead"):
            yield say("tray.cord")
        supply = build.first(SupplyFacts)
        if supply is None or supply.modular not in ("none", ""):
            yield say("tray.leads")
    if sata := _sata_drives(build):
        yield say("tray.sata-leads", count=sata)
    if build.lines(Category.BOARD):
        yield say("tray.board")
    if build.lines(Category.COOLER):
        yield say("tray.cooler")
    if build.lines(Category.GRAPHICS):
        long = any((facts.length_mm or 0) >= _HEAVY_CARD_MM for _, facts in build.known(GraphicsFacts))
        yield say("tray.support-long" if long else "tray.support")
    if build.lines(Category.SYSTEM_SOFTWARE):
        yield say("tray.licence")


def _sells(build: Build, *words: str) -> bool:
    """Whether a line of accessories or cables speaks of it already."""
    texts = [line.text.casefold() for line in build.lines(Category.ACCESSORY, Category.CABLE)]
    return any(word in text for text in texts for word in words)


def _has_wireless(build: Build) -> bool:
    if any(facts.wireless for _, facts in build.known(BoardFacts)):
        return True
    lines = build.lines(Category.BOARD, Category.NETWORK)
    return any(Name.of(line.text).has("wifi") or "wireless" in line.text.casefold() for line in lines)


def _sata_drives(build: Build) -> int:
    lines = build.lines(Category.STORAGE, Category.OPTICAL_DRIVE)
    return sum(
        line.quantity for line in lines if wanted(line, Aspect.INTERFACE) == "SATA" and _is_cabled(line.text)
    )


def _is_cabled(text: str) -> bool:
    return "M.2" not in text.upper() and "MSATA" not in text.upper()
