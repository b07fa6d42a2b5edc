"""What parts, places and order lines are called on a page. Identity stays beside the name (design rule 5)."""

from __future__ import annotations

from shipworthy.handover.kept import Kept
from shipworthy.handover.phrases import say
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind


def maker_and_model(part: Part) -> str:
    """Return what a part says of itself, its ids where it has no name; empty if it says nothing."""
    if part.kind is PartKind.MEMORY_MODULE:
        words = (part.text("maker"), part.text("part_number"))
    else:
        words = (part.text("maker"), part.text("model"))
    maker, name = words
    named = name if name.casefold().startswith(maker.casefold()) else f"{maker} {name}".strip()
    ids = [part.text("vendor_id"), part.text("device_id")]
    return named or ":".join(id_.removeprefix("0x") for id_ in ids if id_)


def kind_text(part: Part) -> str:
    """Return the kind of a part, with its slot where several are alike."""
    locator = part.text("locator")
    return f"{part.kind.value} {locator}" if locator else part.kind.value


def part_title(part: Part) -> str:
    name = maker_and_model(part)
    return f"{kind_text(part)}, {name}" if name else kind_text(part)


_BESIDE = (PartKind.SENSOR_CHIP, PartKind.PCI_DEVICE, PartKind.SLOT, PartKind.ONBOARD_DEVICE)
"""Kinds that share a place with the part that a person means."""


def part_at(reading: Reading | None, place: str) -> Part | None:
    """Return the part that people mean by a place: the drive on a bus function rather than the function."""
    if reading is None or not place:
        return None
    drives = [p for p in reading.of_kind(PartKind.STORAGE) if p.place.startswith(f"{place}/")]
    here = [p for p in reading.parts if p.place == place or place in p.also_at]
    meant = drives + [p for p in here if p.kind not in _BESIDE] + here
    return meant[0] if meant else None


def part_anywhere(kept: Kept, place: str) -> Part | None:
    """Return what is at a place by either reading."""
    return part_at(kept.before, place) or part_at(kept.after, place)


def place_text(kept: Kept, place: str) -> str:
    """Return what is at a place, and the place itself in brackets where it says more."""
    part = part_anywhere(kept, place)
    title = part_title(part) if part else place
    return place if title == place else say("brackets", what=title, text=place)


def line_text(kept: Kept, line_id: str) -> str:
    """Return the order line as sold, with its id; the whole PC for the empty id."""
    line = kept.order.line(line_id)
    if line is None:
        return line_id or say("about.unit")
    return say("about.line", line=line.line_id, text=line.text)
