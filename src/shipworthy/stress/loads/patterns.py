"""Patterns for memory, as data: what every word holds, in an order of ours, and a plain interpreter.

Why several, in rounds, with pauses: how long a cell keeps its content depends on the content around it, and
changes by itself with time (Liu et al., ISCA 2013). The pauses double from
round to round. The modules are refreshed all the time, which no program can stop: a pause shows cells that do
not even last from one refresh to the next, and what disturbs them meanwhile.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from shipworthy.stress.loads.marching import ALL_ONES, Direction
from shipworthy.stress.loads.streams import seed_of

FIRST_PAUSE_S = 2.0
LONGEST_PAUSE_S = 32.0
WORD_BYTES = 8
EVEN_BITS = 0x5555_5555_5555_5555


class Kind(IntEnum):
    SOLID = 0  # every bit 0
    CHECKER = 1  # every other bit, the other way round in the next word
    WALKING = 2  # one bit of each word, the next bit in the next word
    ADDRESS = 3  # each word's own offset in bytes: two addresses that reach one cell cannot both be right
    RANDOM = 4  # splitmix64 of seed and index


@dataclass(frozen=True)
class Pattern:
    """What each word holds. number: the walk's first bit, or the random seed."""

    kind: Kind
    number: int = 0

    def word(self, index: int, inverted: bool = False) -> int:
        """Return the word at an index: the reference that the fast loops are held against."""
        value = _word(self.kind, self.number, index)
        return value ^ ALL_ONES if inverted else value


@dataclass(frozen=True)
class Visit:
    """One pass over all words: read and compare (inverted or not), then write, in a direction. pause_s: rest
    before it."""

    direction: Direction
    reads: bool | None
    writes: bool | None
    pause_s: float = 0.0

    def __str__(self) -> str:
        done = [("r", self.reads), ("w", self.writes)]
        operations = ",".join(f"{letter}{int(inverted)}" for letter, inverted in done if inverted is not None)
        return f"{self.direction.value}({operations})"


def round_of(number: int, purpose: str) -> tuple[Pattern, ...]:
    """Return the patterns of a round. Walk and random words are others in each round."""
    return (
        Pattern(Kind.SOLID),
        Pattern(Kind.CHECKER),
        Pattern(Kind.WALKING, number % 64),
        Pattern(Kind.ADDRESS),
        Pattern(Kind.RANDOM, seed_of(f"{purpose}/patterns/{number}")),
    )


def pause_s(number: int) -> float:
    return float(min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** min(number, 10)))


def visits(rest_s: float) -> tuple[Visit, ...]:
    """Written, left alone, verified and turned round upwards, left alone, and the same back downwards."""
    return (
        Visit(Direction.UP, None, False),
        Visit(Direction.UP, False, True, rest_s),
        Visit(Direction.DOWN, True, False, rest_s),
        Visit(Direction.UP, False, None),
    )


def splitmix64(state: int) -> int:
    """Steele, Lea and Flood, 2014: the mixing of one 64-bit state (constants from memory)."""
    z = (state + 0x9E37_79B9_7F4A_7C15) & ALL_ONES
    z = (z ^ z >> 30) * 0xBF58_476D_1CE4_E5B9 & ALL_ONES
    z = (z ^ z >> 27) * 0x94D0_49BB_1331_11EB & ALL_ONES
    mixed: int = z ^ z >> 31
    return mixed


def _word(kind: Kind, number: int, index: int) -> int:
    match kind:
        case Kind.SOLID:
            return 0
        case Kind.CHECKER:
            return EVEN_BITS ^ (ALL_ONES if index % 2 else 0)
        case Kind.WALKING:
            return 1 << (index + number) % 64
        case Kind.ADDRESS:
            return index * WORD_BYTES
        case Kind.RANDOM:
            return splitmix64(number + index * 0x9E37_79B9_7F4A_7C15 & ALL_ONES)
