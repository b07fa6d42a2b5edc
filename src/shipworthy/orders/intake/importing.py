"""One source to an import: which reader it needs, and what the head of the order gets from where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shipworthy.model.base import Trouble
from shipworthy.model.intake import Became, Intake, Note, Row
from shipworthy.model.mapping import Mapping
from shipworthy.model.orders import Order
from shipworthy.orders.files import parse_json
from shipworthy.orders.intake.grids import Grid, csv_grid
from shipworthy.orders.intake.head import Wanted, order_head
from shipworthy.orders.intake.nested import read_nested
from shipworthy.orders.intake.pasted import read_pasted
from shipworthy.orders.intake.rawrow import RawRow, Taken, note
from shipworthy.orders.intake.rows import intake_of
from shipworthy.orders.intake.sources import ending, is_zip, refuse_unreadable, text_of
from shipworthy.orders.intake.tables import Layout, layout_of, mapping_of, read_grid
from shipworthy.orders.intake.workbooks import workbook_grids

_TABLES = (".csv", ".tsv", ".tab")
_DELIMITER_NAMES = {";": "semicolons", ",": "commas", "\t": "tabs", "|": "bars"}


@dataclass(frozen=True)
class Imported:
    """An import, and the mapping that was guessed for it; None where there is none to keep."""

    intake: Intake
    guessed: Mapping | None = None


def import_source(data: bytes, name: str, wanted: Wanted, mapping: Mapping | None = None) -> Imported:
    """Return what the bytes of a source hold, read by its kind: workbook, CSV, nested JSON, pasted text.

    name: of the file; its ending tells CSV and JSON. Raises Trouble in one sentence for what cannot be read,
    for nested JSON without a mapping that describes it, and for more rows or lines than an order can have.
    """
    refuse_unreadable(data, name)
    if mapping is not None and mapping.order.shop and not wanted.shop:
        wanted = replace(wanted, shop=mapping.order.shop)
    if is_zip(data):
        return _workbook(data, name, wanted, mapping)
    text = text_of(data, name)
    if ending(name) == ".json":
        if mapping is None or not mapping.lines:
            raise Trouble(
                "JSON of a shop's own layout, which only a mapping can describe",
                name,
                "Give one with --mapping that has `[[lines]]`; docs/reference/mapping.md shows how.",
            )
        tree = parse_json(text.text, name)
        return Imported(intake_of(_told(read_nested(tree, mapping, name), text.remarks), name, wanted))
    if ending(name) in _TABLES or (mapping is not None and mapping.table is not None):
        grid, delimiter = csv_grid(text.text, name)
        kind = f"table, {text.encoding}, cells between {_DELIMITER_NAMES[delimiter]}"
        return _tables([grid], kind, name, wanted, mapping, text.remarks)
    grid, delimiter = csv_grid(text.text, name, strict=False)
    layout = layout_of(grid, None, name)
    if layout is not None and _is_table(grid, layout, delimiter):
        kind = f"table in a text, {text.encoding}, cells between {_DELIMITER_NAMES[delimiter]}"
        return _tables([grid], kind, name, wanted, mapping, text.remarks)
    taken = _told(read_pasted(text.text, name), text.remarks)
    return Imported(intake_of(replace(taken, kind=f"pasted text, {text.encoding}"), name, wanted))


def import_order(order: Order, name: str, wanted: Wanted) -> Imported:
    """Return an order of our own schema as an import: each of its lines is one row that is understood."""
    told = {
        "order_id": (order.order_id, "order file"),
        "shop": (order.shop, "order file"),
        "units": ("\n".join(order.units), "order file"),
        "due": (order.due.isoformat() if order.due else "", "order file"),
        "customer_reference": (order.customer_reference, "order file"),
    }
    head, said = order_head(told, wanted, name)
    same = Order(
        order_id=str(head["order_id"]),
        shop=str(head["shop"]),
        units=head["units"],  # type: ignore[arg-type]
        lines=order.lines,
        customer_reference=str(head.get("customer_reference", "")),
        due=head.get("due"),  # type: ignore[arg-type]
    )
    rows = tuple(
        Row(place=f"lines[{n}]", words=line.text, became=Became.LINE, line_id=line.line_id)
        for n, line in enumerate(order.lines)
    )
    if order.customer_reference and not wanted.with_customer:
        rows += (Row(place="customer_reference", words="", became=Became.LEFT_OUT, left_out=("customer",)),)
    intake = Intake(source=name, kind="order file", order=same, head=tuple(said), rows=rows)
    return Imported(intake)


def _is_table(grid: Grid, layout: Layout, delimiter: str) -> bool:
    """Whether a text is a table: each heading is known, and between tabs, as in mails, all rows are whole."""
    known = all(m for h, m in zip(layout.headings, layout.meanings, strict=True) if h.strip())
    rows = [row for row in grid.rows[layout.at :] if any(cell.strip() for cell in row.cells)]
    return known and (delimiter != "\t" or all(len(row.cells) == len(layout.headings) for row in rows))


def _told(taken: Taken, remarks: Sequence[Note]) -> Taken:
    return replace(taken, remarks=(*taken.remarks, *remarks))


def _workbook(data: bytes, name: str, wanted: Wanted, mapping: Mapping | None) -> Imported:
    grids = workbook_grids(data, name)
    if not grids:
        raise Trouble("there is nothing in the workbook", name, "Check that this is the right file.")
    return _tables(grids, "workbook", name, wanted, mapping, ())


def _tables(
    grids: list[Grid],
    kind: str,
    name: str,
    wanted: Wanted,
    mapping: Mapping | None,
    remarks: tuple[Note, ...],
) -> Imported:
    """Read each sheet; one that is hidden or that the mapping does not name is told as one row."""
    sheet = mapping.table.sheet if mapping is not None and mapping.table is not None else ""
    if sheet and sheet not in [grid.name for grid in grids]:
        known = ", ".join(repr(grid.name) for grid in grids)
        raise Trouble(f"no sheet is called {sheet[:60]!r}", name, f"Name one of: {known[:200]}.")
    rows: list[RawRow] = []
    head: dict[str, tuple[str, str]] = {}
    blank, guessed = 0, None
    said = list(remarks)
    for grid in grids:
        prefix = f"{grid.name} row " if len(grids) > 1 else ""
        if (sheet and grid.name != sheet) or (grid.hidden and not sheet):
            rows.append(_passed_over(grid, named=bool(sheet)))
            continue
        layout = layout_of(grid, mapping, name)
        if layout is not None and mapping is None:
            guessed = guessed or mapping_of(layout, grid.name if len(grids) > 1 else "")
            said.append(_guess_told(layout))
        taken = read_grid(grid, layout, mapping, prefix)
        rows += taken.rows
        head |= {key: value for key, value in taken.head.items() if key not in head}
        blank += taken.blank
        said += taken.remarks
    whole = Taken(kind, tuple(rows), head, blank, tuple(said))
    return Imported(intake_of(whole, name, wanted), guessed)


def _passed_over(grid: Grid, *, named: bool) -> RawRow:
    count = sum(any(cell.strip() for cell in row.cells) for row in grid.rows)
    if named:
        told = note("intake.sheet-not-named", sheet=grid.name, count=count)
        return RawRow(f"sheet {grid.name}", "", Became.NO_PART, notes=(told,))
    told = note("intake.sheet-hidden", sheet=grid.name, count=count)
    return RawRow(f"sheet {grid.name}", "", Became.NOT_IMPORTED, notes=(told,))


def _guess_told(layout: Layout) -> Note:
    pairs = [
        f"{heading.strip()} = {meaning.replace('_', ' ')}"
        for heading, meaning in zip(layout.headings, layout.meanings, strict=True)
        if meaning
    ]
    return note("intake.columns-guessed", columns="; ".join(pairs)[:400])
