"""Which slots hold the modules: spread over the channels, or two in one while another stays empty.

Only the names of slots tell; where they name no channel, nothing is said. Two modules in one channel work, at
half the bandwidth. Which slot of a channel comes first is the board's own (its manual asks for the second one
on most boards of four slots: common practice), so it is judged only where the order says it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shipworthy.compare.judgement import Judgement, judged, not_by_reading
from shipworthy.compare.modules import fitted_modules
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Outcome, PartKind
from shipworthy.words.slots import Slot, named_slots, slot_of


def judge_channels(reading: Reading) -> Iterator[Judgement]:
    """Judge how the fitted modules are spread over the channels that the slots' names tell of."""
    fitted = fitted_modules(reading)
    slots = [_slot(part) for part in reading.of_kind(PartKind.MEMORY_MODULE)]
    held = [_slot(part) for part in fitted]
    channels = {slot.channel for slot in slots if slot is not None}
    if len(channels) < 2 or any(slot is None for slot in slots):
        return
    used = Counter(slot.channel for slot in held if slot is not None)
    most_even = min(len(held), len(channels))
    if len(used) >= most_even:
        return
    empty = ", ".join(sorted(channels - set(used)))
    doubled = ", ".join(sorted(channel for channel, count in used.items() if count > 1))
    yield judged(
        Outcome.DIFFERS,
        Aspect.POSITION,
        most_even,
        len(used),
        ending="one-channel",
        named={"empty": empty, "doubled": doubled, "slots": _names(fitted)},
    )


def judge_position(wish: Expectation, modules: tuple[Part, ...], reading: Reading) -> Judgement:
    """Compare the slots that hold a line's modules with those that the order, or its build sheet, names
    (`A2, B2`). Where firmware counts the slots of a channel from 0, its numbers are one less.

    Not by a reading where a slot's name has no number, or where several controllers each have channels.
    """
    wanted = named_slots(str(wish.want))
    every = [slot for part in reading.of_kind(PartKind.MEMORY_MODULE) if (slot := _slot(part)) is not None]
    held = [_slot(part) for part in modules]
    numbered = [(slot.letter, slot.number) for slot in held if slot is not None and slot.number is not None]
    if not wanted or not held or len(numbered) < len(held) or len({slot.controller for slot in every}) > 1:
        return not_by_reading(wish)
    from_0 = any(slot.number == 0 for slot in every) and all(number for _, number in wanted)
    found = {(letter, number + from_0) for letter, number in numbered}
    got = ", ".join(sorted(f"{letter}{number}" for letter, number in found))
    outcome = Outcome.CONFORMS if found == wanted else Outcome.DIFFERS
    return judged(outcome, Aspect.POSITION, wish.want, got)


def _slot(part: Part) -> Slot | None:
    return slot_of(part.text("locator"), part.text("bank"))


def _names(modules: tuple[Part, ...]) -> str:
    return ", ".join(module.text("locator") or module.place for module in modules)
