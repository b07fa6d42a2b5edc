"""What an analysis shows, as tests ask for it."""

from __future__ import annotations

from shipworthy.messages import finding_sentence
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import Scalar, values
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import Event
from shipworthy.model.words import Aspect, Outcome


def event(code: str, t_s: float = 5.0, **named: Scalar) -> Event:
    return Event(t_s=t_s, code=code, values=values(**named))


def of(analysis: Analysis, outcome: Outcome, *aspects: Aspect) -> list[str]:
    """Return the codes with that outcome, sorted; of some aspects only."""
    return sorted(
        f.code for f in analysis.findings if f.outcome is outcome and (not aspects or f.aspect in aspects)
    )


def differs(analysis: Analysis, *aspects: Aspect) -> list[str]:
    return of(analysis, Outcome.DIFFERS, *aspects)


def opened(analysis: Analysis, *aspects: Aspect) -> list[str]:
    """Return the codes that leave something open."""
    return sorted(of(analysis, Outcome.CANNOT_TELL, *aspects) + of(analysis, Outcome.NOT_CHECKED, *aspects))


def all_of(analysis: Analysis, code: str) -> list[Finding]:
    found = [f for f in analysis.findings if f.code == code]
    for finding in found:
        words = finding_sentence(finding)
        assert "{" not in words.say + words.do, "a value is missing"
        told = words.do or finding.outcome is Outcome.CONFORMS or finding.code == "load.without-target"
        assert told, "nobody is told what to do"
    return found


def one(analysis: Analysis, code: str) -> Finding:
    (found,) = all_of(analysis, code)
    return found


def said(finding: Finding) -> dict[str, object]:
    return {value.name: value.value for value in finding.values}
