"""What a person looked at, and what nobody and nothing did: never a pass, always named (design rule 1)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import line_text
from shipworthy.handover.phrases import aspect_text, say, time_text
from shipworthy.handover.view import Block, Prose, Section, table
from shipworthy.messages import finding_sentence, sentence
from shipworthy.model.inspection import Item, Observation
from shipworthy.model.policy import CoverageState, Covered
from shipworthy.model.reading import RawRow, SourceOutcome
from shipworthy.model.words import Outcome

_OPEN = {
    CoverageState.CANNOT_TELL: (Outcome.CANNOT_TELL,),
    CoverageState.NOT_CHECKED: (Outcome.NOT_CHECKED,),
    CoverageState.STALE: (),
}
_SHOWN_LOCATORS = 3


def inspection_section(kept: Kept, zone: tzinfo | None) -> Section:
    """Return every item of the inspection with the answer that counts."""
    items = kept.items.items if kept.items else ()
    block: Block = Prose(say("inspection.none"))
    if items:
        labels = ("question", "answer", "who", "note", "pictures")
        rows = tuple(_item_row(item, kept.last_observations.get(item.item_id), zone) for item in items)
        block = table("", tuple(say(f"label.{label}") for label in labels), rows)
    return Section("inspection", say("heading.inspection"), "", (block,))


def _item_row(item: Item, seen: Observation | None, zone: tzinfo | None) -> tuple[str, ...]:
    question = sentence(item.ask, item.values).say
    if seen is None:
        return (question, say(f"answer.{Outcome.NOT_CHECKED.value}"), "", "", "")
    return (
        question,
        say(f"answer.{seen.outcome.value}"),
        say("who", name=seen.by, time=time_text(seen.at, zone)),
        " ".join(filter(None, (seen.note, seen.fitted and say("label-says", text=seen.fitted)))),
        say("pictures", count=len(seen.media)) if seen.media else "",
    )


def unchecked_section(kept: Kept) -> Section:
    """Return every open coverage key with the reason why it is open, and the sources that gave nothing."""
    rows = [_open_row(kept, c) for c in kept.decision.coverage if c.state in _OPEN]
    columns = tuple(say(f"label.{label}") for label in ("what", "state", "why", "needed"))
    first: Block = table("", columns, tuple(rows)) if rows else Prose(say("unchecked.nothing"))
    return Section("unchecked", say("heading.unchecked"), say("lead.unchecked"), (first, *_sources(kept)))


def _open_row(kept: Kept, covered: Covered) -> tuple[str, ...]:
    what = say(
        "colon",
        what=line_text(kept, covered.line),
        text=aspect_text(covered.aspect, covered.category),
    )
    state = covered.state.value.replace(" ", "-")
    key = (covered.line, covered.category, covered.aspect)
    outcomes = _OPEN[covered.state]
    why = [finding_sentence(f).say for f in kept.findings if f.key == key and f.outcome in outcomes]
    return (
        what,
        say(f"shown.{state}"),
        " ".join(dict.fromkeys(why)) or _why(covered),
        say("yes" if covered.required else "no"),
    )


def _why(covered: Covered) -> str:
    """Return the reason where no finding gives one; what nobody asked for is missing from no policy."""
    if covered.state is CoverageState.NOT_CHECKED and not covered.required:
        return say("why.not-checked.unasked")
    return say(f"why.{covered.state.value.replace(' ', '-')}")


def _sources(kept: Kept) -> Iterator[Block]:
    """Return the sources that gave nothing, alike ones together; those that are not there in one line."""
    rows = kept.before.sources if kept.before else ()
    groups: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        if row.outcome not in (SourceOutcome.READ, SourceOutcome.ABSENT):
            groups.setdefault((row.source, _became(row)), []).append(row.locator)
    if groups:
        columns = tuple(say(f"label.{label}") for label in ("source", "became", "places"))
        told = tuple((source, became, _some(places)) for (source, became), places in groups.items())
        yield table(say("table.sources"), columns, told)
    there = {row.source for row in rows if row.outcome is not SourceOutcome.ABSENT}
    absent = dict.fromkeys(row.source for row in rows if row.source not in there)
    if absent:
        yield Prose(say("sources.absent", sources=", ".join(absent)))


def _became(row: RawRow) -> str:
    return say(f"source.{row.outcome.value}", error=row.error or say("silent"))


def _some(locators: list[str]) -> str:
    shown = ", ".join(locators[:_SHOWN_LOCATORS])
    left = len(locators) - _SHOWN_LOCATORS
    return f"{shown} {say('places.more', count=left)}" if left > 0 else shown
