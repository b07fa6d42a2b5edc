"""An order held against the shop's list: what the list adds, and what it leaves to be asked. Pure.

The order is never overridden: a part of the list that says otherwise than the order is a question.
"""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from shipworthy.model.base import Scalar, values
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.catalogue_used import (
    CatalogueQuestion,
    CatalogueUsed,
    Decided,
    LineUsed,
    LookedUpBy,
)
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.catalogue.contradictions import contradictions
from shipworthy.orders.catalogue.likeness import Fit, Query, fit_of, says_another
from shipworthy.orders.catalogue.lookup import Catalogue, Found
from shipworthy.orders.catalogue.numbers import gtin_key, number_key

NOT_SOLD_FROM_A_LIST = (Category.SERVICE, Category.CUSTOMISATION)


@dataclass(frozen=True)
class Resolved:
    order: Order
    used: CatalogueUsed


def resolved(order: Order, catalogue: Catalogue) -> Resolved:
    """Return the order with what the list says of its lines as expectations, and what was used of it."""
    lines, used, questions = [], [], []
    for line in order.lines:
        if line.category in NOT_SOLD_FROM_A_LIST:
            lines.append(line)
            continue
        found, question = _found(line, catalogue)
        added = added_by(line, found.part) if found.part is not None else ()
        lines.append(msgspec.structs.replace(line, expectations=line.expectations + added))
        used.append(msgspec.structs.replace(found, added=added))
        questions += [question] if question else []
    return Resolved(
        msgspec.structs.replace(order, lines=tuple(lines)),
        CatalogueUsed(
            list_name=catalogue.list_name,
            list_digest=catalogue.index.list_digest,
            parts=len(catalogue),
            lines=tuple(used),
            questions=tuple(questions),
            credits=tuple(catalogue.index.credits),
        ),
    )


def added_by(line: OrderLine, part: CataloguePart) -> tuple[Expectation, ...]:
    """Return what a part adds to a line that says nothing of it: its part numbers, and its maker."""
    added = []
    if part.part_numbers and line.wanted(Aspect.PART_NUMBER) is None:
        first, *others = part.part_numbers
        added.append(
            Expectation(
                aspect=Aspect.PART_NUMBER,
                want=first,
                or_else=tuple(others),
                words=part.name,
                source=part.part_id,
            )
        )
    if part.maker and line.wanted(Aspect.MAKER) is None:
        added.append(Expectation(aspect=Aspect.MAKER, want=part.maker, words=part.name, source=part.part_id))
    return tuple(added)


def _found(line: OrderLine, catalogue: Catalogue) -> tuple[LineUsed, CatalogueQuestion | None]:
    """Return what the list says a line is, and the question that it leaves."""
    named = _by_text(line, catalogue)
    strong = [
        found
        for found in (
            catalogue.by_number(line.part_number, line.category) if line.part_number else None,
            catalogue.by_gtin(line.gtin, line.category) if line.gtin else None,
        )
        if found is not None and found.decided is not Decided.NONE
    ]
    if not strong:
        elsewhere = catalogue.by_number(line.part_number) if line.part_number else None
        if elsewhere is not None and elsewhere.decided is not Decided.NONE:
            told = tuple(c.part for c in elsewhere.candidates)
            return _asked(line, elsewhere.by, told, "catalogue.other-category")
        return _by_name(line, named)
    by = strong[0].by
    parts = [c.part for c in strong[0].candidates if all(_has(found, c.part) for found in strong)]
    if not parts:
        told = tuple(c.part for found in strong for c in found.candidates)
        return _asked(line, by, told, "catalogue.numbers-disagree")
    if len(parts) > 1:
        wanted = [p for p in parts if fit_of(Query.of(line.text, line.category), p) is Fit.SAME]
        if len(wanted) != 1:
            return _asked(line, by, tuple(parts), "catalogue.several")
        parts = wanted
    part = parts[0]
    if _names_another(line, part, named):
        return _asked(line, by, (part,), "catalogue.name-differs")
    return _checked(line, by, part)


def _by_text(line: OrderLine, catalogue: Catalogue) -> Found:
    found = catalogue.by_name(line.text, line.category)
    if found.decided is not Decided.ONE and line.maker:
        with_maker = catalogue.by_name(f"{line.maker} {line.text}", line.category)
        return with_maker if with_maker.decided is Decided.ONE else found
    return found


def _by_name(line: OrderLine, named: Found) -> tuple[LineUsed, CatalogueQuestion | None]:
    part = named.part
    if part is None:
        may_be = tuple(c.part for c in named.candidates) if named.decided is Decided.SEVERAL else ()
        if may_be:
            return _asked(
                line, named.by, may_be, "catalogue.several" if len(may_be) > 1 else "catalogue.is-it-this"
            )
        return LineUsed(line=line.line_id, decided=Decided.NONE), None
    numbers = {number_key(number) for number in part.part_numbers}
    gtins = {gtin_key(gtin) for gtin in part.gtins}
    if line.part_number and numbers and number_key(line.part_number) not in numbers:
        return _asked(line, named.by, (part,), "catalogue.number-not-listed", number=line.part_number)
    if line.gtin and gtins and gtin_key(line.gtin) not in gtins:
        return _asked(line, named.by, (part,), "catalogue.number-not-listed", number=line.gtin)
    return _checked(line, named.by, part)


def _has(found: Found, part: CataloguePart) -> bool:
    return any(candidate.part.part_id == part.part_id for candidate in found.candidates)


def _names_another(line: OrderLine, part: CataloguePart, named: Found) -> bool:
    """Whether the line's words name another part than its number does."""
    if named.decided is Decided.ONE and not _has(named, part):
        return True
    model = line.wanted(Aspect.MODEL)
    if model is None or named.decided is Decided.ONE:
        return False
    return says_another(str(model.want), part)


def _checked(
    line: OrderLine, by: LookedUpBy, part: CataloguePart
) -> tuple[LineUsed, CatalogueQuestion | None]:
    for said in contradictions(line, part):
        return _asked(
            line,
            by,
            (part,),
            "catalogue.says-otherwise",
            aspect=said.aspect.value,
            want=said.want,
            got=said.got,
        )
    return LineUsed(line=line.line_id, decided=Decided.ONE, by=by, part=part), None


def _asked(
    line: OrderLine, by: LookedUpBy, parts: tuple[CataloguePart, ...], code: str, **named: Scalar
) -> tuple[LineUsed, CatalogueQuestion]:
    ids = tuple(dict.fromkeys(part.part_id for part in parts))
    names = "; ".join(dict.fromkeys(f"{part.name} ({part.part_id})" for part in parts[:5]))
    told = values(text=line.text, by=by.value, parts=names, count=len(ids), **named)
    used = LineUsed(line=line.line_id, decided=Decided.SEVERAL, by=by, may_be=ids)
    return used, CatalogueQuestion(code=code, line=line.line_id, values=told)
