"""Do board, supply and fans go into the case?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from shipworthy.model.catalogue import BoardFacts, CaseFacts, CoolerFacts, FanFacts, SupplyFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit import tables
from shipworthy.orders.fit.build import Build, Fitted, Known
from shipworthy.orders.fit.rules import MUST, SHOULD, Rule, rule
from shipworthy.orders.fit.spelling import form_factor_of, supply_form_of

SMALL_SUPPLIES = ("SFX", "SFX-L")


@rule(
    "board.form-factor", MUST, "the case maker's list; nested hole patterns from memory (microATX, Mini-ITX)"
)
def _form_factor(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for board, case in product(build.of(BoardFacts), build.of(CaseFacts)):
        form, listed = board.ask("form_factor"), case.ask("boards")
        if not form.known or not listed.known:
            yield rule.cannot_tell(board=form, case=listed)
            continue
        spelt = form_factor_of(form.value)
        taken = [form_factor_of(word) for word in listed.value]
        told = tables.takes_board(tuple(word for word in taken if word), spelt) if spelt else None
        open_list = None in taken or (listed.source.startswith("text") and "ATX" in taken)
        if told is None or (open_list and not told.answer):  # `ATX tower` in a text is a class, and no list
            yield rule.cannot_tell("words", board=form, case=listed)
        elif told.answer:
            yield rule.conforms(board=form, case=listed, source=told.source)
        else:
            yield rule.differs(board=form, case=listed)


@rule("board.depth", SHOULD, "common practice: E-ATX is a word for boards from 257 to 330 mm deep")
def _depth(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for board in build.of(BoardFacts):
        form = board.ask("form_factor")
        if not build.of(CaseFacts):
            return
        yield rule.judge(lambda form: form_factor_of(form) != "E-ATX", board=form)


@rule("board.rear-connectors", MUST, "the makers' statements: such boards have their sockets on the back")
def _rear(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for board, case in product(build.of(BoardFacts), build.of(CaseFacts)):
        rear = board.ask("rear_connectors")
        if rear.known and not rear.value:
            yield rule.conforms(board=rear)
        else:
            yield rule.judge(lambda b, c: not b or c, board=rear, case=case.ask("rear_connector_boards"))


@rule(
    "supply.form-factor", MUST, "the case maker's list; SFX in an ATX opening takes a plate: common practice"
)
def _supply_form(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for supply, case in product(build.of(SupplyFacts), build.of(CaseFacts)):
        form, listed = supply.ask("form_factor"), case.ask("supplies")
        if not form.known or not listed.known:
            yield rule.cannot_tell(supply=form, case=listed)
            continue
        spelt, taken = supply_form_of(form.value), [supply_form_of(word) for word in listed.value]
        if spelt and spelt in taken:
            yield rule.conforms(supply=form, case=listed)
        elif spelt in SMALL_SUPPLIES and ("ATX" in taken or "SFX-L" in taken):
            yield rule.cannot_tell("plate", supply=form, case=listed)
        elif spelt is None or None in taken:
            yield rule.cannot_tell("words", supply=form, case=listed)
        else:
            yield rule.differs(supply=form, case=listed)


@rule("supply.length", MUST, "the case maker's figure")
def _supply_length(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for supply, case in product(build.of(SupplyFacts), build.of(CaseFacts)):
        yield rule.judge(
            lambda length, room: length <= room,
            length=supply.ask("length_mm"),
            room=case.ask("supply_length_mm"),
        )


@rule("fans.places", MUST, "the case maker's figure")
def _fan_places(rule: Rule, build: Build) -> Iterator[FitFinding]:
    fans = build.of(FanFacts)
    if not fans:
        return
    wanted = fan_count(fans)
    for case in build.of(CaseFacts):
        places, fitted = case.ask("fan_places"), case.ask("fans_fitted")
        if wanted.known and places.known and wanted.value > places.value:
            yield rule.differs(fans=wanted, places=places, fitted=0)
            continue
        radiators = [cooler for cooler in build.of(CoolerFacts) if cooler.facts.liquid is not False]
        if radiators and radiators[0].ask("liquid").known:
            yield rule.cannot_tell("radiator", [places, fitted], fans=wanted)
            continue
        if radiators:
            yield rule.cannot_tell("", [radiators[0].ask("liquid"), places, fitted], fans=wanted)
            continue
        yield rule.judge(lambda n, p, f: n + f <= p, fans=wanted, places=places, fitted=fitted)


def fan_count(fans: tuple[Fitted[FanFacts], ...]) -> Known:
    """Return how many fans the lines are, packs opened; a pack whose size is not said is not known."""
    for fan in fans:
        if not fan.ask("pack").known:
            return fan.ask("pack")
    total = sum(fan.quantity * (fan.facts.pack or 0) for fan in fans)
    return Known(fans[0].line, "fan.pieces", total, fans[0].ask("pack").source)
