"""March tests as data: the table's notation to elements, a plain interpreter, and the backgrounds.

Sequences: van de Goor, *Testing Semiconductor Memories* (1991); Bushnell and Agrawal, *Essentials of
Electronic Testing* (2000). Notation: ^ up, v down, * either; w0 r0 w1 r1.
"""

from __future__ import annotations

from collections.abc import Iterator, MutableSequence
from dataclasses import dataclass
from enum import StrEnum

MARCH_C_MINUS = "*(w0); ^(r0,w1); ^(r1,w0); v(r0,w1); v(r1,w0); *(r0)"
MARCH_SS = "*(w0); ^(r0,r0,w0,r0,w1); ^(r1,r1,w1,r1,w0); v(r0,r0,w0,r0,w1); v(r1,r1,w1,r1,w0); *(r0)"
"""Hamdioui, van de Goor, Rodgers 2002."""

WORD_BITS = 64
ALL_ONES = 2**WORD_BITS - 1


class Direction(StrEnum):
    UP = "^"
    DOWN = "v"
    EITHER = "*"


@dataclass(frozen=True)
class Operation:
    """`r` reads and compares, `w` writes; inverted: the background's complement, the table's 1."""

    writes: bool
    inverted: bool


@dataclass(frozen=True)
class Element:
    """Operations done on one cell after the other, all on a cell before the next cell."""

    direction: Direction
    operations: tuple[Operation, ...]

    def __str__(self) -> str:
        ops = ",".join(f"{'w' if op.writes else 'r'}{int(op.inverted)}" for op in self.operations)
        return f"{self.direction.value}({ops})"


def parse_march(text: str) -> tuple[Element, ...]:
    """Return the elements of a sequence in the table's notation. Raises ValueError for anything else."""
    return tuple(_element(part.strip()) for part in text.split(";"))


def passes(elements: tuple[Element, ...]) -> int:
    """Return the operations done on each cell: 10 for March C−."""
    return sum(len(element.operations) for element in elements)


def backgrounds(bits: int = WORD_BITS) -> tuple[int, ...]:
    """Return the data backgrounds for words: zeros, then halves, quarters … down to every other bit.

    log2(w) + 1 of them for words of w bits, so that every two bits of a word differ in one of them
    (van de Goor 1991): faults between the bits of one word need that.
    """
    found, width = [0], bits // 2
    while width:
        found.append(sum(1 << bit for bit in range(bits) if bit // width % 2))
        width //= 2
    return tuple(found)


def run_march(elements: tuple[Element, ...], memory: MutableSequence[int], background: int = 0) -> int:
    """Run a march on any memory, one cell at a time, and return how many reads were wrong.

    The reference that the fast kernels are held against, and what the fault simulation runs on.
    """
    wrong = 0
    for element in elements:
        for address in _addresses(element, len(memory)):
            for operation in element.operations:
                value = background ^ ALL_ONES if operation.inverted else background
                if operation.writes:
                    memory[address] = value
                else:
                    wrong += memory[address] != value
    return wrong


def _addresses(element: Element, size: int) -> Iterator[int]:
    return iter(range(size - 1, -1, -1) if element.direction is Direction.DOWN else range(size))


def _element(text: str) -> Element:
    if len(text) < 3 or text[1] != "(" or text[-1] != ")":
        raise ValueError(f"not a march element: {text!r}")
    return Element(Direction(text[0]), tuple(_operation(op.strip()) for op in text[2:-1].split(",")))


def _operation(text: str) -> Operation:
    if len(text) != 2 or text[0] not in "rw" or text[1] not in "01":
        raise ValueError(f"not a march operation: {text!r}")
    return Operation(writes=text[0] == "w", inverted=text[1] == "1")
