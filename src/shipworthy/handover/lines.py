"""Order lines, and how each was shown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from shipworthy.handover.kept import Kept
from shipworthy.handover.phrases import aspect_text, listed, say
from shipworthy.handover.view import Entries, Entry, Section
from shipworthy.messages import quantity_text
from shipworthy.model.findings import Finding
from shipworthy.model.orders import OrderLine
from shipworthy.model.policy import CoverageState, Covered
from shipworthy.model.substituted import WORDS
from shipworthy.model.words import Category, EvidenceKind, Outcome

_OPEN = (CoverageState.CANNOT_TELL, CoverageState.NOT_CHECKED, CoverageState.STALE)


def lines_section(kept: Kept) -> Section:
    """Return every order line and the unit as a whole, each with what became of it."""
    entries = [_line_entry(kept, line) for line in kept.order.lines]
    whole = _covered(kept, "")
    entries.append(
        Entry(
            title=say("line.whole"),
            state=_state(whole, whole_unit=True),
            strong=_asks_attention(whole),
            shown=tuple(_shown(kept, whole)),
        )
    )
    return Section("lines", say("heading.lines"), say("lead.lines"), (Entries(tuple(entries)),))


def _line_entry(kept: Kept, line: OrderLine) -> Entry:
    covered = _covered(kept, line.line_id)
    return Entry(
        title=say("line.title", quantity=line.quantity, text=line.text),
        state=_state(covered),
        strong=_asks_attention(covered),
        details=tuple(_details(line)),
        shown=tuple(_shown(kept, covered)) or (say("shown.unasked"),),
    )


def _details(line: OrderLine) -> Iterator[str]:
    sold_by = " ".join(
        filter(None, (line.maker, line.part_number and say("line.part-number", part_number=line.part_number)))
    )
    yield ", ".join(
        filter(
            None,
            (
                say("line.number", line=line.line_id),
                line.category.value,
                sold_by,
                line.gtin and say("line.gtin", gtin=line.gtin),
            ),
        )
    )


def _covered(kept: Kept, line_id: str) -> tuple[Covered, ...]:
    return tuple(covered for covered in kept.decision.coverage if covered.line == line_id)


def _state(covered: Iterable[Covered], *, whole_unit: bool = False) -> str:
    """Return how a line stands, in words; the worst of its keys tells."""
    states = {c.state for c in covered if c.required or c.state not in _OPEN}
    if CoverageState.DIFFERS in states:
        return say("state.differs")
    if states.intersection(_OPEN):
        return say("state.partly")
    if CoverageState.CONCEDED in states:
        return say("state.conceded")
    if CoverageState.SUBSTITUTED in states:
        return say("state.substituted")
    if CoverageState.COVERED in states:
        return say("state.whole" if whole_unit else "state.as-ordered")
    return say("state.nothing")


def _asks_attention(covered: tuple[Covered, ...]) -> bool:
    return not any(c.required for c in covered) or any(
        c.state is not CoverageState.COVERED for c in covered if c.required
    )


def _shown(kept: Kept, covered: Iterable[Covered]) -> Iterator[str]:
    """Return one text for each way of showing, naming all that it showed: "size, speed: read from …"."""
    groups: dict[str, list[str]] = {}
    for one in covered:
        groups.setdefault(_how(kept, one), []).append(_what(kept, one))
    for how, what in groups.items():
        yield say("colon", what=", ".join(what), text=how)


def _what(kept: Kept, covered: Covered) -> str:
    """Return the aspect, with the value that was found where a source gave one."""
    word = aspect_text(covered.aspect, covered.category)
    key = (covered.line, covered.category, covered.aspect)
    for finding in kept.findings:
        if finding.key == key and _tells(finding, covered):
            return say("brackets", what=word, text=_value(finding))
    return word


def _tells(finding: Finding, covered: Covered) -> bool:
    """Whether a finding says, in a value worth reading, how this key came to stand as it does."""
    if finding.got is None or isinstance(finding.got, bool):
        return False
    if covered.state is CoverageState.COVERED:
        return finding.outcome is Outcome.CONFORMS and finding.by in covered.by
    return finding.outcome is Outcome.DIFFERS


def _value(finding: Finding) -> str:
    binary = finding.category is Category.MEMORY
    got = quantity_text(finding.got, finding.unit, binary=binary)
    if finding.outcome is Outcome.CONFORMS or finding.want is None:
        return got
    return say("shown.instead", got=got, want=quantity_text(finding.want, finding.unit, binary=binary))


def _how(kept: Kept, covered: Covered) -> str:
    if covered.state is CoverageState.COVERED:
        return listed(_by(kept, covered, kind) for kind in covered.by)
    if covered.state is CoverageState.CONCEDED:
        return _conceded(kept, covered)
    if covered.state is CoverageState.SUBSTITUTED:
        return _substituted(kept, covered)
    return say(f"shown.{covered.state.value.replace(' ', '-')}")


def _by(kept: Kept, covered: Covered, kind: EvidenceKind) -> str:
    if kind is not EvidenceKind.INSPECTION:
        return say(f"by.{kind.value}")
    asked = [
        item.item_id
        for item in (kept.items.items if kept.items else ())
        if (item.line, item.category) == (covered.line, covered.category)
        and covered.aspect in (item.aspect, *item.also)
    ]
    names = [kept.last_observations[item].by for item in asked if item in kept.last_observations]
    return say("by.inspection", name=listed(names)) if names else say("by.inspection-unnamed")


def _substituted(kept: Kept, covered: Covered) -> str:
    """Return that the shop's rule allows it, with the words that the shop chose for its customers."""
    key = (covered.line, covered.category, covered.aspect)
    said = (v.value for f in kept.findings if f.key == key for v in f.values if v.name == WORDS)
    words = next((str(value) for value in said), "")
    return say("shown.substituted-with", words=words) if words else say("shown.substituted")


def _conceded(kept: Kept, covered: Covered) -> str:
    key = (covered.line, covered.category, covered.aspect)
    codes = {f.code for f in kept.findings if f.key == key and f.outcome is Outcome.DIFFERS}
    for concession in kept.concessions:
        if concession.line == covered.line and concession.code in codes:
            return say("shown.conceded-by", name=concession.by, reason=concession.reason)
    return say("shown.conceded")
