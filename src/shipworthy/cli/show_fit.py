"""What `order check` prints: what must be settled, what goes into the tray, the lines as understood, the
power budget, and last what nobody told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from shipworthy.cli.show import say, table, wrapped
from shipworthy.jobs.fit import fact_words, told
from shipworthy.messages import quantity_text, sentence
from shipworthy.model.base import values
from shipworthy.model.fit import Budget, Fit, FitFinding, FitQuestion, FitWeight, OrderCheck
from shipworthy.model.orders import Order
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit.power import lasting
from shipworthy.orders.fit.rules import UNKNOWN

LONGEST_NAME = 44
"""Signs of a line's text that a row of its own shows."""
SHORTEST_NAME = 28
"""Signs of it that a finding shows, beside the line's number."""
MOST_NAMED = 3
"""A finding about more lines than these gives their numbers only."""
MOST_FACTS = 4
"""Missing facts that are told of a line; --all tells each."""
UNTOLD = "fit.cannot-tell"
"""The code of a check that wants facts that nobody told."""
TRAY = "accessories."
"""The rules of what is laid into the tray."""


def order_check(checked: OrderCheck, *, everything: bool = False) -> None:
    """Print the whole of it, what must be settled first and what nobody told last. everything: also what
    fits, what no rule could be asked of, and each fact that is missing."""
    order, found = checked.order, checked.fit
    names = {line.line_id: line.text for line in order.lines}
    opened = [f for f in found.findings if f.outcome is Outcome.CANNOT_TELL]
    doubts = [f for f in opened if f.code != UNTOLD]
    head(order)
    _group("Does not fit", [f for f in found.findings if f.fails], names)
    _group("Warnings", [f for f in found.findings if f.warns], names)
    questions(checked.questions)
    _group("To look at", [f for f in doubts if not f.rule.startswith(TRAY)], names)
    tray([f for f in doubts if f.rule.startswith(TRAY)], names)
    lines(order)
    budget(found.budget)
    missing([f for f in opened if f.code == UNTOLD], names, everything=everything)
    fits(found, names, everything=everything)
    for credit in checked.credits:
        say()
        wrapped(credit)


def head(order: Order) -> None:
    """Print which order it is."""
    many = "line" if len(order.lines) == 1 else "lines"
    wrapped(
        f"Order {order.order_id} of {order.shop}: {len(order.lines)} {many}, units {', '.join(order.units)}."
    )


def lines(order: Order) -> None:
    """Print what each line is understood to ask for, and the words that say so."""
    say()
    say("What each line asks for")
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


def tray(found: list[FitFinding], names: dict[str, str]) -> None:
    """Print what is laid into the tray and is in no carton that an order line names."""
    if not found:
        return
    say()
    say(f"Into the tray: {len(found)}")
    for finding in found:
        _item(f"{_of(finding.lines, names)}{sentence(finding.code, told(finding.values)).say}", "")


def missing(found: list[FitFinding], names: dict[str, str], *, everything: bool) -> None:
    """Print which facts are missing, by line: those that most checks wait for, of a must before others."""
    if not found:
        return
    wanted: dict[str, Counter[str]] = {}
    for finding in found:
        for fact in finding.missing:
            weighs = len(found) if finding.weight is FitWeight.MUST else 1
            wanted.setdefault(fact.line, Counter())[fact_words(fact.fact)] += weighs
    say()
    many = "check wants a fact" if len(found) == 1 else "checks want a fact"
    wrapped(f"Cannot tell: {len(found)} {many} that neither the order's text nor a part list tells", 2)
    for line, name in names.items():
        counted = wanted.get(line, Counter())
        facts = list(counted) if everything else [fact for fact, _ in counted.most_common()]
        if not everything and len(facts) > MOST_FACTS + 1:  # a single one is told as shortly as counted
            facts = [*facts[:MOST_FACTS], f"and {len(facts) - MOST_FACTS} more"]
        if facts:
            wrapped(f"  line {line}, {_short(name, LONGEST_NAME)}: {', '.join(facts)}", 4)


def fits(found: Fit, names: dict[str, str], *, everything: bool) -> None:
    """Print what fits and what nothing was asked of: how many, and with everything each."""
    good = [f for f in found.findings if f.outcome is Outcome.CONFORMS]
    unasked = [f for f in found.findings if f.outcome is Outcome.NOT_CHECKED]
    say()
    more = "" if everything else " (--all lists them, and each missing fact)"
    say(f"Fits: {len(good)} checks; {len(unasked)} had nothing to ask of{more}.")
    if everything:
        for finding in good:
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


def _fits(finding: FitFinding, names: dict[str, str]) -> str:
    """Return what fits, with the facts that it rests on; of a rule that rests on none, what it counted."""
    facts = [f"{fact_words(fact.fact)}: {fact.value}" for fact in finding.facts]
    counted = [str(v.value) for v in finding.values if v.name != "source" and v.value != UNKNOWN]
    given = values(asks=_asks(finding), facts="; ".join(facts or counted))
    return _of(finding.lines, names) + sentence(finding.code, given).say


def _asks(finding: FitFinding) -> str:
    return sentence(f"fit.{finding.rule}.asks").say


def _of(lines: tuple[str, ...], names: dict[str, str]) -> str:
    """Return the lines that a finding speaks of, in the order's own order, a few of them with their names."""
    if not lines:
        return ""
    told = [line for line in names if line in lines]
    if len(told) <= MOST_NAMED:
        told = [f"{line} ({_short(names[line], SHORTEST_NAME)})" for line in told]
    return f"line{'s' if len(lines) > 1 else ''} {', '.join(told)}: "


def _item(text: str, do: str) -> None:
    wrapped(f"  {text}", 4)
    if do:
        wrapped(f"    -> {do}", 7)


def _short(text: str, most: int) -> str:
    """Return a text up to so many signs, cut between two words where one of them ends in its second half."""
    if len(text) <= most:
        return text
    cut = text[: most - 1]
    at = cut.rfind(" ") if text[most - 1] != " " else len(cut)
    return cut[: at if at > most // 2 else len(cut)].rstrip(" ,;-") + "…"
