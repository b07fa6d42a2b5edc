"""Where each part goes: slots, M.2 places, leads. Said only where the order or a record of the part tells.

What board and supply really have stands in their makers' instructions; a place is named here so that the
technician knows what to look up there, and the instructions win.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipworthy.model.catalogue import (
    BoardFacts,
    CaseFacts,
    CoolerFacts,
    GraphicsFacts,
    MemoryFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.fit.cooler import places_for
from shipworthy.orders.fit.m2 import Drive, goes_into_m2, m2_plan
from shipworthy.orders.fit.places import wants_port
from shipworthy.orders.fit.spelling import plug_of
from shipworthy.orders.sheet.build import Work, say, wanted
from shipworthy.words.loops import find_loop_words

_MOST_TOLD = 16
"""Pieces of one line of which the sheet tells the place one by one."""


def places_of(line: OrderLine, work: Work) -> tuple[str, ...]:
    """Return where the parts of a line go, in short sentences; empty where there is nothing to say."""
    tell = _PLACES.get(line.category)
    return tuple(tell(line, work)) if tell else ()


def _of_board(line: OrderLine, work: Work) -> Iterator[str]:
    facts = work.of(line, BoardFacts)
    if facts and facts.form_factor:
        yield say("place.board", form=facts.form_factor)


def _of_processor(line: OrderLine, work: Work) -> Iterator[str]:
    board = work.first(BoardFacts)
    if board and board.socket:
        yield say("place.processor", socket=board.socket)


def modules_of(line: OrderLine, work: Work) -> int | None:
    """Return how many modules a line of memory is; None where nothing tells."""
    count = wanted(line, Aspect.COUNT)
    if isinstance(count, int):
        return count
    facts = work.of(line, MemoryFacts)
    return facts.modules * line.quantity if facts and facts.modules else None


def _of_memory(line: OrderLine, work: Work) -> Iterator[str]:
    counts = [modules_of(one, work) for one in work.lines(Category.MEMORY)]
    board = work.first(BoardFacts)
    slots = board.memory_slots if board else None
    count = None if None in counts else sum(c for c in counts if c)
    if not count:
        yield say("place.memory-by-manual")
    elif slots and count == slots:
        yield say("place.memory-all", slots=slots)
    elif slots == 4 and count in (1, 2):
        yield say(f"place.memory-{'two' if count == 2 else 'one'}-of-four")
    else:
        yield say("place.memory-count-by-manual", count=count)


def _of_storage(line: OrderLine, work: Work) -> Iterator[str]:
    drive = work.part(line, StorageFacts)
    if drive is None:
        return
    if not goes_into_m2(drive):
        if wants_port(drive):
            yield say("place.sata")
        return
    boards = work.build.of(BoardFacts)
    plan = m2_plan(work.build, boards[0]) if boards else None
    if plan is None:
        yield from _of_unplanned_m2(drive, work)
        return
    for number, place in plan.get(drive.line, ()):
        yield say("place.m2-known", number=number, interface=place.interface or "?")
        if place.shares_with:
            yield say("place.m2-shares", number=number, what=", ".join(place.shares_with))


def _of_unplanned_m2(drive: Drive, work: Work) -> Iterator[str]:
    """Yield the place of a drive where the board's are not known, or do not take all that are ordered."""
    first = next(other.line for other in work.build.of(StorageFacts) if goes_into_m2(other))
    for piece in range(min(drive.quantity, _MOST_TOLD)):
        yield say("place.m2-first" if drive.line == first and piece == 0 else "place.m2-next")


def _of_graphics(line: OrderLine, work: Work) -> Iterator[str]:
    yield say("place.graphics")
    facts = work.of(line, GraphicsFacts)
    if facts is None or facts.plugs is None:
        yield say("place.graphics-leads-unknown")
        return
    kinds = {plug: facts.plugs.count(plug) for plug in dict.fromkeys(facts.plugs)}
    for plug, count in kinds.items():
        one_lead = plug_of(plug) == "16"
        yield say("place.graphics-high-power" if one_lead else "place.graphics-leads", count=count, plug=plug)


def _of_supply(line: OrderLine, work: Work) -> Iterator[str]:
    facts = work.of(line, SupplyFacts)
    if facts is None or facts.modular != "Non-Modular":
        yield say("place.supply-own-leads")
    board = work.first(BoardFacts)
    if board and board.processor_plugs:
        yield say("place.supply-processor", plugs=" + ".join(f"{pins}-pin" for pins in board.processor_plugs))


def _of_cooler(line: OrderLine, work: Work) -> Iterator[str]:
    if find_loop_words(line.text, loose_pieces=True):
        yield say("place.loop")
        return
    facts = work.of(line, CoolerFacts)
    if facts is None or facts.liquid is None:
        return
    if not facts.liquid:
        yield say("place.cooler-air")
        return
    case = work.first(CaseFacts)
    size = facts.radiator_mm
    fits = [place.place for place in places_for(case.radiators or (), size)] if case and size else []
    if fits and size:
        yield say("place.radiator-known", size=f"{size:g}", where=", ".join(fits))
    else:
        yield say("place.radiator")
    yield say("place.pump")


def _of_fan(line: OrderLine, work: Work) -> Iterator[str]:
    yield say("place.fans" if line.quantity > 1 else "place.fan", quantity=line.quantity)


def _of_card(line: OrderLine, work: Work) -> Iterator[str]:
    if "USB" not in line.text.upper():
        yield say("place.card")


def _of_display(line: OrderLine, work: Work) -> Iterator[str]:
    yield say("place.display-card" if work.lines(Category.GRAPHICS) else "place.display")


_PLACES: dict[Category, Callable[[OrderLine, Work], Iterator[str]]] = {
    Category.BOARD: _of_board,
    Category.PROCESSOR: _of_processor,
    Category.MEMORY: _of_memory,
    Category.STORAGE: _of_storage,
    Category.GRAPHICS: _of_graphics,
    Category.POWER_SUPPLY: _of_supply,
    Category.COOLER: _of_cooler,
    Category.FAN: _of_fan,
    Category.NETWORK: _of_card,
    Category.SOUND: _of_card,
    Category.DISPLAY: _of_display,
}
