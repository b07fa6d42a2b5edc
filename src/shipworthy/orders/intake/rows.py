"""From raw rows to an order: each row becomes a line, a question, or is listed with the reason why not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

import msgspec

from shipworthy.model.intake import Became, Intake, Note, Row
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.files import MOST_LINES, gtin_adds_up
from shipworthy.orders.intake.categories import Guess, guess_category
from shipworthy.orders.intake.counts import NOT_SOLD, count_in_cell
from shipworthy.orders.intake.details import comes_with
from shipworthy.orders.intake.head import Wanted, order_head
from shipworthy.orders.intake.not_sold import sold_maybe
from shipworthy.orders.intake.private import CUSTOMER
from shipworthy.orders.intake.rawrow import RawRow, Taken, note, too_many, with_notes

MOST_TEXT = 500
_SHOWN = 500
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


def intake_of(taken: Taken, source: str, wanted: Wanted) -> Intake:
    """Return the import of a source: its order, if any row became a line, and what became of each row.

    Raises Trouble for more than 500 order lines.
    """
    rows: list[Row] = []
    lines: list[OrderLine] = []
    more = _texts_below(taken.rows)
    counted = {row.of for row in taken.rows if row.became is Became.JOINED and (row.quantity or row.left_out)}
    line_at: dict[str, int] = {}
    for raw in taken.rows:
        if raw.became is Became.JOINED:
            at = line_at.get(raw.of, -1) if raw.of else len(lines) - 1
            if at < 0:
                rows.append(_row(with_notes(raw, note("intake.nothing-above")), Became.NOT_IMPORTED))
                continue
            lines[at], row = _joined(raw, lines[at])
            rows.append(row)
        elif raw.became is not None:
            wished = wanted.with_customer and raw.left_out == (CUSTOMER,)
            rows.append(_row(raw, Became.HEAD if wished else raw.became))
        else:
            raw = replace(raw, shaped=raw.shaped or raw.place in counted)
            line, row = _line(raw, str(len(lines) + 1), more.get(raw.place, ()))
            rows.append(row)
            if line is not None:
                line_at[raw.place] = len(lines)
                lines.append(line)
        if len(lines) > MOST_LINES:
            raise too_many(len(lines), source)
    head, said = order_head(taken.head, wanted, source)
    order = _order(head, lines) if lines else None
    remarks = list(taken.remarks)
    if order is not None and len(order.units) > 1:
        remarks.append(note("intake.several-units", count=len(order.units)))
    return Intake(
        source=source,
        kind=taken.kind,
        order=order,
        head=tuple(said),
        rows=tuple(rows),
        blank=taken.blank,
        remarks=tuple(remarks),
    )


def _texts_below(rows: Sequence[RawRow]) -> dict[str, list[str]]:
    """Return the words that are joined to each line, by its place: they may tell what it is."""
    more: dict[str, list[str]] = {}
    for row in rows:
        if row.became is Became.JOINED and row.of and row.text and not comes_with(row.text):
            more.setdefault(row.of, []).append(row.text)
    return more


def _guess(text: str, raw: RawRow, more: Sequence[str]) -> Guess:
    """Return the guess from a line's text; where that is not sure, with the words below it."""
    guess = guess_category(text, raw.among)
    whole, known = text, guess
    for words in more:
        if guess.sure:
            return guess
        whole = f"{whole} {words}"
        guess = guess_category(whole, raw.among)
    return guess if guess.sure or known.category is None else known


def _line(raw: RawRow, line_id: str, more: Sequence[str]) -> tuple[OrderLine | None, Row]:
    text, cut = _clean(raw.text or " ".join(filter(None, (raw.maker, raw.part_number))))
    if not any(map(str.isalnum, text)):
        return None, _row(with_notes(raw, note("intake.no-text")), Became.NOT_IMPORTED)
    questions = [*raw.notes, *cut]
    count = raw.count if raw.count is not None else count_in_cell(raw.quantity)
    if isinstance(count, Note):
        if count.code in NOT_SOLD:
            return None, _row(with_notes(raw, count), Became.NOT_IMPORTED)
        questions.append(count)
        count = 1
    guess = _guess(text, raw, more)
    if guess.category is None and not raw.shaped:
        return None, _row(with_notes(raw, note("intake.no-part-told")), Became.NOT_IMPORTED)
    questions += filter(None, (_doubt(guess, raw.among), sold_maybe(text)))
    gtin, odd = _gtin(raw.gtin)
    questions += odd
    line = OrderLine(
        line_id=line_id,
        category=guess.category or Category.ACCESSORY,
        quantity=count or 1,
        text=text,
        maker=_clean(raw.maker)[0][:200],
        part_number=_clean(raw.part_number)[0][:200],
        gtin=gtin,
    )
    became = Became.QUESTION if questions else Became.LINE
    return line, _shown_row(raw, became, line_id, questions)


def _doubt(guess: Guess, among: frozenset[Category]) -> Note | None:
    if guess.category is None:
        return note("intake.category-unknown")
    if guess.sure:
        return None
    others = [c for c in guess.others if c is not guess.category] or [
        c for c in among if c is not guess.category
    ]
    if others:
        names = " or ".join(sorted(c.value for c in others[:3]))
        return note("intake.category-doubtful", taken=guess.category.value, others=names)
    return note("intake.category-weak", taken=guess.category.value, words=guess.words)


def _gtin(said: str) -> tuple[str, list[Note]]:
    digits = re.sub(r"[\s-]", "", said).removesuffix(".0")
    if not digits:
        return "", []
    if re.fullmatch(r"\d{8}|\d{12,14}", digits) and gtin_adds_up(digits):
        return digits, []
    return "", [note("intake.gtin-wrong", said=said[:40])]


def _joined(raw: RawRow, line: OrderLine) -> tuple[OrderLine, Row]:
    """Add what a row says of the line above it: a count, a number of the part, or words."""
    questions = list(raw.notes)
    changes: dict[str, object] = {}
    count = count_in_cell(raw.quantity)
    if isinstance(count, Note):
        questions.append(count)
    elif count is not None:
        if line.quantity not in (1, count):
            questions.append(note("intake.quantity-twice", one=line.quantity, other=count))
        else:
            changes["quantity"] = count
    gtin, odd = _gtin(raw.gtin)
    questions += odd
    for name, value in (("maker", raw.maker), ("part_number", raw.part_number), ("gtin", gtin)):
        known, said = getattr(line, name), _clean(value)[0][:200]
        if said and known and said != known:
            questions.append(note("intake.said-twice", name=name.replace("_", " "), one=known, other=said))
        elif said:
            changes[name] = said
    if raw.text:
        labelled = ": " in line.text.rpartition(", ")[2]  # `Colour: white` ends where its row does
        goes_on = line.text.endswith(",") or (raw.wraps and not labelled)
        text, cut = _clean(f"{line.text}{' ' if goes_on else ', '}{raw.text}")
        changes["text"] = text
        questions += [*cut, *filter(None, (sold_maybe(raw.text),))]
    became = Became.QUESTION if questions else Became.JOINED
    return msgspec.structs.replace(line, **changes), _shown_row(raw, became, line.line_id, questions)


def _order(head: dict[str, object], lines: Sequence[OrderLine]) -> Order:
    units = head["units"]
    due = head.get("due")
    assert isinstance(units, tuple)
    return Order(
        order_id=str(head["order_id"]),
        shop=str(head["shop"]),
        units=units,
        lines=tuple(lines),
        customer_reference=str(head.get("customer_reference", "")),
        due=due if isinstance(due, date) else None,
    )


def _clean(text: str) -> tuple[str, list[Note]]:
    """Return a text as an order can hold it (500 characters, no control signs), and what was cut."""
    plain = _CONTROL.sub(" ", text).strip()
    if len(plain) <= MOST_TEXT:
        return plain, []
    return plain[:MOST_TEXT].rstrip(), [note("intake.text-cut", length=len(plain), most=MOST_TEXT)]


def _row(raw: RawRow, became: Became) -> Row:
    return _shown_row(raw, became, "", raw.notes)


def _shown_row(raw: RawRow, became: Became, line_id: str, notes: Iterable[Note]) -> Row:
    """Return the row of the report: its words without control signs, at most 500 of them."""
    words = _CONTROL.sub(" ", raw.words).strip()
    shown = words if len(words) <= _SHOWN else words[:_SHOWN] + "…"
    return Row(
        place=raw.place,
        words=shown,
        became=became,
        line_id=line_id,
        left_out=raw.left_out,
        notes=tuple(notes),
    )
