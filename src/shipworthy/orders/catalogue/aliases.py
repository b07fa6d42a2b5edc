"""Names that parts go by beside those in the list: learnt, reviewed, undone. Each change is one more line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec

from shipworthy.model.base import Trouble
from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.time import Moment
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import spelling_key
from shipworthy.orders.catalogue.numbers import number_key
from shipworthy.words.names import Name, same_spelling

if TYPE_CHECKING:
    from shipworthy.orders.catalogue.lookup import Catalogue


def current(lines: Iterable[Alias]) -> tuple[Alias, ...]:
    """Return the aliases as they stand: of several lines on the same words and part, the last."""
    return tuple({_key(alias): alias for alias in lines}.values())


def _key(alias: Alias) -> tuple[str, str]:
    return (spelling_key(alias.said, alias.category.value), alias.part_id)


def learnt(
    said: str,
    part: CataloguePart,
    catalogue: Catalogue,
    aliases: Iterable[Alias],
    *,
    by: str,
    at: Moment,
    why: str = "",
) -> Alias:
    """Return a new alias, to be reviewed. Raises Trouble where the words name a part already."""
    said = " ".join(said.split())
    if not Name.of(said).atoms:
        raise Trouble("the words name nothing", repr(said), "Give the words that the part goes by.")
    by = _named(by)
    _refuse_conflict(said, part, catalogue, aliases)
    return Alias(said=said, category=part.category, part_id=part.part_id, by=by, at=at, why=why)


def reviewed(
    said: str,
    catalogue: Catalogue,
    aliases: Iterable[Alias],
    *,
    by: str,
    at: Moment,
    category: Category | None = None,
) -> Alias:
    """Return the alias on those words as reviewed. Raises Trouble where there is none that waits for it.

    category: needed where aliases of several have these words.
    """
    known = tuple(aliases)
    alias = _the_one(said, known, category, "waits for a review")
    if alias.reviewed_by:
        raise Trouble(
            f"these words were reviewed by {alias.reviewed_by} already", repr(said), "There is nothing to do."
        )
    part = catalogue.part(alias.part_id)
    if part is None:
        raise Trouble(f"the list has no part {alias.part_id!r} any more", repr(said), "Undo the alias.")
    _refuse_conflict(alias.said, part, catalogue, [one for one in known if one is not alias])
    return msgspec.structs.replace(alias, reviewed_by=_named(by), reviewed_at=at)


def undone(
    said: str, aliases: Iterable[Alias], *, by: str, at: Moment, category: Category | None = None
) -> Alias:
    """Return the alias on those words as taken back. Raises Trouble where there is none.

    category: needed where aliases of several have these words.
    """
    alias = _the_one(said, aliases, category, "can be undone")
    return msgspec.structs.replace(alias, undone_by=_named(by), undone_at=at)


def _named(by: str) -> str:
    if not by.strip():
        raise Trouble("nobody is named", "", "Say who it is that says so.")
    return by.strip()


def _the_one(said: str, aliases: Iterable[Alias], category: Category | None, wanted: str) -> Alias:
    found = [
        alias
        for alias in aliases
        if not alias.undone_by and category in (None, alias.category) and same_spelling(alias.said, said)
    ]
    if not found:
        mend = "`shipworthy catalogue review` lists those that wait."
        raise Trouble(f"no alias on these words {wanted}", repr(said), mend)
    if len(found) > 1:
        of = " and ".join(alias.category.value for alias in found)
        raise Trouble(f"{of} have an alias on these words", repr(said), "Name one of them with --category.")
    return found[0]


def _refuse_conflict(said: str, part: CataloguePart, catalogue: Catalogue, aliases: Iterable[Alias]) -> None:
    key = spelling_key(said, part.category.value)
    for alias in aliases:
        if alias.undone_by or spelling_key(alias.said, alias.category.value) != key:
            continue
        if alias.part_id == part.part_id:
            raise Trouble(f"{alias.by} taught these words already", repr(said), "There is nothing to do.")
        raise Trouble(
            f"these words stand for the part {alias.part_id!r} already",
            repr(said),
            "Undo that alias first, if it is wrong.",
        )
    named = catalogue.by_name(said, part.category)
    others = [one.part.part_id for one in named.candidates if one.part.part_id != part.part_id]
    if named.part is not None and named.part.part_id == part.part_id:
        raise Trouble("the list finds the part by these words already", repr(said), "There is nothing to do.")
    if named.part is not None:
        raise Trouble(f"these words name another part, {others[0]!r}", repr(said), "Look at both parts.")
    number = catalogue.by_number(said) if number_key(said) else None
    numbered = (
        [one.part.part_id for one in number.candidates if one.part.part_id != part.part_id] if number else []
    )
    if numbered:
        raise Trouble(f"this is a part number of {numbered[0]!r}", repr(said), "Look at both parts.")


def waiting(aliases: Iterable[Alias]) -> tuple[Alias, ...]:
    """Return the aliases that wait for a review."""
    return tuple(alias for alias in aliases if not alias.reviewed_by and not alias.undone_by)
