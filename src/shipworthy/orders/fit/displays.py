"""Will there be a picture, and a socket for each display?"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.catalogue import BoardFacts, DisplayFacts, GraphicsFacts, ProcessorFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit.build import Build, Known, pieces
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule
from shipworthy.words.pictures import output_count, output_of


@rule(
    "displays.picture", MUST, "the processor maker's figure; suffixes F and KF: no own graphics, from memory"
)
def _picture(rule: Rule, build: Build) -> Iterator[FitFinding]:
    if build.of(GraphicsFacts):
        yield rule.conforms(cards=pieces(build.of(GraphicsFacts)))
        return
    for processor in build.of(ProcessorFacts):
        graphics = processor.ask("graphics")
        outputs = [board.ask("outputs") for board in build.of(BoardFacts)]
        if graphics.known and not graphics.value:
            yield rule.differs(graphics=graphics)
        elif outputs and outputs[0].known and not _kinds(outputs[0]) and _unclear(outputs[0]):
            yield rule.cannot_tell("words", graphics=graphics, outputs=outputs[0])
        elif outputs and outputs[0].known and not outputs[0].value:
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
    short = outputs.known and wanted > len(_kinds(outputs))
    if short and _unclear(outputs):
        yield rule.cannot_tell("words", outputs=outputs, displays=wanted)
    elif short and {"DisplayPort", "USB-C"} & set(_kinds(outputs)):
        yield rule.cannot_tell("hub", outputs=outputs, displays=wanted)
    else:
        yield rule.judge(lambda _: not short, outputs=outputs, displays=wanted)


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
    given: Given = {"outputs": outputs, "inputs": inputs[0]}
    if len(wanted) <= len(_kinds(outputs)) and _matched(wanted, _kinds(outputs)):
        yield rule.conforms(**given)
    elif any(map(_unclear, (outputs, *inputs))):
        yield rule.cannot_tell("words", **given)
    elif len(wanted) <= len(_kinds(outputs)):  # else the rule of the count says so
        yield rule.differs(**given)


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
    """Return the kind of each socket; words that are not known are left out, see `_unclear`."""
    return [kind for word in sockets.value if (kind := output_of(word)) for _ in range(output_count(word))]


def _unclear(sockets: Known) -> bool:
    return any(output_of(word) is None for word in sockets.value)


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
