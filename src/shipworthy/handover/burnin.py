"""What a burn-in gives a handover: how it went, how hot the unit got, and the curves to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.handover.burnin_loads import load_blocks, load_name
from shipworthy.handover.burnin_plots import mark_number, plots_of, sensor_name
from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import place_text
from shipworthy.handover.phrases import origin_text, say
from shipworthy.handover.view import Block, Prose, Section, table
from shipworthy.messages import finding_sentence, quantity_text
from shipworthy.model.analysis import Analysis
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import ThermalSummary
from shipworthy.model.words import Outcome, Unit

_WRONG = "load.wrong"
_WORST_FIRST = (Outcome.DIFFERS, Outcome.CANNOT_TELL, Outcome.NOT_CHECKED, Outcome.CONFORMS)


def heat_section(kept: Kept) -> Section:
    """Return temperatures and fans, drawn and in a table; what is missing is said."""
    heading = say("heading.heat")
    analysis = kept.analysis
    if analysis is None or not analysis.segments:
        return Section("heat", heading, "", (Prose(say("heat.no-run")),))
    plots = [*plots_of(kept, analysis, "temperature"), *plots_of(kept, analysis, "fan")]
    blocks: list[Block] = list(plots)
    if not analysis.thermals:
        return Section("heat", heading, say("heat.none"), tuple(blocks))
    columns = tuple(
        say(f"label.{label}") for label in ("sensor", "wired", "idle", "highest", "limit", "origin")
    )
    rows = tuple(_thermal_row(kept, row) for row in analysis.thermals)
    blocks += [table(say("table.thermals"), columns, rows), Prose(say("heat.twice"))]
    return Section("heat", heading, _heat_lead(kept, analysis.thermals), tuple(blocks))


def _heat_lead(kept: Kept, rows: Sequence[ThermalSummary]) -> str:
    """Return the temperature that came closest to its limit; the highest one where none has a limit."""
    closest = min(rows, key=lambda r: (r.limit_c is None, (r.limit_c or 0.0) - r.highest_c))
    what = sensor_name(kept, closest.place, closest.label or closest.channel)
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
        sensor_name(kept, row.place, row.label or row.channel),
        f"{row.place} {row.channel}",
        say("silent") if row.idle_c is None else quantity_text(row.idle_c, Unit.CELSIUS),
        quantity_text(row.highest_c, Unit.CELSIUS),
        limit,
        origin_text(row.limit_origin),
    )


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
        Prose(_results(analysis)),
        *_segments(analysis),
        *_wrong(kept, analysis),
        *_findings(analysis),
        *_marks(kept, analysis),
        *_steps(kept, analysis),
        *load_blocks(kept, analysis.loads),
        *plots_of(kept, analysis, "utilisation"),
        *plots_of(kept, analysis, "clock"),
        *plots_of(kept, analysis, "power"),
    )
    return Section("burn-in", heading, lead, blocks)


def _results(analysis: Analysis) -> str:
    """Count the results; a process that died before its report has told of wrong ones all the same."""
    told = [v.value for f in analysis.findings if f.code == _WRONG for v in f.values if v.name == "wrong"]
    checks = sum(load.checks for load in analysis.loads)
    counted = sum(n for n in told if isinstance(n, int))  # a dispute of two cores is one wrong result
    wrong = counted or sum(load.wrong for load in analysis.loads)
    if not checks and not wrong:
        return say("burn-in.unchecked")
    return say("burn-in.wrong" if wrong else "burn-in.right", checks=checks, wrong=wrong)


def _segments(analysis: Analysis) -> Iterator[Block]:
    """Say how each start ended, where there was more than one."""
    if len(analysis.segments) > 1:
        endings = ", ".join(segment.ending.value for segment in analysis.segments)
        yield Prose(say("burn-in.segments", count=len(analysis.segments), endings=endings))


def _wrong(kept: Kept, analysis: Analysis) -> Iterator[Block]:
    """Say of every part that gave a wrong result what the first was, and how the machine stood then."""
    labels = ("load", "wrong", "first", "wrong-what", "stood")
    rows = tuple(_wrong_row(kept, f) for f in analysis.findings if f.code == _WRONG)
    if rows:
        yield table(say("table.wrong"), tuple(say(f"label.{label}") for label in labels), rows)


def _wrong_row(kept: Kept, finding: Finding) -> tuple[str, ...]:
    said = {value.name: value.value for value in finding.values}

    def told(*named: tuple[str, Unit]) -> str:
        return ", ".join(quantity_text(said[name], unit) for name, unit in named if said.get(name))

    place = finding.part or str(said.get("target", ""))
    return (
        load_name(kept, str(said.get("load", "")), place),
        quantity_text(said.get("wrong", 0), Unit.COUNT),
        told(("at_s", Unit.SECONDS), ("step", Unit.TEXT)),
        told(("what", Unit.TEXT), ("where", Unit.TEXT)),
        told(("hottest_c", Unit.CELSIUS), ("clock_mhz", Unit.MEGAHERTZ)),
    )


def _marks(kept: Kept, analysis: Analysis) -> Iterator[Block]:
    """List what the upright lines of the plots mean."""
    rows = tuple(
        (
            mark_number(number),
            quantity_text(round(mark.t_s, 1), Unit.SECONDS),
            say(f"mark.{mark.code}", what=place_text(kept, mark.what) if mark.what else say("silent")),
            say("mark.times", times=mark.times) if mark.times > 1 else "",
        )
        for number, mark in enumerate(analysis.marks, 1)
    )
    if rows:
        labels = ("mark", "time", "happened", "times")
        yield table(say("table.marks"), tuple(say(f"label.{label}") for label in labels), rows)


def _findings(analysis: Analysis) -> Iterator[Block]:
    ordered = sorted(analysis.findings, key=lambda f: _WORST_FIRST.index(f.outcome))
    rows = tuple((finding_sentence(f).say, say(f"showed.{f.outcome.value}")) for f in ordered)
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
