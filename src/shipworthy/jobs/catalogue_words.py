"""Words that parts of the shop's list go by: learnt, also from a record, reviewed and undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from shipworthy.jobs.catalogue import ALIASES, aliases_beside, one_writer, the_catalogue, the_part
from shipworthy.model.base import Trouble, encode, read_record
from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.catalogue_used import CatalogueUsed
from shipworthy.model.findings import Comparison
from shipworthy.model.inspection import InspectionResult
from shipworthy.model.orders import Order
from shipworthy.model.reading import Reading
from shipworthy.model.time import Clock
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.aliases import learnt, reviewed, undone
from shipworthy.orders.catalogue.lookup import Catalogue
from shipworthy.orders.catalogue.teaching import Taught, taught_by
from shipworthy.record.files import AppendLog, disk_trouble


@dataclass(frozen=True)
class Changed:
    """Which alias was changed, and the part it stands for."""

    alias: Alias
    part: CataloguePart | None


def learn(path: Path | None, part_id: str, said: str, *, by: str, clock: Clock, why: str = "") -> Changed:
    """Note words that a part goes by. They are used once they are reviewed."""

    catalogue, where = the_catalogue(path)
    part = the_part(catalogue, part_id)

    def change(known: tuple[Alias, ...]) -> Alias:
        return learnt(said, part, catalogue, known, by=by, at=clock.now(), why=why)

    return _changed(catalogue, where, change)


@dataclass(frozen=True)
class Learnt:
    """What a record taught. refused: words that were not taken, each with the reason."""

    changed: tuple[Changed, ...]
    refused: tuple[str, ...]


def learn_from(path: Path | None, record: Path, *, by: str, clock: Clock) -> Learnt:
    """Note the words by which a record's order and devices called parts that were accepted as what was sold.

    record: sealed, or an open attempt's folder. Raises Trouble where it used no part list.
    """
    data = record / "data" if (record / "data").is_dir() else record
    if not (data / "order/catalogue-used.json").is_file():
        raise Trouble("the record used no part list", record, "Teach the words one by one.")
    catalogue, where = the_catalogue(path)
    inspected = data / "inspection/findings.json"
    told = taught_by(
        read_record(data / "order/order.json", Order),
        read_record(data / "order/catalogue-used.json", CatalogueUsed),
        read_record(data / "comparison.json", Comparison),
        read_record(data / "reading/reading.json", Reading),
        read_record(inspected, InspectionResult).findings if inspected.is_file() else (),
        catalogue,
    )
    changed, refused = [], []
    for one in told:
        try:
            changed.append(_changed(catalogue, where, partial(_learnt, one, catalogue, by, clock)))
        except Trouble as trouble:
            refused.append(str(trouble))
    return Learnt(tuple(changed), tuple(refused))


def _learnt(one: Taught, catalogue: Catalogue, by: str, clock: Clock, known: tuple[Alias, ...]) -> Alias:
    return learnt(one.said, one.part, catalogue, known, by=by, at=clock.now(), why=one.why)


def review(
    path: Path | None, said: str, *, by: str, clock: Clock, category: Category | None = None
) -> Changed:
    """Accept an alias that waits for it."""
    catalogue, where = the_catalogue(path)

    def change(known: tuple[Alias, ...]) -> Alias:
        return reviewed(said, catalogue, known, by=by, at=clock.now(), category=category)

    return _changed(catalogue, where, change)


def undo(path: Path | None, said: str, *, by: str, clock: Clock, category: Category | None = None) -> Changed:
    """Take an alias back. Its lines stay."""
    catalogue, where = the_catalogue(path)

    def change(known: tuple[Alias, ...]) -> Alias:
        return undone(said, known, by=by, at=clock.now(), category=category)

    return _changed(catalogue, where, change)


def _changed(catalogue: Catalogue, where: Path, change: Callable[[tuple[Alias, ...]], Alias]) -> Changed:
    """Add one line to the aliases, by one writer at a time."""
    beside = where.with_name(ALIASES)
    with one_writer(beside):
        alias = change(aliases_beside(where))
        with disk_trouble(beside), AppendLog(beside) as log:
            log.append(encode(alias))
            log.sync()
    return Changed(alias, catalogue.part(alias.part_id))
