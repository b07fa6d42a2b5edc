"""What a field of an SMBIOS structure is, for people who look into a table: a name, and how to read it.

A structure that ends before a field does not have it. What has no value is a word of ours: `not given` (no
text), `unknown` (the standard's code for it), `code 0x…` (a code that the standard, or this version, has no
word for).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from shipworthy.machine.parse.smbios.table import Structure
from shipworthy.model.words import Absent

Value = str | int | float | bool

NOT_GIVEN = "not given"
UNKNOWN = "unknown"
NONE = "none"


@dataclass(frozen=True, slots=True)
class Field:
    """One field. string_at: where its string's number lies, if it is a text."""

    name: str
    read: Callable[[Structure], Value | None]
    string_at: int | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """A type of structure: what it is called, its section of DSP0134, and its fields in their order.

    least: the bytes that it has in the oldest version that knows it. since: (version, bytes) where later
    versions made it longer. lists: whether its length depends on what it lists.
    """

    title: str
    section: str
    fields: tuple[Field, ...]
    least: int
    since: tuple[tuple[tuple[int, int], int], ...] = ()
    lists: bool = False

    def length_in(self, version: tuple[int, int]) -> int:
        """Return the fewest bytes that a structure of that version has."""
        return max((length for since, length in self.since if since <= version), default=self.least)


def known_bytes(layout: Layout) -> int:
    """Return how many bytes of a type this decoder knows of."""
    return max([layout.least, *(length for _, length in layout.since)])


def text(name: str, at: int) -> Field:
    """A text as it lies there, spaces and all."""

    def read(s: Structure) -> Value | None:
        if at >= len(s.area):
            return None
        found = s.string(at)
        if found is Absent.IMPLAUSIBLE:
            return f"string {s.area[at]} of {len(s.strings)}"
        return NOT_GIVEN if isinstance(found, Absent) else found

    return Field(name, read, string_at=at)


def word_of(code: int, words: Mapping[int, str]) -> str:
    """Return the standard's word for a code."""
    return words.get(code) or f"code 0x{code:02X}"


def word(
    name: str, at: int, words: Mapping[int, str], mask: int = 0xFF, shift: int = 0, size: int = 1
) -> Field:
    """One of the standard's words, by bits of a number."""

    def read(s: Structure) -> Value | None:
        number = s.number(at, size)
        return None if number is None else word_of(number >> shift & mask, words)

    return Field(name, read)


def number(name: str, at: int, size: int = 1, unknown: tuple[int, ...] = (), said: str = UNKNOWN) -> Field:
    """A whole number. unknown: the numbers that mean `said`."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, size)
        return said if found in unknown else found

    return Field(name, read)


def parts(name: str, at: int, per_unit: int = 1, sign: bool = True) -> Field:
    """A word counting parts of the unit; 0x8000 is unknown (7.27 to 7.30). sign: whether it has one."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, 2)
        if found is None or found == 0x8000:
            return None if found is None else UNKNOWN
        whole = found - 0x10000 if sign and found & 0x8000 else found
        return whole if per_unit == 1 else whole / per_unit

    return Field(name, read)


def hexadecimal(name: str, at: int, size: int) -> Field:
    """A number of which only the bits are known."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, size)
        return None if found is None else f"0x{found:0{2 * size}X}"

    return Field(name, read)


def handle(name: str, at: int, special: Mapping[int, str] | None = None) -> Field:
    """The handle of another structure."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, 2)
        return None if found is None else (special or {}).get(found) or f"0x{found:04X}"

    return Field(name, read)


def flags(name: str, at: int, size: int, words: Mapping[int, str]) -> Field:
    """The words of the bits that are set, in their order."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, size)
        return None if found is None else joined(words_of(found, words))

    return Field(name, read)


def words_of(bits: int, words: Mapping[int, str]) -> list[str]:
    """Return the words of the bits that are set."""
    return [text for bit, text in words.items() if bits >> bit & 1]


def joined(words: list[str]) -> str:
    """Return words as one text."""
    return "; ".join(words) or NONE


def bit(name: str, at: int, position: int, size: int = 1) -> Field:
    """One bit."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, size)
        return None if found is None else bool(found >> position & 1)

    return Field(name, read)


def of(name: str, end: int, read: Callable[[Structure], Value | None]) -> Field:
    """A field that has a rule of its own, of a structure that has at least `end` bytes."""
    return Field(name, lambda s: read(s) if len(s.area) >= end else None)


def pci_address(s: Structure, segment_at: int, bus_at: int, function_at: int) -> str | None:
    """Return where on the PCI bus, as `0000:01:00.0`; None if the structure ends before or says nowhere."""
    segment, bus, function = s.number(segment_at, 2), s.number(bus_at, 1), s.number(function_at, 1)
    if segment is None or bus is None or function is None or (segment, bus, function) == (0xFFFF, 0xFF, 0xFF):
        return None
    return f"{segment:04x}:{bus:02x}:{function >> 3:02x}.{function & 7}"
