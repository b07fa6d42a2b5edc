"""What a burn-in gives a handover: how it went, how hot the unit got, and the curves to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import part_at, part_title, place_text
from shipworthy.handover.phrases import origin_text, say
from shipworthy.handover.view import (
    Band,
    Bar,
    Bars,
    Block,
    Curve,
    Graph,
    Level,
    Pair,
    Plot,
    Prose,
    Section,
    table,
)
from shipworthy.messages import finding_sentence, quantity_text
from shipworthy.model.analysis import Analysis
from shipworthy.model.runlog import Column, LoadSummary, Series, StepSpan, ThermalSummary
from shipworthy.model.words import Unit

_MOST_CURVES = 5
_MOST_ALIKE = 3  # more cores than this lie on one another; three curves then bound them all
_MOST_BARS = 12
_LETTERS = "ABCDEFGHIJKL"
_UNIT_MARKS = {Unit.CELSIUS: "°C", Unit.RATIO: "%"}


def heat_section(kept: Kept) -> Section:
    """Return temperatures and fans, drawn and in a table; what is missing is said."""
    heading = say("heading.heat")
    analysis = kept.analysis
    if analysis is None or not analysis.segments:
        return Section("heat", heading, "", (Prose(say("heat.no-run")),))
    plots = [*_plots(kept, analysis, "temperature"), *_plots(kept, analysis, "fan")]
    blocks: list[Block] = list(plots)
    if not analysis.thermals:
        return Section("heat", heading, say("heat.none"), tuple(blocks))
    columns = tuple(
        say(f"label.{label}") for label in ("sensor", "wired", "idle", "highest", "limit", "origin")
    )
    rows = tuple(_thermal_row(kept, row) for row in analysis.thermals)
    blocks.append(table(say("table.thermals"), columns, rows))
    return Section("heat", heading, _heat_lead(kept, analysis.thermals), tuple(blocks))


def _heat_lead(kept: Kept, rows: Sequence[ThermalSummary]) -> str:
    """Return the temperature that came closest to its limit; the highest one where none has a limit."""
    closest = min(rows, key=lambda r: (r.limit_c is None, (r.limit_c or 0.0) - r.highest_c))
    what = _sensor(kept, closest.place, closest.label or closest.channel)
    if closest.limit_c is None:
        return say("heat.lead", what=what, highest_c=closest.highest_c)
    return say(
        "heat.lead-limit",
        what=what,
        highest_c=closest.highest_c,
        limit_c=closest.limit_c,
        origin=origin_text(closest.limit_origin),
    )


def _thermal_row(kept: Kept, row: ThermalSummary) -> tuple[str, ...]:
    limit = say("heat.no-limit") if row.limit_c is None else quantity_text(row.limit_c, Unit.CELSIUS)
    return (
        _sensor(kept, row.place, row.label or row.channel),
        f"{row.place} {row.channel}",
        say("silent") if row.idle_c is None else quantity_text(row.idle_c, Unit.CELSIUS),
        quantity_text(row.highest_c, Unit.CELSIUS),
        limit,
        origin_text(row.limit_origin),
    )


def _sensor(kept: Kept, place: str, label: str) -> str:
    """Return a sensor's name with that of the part it sits on, where the reading knows one."""
    part = part_at(kept.before, place)
    return f"{part_title(part)}, {label}" if part else label


def burn_in_section(kept: Kept) -> Section:
    """Return how the burn-in went: steps, loads with rates beside their limits, results, other curves."""
    heading = say("heading.burn-in")
    analysis = kept.analysis
    if analysis is None or not analysis.segments:
        return Section("burn-in", heading, "", (Prose(say("burn-in.none")),))
    lead = say(
        "burn-in.lead",
        plan=analysis.plan_id,
        planned_s=analysis.planned_s,
        ran_s=analysis.ran_s,
        ending=say(f"ending.{analysis.ending.value}"),
    )
    blocks = (
        Prose(_results(analysis.loads)),
        *_segments(analysis),
        *_findings(analysis),
        *_steps(kept, analysis),
        *_loads(kept, analysis.loads),
        *_rate_plot(kept, analysis.loads),
        *_plots(kept, analysis, "utilisation"),
        *_plots(kept, analysis, "clock"),
        *_plots(kept, analysis, "power"),
    )
    return Section("burn-in", heading, lead, blocks)


def _results(loads: Sequence[LoadSummary]) -> str:
    checks, wrong = sum(load.checks for load in loads), sum(load.wrong for load in loads)
    if not checks:
        return say("burn-in.unchecked")
    return say("burn-in.wrong" if wrong else "burn-in.right", checks=checks, wrong=wrong)


def _segments(analysis: Analysis) -> Iterator[Block]:
    """Say how each start ended, where there was more than one."""
    if len(analysis.segments) > 1:
        endings = ", ".join(segment.ending.value for segment in analysis.segments)
        yield Prose(say("burn-in.segments", count=len(analysis.segments), endings=endings))


def _findings(analysis: Analysis) -> Iterator[Block]:
    rows = tuple((finding_sentence(f).say, f.outcome.value) for f in analysis.findings)
    if rows:
        yield table("", (say("table.findings"), say("label.state")), rows)


def _steps(kept: Kept, analysis: Analysis) -> Iterator[Block]:
    loads = {
        step.step: ", ".join(r.load for r in step.loads) for step in (kept.plan.steps if kept.plan else ())
    }
    rows = tuple(
        (
            f"{number}. {span.step}",
            say("span", begin_s=round(span.begin_s, 1), end_s=round(span.end_s, 1)),
            loads.get(span.step) or say("step.rest"),
        )
        for number, span in enumerate(analysis.spans, 1)
    )
    if rows:
        columns = tuple(say(f"label.{label}") for label in ("step", "time", "loads"))
        yield table(say("table.steps"), columns, rows)


def _loads(kept: Kept, loads: Sequence[LoadSummary]) -> Iterator[Block]:
    if not loads:
        return
    labels = ("load", "rate", "rate-limit", "share", "checks", "wrong", "written")
    rows = tuple(
        (
            _load_name(kept, load),
            rate_text(load.rate, load.unit_of_work),
            rate_text(load.limit, load.unit_of_work),
            _share(load),
            quantity_text(load.checks, Unit.COUNT),
            quantity_text(load.wrong, Unit.COUNT),
            quantity_text(load.written_bytes, Unit.BYTES) if load.written_bytes else "",
        )
        for load in loads
    )
    yield table(say("table.loads"), tuple(say(f"label.{label}") for label in labels), rows)


def _load_name(kept: Kept, load: LoadSummary) -> str:
    return say("load.on", load=load.load, target=place_text(kept, load.target))


def _ratio(load: LoadSummary) -> float | None:
    return load.rate / load.limit if load.rate is not None and load.limit else None


def _share(load: LoadSummary) -> str:
    ratio = _ratio(load)
    return "" if ratio is None else quantity_text(round(ratio, 2), Unit.RATIO)


def rate_text(rate: float | None, unit_of_work: str) -> str:
    """Return work a second, bytes as bytes, large counts in words. A rate that is not known says so."""
    if rate is None:
        return say("silent")
    if unit_of_work in ("B", "byte", "bytes", "bytes written", "bytes read"):
        return f"{quantity_text(round(rate), Unit.BYTES)}/s"
    for power, word in ((12, "trillion"), (9, "billion"), (6, "million"), (3, "thousand")):
        if abs(rate) >= 10.0**power:
            return say(f"rate.{word}", amount=f"{rate / 10.0**power:.2f}", work=unit_of_work)
    return say("rate.plain", amount=f"{rate:.2f}", work=unit_of_work)


def _rate_plot(kept: Kept, loads: Sequence[LoadSummary]) -> Iterator[Plot]:
    known = [(load, ratio) for load in loads if (ratio := _ratio(load)) is not None]
    drawn = sorted(known, key=lambda pair: pair[1])[:_MOST_BARS] if len(known) > _MOST_BARS else known
    if not drawn:
        return
    title = say("plot.rates")
    named = [
        (letter, _load_name(kept, load), _share(load), ratio)
        for letter, (load, ratio) in zip(_LETTERS, drawn, strict=False)
    ]
    told = " ".join(say("plot.bar", letter=a, label=name, share=share) for a, name, share, _ in named)
    yield Plot(
        name="rates",
        title=title,
        description=told,
        key=tuple(Pair(a, say("colon", what=name, text=share)) for a, name, share, _ in named),
        notes=(say("plot.some-loads", drawn=len(drawn), all=len(known)),) if len(drawn) < len(known) else (),
        drawing=Bars(tuple(Bar(a, ratio) for a, _, _, ratio in named)),
    )


def _plots(kept: Kept, analysis: Analysis, quantity: str) -> Iterator[Plot]:
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
        notes=(*notes, *((say("plot.steps"),) if analysis.spans else ())),
        drawing=Graph(
            x_unit=say(f"plot.{x_unit}"),
            y_unit=_UNIT_MARKS.get(unit, unit.value),
            x_end=end_s / scale,
            curves=tuple(_curve(a, s, scale, factor) for a, (_, s) in lettered),
            levels=_levels(lettered, limits),
            bands=_bands(analysis.spans, scale),
        ),
    )


def _chosen(
    kept: Kept, series: list[Series], quantity: str
) -> tuple[list[tuple[str, Series]], tuple[str, ...]]:
    """Return what is drawn, with names: all, or the highest few, or three curves that bound them all."""
    same_times = len({len(s.v) for s in series}) == 1
    if quantity in ("utilisation", "clock") and len(series) > _MOST_ALIKE and same_times:
        return _envelope(series), ()
    named = [(_series_name(kept, s.column), s) for s in series]
    if len(series) <= _MOST_CURVES:
        return named, ()
    highest = sorted(named, key=lambda pair: -_seen(pair[1])[1])[:_MOST_CURVES]
    return highest, (say("plot.some", drawn=len(highest), all=len(series)),)


def _series_name(kept: Kept, column: Column) -> str:
    name = _sensor(kept, column.place, column.label or column.channel)
    return say("brackets", what=name, text=f"{column.place} {column.channel}")


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
    if limit is None or limit.limit_c is None:
        return say("plot.key", label=name, lowest=lowest, highest=highest)
    return say(
        "plot.key-with-limit",
        label=name,
        lowest=lowest,
        highest=highest,
        limit_c=limit.limit_c,
        origin=origin_text(limit.limit_origin),
    )


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


def _time_scale(end_s: float) -> tuple[float, str]:
    """Return the seconds of the axis's unit and its name."""
    if end_s <= 180:
        return 1.0, "seconds"
    return (60.0, "minutes") if end_s <= 3 * 3600 else (3600.0, "hours")
