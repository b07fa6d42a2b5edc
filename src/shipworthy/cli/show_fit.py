"""What `order check` prints: lines as understood, questions, what does not fit, what is open, the budget."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.cli.show import say, table, wrapped
from shipworthy.jobs.fit import fact_words, told
from shipworthy.messages import quantity_text, sentence
from shipworthy.model.base import values
from shipworthy.model.fit import Budget, Fit, FitFinding, FitQuestion, OrderCheck
from shipworthy.model.orders import Order
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit.power import lasting
from shipworthy.orders.fit.rules import UNKNOWN

LONGEST_NAME = 44
"""Signs of a line's text that a heading shows."""


def order_check(checked: OrderCheck, *, everything: bool = False) -> None:
    """Print the whole of it. everything: also what fits, and what no rule could be asked of."""
    lines(checked.order)
    questions(checked.questions)
    names = {line.line_id: _short(line.text) for line in checked.order.lines}
    fit(checked.fit, names, everything=everything)
    budget(checked.fit.budget)
    for credit in checked.credits:
        say()
        wrapped(credit)


def lines(order: Order) -> None:
    """Print what each line is understood to ask for, and the words that say so."""
    many = "line" if len(order.lines) == 1 else "lines"
    wrapped(
        f"Order {order.order_id} of {order.shop}: {len(order.lines)} {many}, units {', '.join(order.units)}."
    )
    for line in order.lines:
        wrapped(f"{line.line_id:>4}  {line.quantity} x {line.text}  [{line.category.value}]", 6)
        for wanted in line.expectations:
            binary = line.category in (Category.MEMORY, Category.GRAPHICS)
            text = quantity_text(wanted.want, wanted.unit, binary=binary)
            source = f'from "{wanted.words}"' if wanted.words else "given"
            wrapped(f"        {wanted.aspect.value}: {text}  ({source})", 10)
        if not line.expectations:
            wrapped("        nothing that a machine can show; it will be an inspection item", 10)


def questions(asked: Iterable[FitQuestion]) -> None:
    """Print what the shop has to answer."""
    asked = tuple(asked)
    if not asked:
        return
    say()
    say(f"Questions to the shop: {len(asked)}")
    for question in asked:
        words = sentence(question.code, told(question.values, question.line))
        _item(words.say, words.do)


def fit(found: Fit, names: dict[str, str], *, everything: bool) -> None:
    """Print findings: what does not fit, warnings, what cannot be told, what fits."""
    fails = [f for f in found.findings if f.fails]
    warns = [f for f in found.findings if f.warns]
    _group("Does not fit", fails, names)
    _group("Warnings", warns, names)
    _cannot_tell([f for f in found.findings if f.outcome is Outcome.CANNOT_TELL], names)
    fits = [f for f in found.findings if f.outcome is Outcome.CONFORMS]
    unasked = [f for f in found.findings if f.outcome is Outcome.NOT_CHECKED]
    say()
    more = "" if everything else " (--all lists both)"
    say(f"Fits: {len(fits)} checks; {len(unasked)} had nothing to ask of{more}.")
    if everything:
        for finding in fits:
            _item(_fits(finding, names), "")
        if unasked:
            _item(f"Nothing to ask of: {'; '.join(map(_asks, unasked))}.", "")


def budget(found: Budget) -> None:
    """Print the power budget with where each figure is from."""
    if not found.rows:
        return
    say()
    say("Power budget (DC, all parts at once)")
    rows = [_budget_row(row.what, row.line, row.pieces, row.load_w, row.basis) for row in found.rows]
    table(("  part", "line", "pieces", "at most", "from"), rows)
    supply = "" if found.supply_w is None else f" The supply: {found.supply_w:,.0f} W."
    if not found.whole:
        wrapped(f"  Without the figures that are not known there is no sum.{supply}", 4)
        return
    of_parts = f"{found.least_w:,.0f} W of it by figures of the parts"
    wrapped(f"  Sum: {found.sustained_w:,.0f} W at most, {of_parts}.", 4)
    if found.supply_w is not None:
        wanted = found.sustained_w * (1 + found.margin_ratio)
        wrapped(f"  With {found.margin_ratio * 100:.0f} % to spare: {wanted:,.0f} W.{supply}", 4)
    _peaks(found)
    _wall(found)


def _peaks(found: Budget) -> None:
    if not found.excursions or found.supply_w is None:
        return
    rows = []
    for peak in found.excursions:
        stands = "not known" if peak.allowed_w is None else f"{peak.allowed_w:,.0f} W"
        rows.append((f"  {lasting(peak.lasts_s)}", f"{peak.load_w:,.0f} W", stands))
    say("  Peaks, assumed as large as those that supplies are tested with:")
    table(("  for", "at most", "the supply stands"), rows)


def _wall(found: Budget) -> None:
    if not found.wall:
        return
    named = "80 PLUS" if found.grade == "basic" else f"80 PLUS {found.grade}"
    wrapped(f"  From the wall at most, by {named} at 115 V, straight lines between its points:", 4)
    rows = []
    for point in found.wall:
        gives = "outside the grade's points"
        if point.efficiency_ratio is not None and point.wall_w is not None:
            gives = f"{point.efficiency_ratio * 100:.1f} %"
        draw = f"{point.wall_w:,.0f} W" if point.wall_w is not None else "not told"
        rows.append((f"  {point.load_w:,.0f} W", f"{point.load_ratio * 100:.0f} %", gives, draw))
    table(("  load", "of rating", "efficiency", "from the wall"), rows)


def _budget_row(what: str, line: str, pieces: int, load_w: float, basis: str) -> tuple[str, ...]:
    drawn = "?" if basis == "fit.budget.unknown" else f"{load_w:,.0f} W"
    return (f"  {what}", line or "-", str(pieces), drawn, sentence(basis).say)


def _group(title: str, found: list[FitFinding], names: dict[str, str]) -> None:
    if not found:
        return
    say()
    say(f"{title}: {len(found)}")
    for finding in found:
        words = sentence(finding.code, told(finding.values))
        _item(f"{_of(finding.lines, names)}{words.say}", words.do)


def _cannot_tell(found: list[FitFinding], names: dict[str, str]) -> None:
    """Print what is open: first what needs an eye, then what facts are missing, by line."""
    if not found:
        return
    say()
    say(f"Cannot tell: {len(found)} check{'s' * (len(found) != 1)}")
    for finding in (f for f in found if f.code != "fit.cannot-tell"):
        words = sentence(finding.code, told(finding.values))
        _item(f"{_of(finding.lines, names)}{words.say}", words.do)
    missing: dict[str, dict[str, None]] = {}
    for finding in found:
        for fact in finding.missing:
            missing.setdefault(fact.line, {})[fact_words(fact.fact)] = None
    if missing:
        wrapped("  Facts that are missing; a part list that has them, or the order's text, closes these:", 4)
    for line, name in names.items():
        if line in missing:
            wrapped(f"    line {line}, {name}: {', '.join(missing[line])}", 6)


def _fits(finding: FitFinding, names: dict[str, str]) -> str:
    """Return what fits, with the facts that it rests on; of a rule that rests on none, what it counted."""
    facts = [f"{fact_words(fact.fact)}: {fact.value}" for fact in finding.facts]
    counted = [str(v.value) for v in finding.values if v.name != "source" and v.value != UNKNOWN]
    given = values(asks=_asks(finding), facts="; ".join(facts or counted))
    return _of(finding.lines, names) + sentence(finding.code, given).say


def _asks(finding: FitFinding) -> str:
    return sentence(f"fit.{finding.rule}.asks").say


def _of(lines: tuple[str, ...], names: dict[str, str]) -> str:
    """Return the lines that a finding speaks of, in the order's own order."""
    if not lines:
        return ""
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(name for name in names if name in lines)}: "


def _item(text: str, do: str) -> None:
    wrapped(f"  {text}", 4)
    if do:
        wrapped(f"    -> {do}", 7)


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1].rstrip() + "…"
