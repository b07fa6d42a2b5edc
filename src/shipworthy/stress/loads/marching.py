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
LINE_WORDS = 8
"""Words that get an element's operations together: a cache line, by which the program's march walks."""
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


@dataclass(frozen=True)
class Background:
    """What the table's 0 stands for. word: in each word. turned: as bits, the words of a line that hold its
    complement."""

    word: int = 0
    turned: int = 0

    def at(self, index: int) -> int:
        """Return the word at an index of the memory."""
        return self.word ^ ALL_ONES if self.turned >> index % LINE_WORDS & 1 else self.word

    def __str__(self) -> str:
        turned = [str(place) for place in range(LINE_WORDS) if self.turned >> place & 1]
        told = f", turned round in the words {' '.join(turned)} of each line" if turned else ""
        return f"0x{self.word:016x}{told}"


def backgrounds() -> tuple[Background, ...]:
    """Return the data backgrounds for a line: zeros, then halves, quarters … down to every other bit.

    A march over cells of w bits needs log2(w) + 1 of them, so that every two bits of a cell differ in one
    (van de Goor 1991): faults between the bits of one cell need that. A line of 512 bits gets an element's
    operations at once, so it is the cell here: 10, of which three part the words of a line.
    """
    by_word = (Background(turned=sum(parting(LINE_WORDS, width))) for width in (4, 2, 1))
    by_bit = (Background(sum(parting(WORD_BITS, width))) for width in (32, 16, 8, 4, 2, 1))
    return (Background(), *by_bit, *by_word)


def parting(bits: int, width: int) -> Iterator[int]:
    """Yield the bits of every other group of so many."""
    return (1 << bit for bit in range(bits) if bit // width % 2)


ZEROS = Background()


def run_march(
    elements: tuple[Element, ...], memory: MutableSequence[int], background: Background = ZEROS
) -> int:
    """Run a march on any memory, one word at a time, and return how many reads were wrong.

    The reference that the fast kernels are held against, and what the fault simulation runs on.
    """
    wrong = 0
    for element in elements:
        for address in _addresses(element, len(memory)):
            for operation in element.operations:
                value = background.at(address) ^ (ALL_ONES if operation.inverted else 0)
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
