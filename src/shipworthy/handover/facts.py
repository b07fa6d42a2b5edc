"""From a sealed record to what the handover says. Pure: the same record gives the same view, for ever."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from shipworthy.handover.burnin import burn_in_section, heat_section
from shipworthy.handover.kept import Kept, RecordFiles, keep
from shipworthy.handover.lines import lines_section
from shipworthy.handover.machine import genuine_section, ports_section, serials_section, technical_section
from shipworthy.handover.phrases import all_shown_as_text, date_text, say, time_text, zone_of
from shipworthy.handover.reasons import notes_section, reasons_section
from shipworthy.handover.unchecked import inspection_section, unchecked_section
from shipworthy.handover.view import Cover, Furniture, Handover, Pair, Section
from shipworthy.model.policy import CoverageState
from shipworthy.model.words import VerdictWord


def handover_of(files: RecordFiles, *, signed: bool) -> Handover:
    """Return the view of a record. signed: whether the pack will carry a signature."""
    kept = keep(files)
    zone = zone_of(kept.attempt.zone)
    held = kept.decision.verdict is VerdictWord.HOLD
    day = kept.decision.at.utc
    return all_shown_as_text(
        Handover(
            language="en",
            held=held,
            day=(day.year, day.month, day.day),
            furniture=_furniture(kept, signed=signed),
            cover=_cover(kept, zone, signed=signed),
            sections=tuple(_sections(kept, zone, held=held, signed=signed)),
        )
    )


def _sections(kept: Kept, zone: tzinfo | None, *, held: bool, signed: bool) -> Iterator[Section]:
    if held:
        yield reasons_section(kept)
    yield lines_section(kept)
    yield ports_section(kept)
    yield heat_section(kept)
    yield serials_section(kept)
    yield unchecked_section(kept)
    notes = notes_section(kept)
    if notes:
        yield notes
    yield genuine_section(kept, signed=signed)
    yield inspection_section(kept, zone)
    yield burn_in_section(kept)
    yield technical_section(kept, zone)


def _verdict_code(kept: Kept) -> str:
    if kept.decision.verdict is VerdictWord.HOLD:
        return "hold"
    states = {covered.state for covered in kept.decision.coverage}
    if CoverageState.CONCEDED in states:
        return "conceded"
    return "substituted" if CoverageState.SUBSTITUTED in states else "release"


def _lead(kept: Kept) -> str:
    code, count = _verdict_code(kept), len(kept.decision.reasons)
    if code == "hold":
        code = "hold.one" if count == 1 else "hold.many"
    return say(f"lead.{code}", count=count)


def _furniture(kept: Kept, *, signed: bool) -> Furniture:
    attempt, verdict = kept.attempt, say(f"verdict.{_verdict_code(kept)}")
    return Furniture(
        title=say("title", unit=attempt.unit_id, verdict=verdict),
        running_head=say(
            "running-head" if signed else "running-head.unsigned",
            unit=attempt.unit_id,
            attempt=attempt.number,
            verdict=verdict,
        ),
        simulated=say("simulated.short") if kept.simulated else "",
        skip=say("skip"),
        contents=say("contents"),
        page=say("page"),
        page_of=say("page-of"),
    )


def _cover(kept: Kept, zone: tzinfo | None, *, signed: bool) -> Cover:
    """Return the cover: the only place where the customer's reference stands."""
    order = kept.order
    facts = [
        Pair(say("label.unit"), kept.attempt.unit_id),
        Pair(say("label.order"), order.order_id),
        Pair(say("label.decided"), time_text(kept.decision.at, zone)),
        Pair(say("label.attempt"), str(kept.attempt.number)),
    ]
    if order.customer_reference:
        facts.insert(2, Pair(say("label.customer-reference"), order.customer_reference))
    if order.due:
        facts.append(Pair(say("label.due"), date_text(order.due)))
    return Cover(
        shop=order.shop,
        verdict=say(f"verdict.{_verdict_code(kept)}"),
        lead=_lead(kept),
        facts=tuple(facts),
        cautions=tuple(_cautions(kept, zone, signed=signed)),
    )


def _cautions(kept: Kept, zone: tzinfo | None, *, signed: bool) -> Iterator[str]:
    if kept.simulated:
        yield say("simulated.long")
    if not signed:
        yield say("unsigned")
    if zone is None:
        yield say("time.zone-unknown", zone=kept.attempt.zone)
    moments = [reading.taken for reading in (kept.before, kept.after) if reading]
    if any(moment.clock_synchronised is not True for moment in moments):
        yield say("time.unsure")
