"""Findings on stdout, for people: what differs first, what only a person sees together, what conforms in one
row a part, the sum last.

Where several parts stand for a line, each row names the place of its part as `read` does.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from itertools import groupby

from shipworthy.cli.show import say, wrapped
from shipworthy.handover.phrases import aspect_text
from shipworthy.messages import Sentence, finding_sentence, finding_words, line_text, sentence
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.substituted import SUBSTITUTED_CODES
from shipworthy.model.words import Outcome

_SUMS = (
    (Outcome.DIFFERS, "{} differs", "{} differ"),
    (Outcome.CANNOT_TELL, "{} cannot be told", "{} cannot be told"),
    (Outcome.NOT_CHECKED, "{} is for a person", "{} are for a person"),
    (Outcome.CONFORMS, "{} conforms", "{} conform"),
)
_ORDER = [outcome for outcome, _, _ in _SUMS]
_TO_LOOK_AT = "line.not-by-reading"


def findings(found: Iterable[Finding], every: bool = False) -> None:
    """Print findings, each with what to do about it. What no reading shows of a line is one row, and so is
    what conforms of a part; every: with a sentence of its own for each thing that conforms."""
    ordered = sorted(
        found, key=lambda finding: (_ORDER.index(finding.outcome), finding.code in SUBSTITUTED_CODES)
    )
    shared = _lines_of_several(ordered)
    for first, words in _rows(ordered, every):
        place = f" [{first.part}]" if first.line in shared and first.part else ""
        state = "substituted" if first.code in SUBSTITUTED_CODES else first.outcome.value
        wrapped(f"{state:<13}{line_text(first.line)}{place}: {words.say}", 13)
        if words.do and first.outcome is not Outcome.CONFORMS:
            wrapped(f"{'':13}-> {words.do}", 16)
    if ordered:
        say()
        say(_sum(ordered))


def _lines_of_several(found: Iterable[Finding]) -> frozenset[str]:
    """Return the order lines that several parts stand for: what is said of one has to name its place."""
    parts = {(finding.line, finding.part) for finding in found if finding.line and finding.part}
    counts = Counter(line for line, _ in parts)
    return frozenset(line for line, count in counts.items() if count > 1)


def _rows(ordered: Iterable[Finding], every: bool) -> Iterator[tuple[Finding, Sentence]]:
    """Yield a row's first finding and its sentence."""

    def code_of(finding: Finding) -> str:
        return "" if finding.outcome is Outcome.CONFORMS and not every else finding.code

    for (code, _, _), group in groupby(ordered, key=lambda f: (code_of(f), f.line, f.part)):
        together = list(group)
        if not code:
            yield together[0], Sentence(say=", ".join(dict.fromkeys(map(_as_ordered, together))))
        elif code == _TO_LOOK_AT and len(together) > 1:
            yield together[0], _to_look_at(together)
        else:
            yield from ((finding, finding_sentence(finding)) for finding in together)


def _to_look_at(found: Iterable[Finding]) -> Sentence:
    """Return one sentence for all that no reading shows of a line."""
    told = [finding_words(finding) for finding in found]
    wants = ", ".join(f"the {words['aspect']} ({words['want']})" for words in told)
    return sentence(f"{_TO_LOOK_AT}.several", values(name=told[0]["name"], wants=wants))


def _as_ordered(finding: Finding) -> str:
    """Name what conforms, with what was found where that is a value: `capacity (4 TB)`."""
    name = aspect_text(finding.aspect, finding.category)
    return name if finding.got is None else f"{name} ({finding_words(finding)['got']})"


def _sum(found: Collection[Finding]) -> str:
    counts = Counter(finding.outcome for finding in found)
    told = [(one if counts[o] == 1 else many).format(counts[o]) for o, one, many in _SUMS if counts[o]]
    if substituted := sum(finding.code in SUBSTITUTED_CODES for finding in found):
        told[0] += f" ({substituted} of them substituted as the policy allows)"
    return f"{len(found)} {'finding' if len(found) == 1 else 'findings'}: {', '.join(told)}."
