"""What an import says: what came in, what did not and why. Nothing is dropped without a line here."""

from __future__ import annotations

from shipworthy.model.base import Record
from shipworthy.model.words import Category


class ListFault(Record):
    """A record that was left out. where: file and row; what: a plain sentence."""

    where: str
    what: str


class NotUnderstood(Record):
    """A value that became no fact, with the reason, how often, and one that was seen."""

    category: Category
    name: str
    why: str
    count: int
    example: str = ""


class Twin(Record):
    """Two records that cannot be told apart by what they say: `left_out`, or kept and told."""

    part_id: str
    of: str
    why: str
    left_out: bool


class FactCount(Record):
    name: str
    count: int


class CategoryCount(Record):
    """How many parts of a category came in, and how many of them tell each fact."""

    category: Category
    parts: int
    facts: tuple[FactCount, ...]


class ImportReport(Record):
    """records: as read. taken: as written into the list, of which `new` were not there before. kept: were
    there already under that id, with other words, and stay as they were."""

    records: int
    taken: int
    new: int
    replaced: int
    same: int
    kept: tuple[str, ...]
    categories: tuple[CategoryCount, ...]
    faults: tuple[ListFault, ...]
    not_understood: tuple[NotUnderstood, ...]
    twins: tuple[Twin, ...]
    credits: tuple[str, ...]
