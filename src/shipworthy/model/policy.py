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
