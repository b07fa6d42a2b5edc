"""What calamine does not tell of a sheet: hidden rows, merged cells, formulas without a kept value, extent.

ECMA-376 part 1, 18.3.1 (`row`, `c`, `f`, `v`, `mergeCell`); OASIS OpenDocument 1.3 part 3, 9.1
(`table:table-row`, `table:table-cell` and their `-repeated` and `-spanned`).
"""

from __future__ import annotations

import io
import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import ParseError, fromstring, iterparse

from shipworthy.model.base import Trouble
from shipworthy.orders.intake.sources import MOST_ROWS


@dataclass
class SheetScan:
    """Rows and columns from 0. merged: (top, left, bottom, right). last_row, last_column: counts."""

    name: str
    hidden: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    no_value: list[tuple[int, int]] = field(default_factory=list)
    filled_rows: int = 0
    last_row: int = 0
    last_column: int = 0

    def fill(self, row: int, column: int, rows: int = 1) -> None:
        self.last_row = max(self.last_row, row + rows)
        self.last_column = max(self.last_column, column + 1)


def scan_workbook(members: Mapping[str, bytes], name: object) -> dict[str, SheetScan]:
    """Return the scan of each sheet by its name. A sheet of too many rows is scanned no further.

    Raises Trouble for XML that is not well-formed or declares entities, and for a zip that is no workbook.
    """
    try:
        if "content.xml" in members:
            return {scan.name: scan for scan in _scan_ods(members["content.xml"])}
        if "xl/workbook.xml" in members:
            return {title: _scan_xlsx(title, members[part]) for title, part in _sheet_parts(members)}
    except (ParseError, DefusedXmlException, ValueError, KeyError, LookupError) as error:
        said = type(error).__name__ if isinstance(error, DefusedXmlException) else str(error)[:120]
        raise Trouble(f"not a workbook that can be read: {said}", name, "Save it again as .xlsx.") from error
    raise Trouble("a zip file that is no workbook", name, "Name an .xlsx or .ods file, or unpack it.")


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]


def _attribute(element: Any, name: str) -> str:
    return next((str(value) for key, value in element.attrib.items() if _local(key) == name), "")


def _sheet_parts(members: Mapping[str, bytes]) -> Iterator[tuple[str, str]]:
    targets = {
        element.attrib["Id"]: element.attrib["Target"]
        for element in fromstring(members["xl/_rels/workbook.xml.rels"])
    }
    for element in fromstring(members["xl/workbook.xml"]).iter():
        if _local(element.tag) == "sheet":
            target = targets[_attribute(element, "id")]
            part = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"xl/{target}")
            if part in members and "worksheets" in part:
                yield element.attrib["name"], part


_PLACE = re.compile(r"([A-Z]{1,3})(\d{1,7})")


def _place(reference: str) -> tuple[int, int]:
    match = _PLACE.fullmatch(reference.replace("$", ""))
    if match is None:
        raise ValueError(f"{reference[:20]!r} is no cell")
    column = 0
    for letter in match[1]:
        column = column * 26 + ord(letter) - 64
    return int(match[2]) - 1, column - 1


def _scan_xlsx(title: str, xml: bytes) -> SheetScan:
    scan = SheetScan(title)
    row, column = -1, -1
    for event, element in iterparse(io.BytesIO(xml), events=("start", "end")):
        tag = _local(element.tag)
        if event == "start":
            if tag == "row":
                row = int(element.get("r", row + 2)) - 1
                column = -1
            continue
        if tag == "row":
            if element.get("hidden") in ("1", "true"):
                scan.hidden.add(row)
            scan.filled_rows += any(len(cell) for cell in element)
            element.clear()
            if scan.filled_rows > MOST_ROWS:
                break
        elif tag == "c":
            row, column = _place(element.attrib["r"]) if "r" in element.attrib else (row, column + 1)
            kinds = {_local(child.tag): child for child in element}
            if kinds:
                scan.fill(row, column)
            if element.get("t") == "e" or ("f" in kinds and not (kinds["v"].text if "v" in kinds else None)):
                scan.no_value.append((row, column))
        elif tag == "mergeCell":
            first, _, last = element.attrib["ref"].partition(":")
            scan.merged.append((*_place(first), *_place(last or first)))
    return scan


def _scan_ods(xml: bytes) -> Iterator[SheetScan]:
    scan: SheetScan | None = None
    row = column = 0
    for event, element in iterparse(io.BytesIO(xml), events=("start", "end")):
        tag = _local(element.tag)
        if event == "start" and tag == "table":
            scan, row = SheetScan(_attribute(element, "name")), 0
        elif event == "start" and tag == "table-row":
            column = 0
        elif scan is None or event == "start":
            continue
        elif tag in ("table-cell", "covered-table-cell"):
            column += _scan_ods_cell(scan, element, row, column)
        elif tag == "table-row":
            times = int(_attribute(element, "number-rows-repeated") or 1)
            if any(len(cell) or _attribute(cell, "value-type") for cell in element):
                scan.filled_rows += times
                scan.fill(row, 0, times)
            if _attribute(element, "visibility") in ("collapse", "filter"):
                scan.hidden.update(range(row, row + min(times, MOST_ROWS)))
            row += times
            element.clear()
        elif tag == "table":
            yield scan
            scan = None
            element.clear()


def _scan_ods_cell(scan: SheetScan, cell: Any, row: int, column: int) -> int:
    """Note what a cell holds, and return how many columns it stands for."""
    times = int(_attribute(cell, "number-columns-repeated") or 1)
    if len(cell) or _attribute(cell, "value-type"):
        scan.fill(row, column + times - 1)
    error = any(_local(key) == "value-type" and value == "error" for key, value in cell.attrib.items())
    if error or (_attribute(cell, "formula") and not _attribute(cell, "value-type")):
        scan.no_value.append((row, column))
    down = int(_attribute(cell, "number-rows-spanned") or 1)
    across = int(_attribute(cell, "number-columns-spanned") or 1)
    if down > 1 or across > 1:
        scan.merged.append((row, column, row + down - 1, column + across - 1))
    return times
