"""What a handover says, before it has a look: both renderers are handed this and nothing else.

Every text here is shown by the page and by the print; numbers are only what a plot draws.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Literal, TypeAlias


@dataclass(frozen=True)
class Pair:
    """A label and what stands behind it."""

    label: str
    text: str


@dataclass(frozen=True)
class Prose:
    text: str
    kind: Literal["prose"] = "prose"


@dataclass(frozen=True)
class Pairs:
    rows: tuple[Pair, ...]
    kind: Literal["pairs"] = "pairs"


@dataclass(frozen=True)
class Table:
    """Rows of texts; the first cell names the row. An empty cell says nothing and may be left out."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    kind: Literal["table"] = "table"


def table(caption: str, columns: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> Table:
    """Return a table without the columns in which no row has anything to say."""
    kept = [i for i in range(len(columns)) if any(row[i] for row in rows)]
    return Table(caption, tuple(columns[i] for i in kept), tuple(tuple(row[i] for i in kept) for row in rows))


@dataclass(frozen=True)
class Entry:
    """One thing with a title, how it stands in a word or two, and what is to be said of it."""

    title: str
    state: str = ""
    strong: bool = False  # whether the state asks for attention; shown by weight and a mark, not by colour
    details: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()
    pairs: tuple[Pair, ...] = ()


@dataclass(frozen=True)
class Entries:
    entries: tuple[Entry, ...]
    numbered: bool = False
    kind: Literal["entries"] = "entries"


@dataclass(frozen=True)
class Code:
    """Something to copy, character by character."""

    text: str
    kind: Literal["code"] = "code"


@dataclass(frozen=True)
class Curve:
    """letter: its mark at the curve and in the key. x in the plot's unit; None: no sample there."""

    letter: str
    x: tuple[float, ...]
    y: tuple[float | None, ...]


@dataclass(frozen=True)
class Level:
    """A limit: a line across the plot. text: whose limit it is, by the letters of the curves."""

    text: str
    y: float


@dataclass(frozen=True)
class Band:
    """A step of the burn-in, by its number."""

    number: str
    begin: float
    end: float


@dataclass(frozen=True)
class Upright:
    """A moment at which something happened, by its numeral."""

    number: str
    x: float


@dataclass(frozen=True)
class Graph:
    """What a plot of curves draws. Its texts are short and ours, apart from numbers."""

    x_unit: str
    y_unit: str
    x_end: float
    curves: tuple[Curve, ...]
    levels: tuple[Level, ...] = ()
    bands: tuple[Band, ...] = ()
    uprights: tuple[Upright, ...] = ()


@dataclass(frozen=True)
class Bar:
    letter: str
    ratio: float


@dataclass(frozen=True)
class Bars:
    """What a plot of shares draws; 1 is marked."""

    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class Plot:
    """A drawing, its name, the same in words for who cannot see it, and the key of its letters."""

    name: str
    title: str
    description: str
    key: tuple[Pair, ...]
    notes: tuple[str, ...]
    drawing: Graph | Bars
    kind: Literal["plot"] = "plot"


Block: TypeAlias = Prose | Pairs | Table | Entries | Code | Plot


@dataclass(frozen=True)
class Section:
    """name: its anchor; lower case letters and hyphens, ours."""

    name: str
    heading: str
    lead: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Furniture:
    """The words around the report: what repeats on every page, and what helps to find one's way."""

    title: str
    running_head: str
    simulated: str
    skip: str
    contents: str
    page: str
    page_of: str


@dataclass(frozen=True)
class Cover:
    shop: str
    verdict: str
    lead: str
    facts: tuple[Pair, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Handover:
    """The whole of it. language: BCP 47. held: whether the reasons come first. day: of the decision, UTC."""

    language: str
    held: bool
    day: tuple[int, int, int]
    furniture: Furniture
    cover: Cover
    sections: tuple[Section, ...]


_NOT_SAID = {"kind", "name", "language", "drawing"}


def texts(view: object) -> Iterator[str]:
    """Return every text of a view that a reader must find, in its order."""
    if isinstance(view, str):
        if view:
            yield view
    elif isinstance(view, tuple):
        for item in view:
            yield from texts(item)
    elif is_dataclass(view):
        for field in fields(view):
            if field.name not in _NOT_SAID:
                yield from texts(getattr(view, field.name))
