"""What the rows above tell of a row of a pasted confirmation."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from shipworthy.model.intake import Became
from shipworthy.model.words import Category
from shipworthy.orders.intake.categories import guess_category
from shipworthy.orders.intake.rawrow import RawRow, with_kind

CELLS = re.compile(r"\t+|\s{2,}|\s*\|\s*")
BULLET = re.compile(r"^\s*(?:(?:[-*•·▪●‣–—+]|\[[ xX]?\])\s+|>+\s*)+")
DEEPER = 2
"""Columns by which a row stands further in than another, at least."""


@dataclass(frozen=True)
class Above:
    """A row that became an order line, and how it stands: the columns of its first sign and of its words."""

    row: RawRow
    indent: int
    text_at: int


@dataclass
class Page:
    """What the rows above tell of a row.

    block, signature: rows left of an address, of a letter's end. block_is_whole: its heading had all of it.
    headings: of a table's columns. group: what a heading says of the parts below it; group_used: a line
    stands below it, group_gap: and an empty row. above: the order lines that a row further in may belong to,
    the nearest last; line: the last one of all. persons: rows and values that were left out as a person's.
    deeper_below: the next row stands further in. title_below: one of the next rows is the title or the number
    of an order. mail_head: rows of one go on. shop_or_part: a first row that may be either.
    """

    head: dict[str, tuple[str, str]] = field(default_factory=dict)
    block: int = 0
    block_is_whole: bool = False
    signature: int = 0
    headings: list[str] = field(default_factory=list)
    group: frozenset[Category] = frozenset()
    group_used: bool = False
    group_gap: bool = False
    above: list[Above] = field(default_factory=list)
    line: Above | None = None
    private_above: bool = False
    persons: set[str] = field(default_factory=set)
    deeper_below: bool = False
    first: bool = True
    title_below: bool = False
    mail_head: bool = False
    shop_or_part: str = ""

    def copy(self) -> Page:
        """Return a page that can be changed without changing this one."""
        return replace(self, head=dict(self.head), persons=set(self.persons), above=list(self.above))

    def take(self, other: Page) -> None:
        """Become what the other page is."""
        self.__dict__.update(other.__dict__)

    def set_group(self, named: frozenset[Category]) -> None:
        """Keep what a heading says of the parts below it; no category ends the group above."""
        self.group, self.group_used, self.group_gap = named, False, False

    def told(self, name: str) -> str:
        """Return what the rows above say of a value of the order's head; empty where they say nothing."""
        return self.head.get(name, ("", ""))[0]

    def shop_maybe(self, name: str, who: str) -> None:
        """Keep a shop's name if none is known yet."""
        if name and any(map(str.isalpha, name)):
            self.head.setdefault("shop", (name[:80], who))


def left_out(row: RawRow, kind: str) -> RawRow:
    """Return the row left out, its kind added to what was cut out of it."""
    return replace(with_kind(row, kind), became=Became.LEFT_OUT, words="")


def is_part(words: str) -> bool:
    """Return whether the words tell surely of a part."""
    return guess_category(words).sure


def indent(raw: str) -> int:
    """Return how far in a row begins; a tab goes to the next fourth column."""
    return len(raw.expandtabs(4)) - len(raw.expandtabs(4).lstrip())
