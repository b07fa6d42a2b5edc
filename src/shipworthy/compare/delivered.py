"""A system that was sold is delivered whole; where none was sold, the drives are delivered blank (ADR 0034).

Compared after the parts have been shared out, since both speak of the drives that were sold. A stick that the
bench started from stands for no line and says nothing of either.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shipworthy.compare.contents import Contents, Delivered, delivered_of, in_words, is_carried
from shipworthy.compare.judgement import Judgement, judged
from shipworthy.compare.matchers.service import judge_left_blank
from shipworthy.compare.matchers.software import judge_software
from shipworthy.model.facts import Part
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.words.systems import says_blank, sells_system


def delivered_judgements(
    order: Order, reading: Reading, owners: Mapping[str, OrderLine]
) -> Iterator[tuple[OrderLine, str, Judgement]]:
    """Return line, place and judgement of all that is delivered on the drives.

    owners: the order line of each place that has one.
    """
    delivered = delivered_of(reading, owners)
    software = [line for line in order.lines if line.category is Category.SYSTEM_SOFTWARE]
    left_blank = any(line.category is Category.SERVICE and says_blank(line.text) for line in order.lines)
    for line in software:
        several = len(software) > 1
        found = judge_software(line, delivered, reading, several=several, left_blank=left_blank)
        yield from ((line, "", judgement) for judgement in found)
    if sells_system((line.category, line.text) for line in order.lines):
        return
    for drive in delivered.drives:
        for judgement in judge_blank(drive, delivered):
            yield owners[drive.place], drive.place, judgement
    for line in order.lines:
        if line.category is Category.SERVICE and says_blank(line.text):
            yield from ((line, "", judgement) for judgement in judge_left_blank(delivered))


def judge_blank(drive: Part, delivered: Delivered) -> Iterator[Judgement]:
    """Judge that nothing is on a drive that was sold without a system; say nothing where nobody looked."""
    contents = delivered.contents(drive)
    said = in_words(drive, runs=delivered.holds_what_runs(drive))
    if contents is Contents.NOTHING:
        yield judged(Outcome.CONFORMS, Aspect.BLANK, None, None)
    elif is_carried(drive):
        yield judged(Outcome.CONFORMS, Aspect.BLANK, None, said or None, ending="carried")
    elif contents is Contents.SOMETHING:
        yield judged(Outcome.DIFFERS, Aspect.BLANK, None, said)
