"""The sheet as one HTML file: no script, no address of anything outside it; prints on one page of A4."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib import resources
from math import ceil

from shipworthy.orders.sheet.build import say
from shipworthy.orders.sheet.view import Sheet

SIZES_PT = (9.4, 9.0, 8.6, 8.2, 7.8, 7.4, 7.0, 6.6, 6.2)
"""Sizes of print, the largest that fits is taken; below the last one nobody reads at arm's length."""

_MM_PT = 25.4 / 72
_COLUMN_MM, _HIGH_MM = 90.0, 297.0 - 2 * 9.0 - 23.0  # of A4, without margins, head and foot
_WIDTH_EM = 0.52  # of a letter of the sans-serif faces named in the style, on the average and a little over
_LINE_EM = 1.28
_BOX_EM, _SERIAL_EM, _SERIAL_HIGH_EM = 1.7, 8.5, 1.6


def sheet_page(sheet: Sheet) -> bytes:
    """Return the page of a build sheet, UTF-8. All text of an order is escaped."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(_template("sheet.html.j2"))
    style = Markup(_template("sheet.css"))  # noqa: S704
    return template.render(sheet=sheet, say=say, style=style, size_pt=size_pt(sheet)).encode("utf-8")


def size_pt(sheet: Sheet) -> float:
    """Return the size of print, in pt, at which the whole sheet stands on one page of A4."""
    fitting = (size for size in SIZES_PT if _lines(sheet, size) * _LINE_EM * size * _MM_PT <= 2 * _HIGH_MM)
    return next(fitting, SIZES_PT[-1])


def _lines(sheet: Sheet, size: float) -> float:
    """Return how many lines of one column the sheet takes at a size, headings and gaps counted as lines."""
    column = _COLUMN_MM / (size * _MM_PT)

    def rows(text: str, less_em: float = 0.0) -> int:
        return max(1, ceil(len(text) * _WIDTH_EM / (column - less_em)))

    return sum(_heights(sheet, rows))


def _heights(sheet: Sheet, rows: Callable[[str, float], int]) -> Iterator[float]:
    for trouble in sheet.troubles:  # these stand across both columns
        yield 1.1 * rows(" ".join((trouble.kind, trouble.say, trouble.do)), 1.0)
    for part in sheet.parts:
        beside = _BOX_EM + _SERIAL_EM
        high = rows(f"1 × {part.text}" + " " * (len(part.text) // 12), beside)
        high += rows(" ".join((part.kind, *part.places)), beside)
        yield max(high, part.serials * _SERIAL_HIGH_EM / _LINE_EM) + 0.45
    for text in (*sheet.customisations, *sheet.services):
        yield rows(text, _BOX_EM) + 0.45
    for text in (*sheet.tray, *sheet.steps, *sheet.cautions):
        yield rows(text, _BOX_EM + 1) + 0.2
    for setting in sheet.settings:
        yield rows(f"{setting.name} {setting.to}", 6.0) + 0.3
    for check in sheet.checks:
        yield 1 + rows("; ".join(check.what), 0.0) + 0.2
    headings = 6 + bool(sheet.troubles) * 3
    yield headings * 2.2 + 2


def _template(name: str) -> str:
    return (resources.files("shipworthy.orders.sheet") / "templates" / name).read_text("utf-8")
