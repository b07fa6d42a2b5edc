"""XLSX and ODS: unpacked within bounds, looked over, then read by calamine.

A workbook is a zip of XML from outside. A few kilobytes can unpack to gigabytes, and one cell in the last
column of the last row makes a grid of 17,000 million. So each file in it is unpacked by us, up to a bound
whatever the zip's own list says, and the sheets are counted before a grid is made of them.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

from python_calamine import CalamineError, CalamineWorkbook, SheetVisibleEnum

from shipworthy.model.base import Trouble
from shipworthy.orders.intake.grids import Grid, GridRow, cell_text
from shipworthy.orders.intake.sheet_scan import SheetScan, scan_workbook
from shipworthy.orders.intake.sources import MOST_ROWS

MOST_UNPACKED = 64 * 10**6
MOST_ENTRIES = 2_000
MOST_CELLS = 500_000
_STEP = 1 << 20
_NEEDED = (".xml", ".rels", "mimetype")
_MEND = "Save it again as .xlsx, with the order's rows alone."


def workbook_grids(data: bytes, name: object) -> list[Grid]:
    """Return the sheets of a workbook that hold anything, in their order; merged cells are filled.

    Raises Trouble for a file that is no workbook, has a password, unpacks to more than 64 MB, or has more
    than 2,000 rows with content or cells too far apart.
    """
    members = _unpacked(data, name)
    scans = scan_workbook(members, name)
    for scan in scans.values():
        _refuse_large(scan, name)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(_repacked(members)))
        hidden = {
            sheet.name for sheet in book.sheets_metadata if sheet.visible is not SheetVisibleEnum.Visible
        }
        grids = [
            _grid(title, book.get_sheet_by_name(title).to_python(skip_empty_area=False), scans.get(title))
            for title in book.sheet_names
        ]
    except (CalamineError, OSError, ValueError) as error:
        raise Trouble(f"not a workbook that can be read: {str(error)[:120]}", name, _MEND) from error
    return [Grid(g.name, g.rows, hidden=g.name in hidden) for g in grids if g.rows]


def _unpacked(data: bytes, name: object) -> dict[str, bytes]:
    members: dict[str, bytes] = {}
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            if len(entries) > MOST_ENTRIES or sum(entry.file_size for entry in entries) > MOST_UNPACKED:
                raise _bomb(name)
            for entry in entries:
                if entry.flag_bits & 1:
                    raise Trouble("the workbook has a password", name, "Save it without one.")
                if not entry.filename.endswith(_NEEDED):
                    continue
                parts: list[bytes] = []
                with archive.open(entry) as file:
                    while part := file.read(_STEP):
                        total += len(part)
                        if total > MOST_UNPACKED:
                            raise _bomb(name)
                        parts.append(part)
                members[entry.filename] = b"".join(parts)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError, ValueError, RuntimeError) as error:
        raise Trouble(f"not a whole workbook: {str(error)[:120]}", name, "Copy it again.") from error
    except Exception as error:
        if type(error).__module__ in ("zlib", "lzma"):
            raise Trouble(f"not a whole workbook: {str(error)[:120]}", name, "Copy it again.") from error
        raise
    return members


def _bomb(name: object) -> Trouble:
    return Trouble(f"the workbook unpacks to more than {MOST_UNPACKED // 10**6} MB", name, _MEND)


def _repacked(members: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for title, content in members.items():
            archive.writestr(title, content)
    return packed.getvalue()


def _refuse_large(scan: SheetScan, name: object) -> None:
    if scan.filled_rows > MOST_ROWS:
        what = (
            f"the sheet {scan.name[:40]!r} has more than {MOST_ROWS:,} rows, and an order may have 500 lines"
        )
        raise Trouble(what, name, "Check that this is the right file, or split the order.")
    if scan.last_row * scan.last_column > MOST_CELLS:
        what = f"the sheet {scan.name[:40]!r} has cells as far apart as row {scan.last_row:,}"
        raise Trouble(what, name, "Delete what lies far from the order's rows.")


def _grid(title: str, values: Sequence[Sequence[object]], scan: SheetScan | None) -> Grid:
    texts = [[cell_text(value) for value in row] for row in values]
    if scan is None:
        return Grid(title, tuple(GridRow(n, tuple(row)) for n, row in enumerate(texts, 1)))
    merged: dict[int, set[int]] = {}
    for top, left, bottom, right in scan.merged:
        said = texts[top][left] if top < len(texts) and left < len(texts[top]) else ""
        for index in range(top + 1, min(bottom + 1, len(texts))):
            if left == right and left < len(texts[index]):
                texts[index][left] = said
                merged.setdefault(index, set()).add(left)
    rows = [
        GridRow(
            number,
            tuple(row),
            merged=frozenset(merged.get(number - 1, ())),
            hidden=number - 1 in scan.hidden,
            no_value=frozenset(column for at, column in scan.no_value if at == number - 1),
        )
        for number, row in enumerate(texts, 1)
    ]
    return Grid(title, tuple(rows))
