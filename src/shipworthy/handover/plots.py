"""Curves and shares as small SVG drawings, for a column that a phone can show.

Drawn here and not by a plotting library: importing one costs as much time as a whole pack may take (ADR
0014). Curves are told apart by letter and dash, so ink is never the only carrier. The same drawing gives
the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape
from itertools import pairwise
from statistics import median

from shipworthy.handover.view import Bars, Graph, Plot

WIDTH, HEIGHT = 340.0, 212.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 42.0, 22.0, 26.0, 34.0
_TEXT = 11.0  # so that 328 px of a phone show it at about 10.6 px
_INK, _PALE, _BAND = "#2a2723", "#c9c2b6", "#f3efe7"
_STROKES = (
    ("#173f54", ""),
    ("#8a4312", "6 2.5"),
    ("#4a4a4a", "2 2"),
    ("#3c5722", "9 2.5 2 2.5"),
    ("#66305f", "1 2.6"),
)
_NUMERAL_ROOM, _NUMERAL_ROWS = 20.0, 4
_GAP_S_FACTOR = 12  # a pause this many samples long is a hole, and no line is drawn across it


def draw(plot: Plot, *, standalone: bool) -> str:
    """Return the SVG of a plot. standalone: with the namespace that a file of its own needs."""
    drawing = plot.drawing
    body = list(_graph(drawing)) if isinstance(drawing, Graph) else list(_bars(drawing))
    height = HEIGHT if isinstance(drawing, Graph) else _bars_height(drawing)
    namespace = ' xmlns="http://www.w3.org/2000/svg"' if standalone else ""
    ids = f"{plot.name}-title {plot.name}-desc"
    return "".join(
        (
            f'<svg{namespace} viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-labelledby="{ids}"',
            f' font-family="Libertinus Serif" font-size="{_TEXT:.0f}" fill="{_INK}">',
            f'<title id="{plot.name}-title">{escape(plot.title)}</title>',
            f'<desc id="{plot.name}-desc">{escape(plot.description)}</desc>',
            *body,
            "</svg>",
        )
    )


class _Axes:
    """Where the values of a graph lie on the drawing."""

    def __init__(self, graph: Graph) -> None:
        low, high = _bounds(graph)
        self.y_ticks = _ticks(low, high, 5)
        self.low, self.high = min(low, self.y_ticks[0]), max(high, self.y_ticks[-1])
        self.x_end = graph.x_end or 1.0

    def x(self, value: float) -> float:
        return _LEFT + (WIDTH - _LEFT - _RIGHT) * value / self.x_end

    def y(self, value: float) -> float:
        return HEIGHT - _BOTTOM - (HEIGHT - _TOP - _BOTTOM) * (value - self.low) / (self.high - self.low)


def _bounds(graph: Graph) -> tuple[float, float]:
    """Return the lowest and highest value with some air; fans, power and shares begin at nought."""
    seen = [v for curve in graph.curves for v in curve.y if v is not None]
    seen += [level.y for level in graph.levels]
    low, high = min(seen), max(seen)
    if graph.y_unit != "°C":
        low = min(low, 0.0)
    air = (high - low) * 0.08 or 1.0
    return (low - air if low else low), high + air


def _ticks(low: float, high: float, about: int) -> list[float]:
    """Return round values from at or above low to at or below high: steps of 1, 2 or 5 times ten's powers."""
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= raw)
    first = math.ceil(low / step - 1e-9)
    return [round(n * step, 9) for n in range(first, math.floor(high / step + 1e-9) + 1)]


def _graph(graph: Graph) -> Iterator[str]:
    axes = _Axes(graph)
    yield from _draw_bands(graph, axes)
    yield from _draw_axes(graph, axes)
    for index, curve in enumerate(graph.curves):
        ink, dash = _STROKES[index % len(_STROKES)]
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        path = _path(curve.x, curve.y, axes)
        shape = f'fill="none" stroke="{ink}" stroke-width="1.5" stroke-linejoin="round"'
        yield f'<path d="{path}" {shape}{dashed}/>'
    yield from _draw_uprights(graph, axes)
    yield from _draw_levels(graph, axes)
    yield from _draw_letters(graph, axes)


def _draw_bands(graph: Graph, axes: _Axes) -> Iterator[str]:
    """Shade every second step, draw its edges, and number it where there is room."""
    bottom, last = HEIGHT - _BOTTOM, -99.0
    for index, band in enumerate(graph.bands):
        left, right = axes.x(band.begin), axes.x(band.end)
        if index % 2:
            yield _rectangle(left, _TOP, right - left, bottom - _TOP, _BAND)
        yield _line(left, _TOP - 4, left, bottom, _PALE, 0.6)
        middle = (left + right) / 2
        if middle - last >= 12:
            yield _text(middle, _TOP - 8, band.number, "middle")
            last = middle


def _draw_uprights(graph: Graph, axes: _Axes) -> Iterator[str]:
    """Draw a line where something happened, its numeral at the foot, above that of a close one before it."""
    bottom, last, row = HEIGHT - _BOTTOM, -99.0, 0
    for upright in graph.uprights:
        x = axes.x(min(upright.x, axes.x_end))
        row = (row + 1) % _NUMERAL_ROWS if x - last < _NUMERAL_ROOM else 0
        last = x
        yield _line(x, _TOP, x, bottom, _INK, 0.9, "3 2")
        side, anchor = (2.5, "start") if x < WIDTH - _RIGHT - _NUMERAL_ROOM else (-2.5, "end")
        yield _text(x + side, bottom - 4 - row * _TEXT, upright.number, anchor, halo=True)


def _draw_axes(graph: Graph, axes: _Axes) -> Iterator[str]:
    left, right, bottom = _LEFT, WIDTH - _RIGHT, HEIGHT - _BOTTOM
    for tick in axes.y_ticks:
        yield _line(left, axes.y(tick), right, axes.y(tick), _PALE, 0.6, "1 3")
        yield _text(left - 6, axes.y(tick) + 3.6, _number(tick), "end")
    yield _line(left, bottom, right, bottom, _INK, 0.8)
    for tick in _ticks(0.0, axes.x_end, 5):
        yield _line(axes.x(tick), bottom, axes.x(tick), bottom + 4, _INK, 0.8)
        yield _text(axes.x(tick), bottom + 15, _number(tick), "middle")
    yield _text(left - 6, _TOP - 8, graph.y_unit, "end")
    yield _text(right, HEIGHT - 5, graph.x_unit, "end")


def _draw_levels(graph: Graph, axes: _Axes) -> Iterator[str]:
    last = -99.0
    for level in sorted(graph.levels, key=lambda level: -level.y):
        y = axes.y(level.y)
        yield _line(_LEFT, y, WIDTH - _RIGHT, y, _INK, 1.0, "12 3")
        if y - last >= _TEXT + 1:  # its words are in the key all the same
            yield _text(_LEFT + 4, y - 4, level.text, "start", halo=True)
            last = y


def _draw_letters(graph: Graph, axes: _Axes) -> Iterator[str]:
    """Put each letter beside the end of its curve, pushed apart so that each can be read."""
    ends = []
    for index, curve in enumerate(graph.curves):
        last = next((v for v in reversed(curve.y) if v is not None), None)
        if last is not None:
            ends.append((axes.y(last), index, curve.letter))
    heights = _apart([y for y, _, _ in sorted(ends)], _TEXT, _TOP, HEIGHT - _BOTTOM)
    for (_, index, letter), y in zip(sorted(ends), heights, strict=True):
        ink = _STROKES[index % len(_STROKES)][0]
        yield _text(WIDTH - _RIGHT + 5, y + 3.6, letter, "start", ink=ink, bold=True)


def _apart(heights: Sequence[float], least: float, top: float, bottom: float) -> list[float]:
    """Return rising heights with at least that distance, moved as little as a pass down and up allows."""
    out = list(heights)
    for i, y in enumerate(out):
        out[i] = max(y, top, out[i - 1] + least if i else top)
    for i in range(len(out) - 1, -1, -1):
        out[i] = min(out[i], bottom if i == len(out) - 1 else out[i + 1] - least)
    return out


def _path(x: Sequence[float], y: Sequence[float | None], axes: _Axes) -> str:
    """Return a curve as path data; it is broken where there is no sample and across holes in time."""
    steps = [b - a for a, b in pairwise(x) if b > a]
    widest = _GAP_S_FACTOR * median(steps) if steps else math.inf
    out, pen_down, before = [], False, -math.inf
    for at, value in zip(x, y, strict=True):
        if value is None:
            pen_down = False
            continue
        if at - before > widest:
            pen_down = False
        out.append(f"{'L' if pen_down else 'M'}{axes.x(at):.1f} {axes.y(value):.1f}")
        pen_down, before = True, at
    return "".join(out)


_BAR_STEP = 18.0


def _bars_height(bars: Bars) -> float:
    return 14.0 + _BAR_STEP * len(bars.bars) + _BOTTOM


def _bars(bars: Bars) -> Iterator[str]:
    """Draw a share a row: a line from nought to a tick at its end, and the mark of 1 across all."""
    most = max(1.0, *(bar.ratio for bar in bars.bars)) * 1.04
    width, bottom = WIDTH - _LEFT - _RIGHT, 10.0 + _BAR_STEP * len(bars.bars)
    for tick in _ticks(0.0, most, 5):
        x = _LEFT + width * tick / most
        yield _line(x, 6, x, bottom, _INK if tick == 1.0 else _PALE, 1.0 if tick == 1.0 else 0.6, "1 3")
        yield _text(x, bottom + 13, f"{tick * 100:.0f} %", "middle")
    x = _LEFT + width / most
    yield _line(x, 2, x, bottom, _INK, 1.0, "12 3")
    for index, bar in enumerate(bars.bars):
        y, end = 16.0 + _BAR_STEP * index, _LEFT + width * bar.ratio / most
        yield _text(_LEFT - 10, y + 3.6, bar.letter, "end", bold=True)
        yield _line(_LEFT, y, end, y, _STROKES[0][0], 2.2)
        yield _line(end, y - 5, end, y + 5, _STROKES[0][0], 2.2)


def _number(value: float) -> str:
    return f"{value:,.0f}" if float(value).is_integer() else f"{value:,g}"


def _line(x1: float, y1: float, x2: float, y2: float, ink: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" fill="none" stroke="{ink}" '
        f'stroke-width="{width}"{dashed}/>'
    )


def _rectangle(x: float, y: float, width: float, height: float, ink: str) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{ink}"/>'


def _text(
    x: float,
    y: float,
    words: str,
    anchor: str,
    *,
    ink: str = _INK,
    bold: bool = False,
    halo: bool = False,
) -> str:
    style = ' font-weight="bold"' if bold else ""
    if halo:
        style += ' stroke="#fff" stroke-width="3" stroke-linejoin="round" paint-order="stroke"'
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}"{style}>{escape(words)}</text>'
