"""Policy and decision: what the verdict asks for, and what it said (ADR 0011)."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Digest, Record, RecordPath, Value
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, VerdictWord


class Need(StrEnum):
    """When a coverage key has to be covered."""

    ALWAYS = "always"  # for every line of the category
    STATED = "stated"  # if the order line has an expectation on that aspect
    NO_SYSTEM = "no system sold"  # for every line of the category, in an order that sells no system software
    NOTE = "note"  # never holds; shown


class CoverageRule(Record):
    """For lines of a category: this aspect must be shown by one of these kinds of evidence."""

    category: Category
    aspect: Aspect
    need: Need
    by: tuple[EvidenceKind, ...]


class Weight(StrEnum):
    HOLD = "hold"
    NOTE = "note"


class WeightRule(Record):
    """Of findings with this code and outcome: do they hold, or are they a note?"""

    code: str
    outcome: Outcome
    weight: Weight


class Conceder(Record):
    """Who may concede, by the RFC 7638 thumbprint of their key."""

    name: str
    thumbprint: str


class Endurance(Record):
    """How much drives of a model may be written in their life, by their maker's data sheet (TBW there).

    model: words that the drive's model holds, whatever the case.
    """

    model: Annotated[str, msgspec.Meta(min_length=1)]
    rated_bytes: Annotated[int, msgspec.Meta(gt=0)]


class Direction(StrEnum):
    """How what is fitted may stand to what was sold."""

    SAME = "same"
    MORE = "more"
    SAME_OR_MORE = "same or more"
    LESS = "less"
    SAME_OR_LESS = "same or less"


class Demand(Record):
    """What has to be so of one aspect for a substitution to count.

    most_ratio: how far at most, as a ratio of the larger number to the smaller. ranks: words of the aspect
    from the least to the most, where it is told in words and not in a number.
    """

    aspect: Aspect
    direction: Direction
    most_ratio: Annotated[float, msgspec.Meta(gt=1)] | None = None
    ranks: tuple[str, ...] = ()


class Substitution(Record):
    """A part that the shop may fit instead of the one sold, by a rule and never by a part number.

    words: what the customer is told of it. demands: all have to be met. besides: aspects that differ with
    any other part (its model, its part number) and may; everything else that differs still holds.
    """

    rule_id: Annotated[str, msgspec.Meta(pattern=r"^[a-z0-9][a-z0-9-]{0,63}$")]
    category: Category
    words: Annotated[str, msgspec.Meta(min_length=1, max_length=500, pattern=r"\S")]
    demands: Annotated[tuple[Demand, ...], msgspec.Meta(min_length=1)]
    besides: tuple[Aspect, ...] = ()


class Policy(Record):
    """What a shop asks before it releases. An input of the verdict, kept with its digest in the record.

    burn_in_least_s: for how long, in s, loads with checked results have to run at least.
    """

    schema: Literal[1] = 1
    policy_id: str
    coverage: tuple[CoverageRule, ...]
    weights: tuple[WeightRule, ...] = ()
    burn_in_least_s: Annotated[float, msgspec.Meta(ge=0, le=604_800)] = 0.0
    never_conceded: tuple[str, ...] = ()
    conceders: tuple[Conceder, ...] = ()
    limits: tuple[Limit, ...] = ()
    endurance: tuple[Endurance, ...] = ()
    substitutions: tuple[Substitution, ...] = ()
    outside_loads: tuple[str, ...] = ()  # loads of other packages that may run
    outside_sources: tuple[str, ...] = ()  # sources of other packages that may be asked


class Concession(Record):
    """Permission to release with one named difference. Signed with the conceder's own key.

    finding: digest of the finding conceded (`encode`d); another one of the same code is not conceded by it.
    """

    schema: Literal[1] = 1
    attempt_id: str
    code: str
    line: str
    part: str
    aspect: Aspect
    finding: Digest
    by: str
    reason: str
    at: Moment


class CoverageState(StrEnum):
    COVERED = "covered"
    CONCEDED = "conceded"
    SUBSTITUTED = "substituted"  # by a rule of the policy
    DIFFERS = "differs"
    CANNOT_TELL = "cannot tell"
    NOT_CHECKED = "not checked"
    STALE = "stale"


class Covered(Record):
    """One coverage key, what became of it, and how: `by` is empty unless something covers it."""

    line: str
    category: Category
    aspect: Aspect
    required: bool
    state: CoverageState
    by: tuple[EvidenceKind, ...] = ()


class Reason(Record):
    """One reason to hold, or one note. code: a finding's code, or `coverage.*`, `binding.*`, `policy.*`."""

    code: str
    state: CoverageState
    line: str = ""
    category: Category
    aspect: Aspect
    values: tuple[Value, ...] = ()
    finding: Finding | None = None


class Input(Record):
    file: RecordPath
    digest: Digest


class Decision(Record):
    """The verdict and all its reasons. Same inputs, same answer, for ever."""

    schema: Literal[1] = 1
    verdict: VerdictWord
    reasons: tuple[Reason, ...]
    notes: tuple[Reason, ...]
    coverage: tuple[Covered, ...]
    configuration: str
    simulated: bool
    policy_id: str
    inputs: tuple[Input, ...]
    at: Moment
