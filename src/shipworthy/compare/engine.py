"""An order held against a reading: every line, every expectation, one finding at the least.

And what no line asks for: a part that says of itself that it fails (`compare.health`), that nobody ordered
(`compare.unordered`), or that stands in another unit's record (`compare.elsewhere`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shipworthy.compare.delivered import delivered_judgements
from shipworthy.compare.elsewhere import elsewhere_findings
from shipworthy.compare.health import health_findings
from shipworthy.compare.judgement import Judgement, not_by_reading
from shipworthy.compare.labels import with_numbers_for_the_label
from shipworthy.compare.matchers import MATCHERS
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.compare.unordered import unordered_findings, unordered_parts
from shipworthy.model.base import Value
from shipworthy.model.findings import Comparison, Finding, Match
from shipworthy.model.known import NOTHING_KNOWN, Known
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome


def compare(
    order: Order,
    reading: Reading,
    limits: tuple[Limit, ...],
    evidence: tuple[str, ...],
    known: Known = NOTHING_KNOWN,
) -> Comparison:
    """Return the findings of an order against a reading. Pure: knows where neither came from.

    order: with its expectations (`orders.expect`). limits: those of the policy, for what an order does not
    sell but a new unit has to be. evidence: files of the record on which each finding rests. known: the
    bench's own gear, and the serials that stand in other units' records.
    """
    scene = Scene(reading, limits, known.own_work)
    verdicts = {one.line.line_id: one for one in _verdicts(order, scene)}
    in_order = [verdicts[line.line_id] for line in order.lines]
    owners = {place: one.line for one in in_order for place in one.places}
    unordered = unordered_parts(reading, owners, {line.category for line in order.lines}, known)
    return Comparison(
        reading_id=reading.reading_id,
        configuration=reading.configuration.digest,
        matches=tuple(Match(line=one.line.line_id, places=one.places) for one in in_order if one.places),
        findings=(
            *(
                finding_of(one.line, place, judgement, reading, evidence)
                for one in in_order
                for place, judgement in one.judgements
            ),
            *(
                finding_of(line, place, judgement, reading, evidence)
                for line, place, judgement in delivered_judgements(order, reading, owners)
            ),
            *health_findings(reading, owners, evidence),
            *unordered_findings(unordered, reading, evidence),
            *elsewhere_findings(reading, owners, known, evidence),
        ),
        unclaimed=tuple(part.place for part in unordered.extra),
    )


def _verdicts(order: Order, scene: Scene) -> Iterator[Verdicts]:
    by_category: dict[Category, list[OrderLine]] = {}
    for line in order.lines:
        by_category.setdefault(line.category, []).append(line)
    for category, lines in by_category.items():
        matcher = MATCHERS.get(category)
        if matcher is not None:
            judged = map(with_numbers_for_the_label, matcher.match(tuple(lines), scene))
            yield from map(_with_what_names_nothing, judged)
        else:
            yield from (_for_a_person(line) for line in lines)


def _with_what_names_nothing(verdicts: Verdicts) -> Verdicts:
    """Add that nobody can tell whether a part is the one sold, where its line says nothing of which it is."""
    if not verdicts.line.tells_no_part:
        return verdicts
    open_ = Judgement(Aspect.MODEL, Outcome.CANNOT_TELL, "line.nothing-named")
    return replace(verdicts, judgements=(*verdicts.judgements, ("", open_)))


def _for_a_person(line: OrderLine) -> Verdicts:
    return Verdicts(line, tuple(("", not_by_reading(wish)) for wish in line.expectations), ())


def finding_of(
    line: OrderLine, place: str, judgement: Judgement, reading: Reading, evidence: tuple[str, ...]
) -> Finding:
    """Return a judgement as a finding of its line."""
    whole = judgement.code.startswith("line.")
    code = judgement.code if whole else f"{line.category.value.replace(' ', '-')}.{judgement.code}"
    named = (Value(name="name", value=line.text), Value(name="aspect", value=judgement.aspect.value))
    return Finding(
        code=code,
        outcome=judgement.outcome,
        category=line.category,
        aspect=judgement.aspect,
        by=EvidenceKind.READING,
        line=line.line_id,
        part=place,
        want=judgement.want,
        got=judgement.got,
        unit=judgement.unit,
        values=(*named, *judgement.values),
        evidence=evidence,
        configuration=reading.configuration.digest,
    )
