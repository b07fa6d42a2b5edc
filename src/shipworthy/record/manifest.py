"""The lists of a bag: `<sha512 in hex>  <path>` a line (RFC 8493, sections 2.1.3 and 2.2.1)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

_LINE = re.compile(r"([0-9a-f]{128})  ([^\r\n]+)")
_ESCAPES = {"%0D": "\r", "%0A": "\n", "%25": "%"}
_ESCAPED = re.compile("%(?:0D|0A|25)", re.IGNORECASE)


@dataclass(frozen=True)
class Manifest:
    """What a list says. malformed, doubled: numbers of lines that are none, or name a path again."""

    digests: Mapping[str, str]
    malformed: tuple[int, ...] = ()
    doubled: tuple[int, ...] = ()


def write_manifest(digests: Iterable[tuple[str, str]]) -> bytes:
    """Return the list of (path, hex digest), in order of path."""
    rows = [f"{hexdigest}  {_escaped(path)}\n" for path, hexdigest in sorted(digests)]
    return "".join(rows).encode("utf-8")


def read_manifest(data: bytes) -> Manifest:
    """Return what a list says, in the one form that we write. Never raises."""
    digests: dict[str, str] = {}
    malformed, doubled = [], []
    lines = data.split(b"\n")
    for number, line in enumerate(lines if lines[-1] else lines[:-1], 1):
        row = _row(line)
        if row is None:
            malformed.append(number)
        elif row[0] in digests:
            doubled.append(number)
        else:
            digests[row[0]] = row[1]
    return Manifest(digests, tuple(malformed), tuple(doubled))


def _row(line: bytes) -> tuple[str, str] | None:
    try:
        match = _LINE.fullmatch(line.decode("utf-8"))
    except UnicodeDecodeError:
        return None
    return (_unescaped(match[2]), match[1]) if match else None


def _escaped(path: str) -> str:
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _unescaped(path: str) -> str:
    return _ESCAPED.sub(lambda match: _ESCAPES[match[0].upper()], path)
