"""A substitution in the report: the shop's words, what was ordered and what is fitted, and nothing hidden."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from shipworthy.compare import with_substitutions
from shipworthy.handover.facts import handover_of
from shipworthy.handover.view import Handover, texts
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import decode, encode
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.inspection import InspectionResult
from shipworthy.model.orders import Order
from shipworthy.model.policy import CoverageState, Decision
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, Outcome, VerdictWord
from shipworthy.record.sealed import Sealed
from shipworthy.verdict import Concerned, binding_findings, decide
from shipworthy.verdict.policies import parse_policy
from tests.handover.records import NONCE

WORDS = "Your drive was out of stock. We fitted a larger one at no charge."
RULE = f"""
[[substitutions]]
rule_id = "larger-drive"
category = "storage"
words = "{WORDS}"
demands = [
  {{ aspect = "interface", direction = "same" }},
  {{ aspect = "capacity", direction = "more", most_ratio = 2.0 }},
]
"""


class Changed:
    """A sealed record with some of its files replaced."""

    def __init__(self, record: Sealed, files: dict[str, bytes]) -> None:
        self.record, self.files, self.digest = record, files, record.digest

    def names(self) -> Iterable[str]:
        return {*self.record.names(), *self.files}

    def bytes(self, name: str) -> bytes:
        return self.files.get(name) or self.record.bytes(name)

    def read(self, name: str, kind: type[Any]) -> Any:
        return decode(self.bytes(name), kind, name)


def fitted_larger(finding: Finding) -> Finding:
    if (finding.category, finding.aspect) != (Category.STORAGE, Aspect.CAPACITY):
        return finding
    return msgspec.structs.replace(
        finding, code="storage.capacity.differs", outcome=Outcome.DIFFERS, got=2_000_398_934_016
    )


def changed(record: Sealed, rule: str) -> tuple[Decision, Handover]:
    """Return decision and view of the record as it is with a larger drive, under a policy with that rule."""
    order, before, after = (
        record.read(name, kind)
        for name, kind in (
            ("order/order.json", Order),
            ("reading/reading.json", Reading),
            ("reading-after/reading.json", Reading),
        )
    )
    text = record.bytes("policy.toml") + rule.encode()
    policy = parse_policy(text, "policy.toml")
    comparison = record.read("comparison.json", Comparison)
    found = with_substitutions(order, [fitted_larger(f) for f in comparison.findings], policy.substitutions)
    comparison = msgspec.structs.replace(comparison, findings=found)
    decision = decide(
        Concerned(
            order=order,
            policy=policy,
            findings=(
                *comparison.findings,
                *record.read("analysis.json", Analysis).findings,
                *binding_findings(NONCE, before, after, (NONCE,)),
                *record.read("inspection/findings.json", InspectionResult).findings,
            ),
            configuration=after.configuration.digest,
            simulated=False,
            inputs=(),
            at=record.read("decisions/001.json", Decision).at,
        )
    )
    files = {
        "policy.toml": text,
        "comparison.json": encode(comparison),
        "decisions/001.json": encode(decision),
    }
    return decision, handover_of(Changed(record, files), signed=True)


@pytest.fixture
def record(made: dict[str, Path]) -> Sealed:
    return Sealed(made["released"])


def said(view: object) -> str:
    return " ".join(texts(view)).replace("\u00a0", " ")


def test_the_customer_reads_the_shop_s_words_with_what_was_ordered_and_what_is_fitted(record: Sealed) -> None:
    decision, view = changed(record, RULE)
    assert decision.verdict is VerdictWord.RELEASE
    assert "part substituted" in said(view.cover)
    (lines,) = [section for section in view.sections if section.name == "lines"]
    (notes,) = [section for section in view.sections if section.name == "notes"]
    for told in (said(lines), said(notes)):
        assert WORDS in told
        assert "1 TB" in told and "2 TB" in told and "{" not in told
    assert "Everything that the shop's policy asks of this PC was shown" not in said(view.cover)


def test_the_record_shows_both_the_difference_and_the_rule(record: Sealed) -> None:
    decision, _ = changed(record, RULE)
    (note,) = [n for n in decision.notes if n.state is CoverageState.SUBSTITUTED]
    assert note.finding is not None
    named = {value.name: value.value for value in note.finding.values}
    assert (named["original"], named["rule"]) == ("storage.capacity.differs", "larger-drive")
    assert (note.finding.want, note.finding.got) == (10**12, 2_000_398_934_016)


def test_without_the_rule_it_is_a_hold_for_the_difference(record: Sealed) -> None:
    decision, view = changed(record, "")
    assert [r.code for r in decision.reasons] == ["storage.capacity.differs"]
    assert WORDS not in said(view)
