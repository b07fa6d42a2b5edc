"""What platforms are, from `tables.toml`: sockets, chipsets, families, mounts, form factors."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Any, cast

from shipworthy.orders.fit.spelling import socket_of


class Knows(StrEnum):
    """Whether a chipset's boards know a processor family."""

    FROM_THE_START = "from the start"
    LATER = "later"  # from some version of the board's firmware on
    NEVER = "never"


@dataclass(frozen=True)
class Told:
    """An answer of a table, and where the table has it from."""

    answer: Any
    source: str


def table(name: str) -> Any:
    return _tables()[name]


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads(resources.files(__package__).joinpath("tables.toml").read_text("utf-8"))


def seats(processor_socket: str, board_socket: str) -> Told:
    """Return whether a processor's socket goes into a board's; both in `spelling`'s words."""
    if processor_socket == board_socket:
        return Told(True, "socket names of their makers")
    for row in table("seats"):
        if row["processor"] == processor_socket and board_socket in row["board"]:
            return Told(True, row["source"])
    return Told(False, "socket names of their makers")


def family_of(text: str, sold_as: str) -> str:
    """Return the family of a processor in the tables' words. sold_as: the line's text, which tells the
    server names (Xeon, EPYC, Opteron) apart: what is told of a family is not told of these."""
    family = cast(str, table("families").get(text.strip(), text.strip()))
    return f"Server: {family}" if of_servers(sold_as) else family


def of_servers(sold_as: str) -> bool:
    """Return whether a processor is sold by a server name, which has chipsets, or a support, of its own."""
    return re.search(r"\b(?:xeon|epyc|opteron)\b", sold_as, re.IGNORECASE) is not None


def knows(socket: str, chipset: str, family: str) -> Told | None:
    """Return whether boards with the chipset know the family; None where no row says."""
    chip = re.sub(r"^(?:INTEL|AMD)\s+", "", chipset.strip().upper())
    for row in table("support"):
        if row["socket"] == socket and chip in row["chipsets"]:
            for key, answer in (("start", "FROM_THE_START"), ("later", "LATER"), ("never", "NEVER")):
                if family in row.get(key, ()):
                    return Told(Knows[answer], row["source"])
    return None


def mounts(kit: tuple[str, ...], socket: str) -> Told | None:
    """Return whether a cooler's kit for some sockets fits another: True, False, or None as the answer where
    it depends on the kit. No answer at all if a word of the kit's list is not known and none fits."""
    sockets = [socket_of(word) for word in kit]
    if socket in sockets:
        return Told(True, "the cooler's list of sockets")
    for row in table("mounts"):
        if socket in row["sockets"] and any(other in row["sockets"] for other in sockets):
            return Told(True if row["sure"] else None, row["source"])
    return None if None in sockets else Told(False, "the cooler's list of sockets")


def four_modules_mt_s(socket: str, family: str, memory_type: str) -> Told | None:
    """Return the most that the platform's maker states for four modules, in MT/s."""
    for row in table("stated"):
        if family in row["families"] and socket in row["sockets"] and row["type"] == memory_type:
            return Told(row["four_mt_s"], row["source"])
    return None


def takes_board(listed: tuple[str, ...], board: str) -> Told | None:
    """Return whether a case that lists these form factors takes a board of that one; None if nobody knows.

    All in `spelling`'s words. A form factor that is larger than all listed does not go in.
    """
    if board in listed:
        return Told(True, "the case's list of boards")
    if any(board in table("nested").get(form, ()) for form in listed):
        return Told(True, table("nesting")["source"])
    sizes = table("sizes")
    if board not in sizes or any(form not in sizes for form in listed):
        return None
    high, deep = sizes[board]
    if all(high > sizes[form][0] or deep > sizes[form][1] for form in listed):
        return Told(False, "the case's list of boards")
    return None
