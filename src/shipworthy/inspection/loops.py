"""A custom liquid loop is leak-tested and filled with the board unpowered, on record, before any burn-in.

Whether an order sells one is told by its words; when the answer came, by the moments of answer and run log.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Item, Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.time import Moment, no_later, same_start
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.words.loops import find_loop_words, says_sealed

LOOP_ITEM = "unit.loop-leak-tested"
_SOLD_LOOSE = (Category.COOLER, Category.ACCESSORY)


def loop_item(order: Order) -> Item | None:
    """Return the item on the unit's custom loop; None where no line of the order speaks of one.

    Its key, `presence` of the unit, it shares with parts that nobody ordered, and the shipped policy has no
    rule for it. What counts is told by the item's id: no other answer can stand for this one.
    """
    hints = {line.line_id: words for line in order.lines if (words := _loop_words(line))}
    if not hints:
        return None
    return Item(
        item_id=LOOP_ITEM,
        ask="inspect.loop-leak-tested",
        because="order",
        category=Category.UNIT,
        aspect=Aspect.PRESENCE,
        values=values(
            words=", ".join(dict.fromkeys(word for words in hints.values() for word in words)),
            lines=", ".join(hints),
        ),
        caution="caution.leak",
        note_wanted=True,
    )


def _loop_words(line: OrderLine) -> tuple[str, ...]:
    """Return what in a line speaks of a custom loop. A technology that the order gives wins over the text."""
    stated = line.wanted(Aspect.TECHNOLOGY)
    text = line.text
    if stated is not None and isinstance(stated.want, str):
        if says_sealed(stated.want):
            return ()
        text = stated.want if find_loop_words(stated.want) else text
    found = find_loop_words(text, loose_pieces=line.category in _SOLD_LOOSE)
    return tuple(word.words.casefold() for word in found)


def says_tested(seen: Observation) -> bool:
    """Whether an answer says that it was done, and how: a bare *conforms* does not name the method."""
    return seen.outcome is Outcome.CONFORMS and seen.danger is None and bool(seen.note.strip())


def on_record_before(observations: Iterable[Observation], began: Moment) -> Outcome:
    """Return whether the loop's test stood on record when a burn-in began.

    *Conforms*: the last answer before it says that it was done, and how. *Cannot tell*: such an answer is
    there, and by clocks of which one was not synchronised it came later. *Differs*: anything else, and a
    danger always.
    """
    said = [seen for seen in observations if seen.item_id == LOOP_ITEM]
    if any(seen.danger for seen in said):
        return Outcome.DIFFERS
    before = [seen for seen in said if no_later(seen.at, began)]
    if before and says_tested(before[-1]):
        return Outcome.CONFORMS
    unclear = any(says_tested(seen) and not _comparable(seen.at, began) for seen in said)
    return Outcome.CANNOT_TELL if unclear else Outcome.DIFFERS


def loop_findings(
    order: Order, observations: Sequence[Observation], began: Moment, log: str
) -> tuple[Finding, ...]:
    """Return what is to be said of a burn-in that began without the loop's test on record; else nothing.

    began: of its first segment, whose file is `log`.
    """
    outcome = on_record_before(observations, began)
    if loop_item(order) is None or outcome is Outcome.CONFORMS:
        return ()
    unclear = outcome is Outcome.CANNOT_TELL
    answered = any(seen.item_id == LOOP_ITEM for seen in observations)
    return (
        Finding(
            code="burn-in.loop-test-unclear" if unclear else "burn-in.loop-test-not-before",
            outcome=outcome,
            category=Category.UNIT,
            aspect=Aspect.ENDING,
            by=EvidenceKind.BURN_IN,
            values=values(item=LOOP_ITEM),
            evidence=(log, "inspection/observations.jsonl") if answered else (log,),
        ),
    )


def _comparable(one: Moment, other: Moment) -> bool:
    return same_start(one, other) or (one.clock_synchronised is True and other.clock_synchronised is True)
