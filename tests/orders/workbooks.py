"""Workbooks of an invented shop for tests: XLSX by a library, ODS by hand."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

_ODS = (
    '<?xml version="1.0"?><office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
    '<table:table table:name="Positions">{rows}</table:table></office:spreadsheet></office:body>'
    "</office:document-content>"
)
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_ODS_MANIFEST = (
    '<?xml version="1.0"?><manifest:manifest '
    'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
    f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS_TYPE}"/></manifest:manifest>'
)


def xlsx(rows: Sequence[Sequence[object]], change: Callable[[Worksheet], None] | None = None) -> bytes:
    """Return a workbook of one sheet, `Positions`."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Positions"
    for row in rows:
        sheet.append(list(row))
    if change is not None:
        change(sheet)
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def ods_cell(text: str, attributes: str = "") -> str:
    said = f"<text:p>{text}</text:p>"
    return f'<table:table-cell office:value-type="string" {attributes}>{said}</table:table-cell>'


def ods_row(*cells: str, attributes: str = "") -> str:
    return f"<table:table-row {attributes}>{''.join(cells)}</table:table-row>"


def ods(*rows: str) -> bytes:
    """Return an ODS of one sheet, `Positions`."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", _ODS_TYPE)
        archive.writestr("META-INF/manifest.xml", _ODS_MANIFEST)
        archive.writestr("content.xml", _ODS.format(rows="".join(rows)))
    return data.getvalue()
