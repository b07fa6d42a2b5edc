"""Golden sealed records: every later version of the tool must read, verify, re-decide and render them.

One folder for each version of the record; tools/make_golden.py made them, and nothing replaces them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.handover.pack import render
from shipworthy.jobs.unit import read_plan_of, read_segments
from shipworthy.machine.reading import reread
from shipworthy.messages import finding_sentence, known_codes, sentence
from shipworthy.model.analysis import Analysis
from shipworthy.model.attempt import Attempt, StepLine
from shipworthy.model.base import decode_lines
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.inspection import InspectionResult, Items, Observation
from shipworthy.model.orders import Order
from shipworthy.model.plan import Plan
from shipworthy.model.policy import Decision
from shipworthy.model.reading import RawRow, Reading
from shipworthy.record.keys import TrustList
from shipworthy.record.sealed import Sealed
from shipworthy.record.verify import verify
from shipworthy.verdict import Concerned, binding_findings, decide
from shipworthy.verdict.policies import parse_policy

GOLDEN = Path(__file__).parent / "golden"
RECORDS = sorted(path.parent for path in GOLDEN.glob("*/*/bagit.txt"))
EVERY_RECORD = pytest.mark.parametrize("record", RECORDS, ids=lambda p: f"{p.parent.name}-{p.name}")


def test_there_is_a_release_and_a_hold_of_each_version() -> None:
    assert {p.name for p in RECORDS} == {"release", "hold"}
    assert len(RECORDS) == 2 * len([p for p in GOLDEN.iterdir() if p.is_dir()])


@EVERY_RECORD
def test_it_is_still_valid(record: Path) -> None:
    report = verify(record, TrustList.load(record.parent / "trust.json"))
    assert report.faults == ()
    assert report.signer == "Kestrel Desk"


@EVERY_RECORD
def test_every_file_of_it_can_still_be_read(record: Path) -> None:
    sealed = Sealed(record)
    for name, kind in (
        ("attempt.json", Attempt),
        ("order/order.json", Order),
        ("reading/reading.json", Reading),
        ("reading-after/reading.json", Reading),
        ("comparison.json", Comparison),
        ("burn-in/plan.json", Plan),
        ("analysis.json", Analysis),
        ("inspection/items.json", Items),
        ("inspection/findings.json", InspectionResult),
        ("decisions/001.json", Decision),
    ):
        assert isinstance(sealed.read(name, kind), kind)
    for name, line_kind in (
        ("steps.jsonl", StepLine),
        ("reading/raw/index.jsonl", RawRow),
        ("inspection/observations.jsonl", Observation),
    ):
        assert decode_lines(sealed.bytes(name), line_kind, name)[0]
    assert read_segments(record / "data")


@EVERY_RECORD
def test_the_same_inputs_still_give_the_same_verdict(record: Path) -> None:
    sealed = Sealed(record)
    decided = sealed.read("decisions/001.json", Decision)
    again = decide(_case(sealed, record, decided))
    assert again.verdict is decided.verdict
    assert again.verdict.value == record.name
    assert [(r.code, r.line, r.aspect) for r in again.reasons] == [
        (r.code, r.line, r.aspect) for r in decided.reasons
    ]
    assert again.coverage == decided.coverage


def _case(sealed: Sealed, record: Path, decided: Decision) -> Concerned:
    before = sealed.read("reading/reading.json", Reading)
    after = sealed.read("reading-after/reading.json", Reading)
    nonces = [s.start.nonce for s in read_segments(record / "data") if s.start]
    found: list[Finding] = [
        *binding_findings(sealed.attempt.nonce, before, after, nonces),
        *sealed.read("comparison.json", Comparison).findings,
        *sealed.read("analysis.json", Analysis).findings,
        *sealed.read("inspection/findings.json", InspectionResult).findings,
    ]
    return Concerned(
        order=sealed.read("order/order.json", Order),
        policy=parse_policy(sealed.bytes("policy.toml"), "policy.toml"),
        findings=tuple(found),
        configuration=after.configuration.digest,
        simulated=sealed.attempt.simulated,
        inputs=decided.inputs,
        at=decided.at,
    )


@EVERY_RECORD
def test_the_run_log_still_shows_what_it_showed(record: Path) -> None:
    sealed = Sealed(record)
    plan = read_plan_of(record / "data")
    assert plan is not None
    policy = parse_policy(sealed.bytes("policy.toml"), "policy.toml")
    segments: tuple[Segment, ...] = read_segments(record / "data")
    again = analyse(
        plan,
        segments,
        sealed.read("order/order.json", Order),
        sealed.read("comparison.json", Comparison).matches,
        sealed.read("reading/reading.json", Reading),
        (*policy.limits, *plan.limits),
    )
    stored = sealed.read("analysis.json", Analysis)
    assert [(f.code, f.line, f.outcome) for f in again.findings] == [
        (f.code, f.line, f.outcome) for f in stored.findings
    ]
    assert again.loads == stored.loads


@EVERY_RECORD
def test_its_raw_bytes_still_say_all_that_they_said(record: Path) -> None:
    """A later decoder may say more of the same bytes: more parts, more facts, more of the configuration."""
    for name in ("reading", "reading-after"):
        stored = Sealed(record).read(f"{name}/reading.json", Reading)
        again = reread(record / "data" / name)
        told = {(k, p, RENAMED.get(n, n)): v for (k, p, n), v in values_of(stored).items()}
        assert told.items() <= values_of(again).items()
        before = {item.key: item.value for item in stored.configuration.items}
        after = {item.key: item.value for item in again.configuration.items}
        assert before.items() <= after.items()


RENAMED = {"rated_speed_mt_s": "firmware_speed_mt_s"}
"""Facts that were called otherwise when the records were sealed."""


def values_of(reading: Reading) -> dict[tuple[str, str, str], object]:
    return {
        (part.kind.value, part.place, fact.name): fact.value
        for part in reading.parts
        for fact in part.facts
        if fact.value is not None
    }


@EVERY_RECORD
def test_every_finding_of_it_still_has_its_whole_sentence(record: Path) -> None:
    """A code's values never change their names: a new sentence that needs others gets a new code."""
    decision = Sealed(record).read("decisions/001.json", Decision)
    for finding in [*_case(Sealed(record), record, decision).findings]:
        words = finding_sentence(finding)
        assert finding.code in known_codes()
        assert "{" not in words.say + words.do
    for reason in (*decision.reasons, *decision.notes):
        assert "{" not in sentence(reason.code, reason.values).say or reason.finding


@EVERY_RECORD
def test_it_can_still_be_handed_over(record: Path, tmp_path: Path) -> None:
    pack = render(record, tmp_path / "pack", None)
    word = "Released" if record.name == "release" else "Held"
    assert word in pack.html.read_text("utf-8")
    assert pack.pdf.read_bytes().startswith(b"%PDF-")
