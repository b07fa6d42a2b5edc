"""Has the supply the plugs that board and cards want, of the right kind and number?

Ratings of connectors: 6-pin 75 W, 8-pin 150 W, 12VHPWR and 12V-2x6 up to 600 W, slot 75 W (Intel 336521,
Table 3-5; the slot by a connector seller's explanation of the PCI-SIG's specification).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from shipworthy.model.catalogue import BoardFacts, GraphicsFacts, SupplyFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.build import Build, Fitted, Known
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule
from shipworthy.orders.fit.spelling import plug_of

SLOT_W, PLUG_W = 75.0, {"6": 75.0, "8": 150.0, "16": 600.0}
HEAVY_W = SLOT_W + PLUG_W["8"]
"""A card above this draws more than one 8-pin lead is rated for."""


@rule("supply.main-plug", MUST, "Intel ATX12V design guide: the 24-pin plug")
def _main(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for supply in build.of(SupplyFacts):
        if build.of(BoardFacts):
            yield rule.judge(lambda plugs: plugs >= 1, plugs=supply.ask("main_plugs"))


@rule(
    "supply.processor-plugs",
    MUST,
    "the board maker's sockets; a second one is for overclocking: common practice",
)
def _processor(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for supply, board in product(build.of(SupplyFacts), build.of(BoardFacts)):
        plugs, sockets = supply.ask("processor_plugs"), board.ask("processor_plugs")
        if plugs.known and plugs.value == 0:
            yield rule.differs(plugs=plugs)
        elif plugs.known and sockets.known and plugs.value < len(sockets.value):
            yield rule.cannot_tell("fewer", plugs=plugs, sockets=sockets)
        else:
            yield rule.judge(lambda plugs, sockets: plugs >= len(sockets), plugs=plugs, sockets=sockets)


@rule("graphics.plug-power", MUST, "Intel 336521 Table 3-5: what slot and plugs give together")
def _plug_power(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card in build.of(GraphicsFacts):
        plugs, draws = card.ask("plugs"), card.ask("board_w")
        if not plugs.known or not draws.known or _unknown(plugs):
            yield rule.cannot_tell(
                "words" if plugs.known and _unknown(plugs) else "", plugs=plugs, draws=draws
            )
        elif draws.value > SLOT_W + sum(PLUG_W[kind] for kind in _kinds(plugs)):
            yield rule.cannot_tell("contradiction", plugs=plugs, draws=draws)
        else:
            yield rule.conforms(plugs=plugs, draws=draws)


@rule("graphics.plugs", MUST, "the makers' figures; 6+2-pin plugs serve both kinds: common practice")
def _plugs(rule: Rule, build: Build) -> Iterator[FitFinding]:
    cards = build.of(GraphicsFacts)
    for supply in build.of(SupplyFacts):
        if not cards:
            continue
        wanted = [card.ask("plugs") for card in cards]
        unclear = [plugs for plugs in wanted if not plugs.known or _unknown(plugs)]
        unclear += [card.ask("plugs") for card in cards if _contradicts(card)]
        if unclear:
            plugs = unclear[0]
            yield rule.cannot_tell("words" if plugs.known else "", plugs=plugs)
            continue
        kinds = [kind for card in cards for kind in _kinds(card.ask("plugs")) * card.quantity]
        yield _served(rule, supply, cards, kinds)


def _served(
    rule: Rule, supply: Fitted[SupplyFacts], cards: tuple[Fitted[GraphicsFacts], ...], kinds: list[str]
) -> FitFinding:
    eights, sixteens = supply.ask("pcie_8_plugs"), supply.ask("pcie_16_plugs")
    old, new = sum(kind != "16" for kind in kinds), kinds.count("16")
    given: Given = {
        "plugs": cards[0].ask("plugs"),
        "eights": eights,
        "sixteens": sixteens,
        "old": old,
        "new": new,
    }
    if not old and not new:
        draws = [card.ask("board_w") for card in cards]
        unknown = next((draw for draw in draws if not draw.known), draws[0])
        return rule.judge(lambda *_: True, plugs=cards[0].ask("plugs"), draws=unknown)
    if eights.known and old > eights.value:
        return rule.differs(**given)
    if (old and not eights.known) or (new and not sixteens.known):
        return rule.cannot_tell(plugs=cards[0].ask("plugs"), eights=eights, sixteens=sixteens)
    short = new - (sixteens.value or 0)
    if short <= 0:
        return rule.conforms(**given)
    if not eights.known:
        return rule.cannot_tell(**given)
    return _by_adapter(rule, cards, eights.value - old, short, given)


def _by_adapter(
    rule: Rule, cards: tuple[Fitted[GraphicsFacts], ...], free: int, short: int, given: Given
) -> FitFinding:
    """A 16-pin card on a supply without such a plug: by its adapter, if enough 8-pin plugs are free."""
    draws = [card.ask("board_w") for card in cards if "16" in _kinds(card.ask("plugs"))]
    if not all(draw.known for draw in draws):
        return rule.cannot_tell(**given, draws=next(draw for draw in draws if not draw.known))
    most = max(draw.value for draw in draws)
    needed = short * _of_an_adapter(most)
    if needed > free:
        return rule.differs("adapter-short", **given, needed=needed, free=free)
    return rule.cannot_tell("adapter", **given, needed=needed)


def _of_an_adapter(draws_w: float) -> int:
    """Return how many 8-pin plugs an adapter to a 16-pin one wants for a card that draws so much."""
    return max(2, math.ceil((draws_w - SLOT_W) / PLUG_W["8"]))


@rule(
    "graphics.sixteen-pin-power", MUST, "Intel 336521, SENSE: 150, 300, 450 or 600 W through this plug alone"
)
def _sixteen(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card, supply in product(build.of(GraphicsFacts), build.of(SupplyFacts)):
        plugs, sixteens = card.ask("plugs"), supply.ask("pcie_16_plugs")
        if not plugs.known or _unknown(plugs) or "16" not in _kinds(plugs) or not sixteens.value:
            continue
        draws, gives = card.ask("board_w"), supply.ask("pcie_16_w")
        count = _kinds(plugs).count("16")
        if draws.known and gives.known and draws.value - SLOT_W <= gives.value * count < draws.value:
            yield rule.cannot_tell("slot", draws=draws, gives=gives)
        else:
            yield rule.judge(lambda draws, gives, n=count: draws <= gives * n, draws=draws, gives=gives)


@rule(
    "graphics.leads",
    SHOULD,
    "common practice: one lead a plug, those of an adapter too, for cards above 225 W",
)
def _leads(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for card, supply in product(build.of(GraphicsFacts), build.of(SupplyFacts)):
        plugs, draws, leads = card.ask("plugs"), card.ask("board_w"), supply.ask("pcie_leads")
        if plugs.known and (_unknown(plugs) or _contradicts(card)):
            yield rule.cannot_tell("words", plugs=plugs)
            continue
        kinds = _kinds(plugs) * card.quantity if plugs.known else []
        sixteens = supply.ask("pcie_16_plugs")
        short = max(0, kinds.count("16") - (sixteens.value or 0))
        if plugs.known and not short and sum(kind != "16" for kind in kinds) <= 1:
            yield rule.conforms(plugs=plugs)
        elif plugs.known and draws.known and draws.value <= HEAVY_W:
            yield rule.conforms(plugs=plugs, draws=draws)
        elif short and not (sixteens.known and draws.known):
            yield rule.cannot_tell(plugs=plugs, draws=draws, sixteens=sixteens)
        else:
            wanted = sum(kind != "16" for kind in kinds) + (short and short * _of_an_adapter(draws.value))
            yield rule.judge(
                lambda p, d, leads, n=wanted: leads >= n, plugs=plugs, draws=draws, leads=leads, wanted=wanted
            )


def _kinds(plugs: Known) -> list[str]:
    return [kind for word in plugs.value if (kind := plug_of(word))]


def _unknown(plugs: Known) -> bool:
    return any(plug_of(word) is None for word in plugs.value)


def _contradicts(card: Fitted[GraphicsFacts]) -> bool:
    """Whether the card is said to draw more than its plugs and the slot give: then the plugs are wrong."""
    plugs, draws = card.ask("plugs"), card.ask("board_w")
    if not plugs.known or not draws.known:
        return False
    return bool(draws.value > SLOT_W + sum(PLUG_W[kind] for kind in _kinds(plugs)))
