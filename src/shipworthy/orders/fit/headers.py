"""Has the board the headers that case, fans and lighting plug into?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from typing import Any

from shipworthy.model.catalogue import BoardFacts, CaseFacts, CoolerFacts, FanFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.accessories import accessory
from shipworthy.orders.fit.build import Build, Fitted, Known, pieces
from shipworthy.orders.fit.case import fan_count
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule
from shipworthy.orders.fit.spelling import lighting_of

SOCKETS_A_HEADER = 2
"""USB Type-A sockets of a header, of 19 pins (5 Gbit/s) or of 9 (USB 2.0): common practice."""


@rule(
    "headers.front-usb-c",
    MUST,
    "common practice: the front socket wants a Type-E header (20 pins) of its own",
)
def _usb_c(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for case, board in product(build.of(CaseFacts), build.of(BoardFacts)):
        sockets = case.ask("front_usb_c")
        if sockets.known and sockets.value == 0:
            yield rule.conforms(sockets=sockets)
        else:
            yield rule.judge(lambda n, h: n <= h, sockets=sockets, headers=board.ask("usb_c_headers"))


@rule("headers.front-usb-a", SHOULD, "common practice: a 19-pin or a 9-pin header carries two sockets")
def _usb_a(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for case, board in product(build.of(CaseFacts), build.of(BoardFacts)):
        sockets, fast, slow = case.ask("front_usb_a"), board.ask("usb_a_headers"), board.ask("usb_2_headers")
        given: Given = {"sockets": sockets, "headers": fast}
        if not sockets.known or not fast.known:
            yield rule.cannot_tell(**given)
        elif math.ceil(sockets.value / SOCKETS_A_HEADER) <= fast.value:
            yield rule.conforms(**given)
        elif not slow.known:
            yield rule.cannot_tell(**given, slow=slow)
        elif sockets.value <= SOCKETS_A_HEADER * (fast.value + slow.value):
            yield rule.cannot_tell("slow", **given, slow=slow)  # a case may have USB 2.0 sockets as well
        else:
            yield rule.differs(**given, slow=slow)


@rule("lighting.volts", MUST, "common practice: 5 V parts (3 pins) are destroyed on a 12 V header (4 pins)")
def _volts(rule: Rule, build: Build) -> Iterator[FitFinding]:
    parts: tuple[Fitted[Any], ...] = (*build.of(FanFacts), *build.of(CoolerFacts))
    for part in parts:
        lighting = part.ask("lighting")
        kind = lighting_of(lighting.value) if lighting.known else None
        if kind == "none":
            yield rule.conforms(lighting=lighting)
            continue
        for board in build.of(BoardFacts):
            if kind is None:
                yield rule.cannot_tell("words" if lighting.known else "", lighting=lighting)
            else:
                yield _header(rule, build, board, lighting, kind)


def _header(rule: Rule, build: Build, board: Fitted[BoardFacts], lighting: Known, kind: str) -> FitFinding:
    five, twelve = board.ask("lighting_5v"), board.ask("lighting_12v")
    own, other = (five, twelve) if kind == "5 V" else (twelve, five)
    if own.known and own.value == 0 and not accessory(build, "controller"):
        danger = kind == "5 V" and bool(other.value)
        return rule.differs("danger" if danger else "differs", lighting=lighting, headers=own, others=other)
    if own.known and own.value == 0:
        return rule.cannot_tell("controller", lighting=lighting, headers=own)
    return rule.judge(lambda _, n: n > 0, lighting=lighting, headers=own)


@rule("fans.headers", SHOULD, "the board maker's figure; more fans want a splitter or a hub")
def _fan_headers(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for board in build.of(BoardFacts):
        fans, headers = _all_fans(build), board.ask("fan_headers")
        if fans is None:
            continue
        hub = bool(accessory(build, "hub"))
        yield rule.judge(lambda n, h, hub=hub: n <= h or hub, fans=fans, headers=headers)


@rule("fans.current", MUST, "the board maker's figure for one header; fans evenly on all headers")
def _current(rule: Rule, build: Build) -> Iterator[FitFinding]:
    fans = build.of(FanFacts)
    if not fans:
        return
    powered = bool(accessory(build, "hub"))
    for board, fan in product(build.of(BoardFacts), fans):
        each, most, headers = fan.ask("current_a"), board.ask("fan_header_a"), board.ask("fan_headers")
        count = _all_fans(build)
        if count is None:
            continue
        if each.known and most.known and each.value > most.value:
            yield rule.differs("one", each=each, most=most)
        elif powered:
            yield rule.cannot_tell("hub", each=each, most=most)
        else:
            yield rule.judge(
                lambda a, m, h, n: h > 0 and math.ceil(n / h) * a <= m,
                each=each,
                most=most,
                headers=headers,
                fans=count,
            )


def _all_fans(build: Build) -> Known | None:
    """Return how many fans want a header: those ordered, those in the case, and one for each cooler (its
    own fans share one: common practice)."""
    fans, cases = build.of(FanFacts), build.of(CaseFacts)
    ordered = fan_count(fans) if fans else None
    if ordered is not None and not ordered.known:
        return ordered
    coolers = build.of(CoolerFacts)
    total, where = (ordered.value if ordered is not None else 0) + pieces(coolers), (fans or cases or coolers)
    for case in cases:
        fitted = case.ask("fans_fitted")
        if not fitted.known:
            return fitted
        total += fitted.value
    return Known(where[0].line, "fan.pieces", total) if where and total else None
