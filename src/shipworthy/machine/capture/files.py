"""Read files of a machine, live or recorded, without ever waiting for one or leaving its root."""

# ruff: noqa: PTH110, PTH114, PTH208
# os.path here: a reading asks for thousands of small files, and pathlib costs more than the kernel does.

from __future__ import annotations

import errno
import os
import stat
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

MOST_BYTES = 4 << 20  # larger than any file we ask for; /proc/cpuinfo of 512 processors has 1 MB
MOST_ATTRIBUTE_BYTES = 64 << 10

_ABSENT = {errno.ENOENT, errno.ENOTDIR, errno.ENODEV, errno.ENXIO}
_REFUSED = {errno.EACCES, errno.EPERM}


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one file: its bytes, or the outcome and the system's word for it."""

    outcome: SourceOutcome
    data: bytes = b""
    error: str = ""


def outcome_of(error: OSError) -> SourceOutcome:
    """Return whether an error means not there, not allowed, or broken."""
    if error.errno in _ABSENT:
        return SourceOutcome.ABSENT
    return SourceOutcome.REFUSED if error.errno in _REFUSED else SourceOutcome.FAILED


def word_of(error: OSError) -> str:
    """Return the system's name of an error, such as `EACCES`."""
    return errno.errorcode.get(error.errno or 0, type(error).__name__)


def read_file(root: Root, locator: str, most_bytes: int = MOST_BYTES) -> Answer:
    """Return a file's bytes, or why there are none.

    Pipes and devices, which could wait for ever, and links of a recorded machine that lead out of its
    folder are not followed: they are failures.
    """
    if not root.live and resolve(root, locator) is None:
        return _outside_or_absent(root, locator)
    try:
        descriptor = os.open(root.path(locator), os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC | os.O_NOCTTY)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error))
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            return Answer(SourceOutcome.FAILED, error="not a regular file")
        data = _all_of(descriptor, most_bytes)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error))
    finally:
        os.close(descriptor)
    if len(data) > most_bytes:
        return Answer(SourceOutcome.FAILED, error=f"more than {most_bytes} bytes")
    return Answer(SourceOutcome.READ if data.strip(b"\n \0") else SourceOutcome.EMPTY, data)


def _all_of(descriptor: int, most_bytes: int) -> bytes:
    pieces: list[bytes] = []
    size = 0
    while size <= most_bytes and (piece := os.read(descriptor, 1 << 16)):
        pieces.append(piece)
        size += len(piece)
    return b"".join(pieces)


def _outside_or_absent(root: Root, locator: str) -> Answer:
    real = os.path.realpath(root.path(locator))
    if os.path.lexists(root.path(locator)) and not os.path.exists(real):
        looped = os.path.islink(real)
        return Answer(
            SourceOutcome.FAILED if looped else SourceOutcome.ABSENT, error="ELOOP" if looped else "ENOENT"
        )
    if os.path.lexists(root.path(locator)):
        return Answer(SourceOutcome.FAILED, error="leads out of the machine's root")
    return Answer(SourceOutcome.ABSENT, error="ENOENT")


def resolve(root: Root, locator: str) -> str | None:
    """Return the locator that a locator leads to through all links; None if that is nowhere in the root."""
    real = os.path.realpath(root.path(locator))
    if not os.path.exists(real):
        return None
    if root.live:
        return real
    base = _real_folder(root.folder)
    if real == base:
        return "/"
    return real[len(base) :] if real.startswith(base + "/") else None


@cache
def _real_folder(folder: Path) -> str:
    """A machine's folder does not move while it is read."""
    return os.path.realpath(folder)


def names_in(root: Root, folder: str) -> tuple[str, ...]:
    """Return the names in a folder, sorted; empty if it is not there or cannot be listed."""
    return _list(root, folder)[1]


def _list(root: Root, folder: str) -> tuple[Answer, tuple[str, ...]]:
    if not root.live and resolve(root, folder) is None:
        return _outside_or_absent(root, folder), ()
    try:
        return Answer(SourceOutcome.READ), tuple(sorted(os.listdir(root.path(folder))))
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error)), ()


def file_reply(root: Root, name: str, locator: str, suffix: str = "txt") -> Reply:
    """Return one file as the reply `name`."""
    answer = read_file(root, locator)
    return Reply(name, locator, answer.outcome, answer.data, answer.error, suffix)


class Lister:
    """Asks a machine for many small files and keeps a row for each (see `shipworthy.machine.listing`)."""

    def __init__(self, root: Root) -> None:
        self.root = root
        self.rows: list[ListingRow] = []

    def text(self, path: str) -> str | None:
        """Ask for a file's text; undecodable bytes are replaced, as sysfs has texts of firmware in it."""
        answer = read_file(self.root, path, MOST_ATTRIBUTE_BYTES)
        text = answer.data.decode("utf-8", "replace") if answer.outcome is SourceOutcome.READ else None
        self.rows.append(ListingRow(path=path, outcome=answer.outcome, text=text, error=answer.error))
        return None if text is None else text.strip()

    def texts(self, folder: str, names: tuple[str, ...]) -> None:
        """Ask for the texts of several files in a folder."""
        for name in names:
            self.text(f"{folder}/{name}")

    def binary(self, path: str) -> bytes:
        """Ask for a file's bytes."""
        answer = read_file(self.root, path, MOST_ATTRIBUTE_BYTES)
        read = answer.outcome is SourceOutcome.READ
        self.rows.append(
            ListingRow(
                path=path, outcome=answer.outcome, hex=answer.data.hex() if read else None, error=answer.error
            )
        )
        return answer.data if read else b""

    def names(self, folder: str) -> tuple[str, ...]:
        """Ask for the names in a folder."""
        answer, names = _list(self.root, folder)
        self.rows.append(ListingRow(path=folder, outcome=answer.outcome, names=names, error=answer.error))
        return names

    def target(self, path: str) -> str | None:
        """Ask where a link leads, through all links, as a path below the machine's root."""
        target = resolve(self.root, path)
        if target is not None:
            self.rows.append(ListingRow(path=path, link=target))
        return target

    def reply(self, name: str, locator: str) -> Reply:
        """Return all rows as the reply `name`, whose outcome is that of the folder `locator`."""
        rows = [row for row in self.rows if row.path == locator]
        outcome = rows[0].outcome if rows else SourceOutcome.READ
        error = rows[0].error if rows else ""
        if outcome is SourceOutcome.READ and rows and rows[0].names == ():
            outcome = SourceOutcome.EMPTY
        if outcome is not SourceOutcome.READ:
            return Reply(name, locator, outcome, b"", error, "jsonl")
        return Reply(name, locator, outcome, encode_listing(self.rows), "", "jsonl")
