"""The passes that a test of memory is made of: elements of a march, and visits of a pattern."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shipworthy.stress.loads import patterns
from shipworthy.stress.loads.marching import (
    ALL_ONES,
    MARCH_C_MINUS,
    MARCH_SS,
    Background,
    Direction,
    Element,
    Operation,
    backgrounds,
    parse_march,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

Kernel = Callable[["Words", Background, "Words"], int]

C_MINUS, SS, PATTERNS = "march-c-minus", "march-ss", "patterns"
SEQUENCES = {C_MINUS: MARCH_C_MINUS, SS: MARCH_SS, PATTERNS: MARCH_C_MINUS}
"""By the request's variant, the march that each of its rounds begins with."""


@dataclass(frozen=True)
class Pass:
    """One pass over all the memory.

    element: its operations in the notation of the marches. told: what memory holds in it. reads, operations:
    on each word. pause_s: rest before it. run: the loop, over a slice of words, with the index of the first
    among all words, and rows for what is wrong. expected: what a word at an index has to hold when it is
    read, worked out anew each time. rated_as: under which name its rate is shown, if not the element's.
    """

    element: str
    told: str
    reads: int
    operations: int
    down: bool
    run: Callable[[Words, int, Words], int]
    expected: Callable[[int], int]
    pause_s: float = 0.0
    rated_as: str = ""

    def __str__(self) -> str:
        return f"{self.element} with {self.told}"


def passes_of(variant: str, number: int, purpose: str) -> tuple[Pass, ...]:
    """Return the passes of a round. number: of the round, from 0; each takes the next data background."""
    sequence = SEQUENCES[variant or C_MINUS]
    found = tuple(march_pass(sequence, at, number) for at in range(len(parse_march(sequence))))
    if variant != PATTERNS:
        return found
    rest_s = patterns.pause_s(number)
    return found + tuple(
        pattern_pass(pattern, visit)
        for pattern in patterns.round_of(number, purpose)
        for visit in patterns.visits(rest_s)
    )


def march_pass(sequence: str, at: int, number: int) -> Pass:
    """Return an element of a sequence, with the background of a round."""
    element, background = parse_march(sequence)[at], backgrounds()[number % len(backgrounds())]
    kernel = kernel_of(element)

    def expected(index: int) -> int:
        read = next(operation for operation in parse_march(sequence)[at].operations if not operation.writes)
        return backgrounds()[number % len(backgrounds())].at(index) ^ (ALL_ONES if read.inverted else 0)

    return Pass(
        element=str(element),
        told=f"background {background}",
        reads=sum(not operation.writes for operation in element.operations),
        operations=len(element.operations),
        down=element.direction is Direction.DOWN,
        run=lambda words, _first, notes: kernel(words, background, notes),
        expected=expected,
    )


def pattern_pass(pattern: patterns.Pattern, visit: patterns.Visit) -> Pass:
    """Return a visit of a pattern."""
    reads, writes = visit.reads is not None, visit.writes is not None
    down = visit.direction is Direction.DOWN

    def run(words: Words, first: int, notes: Words) -> int:
        import numpy as np

        from shipworthy.stress.loads.patterns_loops import visit as loop

        want, value = (np.uint64(ALL_ONES if turned else 0) for turned in (visit.reads, visit.writes))
        kind, number = int(pattern.kind), np.uint64(pattern.number)
        return int(loop(words, np.uint64(first), kind, number, want, value, reads, writes, down, notes))

    return Pass(
        element=str(visit),
        told=f"the pattern {pattern.kind.name.lower()}",
        reads=int(reads),
        operations=reads + writes,
        down=down,
        run=run,
        expected=lambda index: pattern.word(index, inverted=bool(visit.reads)),
        pause_s=visit.pause_s,
        rated_as=f"pattern {visit}",
    )


def kernel_of(element: Element) -> Kernel:
    """Return the compiled loop of an element. Raises ValueError for an element that none was made for."""
    from shipworthy.stress.loads import march_kernels as kernels

    def value(operation: Operation, background: Background) -> Any:
        import numpy as np

        return np.uint64(background.word ^ ALL_ONES if operation.inverted else background.word)

    shape = "".join("w" if operation.writes else "r" for operation in element.operations)
    first, last = element.operations[0], element.operations[-1]
    down = element.direction is Direction.DOWN
    if shape == "w":
        return lambda words, background, notes: int(
            kernels.write(words, value(first, background), background.turned)
        )
    if shape == "r":
        return lambda words, background, notes: int(
            kernels.read(words, value(first, background), background.turned, notes)
        )
    if shape == "rw":
        loop = kernels.read_write_down if down else kernels.read_write_up
    elif shape == "rrwrw" and all(o.inverted == first.inverted for o in element.operations[:-1]):
        loop = kernels.read_read_write_read_write_down if down else kernels.read_read_write_read_write_up
    else:
        raise ValueError(f"no loop was made for the element {element}")
    return lambda words, background, notes: int(
        loop(words, value(first, background), value(last, background), background.turned, notes)
    )
