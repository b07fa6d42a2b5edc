"""What parts, places and order lines are called on a page. Identity stays beside the name (design rule 5)."""

from __future__ import annotations

from shipworthy.handover.kept import Kept
from shipworthy.handover.phrases import say
from shipworthy.model.facts import Part
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


def place_text(kept: Kept, place: str) -> str:
    """Return what is at a place, and the place itself in brackets."""
    for reading in (kept.before, kept.after):
        part = reading.at(place) if reading else None
        if part is not None:
            return say("brackets", what=part_title(part), text=place)
    return place


def line_text(kept: Kept, line_id: str) -> str:
    """Return the order line as sold, with its id; the whole PC for the empty id."""
    line = kept.order.line(line_id)
    if line is None:
        return line_id or say("about.unit")
    return say("about.line", line=line.line_id, text=line.text)
