"""`order import`: an order as a shop has it, into the one order schema."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shipworthy.cli import options

if TYPE_CHECKING:
    from shipworthy.model.intake import HeadValue, Intake, Row
    from shipworthy.model.orders import Order

_WIDTHS = (5, 20)
"""Columns for the place of a row: a number, or a path; a longer one has a line of its own."""
_OPTION = {"order_id": "--order-id", "shop": "--shop", "units": "--unit", "due": "--due 2026-03-13"}


@click.command("import", short_help="Import an order as a shop has it: text, table, export.")
@click.argument("file", type=options.PATH)
@click.option("--mapping", type=options.PATH, help="How this shop's table or export is laid out (TOML).")
@click.option("--write-mapping", type=options.PATH, help="Write the guessed mapping of a table to this file.")
@click.option("-o", "--out", type=options.PATH, help="Write the order to this file, .toml or .json.")
@click.option("--with-questions", is_flag=True, help="Write it though some rows were not understood.")
@click.option("--with-customer", is_flag=True, help="Import the customer's reference too.")
@click.option("--order-id", default="", help="Id of the order (default: the source's, else the file's name).")
@click.option("--shop", default="", help="Name of the shop (default: the mapping's, else the source's).")
@click.option("--unit", "units", multiple=True, help="Id of a unit; can be given several times.")
@click.option("--due", default="", help="When it is due, as 2026-03-13.")
@options.json
def import_(
    file: Path,
    mapping: Path | None,
    write_mapping: Path | None,
    out: Path | None,
    with_questions: bool,
    with_customer: bool,
    order_id: str,
    shop: str,
    units: tuple[str, ...],
    due: str,
    json: bool,
) -> None:
    """Import an order from pasted text, CSV, XLSX, ODS or JSON; `-` reads pasted text from standard input.

    Example: shipworthy order import confirmation.txt -o order.toml
    """
    import sys

    from shipworthy.cli.show import as_json
    from shipworthy.jobs import intake as job
    from shipworthy.orders.intake.head import Wanted

    wanted = Wanted(order_id=order_id, shop=shop, units=units, due=due, with_customer=with_customer)
    if str(file) == "-":
        imported = job.import_pasted(sys.stdin.buffer.read(), wanted, mapping)
    else:
        imported = job.import_file(file, wanted, mapping)
    intake = imported.intake
    if json:
        as_json(intake)
    else:
        _show(intake)
    if write_mapping is not None:
        job.write_mapping(imported, write_mapping)
    if out is not None:
        job.write_order(intake, out, with_questions=with_questions)
    raise SystemExit(1 if intake.open_rows or intake.order is None else 0)


def _show(intake: Intake) -> None:
    from shipworthy.cli.show import advised, say, wrapped
    from shipworthy.messages import sentence

    say(f"{intake.source}: {intake.kind}")
    longest = max((len(row.place) for row in intake.rows), default=0)
    width = min(max(longest, _WIDTHS[0]), _WIDTHS[1])
    advised_of: set[str] = set()
    shown: set[str] = set()
    for rows in _alike(intake.rows):
        _show_row(rows, intake.order, shown, width)
        for note in rows[0].notes:
            words = sentence(note.code, note.values)
            wrapped(f"{'':{width + 5}}? {words.say}", width + 7)
            if words.do and note.code not in advised_of:
                wrapped(f"{'':{width + 7}}-> {words.do}", width + 10)
            advised_of.add(note.code)
    say()
    if intake.remarks:
        advised([sentence(note.code, note.values) for note in intake.remarks])
    for value in intake.head:
        name = value.name.replace("_", " ")
        wrapped(f"{name + ':':<10} {_head_words(value)}", 11)
    wrapped(_sum(intake), 2)


def _head_words(value: HeadValue) -> str:
    """Return a value of the order's head and who says so; of what nobody says, the option that would."""
    from shipworthy.orders.intake.head import NOBODY

    if value.said_by != NOBODY:
        return f"{value.value} (by {value.said_by})"
    option = _OPTION[value.name]
    if not value.value:
        return f"not taken, as no day can be read in one way only ({option} says it)"
    return f"{value.value} (the source does not say; {option} does)"


def _alike(rows: tuple[Row, ...]) -> list[list[Row]]:
    """Return the rows; those left out for the same, one below the other, as one."""
    from shipworthy.model.intake import Became

    groups: list[list[Row]] = []
    for row in rows:
        last = groups[-1][0] if groups else None
        plain = row.became is Became.LEFT_OUT and not row.notes and row.place.isdigit()
        if plain and last is not None and (last.became, last.left_out) == (row.became, row.left_out):
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _show_row(rows: list[Row], order: Order | None, shown: set[str], width: int) -> None:
    from shipworthy.cli.show import say, wrapped
    from shipworthy.model.intake import Became

    row = rows[0]
    place = row.place if len(rows) == 1 else f"{row.place}-{rows[-1].place}"
    indent = " " * (width + 2)
    begin = f"{place:>{width}}  " if row.place.isdigit() else f"{place:<{width}}  "
    if len(place) > width:
        say(place)
        begin = indent
    line = order.line(row.line_id) if order is not None and row.line_id not in shown else None
    left = f"; left out: {', '.join(row.left_out)}" if row.left_out else ""
    if line is not None and row.became in (Became.LINE, Became.QUESTION):
        shown.add(row.line_id)
        told = (("maker", line.maker), ("part number", line.part_number), ("GTIN", line.gtin))
        numbers = "".join(f"; {name} {value}" for name, value in told if value)
        wrapped(f"{begin}{line.line_id}. {line.quantity} x {line.text}", width + 5)
        wrapped(f"{indent}   {line.category.value}{numbers}{left}", width + 5)
    elif row.became is Became.LEFT_OUT:
        wrapped(f"{begin}left out: {', '.join(row.left_out) or 'said by its label'}", width + 2)
    else:
        what = f"joined to line {row.line_id}" if row.line_id else row.became.value
        wrapped(f"{begin}{what}{': ' if row.words else ''}{row.words}{left}", width + 2)


def _sum(intake: Intake) -> str:
    """Return how many rows there are, and how many of them became what."""
    from shipworthy.model.intake import Became

    counts = {became: sum(row.became is became for row in intake.rows) for became in Became}
    lines = len(intake.order.lines) if intake.order is not None else 0
    asked = counts[Became.QUESTION]
    told = [f"{lines} order line{'s' * (lines != 1)}" + (f", {asked} with questions" if asked else "")]
    told += [
        f"{count} {became.value}"
        for became, count in counts.items()
        if count and became not in (Became.LINE, Became.QUESTION)
    ]
    rows = len(intake.rows)
    return f"{rows} row{'s' * (rows != 1)} and {intake.blank} empty: {'; '.join(told)}."
