"""Will there be a picture, and a socket for each display?"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.model.catalogue import BoardFacts, DisplayFacts, GraphicsFacts, ProcessorFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.build import Build, Known, pieces
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule
from shipworthy.orders.fit.spelling import output_of

_NO_GRAPHICS = re.compile(
    r"(?<![\w.])(?:i[3579][-\s]?)?\d{4,5}K?F(?!\w)|\bUltra\s+[579]\s+\d{3}K?F(?!\w)", re.IGNORECASE
)


@rule(
    "displays.picture", MUST, "the processor maker's figure; suffixes F and KF: no own graphics, from memory"
)
def _picture(rule: Rule, build: Build) -> Iterator[FitFinding]:
    if build.of(GraphicsFacts):
        yield rule.conforms(cards=pieces(build.of(GraphicsFacts)))
        return
    for processor in build.of(ProcessorFacts):
        graphics = own_graphics(processor.ask("graphics"), processor.text)
        outputs = [board.ask("outputs") for board in build.of(BoardFacts)]
        if graphics.known and not graphics.value:
            yield rule.differs(graphics=graphics)
        elif outputs and outputs[0].known and not _kinds(outputs[0]):
            yield rule.differs("outputs", graphics=graphics, outputs=outputs[0])
        elif outputs:
            yield rule.judge(lambda _, o: True, graphics=graphics, outputs=outputs[0])
        else:
            yield rule.cannot_tell(graphics=graphics)


@rule(
    "displays.count",
    MUST,
    "the makers' lists of outputs; DisplayPort drives several by a hub or a chain (VESA, 1.2)",
)
def _count(rule: Rule, build: Build) -> Iterator[FitFinding]:
    displays, outputs = build.of(DisplayFacts), _outputs(build)
    if not displays or outputs is None:
        return
    wanted = pieces(displays)
    short = outputs.known and wanted > len(outputs.value)
    if short and {"DisplayPort", "USB-C"} & set(_kinds(outputs)):
        yield rule.cannot_tell("hub", outputs=outputs, displays=wanted)
    else:
        yield rule.judge(lambda found: wanted <= len(found), outputs=outputs, displays=wanted)


@rule("displays.kind", SHOULD, "common practice: a socket of the same kind for each display, else an adapter")
def _kind(rule: Rule, build: Build) -> Iterator[FitFinding]:
    displays, outputs = build.of(DisplayFacts), _outputs(build)
    if not displays or outputs is None:
        return
    inputs = [display.ask("inputs") for display in displays]
    if not outputs.known or not all(each.known for each in inputs):
        yield rule.cannot_tell("", inputs, outputs=outputs)
        return
    wanted = [
        set(_kinds(each))
        for each, of in zip(inputs, displays, strict=True)
        for _ in range(min(of.quantity, 64))
    ]
    if len(wanted) > len(outputs.value):
        return  # the rule of the count says so
    met = _matched(wanted, _kinds(outputs))
    given: Given = {"outputs": outputs, "inputs": inputs[0]}
    yield rule.conforms(**given) if met else rule.differs(**given)


def own_graphics(graphics: Known, text: str) -> Known:
    """Return whether a processor drives a display by itself; its name's ending tells where no record does."""
    if not graphics.known and says_no_graphics(text):
        return Known(graphics.line, graphics.name, False, "the suffix F in the text")
    return graphics


def says_no_graphics(text: str) -> bool:
    """Return whether a processor's name ends in F or KF: its maker's suffix for one without own graphics."""
    return _NO_GRAPHICS.search(text) is not None


def _outputs(build: Build) -> Known | None:
    """Return the sockets for displays: the cards', as the board's are off or slow beside a card (common
    practice); without a card the board's."""
    cards, boards = build.of(GraphicsFacts), build.of(BoardFacts)
    if not cards:
        return boards[0].ask("outputs") if boards else None
    asked = [card.ask("outputs") for card in cards]
    if not all(each.known for each in asked):
        return next(each for each in asked if not each.known)
    joined = tuple(
        output for each, of in zip(asked, cards, strict=True) for output in each.value * min(of.quantity, 16)
    )
    return Known(asked[0].line, asked[0].name, joined, asked[0].source)


def _kinds(sockets: Known) -> list[str]:
    return [kind for word in sockets.value if (kind := output_of(word))]


def _matched(wanted: list[set[str]], sockets: list[str]) -> bool:
    """Whether each display gets a socket of a kind that it has (augmenting paths; Kuhn's algorithm)."""
    taken: dict[int, int] = {}

    def find(display: int, seen: set[int]) -> bool:
        for number, kind in enumerate(sockets):
            if number in seen or kind not in wanted[display]:
                continue
            seen.add(number)
            if number not in taken or find(taken[number], seen):
                taken[number] = display
                return True
        return False

    return all(find(display, set()) for display in range(len(wanted)))
