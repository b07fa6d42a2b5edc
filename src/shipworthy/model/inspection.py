"""Inspection: what a person is asked to look at or try, and what they saw (ADR 0010)."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Digest, Record, RecordPath, Value
from shipworthy.model.findings import Finding
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, Danger, Outcome

PersonName = Annotated[str, msgspec.Meta(min_length=1, max_length=200, pattern=r"\S")]


class Item(Record):
    """One thing to look at. because: `order`, `policy`, or the code of the finding that left it to a person.
    why: what that finding's sentence is made with, where it says more than that no reading shows this.

    ask: code of the question's sentence, with its values. caution: code of a caution shown first, or empty.
    also: further aspects of the line that the answer speaks of. media_wanted: whether a picture is asked for.
    note_wanted: whether *conforms* needs a note that says what was seen; a bare yes does not count.
    """

    item_id: str
    ask: str
    because: str
    category: Category
    aspect: Aspect
    line: str = ""
    values: tuple[Value, ...] = ()
    media_wanted: bool = False
    caution: str = ""
    also: tuple[Aspect, ...] = ()
    note_wanted: bool = False
    why: tuple[Value, ...] = ()


class Items(Record):
    schema: Literal[1] = 1
    items: tuple[Item, ...]


class Media(Record):
    file: RecordPath
    digest: Digest


class Observation(Record):
    """What somebody saw: a line of `inspection/observations.jsonl`. The last one of an item counts.

    danger: set where what they saw is one; such a difference can never be conceded. fitted: what the label
    of a part says that is not the one sold, in its own words.
    """

    schema: Literal[1] = 1
    item_id: str
    outcome: Outcome
    by: PersonName
    at: Moment
    note: str = ""
    media: tuple[Media, ...] = ()
    danger: Danger | None = None
    fitted: str = ""


class Answer(Record):
    """One answer of a prepared file. media: paths beside that file."""

    item: str
    outcome: Outcome
    note: str = ""
    media: tuple[str, ...] = ()
    danger: Danger | None = None
    fitted: str = ""


class Answers(Record):
    """A file of answers given beforehand or elsewhere."""

    schema: Literal[1] = 1
    by: PersonName
    answers: tuple[Answer, ...]


class InspectionResult(Record):
    """The findings that the observations give, one an item."""

    schema: Literal[1] = 1
    findings: tuple[Finding, ...]
