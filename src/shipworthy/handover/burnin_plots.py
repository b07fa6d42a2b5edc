"""The curves of a burn-in as plots: what is drawn of which quantity, with steps, limits and marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import part_at, part_title
from shipworthy.handover.phrases import origin_text, say
from shipworthy.handover.view import Band, Curve, Graph, Level, Pair, Plot, Upright
from shipworthy.messages import quantity_text
from shipworthy.model.analysis import Analysis, Mark
from shipworthy.model.runlog import Column, Series, StepSpan, ThermalSummary
from shipworthy.model.words import Unit

_MOST_CURVES = 5
_MOST_ALIKE = 3  # more cores than this lie on one another; three curves then bound them all
_LETTERS = "ABCDEFGHIJKL"
_UNIT_MARKS = {Unit.CELSIUS: "°C", Unit.RATIO: "%"}
_ROMAN = ((10, "x"), (9, "ix"), (5, "v"), (4, "iv"), (1, "i"))


def mark_number(number: int) -> str:
    """Return the small Roman numeral of a mark: steps have Arabic numerals and curves letters."""
    told = ""
    for value, sign in _ROMAN:
        while number >= value:
            told, number = told + sign, number - value
    return told


def sensor_name(kept: Kept, place: str, label: str) -> str:
    """Return a sensor's name with that of the part it sits on, where the reading knows one."""
    part = part_at(kept.before, place)
    return f"{part_title(part)}, {label}" if part else label


def plots_of(kept: Kept, analysis: Analysis, quantity: str) -> Iterator[Plot]:
    """Return the plot of one quantity; nothing if no column of it gave a value."""
    series = [s for s in analysis.series if s.column.quantity == quantity and any(v is not None for v in s.v)]
    if not series:
        return
    chosen, notes = _chosen(kept, series, quantity)
    scale, x_unit = _time_scale(max(s.t_s[-1] for s in series))
    unit = series[0].column.unit
    factor = 100.0 if unit is Unit.RATIO else 1.0
    limits = _limits_of(analysis.thermals) if quantity == "temperature" else {}
    lettered = list(zip(_LETTERS, chosen, strict=False))
    end_s = max(s.t_s[-1] for s in series)
    yield Plot(
        name=quantity,
        title=say(f"plot.{quantity}"),
        description=say(
            "plot.description",
            title=say(f"plot.{quantity}"),
            end_s=round(end_s, 1),
            curves=" ".join(
                say("plot.curve", letter=a, told=_told(name, s, limits)) for a, (name, s) in lettered
            ),
        ),
        key=tuple(Pair(a, _told(name, s, limits)) for a, (name, s) in lettered),
        notes=(*notes, *_reading_aids(analysis)),
        drawing=Graph(
            x_unit=say(f"plot.{x_unit}"),
            y_unit=_UNIT_MARKS.get(unit, unit.value),
            x_end=end_s / scale,
            curves=tuple(_curve(a, s, scale, factor) for a, (_, s) in lettered),
            levels=_levels(lettered, limits),
            bands=_bands(analysis.spans, scale),
            uprights=_uprights(analysis.marks, scale),
        ),
    )


def _chosen(
    kept: Kept, series: list[Series], quantity: str
) -> tuple[list[tuple[str, Series]], tuple[str, ...]]:
    """Return what is drawn, with names: all, or the highest few, or three curves that bound them all."""
    same_times = len({len(s.v) for s in series}) == 1
    cores = [s for s in series if s.column.place.startswith("cpu:")]
    if quantity in ("utilisation", "clock") and len(cores) > _MOST_ALIKE and same_times:
        others = [(_series_name(kept, s.column), s) for s in series if s not in cores]
        return [*_envelope(cores), *others[: _MOST_CURVES - 3]], ()
    named = [(_series_name(kept, s.column), s) for s in series]
    if len(series) <= _MOST_CURVES:
        return named, ()
    highest = sorted(named, key=lambda pair: -_seen(pair[1])[1])[:_MOST_CURVES]
    return highest, (say("plot.some", drawn=len(highest), all=len(series)),)


def _series_name(kept: Kept, column: Column) -> str:
    name = sensor_name(kept, column.place, column.label or column.channel)
    wired = f"{column.place} {column.channel}"
    return name if name == wired else say("brackets", what=name, text=wired)


def _envelope(series: list[Series]) -> list[tuple[str, Series]]:
    rows = [[v for v in row if v is not None] for row in zip(*(s.v for s in series), strict=True)]
    first = series[0]
    return [
        (
            say(f"plot.envelope.{name}", all=len(series)),
            Series(column=first.column, t_s=first.t_s, v=tuple(of(row) if row else None for row in rows)),
        )
        for name, of in (("highest", max), ("median", median), ("lowest", min))
    ]


def _seen(series: Series) -> tuple[float, float]:
    values = [v for v in series.v if v is not None]
    return min(values), max(values)


def _limits_of(rows: Sequence[ThermalSummary]) -> dict[tuple[str, str], ThermalSummary]:
    return {(row.place, row.channel): row for row in rows if row.limit_c is not None}


def _told(name: str, series: Series, limits: dict[tuple[str, str], ThermalSummary]) -> str:
    lowest, highest = (quantity_text(v, series.column.unit) for v in _seen(series))
    limit = limits.get((series.column.place, series.column.channel))
    code = "plot.key-level" if lowest == highest else "plot.key"
    told = say(code, label=name, lowest=lowest, highest=highest)
    if limit is None or limit.limit_c is None:
        return told
    return say("plot.with-limit", told=told, limit_c=limit.limit_c, origin=origin_text(limit.limit_origin))


def _levels(
    lettered: Sequence[tuple[str, tuple[str, Series]]], limits: dict[tuple[str, str], ThermalSummary]
) -> tuple[Level, ...]:
    letters: dict[float, list[str]] = {}
    for letter, (_, series) in lettered:
        limit = limits.get((series.column.place, series.column.channel))
        if limit is not None and limit.limit_c is not None:
            letters.setdefault(limit.limit_c, []).append(letter)
    return tuple(
        Level(say("plot.limit", letters=", ".join(names)), value) for value, names in letters.items()
    )


def _curve(letter: str, series: Series, scale: float, factor: float) -> Curve:
    return Curve(
        letter=letter,
        x=tuple(t / scale for t in series.t_s),
        y=tuple(None if v is None else v * factor for v in series.v),
    )


def _bands(spans: Sequence[StepSpan], scale: float) -> tuple[Band, ...]:
    return tuple(Band(str(n), span.begin_s / scale, span.end_s / scale) for n, span in enumerate(spans, 1))


def _uprights(marks: Sequence[Mark], scale: float) -> tuple[Upright, ...]:
    return tuple(Upright(mark_number(n), mark.t_s / scale) for n, mark in enumerate(marks, 1))


def _reading_aids(analysis: Analysis) -> Iterator[str]:
    if analysis.spans:
        yield say("plot.steps-and-marks" if analysis.marks else "plot.steps")


def _time_scale(end_s: float) -> tuple[float, str]:
    """Return the seconds of the axis's unit and its name."""
    if end_s <= 180:
        return 1.0, "seconds"
    return (60.0, "minutes") if end_s <= 3 * 3600 else (3600.0, "hours")
