"""Why a unit is held, and what else is to be known: reasons and notes, each with what to do at the bench."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import line_text, place_text
from shipworthy.handover.phrases import say
from shipworthy.handover.view import Entries, Entry, Pair, Section
from shipworthy.messages import Sentence, finding_sentence, quantity_text, sentence
from shipworthy.model.base import Scalar
from shipworthy.model.policy import CoverageState, Reason
from shipworthy.model.words import Category, Unit


def reasons_section(kept: Kept) -> Section:
    """Return the reasons of a hold, numbered."""
    entries = tuple(_entry(kept, reason, at_the_bench=True) for reason in kept.decision.reasons)
    return Section("reasons", say("heading.reasons"), "", (Entries(entries, numbered=True),))


def notes_section(kept: Kept) -> Section | None:
    """Return the differences that do not hold; open keys are in their own section."""
    notes = [n for n in kept.decision.notes if not n.code.startswith("coverage.")]
    if not notes:
        return None
    entries = tuple(_entry(kept, note, at_the_bench=False) for note in notes)
    return Section("notes", say("heading.notes"), say("lead.notes"), (Entries(entries),))


def _entry(kept: Kept, reason: Reason, *, at_the_bench: bool) -> Entry:
    first, why = _sentences(reason)
    do = [Pair(say("label.do"), _to_do(first, why))] if at_the_bench else []
    return Entry(
        title=first.say,
        state=_allowed(reason),
        details=(why.say,) if why else (),
        pairs=(*_want_and_got(kept, reason), *_about(kept, reason), *do),
    )


def _allowed(reason: Reason) -> str:
    """Return by what a difference is none that holds, where it was agreed to or is allowed by a rule."""
    agreed = {CoverageState.CONCEDED: "shown.conceded", CoverageState.SUBSTITUTED: "shown.substituted"}
    return say(agreed[reason.state]) if reason.state in agreed else ""


def _sentences(reason: Reason) -> tuple[Sentence, Sentence | None]:
    """Return the sentence of the reason, and that of the finding behind it where it says something else."""
    finding = reason.finding
    if finding is not None and finding.code == reason.code:
        return finding_sentence(finding), None
    return sentence(reason.code, reason.values), finding_sentence(finding) if finding else None


def _to_do(first: Sentence, why: Sentence | None) -> str:
    said = [words.do for words in (why, first) if words and words.do]
    return " ".join(dict.fromkeys(said)) or say("do.default")


def _want_and_got(kept: Kept, reason: Reason) -> Iterator[Pair]:
    """Return what was wanted and what was found; the order's word where no finding carries one."""
    finding, binary = reason.finding, reason.category is Category.MEMORY
    line = kept.order.line(reason.line)
    wanted = line.wanted(reason.aspect) if line else None
    want, unit = (finding.want, finding.unit) if finding else (None, Unit.NONE)
    if want is None and wanted is not None:
        want, unit = wanted.want, wanted.unit
    if want is not None:
        yield Pair(say("label.want"), quantity_text(want, unit, binary=binary))
        yield Pair(
            say("label.got"), _got(finding.got if finding else None, unit, reason.state, binary=binary)
        )


def _got(got: Scalar | None, unit: Unit, state: CoverageState, *, binary: bool) -> str:
    if got is not None:
        return quantity_text(got, unit, binary=binary)
    return say(
        "found.nothing" if state is CoverageState.DIFFERS else f"shown.{state.value.replace(' ', '-')}"
    )


def _about(kept: Kept, reason: Reason) -> Iterator[Pair]:
    yield Pair(say("label.about"), line_text(kept, reason.line))
    if reason.finding is not None and reason.finding.part:
        yield Pair(say("label.part"), place_text(kept, reason.finding.part))
