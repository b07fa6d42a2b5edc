"""Is the supply strong enough, for long and for a moment? All from the budget and its assumptions."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.catalogue import GraphicsFacts, ProcessorFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.budget import RAIL_V, budget_of, on_rail_w, the_supply
from shipworthy.orders.fit.build import Build, Known
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule


@rule("power.sustained", MUST, "the makers' figures; assumptions of assumptions.toml")
def _sustained(rule: Rule, build: Build) -> Iterator[FitFinding]:
    yield from _held_against(rule, build, 1.0)


@rule("power.margin", SHOULD, "common practice: a fifth above the sum, for age, heat and later parts")
def _margin(rule: Rule, build: Build) -> Iterator[FitFinding]:
    supply, found = the_supply(build), budget_of(build)
    if supply is not None and found.least_w > (supply.facts.watts or found.least_w):
        return  # too weak even without: said once
    yield from _held_against(rule, build, 1.0 + found.margin_ratio)


@rule(
    "power.excursion",
    SHOULD,
    "Intel 613768 Table 3-3: what supplies stand for 100 us to 100 ms; peaks assumed",
)
def _excursion(rule: Rule, build: Build) -> Iterator[FitFinding]:
    supply = the_supply(build)
    if supply is None:
        return
    watts, version = supply.ask("watts"), supply.ask("atx_version")
    found = budget_of(build)
    if not watts.known:
        yield rule.cannot_tell(watts=watts)
        return
    over = [e for e in found.excursions if e.allowed_w is not None and e.least_w > e.allowed_w]
    within = all(e.load_w <= (watts.value if e.allowed_w is None else e.allowed_w) for e in found.excursions)
    peak = max(e.load_w for e in found.excursions)
    if over:
        worst = over[0]
        yield rule.differs(
            watts=watts,
            load_w=round(worst.least_w),
            lasts=lasting(worst.lasts_s),
            allowed_w=round(worst.allowed_w or 0),
        )
    elif found.whole and within:
        yield rule.conforms(watts=watts, peak_w=round(peak))
    else:
        missing = unknown_draws(build)
        yield rule.cannot_tell(
            "" if missing or not version.known else "peak",
            [*missing, version],
            watts=watts,
            peak_w=round(peak),
        )


@rule("power.rail", MUST, "the supply maker's table of outputs; +12 V times its current")
def _rail(rule: Rule, build: Build) -> Iterator[FitFinding]:
    supply = the_supply(build)
    if supply is None:
        return
    rails, load_w = supply.ask("rail_12v_a"), on_rail_w(budget_of(build))
    if not rails.known:
        yield rule.cannot_tell(rails=rails)
        return
    given: Given = {"rails": rails, "load_w": round(load_w), "all_w": round(RAIL_V * sum(rails.value))}
    if load_w > RAIL_V * sum(rails.value):
        yield rule.differs(**given)
    elif unknown_draws(build):
        yield rule.cannot_tell("", unknown_draws(build), rails=rails)
    elif load_w > RAIL_V * max(rails.value):
        yield rule.cannot_tell("shared", **given)
    else:
        yield rule.conforms(**given)


@rule("power.card-recommends", SHOULD, "the card maker's figure of the least supply")
def _recommends(rule: Rule, build: Build) -> Iterator[FitFinding]:
    supply = the_supply(build)
    for card in build.of(GraphicsFacts):
        if supply is not None:
            least, watts = card.ask("supply_least_w"), supply.ask("watts")
            yield rule.judge(lambda least, watts: least <= watts, least=least, watts=watts)


def lasting(seconds: float) -> str:
    """Return a short time as people write it: `100 us`, `1 ms`."""
    return f"{seconds * 1e6:.0f} us" if seconds < 1e-3 else f"{seconds * 1e3:.0f} ms"


def unknown_draws(build: Build) -> list[Known]:
    """Return the facts of which the sum lacks a figure of the part itself."""
    asked = [card.ask("board_w") for card in build.of(GraphicsFacts)]
    asked += [processor.ask("limit_w") for processor in build.of(ProcessorFacts)]
    return [each for each in asked if not each.known]


def _held_against(rule: Rule, build: Build, factor: float) -> Iterator[FitFinding]:
    supply = the_supply(build)
    if supply is None:
        return
    watts, found = supply.ask("watts"), budget_of(build)
    told: Given = {"least_w": round(found.least_w * factor), "most_w": round(found.sustained_w * factor)}
    if not watts.known:
        yield rule.cannot_tell(watts=watts)
    elif found.least_w * factor > watts.value:
        yield rule.differs(watts=watts, **told)
    elif found.whole and found.sustained_w * factor <= watts.value:
        yield rule.conforms(watts=watts, **told)
    else:
        missing = unknown_draws(build)
        yield rule.cannot_tell("" if missing else "assumed", missing, watts=watts, **told)
