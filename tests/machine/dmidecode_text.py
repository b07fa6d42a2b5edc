"""Read what dmidecode printed: the structures by handle, each a type and its fields. For comparing only."""

from __future__ import annotations

import re

Fields = dict[str, str]
_HEAD = re.compile(r"Handle 0x([0-9A-F]{4}), DMI type (\d+), \d+ bytes")


def structures(text: str) -> list[tuple[int, int, Fields]]:
    """Return (handle, type, fields) of each structure, in order."""
    found: list[tuple[int, int, Fields]] = []
    for line in text.splitlines():
        head = _HEAD.match(line)
        if head:
            found.append((int(head[1], 16), int(head[2]), {}))
        elif found and re.match(r"\t[^\t]", line) and ":" in line:
            name, _, value = line[1:].partition(":")
            found[-1][2].setdefault(name, value[1:] if value.startswith(" ") else value)
    return found
