"""What to lay in the tray: what comes loose with the parts, and is forgotten more often than a part."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.catalogue import GraphicsFacts, SupplyFacts
from shipworthy.model.words import Category
from shipworthy.orders.fit.accessories import accessory, wireless_parts
from shipworthy.orders.fit.graphics import HEAVY_MM
from shipworthy.orders.fit.places import sata_devices
from shipworthy.orders.sheet.build import Work, say


def tray_of(work: Work) -> tuple[str, ...]:
    """Return the accessories that the parts of a build bring or need, besides those that are sold."""
    return tuple(dict.fromkeys(_tray(work)))


def _tray(work: Work) -> Iterator[str]:
    if any(part.facts.wireless for part in wireless_parts(work.build)):
        yield say("tray.antennas")
    if work.lines(Category.POWER_SUPPLY):
        if not accessory(work.build, "cord"):
            yield say("tray.cord")
        supply = work.first(SupplyFacts)
        if supply is None or supply.modular not in ("Non-Modular", ""):
            yield say("tray.leads")
    sata, _ = sata_devices(work.build)
    if sata:
        yield say("tray.sata-leads", count=sata)
    if work.lines(Category.BOARD):
        yield say("tray.board")
    if work.lines(Category.COOLER):
        yield say("tray.cooler")
    if work.lines(Category.GRAPHICS):
        long = any((card.facts.length_mm or 0) >= HEAVY_MM for card in work.build.of(GraphicsFacts))
        yield say("tray.support-long" if long else "tray.support")
    if work.lines(Category.SYSTEM_SOFTWARE):
        yield say("tray.licence")
