"""New records into a list: what comes in, what was there, what cannot be told apart, and the report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import spelling_key
from shipworthy.orders.catalogue.numbers import gtin_key, number_key
from shipworthy.orders.catalogue.open_records import CREDIT, SOURCE
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.records import Wrong
from shipworthy.orders.catalogue.report import (
    CategoryCount,
    FactCount,
    ImportReport,
    ListFault,
    NotUnderstood,
    Twin,
)

Incoming = Iterable[tuple[str, CataloguePart | Wrong]]


def merged(
    there: Iterable[CataloguePart], incoming: Incoming, notes: Notes, *, replace: bool
) -> tuple[tuple[CataloguePart, ...], ImportReport]:
    """Return the list with the new records in it, and the report.

    A record whose id is there already with other words stays as it was, unless `replace`. One that says
    the same as another under another id is left out, and named; so is one whose id is there in another case.
    """
    parts = {part.part_id: part for part in there}
    before = dict(parts)
    taken, faults = _taken(incoming, {part_id.casefold(): part_id for part_id in before})
    twins = _copies(parts.values(), taken)
    copies = {twin.part_id for twin in twins}
    kept = []
    for part_id, part in taken.items():
        was = before.get(part_id)
        if part_id in copies:
            continue
        if was is not None and was != part and not replace:
            kept.append(part_id)
            continue
        parts[part_id] = part
    came = [part for part_id, part in taken.items() if parts.get(part_id) == part]
    whole = tuple(parts.values())
    return whole, ImportReport(
        records=len(taken) + len(faults),
        taken=len(came),
        new=sum(part.part_id not in before for part in came),
        replaced=sum(part.part_id in before and before[part.part_id] != part for part in came),
        same=sum(before.get(part.part_id) == part for part in came),
        kept=tuple(kept),
        categories=_counted(came),
        faults=tuple(faults),
        not_understood=_noted(notes),
        twins=(*twins, *_alike(whole, {part.part_id for part in came})),
        credits=credits_of(whole),
    )


def credits_of(parts: Iterable[CataloguePart]) -> tuple[str, ...]:
    """Return what the licences of the parts' sources ask to be said."""
    return (CREDIT,) if any(part.source.startswith(SOURCE) for part in parts) else ()


def _taken(incoming: Incoming, there: dict[str, str]) -> tuple[dict[str, CataloguePart], list[ListFault]]:
    """Return the new parts by id, and what is wrong with the others. there: the list's ids by casefold."""
    taken: dict[str, CataloguePart] = {}
    places: dict[str, str] = {}
    faults = []
    for where, part in incoming:
        if isinstance(part, Wrong):
            faults.append(ListFault(where=where, what=part.what))
        elif first := places.get(part.part_id.casefold()):
            what = f"the part_id {part.part_id!r} stands in {first} already"
            faults.append(ListFault(where=where, what=what))
        elif (own := there.get(part.part_id.casefold(), part.part_id)) != part.part_id:
            what = f"the part_id {part.part_id!r} stands in the list already, as {own!r}"
            faults.append(ListFault(where=where, what=what))
        else:
            places[part.part_id.casefold()] = where
            taken[part.part_id] = part
    return taken, faults


def _says(part: CataloguePart) -> tuple[object, ...]:
    """All that a record says of its part, whatever its id."""
    numbers = frozenset(map(number_key, part.part_numbers))
    gtins = frozenset(map(gtin_key, part.gtins))
    return (spelling_key(part.name, part.category.value), numbers, gtins, part.facts)


def _copies(there: Iterable[CataloguePart], taken: dict[str, CataloguePart]) -> list[Twin]:
    seen: dict[tuple[object, ...], str] = {}
    for part in there:
        if part.part_id not in taken:
            seen.setdefault(_says(part), part.part_id)
    found = []
    for part in taken.values():
        first = seen.setdefault(_says(part), part.part_id)
        if first != part.part_id:
            found.append(Twin(part_id=part.part_id, of=first, why="says the same in all", left_out=True))
    return found


def _alike(parts: Iterable[CataloguePart], new: set[str]) -> list[Twin]:
    """Return the new parts that share a name, a part number or a GTIN with another: look-ups will ask."""
    firsts: dict[tuple[str, str], CataloguePart] = {}
    found: dict[tuple[str, str], str] = {}
    for part in parts:
        keys = [("the name", spelling_key(part.name, part.category.value))]
        keys += [(f"the part number {number}", number_key(number)) for number in part.part_numbers]
        keys += [(f"the GTIN {gtin}", gtin_key(gtin)) for gtin in part.gtins]
        for what, key in keys:
            first = firsts.setdefault((what.partition(" ")[2].split()[0], key), part)
            if first.part_id != part.part_id and {first.part_id, part.part_id} & new:
                found.setdefault((part.part_id, first.part_id), f"has {what} too")
    return [Twin(part_id=one, of=of, why=why, left_out=False) for (one, of), why in found.items()]


def _counted(parts: Iterable[CataloguePart]) -> tuple[CategoryCount, ...]:
    counts: Counter[Category] = Counter()
    facts: dict[Category, Counter[str]] = {}
    for part in parts:
        counts[part.category] += 1
        told = facts.setdefault(part.category, Counter())
        if part.facts is not None:
            for name in part.facts.__struct_fields__:
                told[name] += getattr(part.facts, name) not in (None, "", ())
    return tuple(
        CategoryCount(
            category=category,
            parts=counts[category],
            facts=tuple(FactCount(name=name, count=count) for name, count in facts[category].items()),
        )
        for category in Category
        if category in counts
    )


def _noted(notes: Notes) -> tuple[NotUnderstood, ...]:
    return tuple(
        NotUnderstood(category=key[0], name=key[1], why=key[2], count=count, example=notes.examples[key])
        for key, count in notes.counts.most_common()
    )
