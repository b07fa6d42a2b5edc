"""A line that names no part: what a reading shows of it conforms, whatever is fitted, and it holds."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.inspection import items_for
from shipworthy.messages import finding_sentence, sentence
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, PartKind, VerdictWord
from shipworthy.verdict import Concerned, decide
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.compare import machines as m
from tests.verdict.cases import AT

POLICY = parse_policy(shipped_policy(), "shipped")
FITTED = {
    Category.PROCESSOR: (m.processor(),),
    Category.BOARD: (m.part(PartKind.BOARD, "board", model="Holloway B6-Q", maker="Holloway"),),
    Category.GRAPHICS: (
        m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", model="Sable 210", memory_bytes=8 * m.GIB),
        m.function("pci:0000:01:00.0"),
    ),
    Category.MEMORY: (m.module("A1"), m.memory(16 * m.GIB)),
    Category.STORAGE: (m.drive(), m.function()),
}


def found_of(order: Order) -> tuple[Finding, ...]:
    return compare(order, m.machine(*FITTED[order.lines[0].category]), m.LIMITS, m.EVIDENCE).findings


def held(order: Order) -> set[tuple[str, str]]:
    """Return the reasons to hold where everything else that the policy asks is shown: line and finding."""
    found = found_of(order)
    open_ = {f.key for f in found if f.outcome is not Outcome.CONFORMS}
    shown = [
        Finding(
            code="test.shown",
            outcome=Outcome.CONFORMS,
            category=key.category,
            aspect=key.aspect,
            by=by,
            line=key.line,
        )
        for key in keys_asked(order, POLICY)
        for by in key.by
        if (key.line, key.category, key.aspect) not in open_
    ]
    decision = decide(
        Concerned(
            order=order,
            policy=POLICY,
            findings=(*found, *shown),
            configuration=m.machine().configuration.digest,
            simulated=False,
            inputs=(),
            at=AT,
        )
    )
    assert (decision.verdict is VerdictWord.HOLD) == bool(decision.reasons)
    return {(r.line, r.finding.code if r.finding else r.code) for r in decision.reasons}


@pytest.mark.parametrize(
    ("category", "text"),
    [
        (Category.PROCESSOR, "Processor, boxed"),
        (Category.PROCESSOR, "Processor, 8 cores"),
        (Category.BOARD, "ATX board"),
        (Category.GRAPHICS, "Graphics card"),
        (Category.GRAPHICS, "Graphics card, 8 GB"),
        (Category.MEMORY, "DDR5-6000 memory"),
        (Category.STORAGE, "Internal drive"),
        (Category.STORAGE, "NVMe SSD"),
    ],
)
def test_a_line_that_names_no_part_holds_whatever_is_fitted(category: Category, text: str) -> None:
    order = m.order(m.line(category, text))
    assert held(order) == {("1", "line.nothing-named")}
    (open_,) = [f for f in found_of(order) if f.outcome is Outcome.CANNOT_TELL]
    assert "{" not in finding_sentence(open_).say
    asked = items_for(
        order, [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, POLICY)], [open_]
    )
    (item,) = [i for i in asked.items if i.because == "line.nothing-named"]
    assert text in sentence(item.ask, item.values).say and "()" not in sentence(item.ask, item.values).say


@pytest.mark.parametrize(
    ("category", "text", "more"),
    [
        (Category.PROCESSOR, "Tarn C7", {}),
        (Category.BOARD, "Holloway B6-Q", {}),
        (Category.BOARD, "ATX board", {"part_number": "Holloway B6-Q"}),
        (Category.GRAPHICS, "Sable 210", {}),
        (Category.MEMORY, "16GB DDR5-6000", {}),  # memory and drives are sold by their size too
        (Category.STORAGE, "1 TB NVMe SSD", {}),
    ],
)
def test_a_line_that_names_one_is_not_held_for_that(
    category: Category, text: str, more: dict[str, str]
) -> None:
    order = m.order(m.line(category, text, **more))
    assert held(order) == set()


def test_a_part_of_which_any_is_told_by_eye_is_asked_about_as_before() -> None:
    order = m.order(m.line(Category.CASE, "Case"))
    keys = [key for key in keys_asked(order, POLICY) if key.line]
    assert {key.aspect for key in keys if key.required} == {Aspect.PRESENCE, Aspect.CONDITION}
    assert all(EvidenceKind.INSPECTION in key.by for key in keys)
