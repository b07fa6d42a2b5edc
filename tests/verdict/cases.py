"""Small cases for the verdict: one order, one policy, and findings that cover it."""

from __future__ import annotations

from datetime import UTC, datetime

from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.policy import CoverageRule, Need, Policy
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, Unit
from shipworthy.verdict import Concerned

CONFIGURATION = "sha512:" + "a" * 128
OTHER = "sha512:" + "b" * 128
AT = Moment(utc=datetime(2026, 3, 2, tzinfo=UTC), boot_id="b", monotonic_s=1.0, clock_synchronised=True)

ORDER = Order(
    order_id="KD-1",
    shop="Kestrel Desk",
    units=("KD-1-1",),
    lines=(
        OrderLine(
            line_id="1",
            category=Category.MEMORY,
            text="Fennec 16GB DDR5-6000",
            expectations=(
                Expectation(aspect=Aspect.CAPACITY, want=16 * 2**30, unit=Unit.BYTES),
                Expectation(aspect=Aspect.SPEED, want=6000, unit=Unit.MEGATRANSFERS),
            ),
        ),
        OrderLine(line_id="2", category=Category.CASE, text="Osprey Fold case"),
    ),
)

R, B, LOOK = EvidenceKind.READING, EvidenceKind.BURN_IN, EvidenceKind.INSPECTION
POLICY = Policy(
    policy_id="test-1",
    coverage=(
        CoverageRule(category=Category.MEMORY, aspect=Aspect.CAPACITY, need=Need.STATED, by=(R,)),
        CoverageRule(category=Category.MEMORY, aspect=Aspect.LOAD, need=Need.ALWAYS, by=(B,)),
        CoverageRule(category=Category.CASE, aspect=Aspect.PRESENCE, need=Need.ALWAYS, by=(R, LOOK)),
        CoverageRule(category=Category.UNIT, aspect=Aspect.ENDING, need=Need.ALWAYS, by=(B,)),
        CoverageRule(category=Category.UNIT, aspect=Aspect.PORTS, need=Need.NOTE, by=(LOOK,)),
    ),
)


def finding(
    line: str,
    category: Category,
    aspect: Aspect,
    by: EvidenceKind,
    outcome: Outcome = Outcome.CONFORMS,
    code: str = "test.code",
    configuration: str = CONFIGURATION,
    part: str = "",
) -> Finding:
    return Finding(
        code=code,
        outcome=outcome,
        category=category,
        aspect=aspect,
        by=by,
        line=line,
        part=part,
        configuration="" if by is LOOK else configuration,
    )


COVERING = (
    finding("1", Category.MEMORY, Aspect.CAPACITY, R),
    finding("1", Category.MEMORY, Aspect.SPEED, R),
    finding("1", Category.MEMORY, Aspect.LOAD, B),
    finding("2", Category.CASE, Aspect.PRESENCE, LOOK),
    finding("", Category.UNIT, Aspect.ENDING, B),
)
"""Just what the policy asks of the order, the speed because the line states it."""


def case(
    findings: tuple[Finding, ...] = COVERING, policy: Policy = POLICY, configuration: str = CONFIGURATION
) -> Concerned:
    return Concerned(
        order=ORDER,
        policy=policy,
        findings=findings,
        configuration=configuration,
        simulated=False,
        inputs=(),
        at=AT,
    )
