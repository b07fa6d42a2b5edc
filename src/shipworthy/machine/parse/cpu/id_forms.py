"""The forms in which the registers that CPUID gives are written down, and one form for all of them.

A dump is the answers of each logical processor: of a leaf and a subleaf the four registers. Known forms:
lines `CPUID 00000001: 000B06E0-…` below a heading for each processor; `basic_cpuid[1]=…`; libvirt's XML;
`mask leaf … => …`, a file for each processor; and `0x00000001 0x00: eax=0x…`, below `CPU 0:`.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from shipworthy.machine.parse.opening import opened_xml
from shipworthy.machine.raw import Fault

MOST_BYTES = 800 << 10  # of the longest dumps known that is 166 processors
MOST_PROCESSORS = 512

Registers = tuple[int, int, int, int]
Leaves = dict[tuple[int, int], Registers]
"""Of a leaf and a subleaf: eax, ebx, ecx, edx."""

_HEADING = re.compile(r"(?:-+\[ )?(?:CPUID Registers|Logical CPU #)|CPU \d+:")
_H = r"([0-9A-Fa-f]{1,8})"
_DASHED = re.compile(rf"CPUID {_H}:?\s+{_H}-{_H}-{_H}-{_H}(?: \[SL ([0-9A-Fa-f]+)\])?")
_INDEXED = re.compile(
    rf"(basic_cpuid|ext_cpuid|intel_fn4|intel_fn11|amd_fn8000001dh)\[(\d{{1,3}})\]={_H} {_H} {_H} {_H}"
)
_MASKED = re.compile(rf"([0-9a-f]{{1,2}}) {_H} {_H} {_H} {_H} => {_H} {_H} {_H} {_H}")
_NAMED = re.compile(rf"\s*0x{_H} 0x{_H}: eax=0x{_H} ebx=0x{_H} ecx=0x{_H} edx=0x{_H}")
_ANY = re.compile(
    rf"^(?:CPUID {_H}:?\s+{_H}-|basic_cpuid\[0\]=|# mask e\[abcd\]x => |\s*0x{_H} 0x{_H}: eax=0x)"
    r"|<cpuid eax_in=",
    re.MULTILINE,
)
_TABLES = {"basic_cpuid": 0, "ext_cpuid": 0x8000_0000}
_SUBLEAVES = {"intel_fn4": 4, "intel_fn11": 0xB, "amd_fn8000001dh": 0x8000_001D}

Row = tuple[int, int | None, Registers]
"""Leaf, subleaf (None: the next one of that leaf), registers."""


def is_dump(head: bytes) -> bool:
    """Whether a file that begins so is a dump in one of these forms."""
    return _ANY.search(head.decode("ascii", "replace")) is not None


def read_dump(data: bytes) -> list[Leaves]:
    """Return the answers of each logical processor, in the file's order; none for what is no dump."""
    text = data[:MOST_BYTES].decode("utf-8", "replace")
    if "<cpuid " in text:
        return _from_xml(text) if len(data) <= MOST_BYTES else []
    row_of = next((row for row in _ROWS if any(map(row, text[:4096].splitlines()))), None)
    return _from_lines(text, row_of) if row_of is not None else []


def _from_lines(text: str, row_of: Callable[[str], Row | None]) -> list[Leaves]:
    processors: list[Leaves] = [{}]
    for line in text.splitlines():
        if line.startswith("-" * 40) and processors[0]:
            break  # what a project expects of it follows
        row = row_of(line)
        if row is not None:
            _add(processors[-1], *row)
        elif _HEADING.match(line) and processors[-1] and len(processors) < MOST_PROCESSORS:
            processors.append({})
    return [leaves for leaves in processors if leaves]


def _add(leaves: Leaves, leaf: int, subleaf: int | None, registers: Registers) -> None:
    if subleaf is None:
        subleaf = 0
        while (leaf, subleaf) in leaves and subleaf < 8:
            subleaf += 1
    leaves.setdefault((leaf, subleaf), registers)


def _four(texts: tuple[str, ...]) -> Registers:
    a, b, c, d = (int(text, 16) for text in texts)
    return a, b, c, d


def _dashed(line: str) -> Row | None:
    match = _DASHED.match(line)
    if match is None:
        return None
    subleaf = int(match[6], 16) & 0xFFFF if match[6] else None
    return int(match[1], 16), subleaf, _four(match.group(2, 3, 4, 5))


def _indexed(line: str) -> Row | None:
    match = _INDEXED.match(line)
    if match is None:
        return None
    registers = _four(match.group(3, 4, 5, 6))
    if match[1] in _TABLES:
        return _TABLES[match[1]] + int(match[2]), 0, registers
    return _SUBLEAVES[match[1]], int(match[2]), registers


def _masked(line: str) -> Row | None:
    """The mask's bits say which of the four registers counted for the question: 4 is ecx, the subleaf."""
    match = _MASKED.match(line)
    if match is None:
        return None
    subleaf = int(match[4], 16) if int(match[1], 16) & 4 else 0
    return int(match[2], 16), subleaf, _four(match.group(6, 7, 8, 9))


def _named(line: str) -> Row | None:
    match = _NAMED.match(line)
    return None if match is None else (int(match[1], 16), int(match[2], 16), _four(match.group(3, 4, 5, 6)))


_ROWS = (_dashed, _indexed, _masked, _named)


def _from_xml(text: str) -> list[Leaves]:
    root = opened_xml(text, MOST_BYTES)
    if isinstance(root, Fault):
        return []
    leaves: Leaves = {}
    for node in root.iter("cpuid"):
        words = [node.get(name, "") for name in ("eax_in", "ecx_in", "eax", "ebx", "ecx", "edx")]
        if all(re.fullmatch(r"0x[0-9a-fA-F]{1,8}", word) for word in words):
            leaf, subleaf, *_ = (int(word, 16) for word in words)
            leaves.setdefault((leaf, subleaf), _four(tuple(words[2:])))
    return [leaves] if leaves else []
