"""What a maker's way of numbering says: a processor's family and socket, a board's chipset and socket."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from shipworthy.orders.fit.tables import table


@dataclass(frozen=True)
class Numbered:
    """family: of the processor, or the chipset of a board. words: of the text, that say so."""

    family: str
    socket: str
    words: str


@cache
def _rows() -> tuple[tuple[re.Pattern[str], int, dict[str, str], str], ...]:
    text = resources.files(__package__).joinpath("numbering.toml").read_text("utf-8")
    return tuple(
        (re.compile(row["pattern"], re.IGNORECASE), row["digits"], row["families"], row["socket"])
        for row in tomllib.loads(text)["processors"]
    )


def processor(text: str) -> Numbered | None:
    """Return what a processor's number tells; None where no row has it, or the text names several."""
    found = {
        Numbered(families[match["number"][:digits]], socket, match.group())
        for pattern, digits, families, socket in _rows()
        for match in pattern.finditer(text)
    }
    return found.pop() if len(found) == 1 else None


@cache
def _chipsets() -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for row in table("support"):
        for chip in row["chipsets"]:
            found.setdefault(chip, set()).add(row["socket"])
    return {chip: frozenset(sockets) for chip, sockets in found.items()}


def chipset(text: str) -> Numbered | None:
    """Return the chipset that a board's text names, alone or with letters of the form behind (`B650M`).

    None where it names none that the tables have, several, or one of two sockets.
    """
    found: dict[str, str] = {}
    for match in re.finditer(
        r"(?<![A-Za-z0-9])(?P<chip>[A-Z]{1,3}\d{2,3}E?)(?P<form>M|I)?(?![A-Za-z0-9])", text
    ):
        if match["chip"] in _chipsets():
            found[match["chip"]] = match.group()
    if len(found) != 1:
        return None
    ((chip, words),) = found.items()
    sockets = _chipsets()[chip]
    return Numbered(chip, next(iter(sockets)), words) if len(sockets) == 1 else None
