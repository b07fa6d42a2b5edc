"""Read files of a machine, live or recorded, without ever waiting for one or leaving its root."""

# ruff: noqa: PTH115, PTH208
# os.path here: a reading asks for thousands of small files, and pathlib costs more than the kernel does.

from __future__ import annotations

import errno
import os
import stat
from dataclasses import dataclass, replace
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
    """What became of one file: its bytes, or the outcome and the system's word for it.

    by_root: whether the privileged capture brought it.
    """

    outcome: SourceOutcome
    data: bytes = b""
    error: str = ""
    by_root: bool = False


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
    folder are not followed: they are failures. Of a file that this account may not read the privileged
    capture's copy is taken, if there is one.
    """
    answer = _read_here(root, locator, most_bytes)
    if answer.outcome is not SourceOutcome.REFUSED or root.privileged is None:
        return answer
    kept = _read_here(Root(root.privileged), locator, most_bytes)
    return answer if kept.outcome is SourceOutcome.ABSENT else replace(kept, by_root=True)


def _read_here(root: Root, locator: str, most_bytes: int) -> Answer:
    try:
        descriptor = _opened(root, locator)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error))
    except _NotHere as reason:
        return Answer(SourceOutcome.FAILED, error=str(reason))
    try:
        data = _all_of(descriptor, most_bytes)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error))
    finally:
        os.close(descriptor)
    if len(data) > most_bytes:
        return Answer(SourceOutcome.FAILED, error=f"more than {most_bytes} bytes")
    return Answer(SourceOutcome.READ if data.strip(b"\n \0") else SourceOutcome.EMPTY, data)


def head_of(root: Root, locator: str, count: int) -> bytes:
    """Return a file's first bytes, of whatever size it is; none where it cannot be read."""
    try:
        descriptor = _opened(root, locator)
    except (OSError, _NotHere):
        return b""
    try:
        return os.read(descriptor, count)
    except OSError:
        return b""
    finally:
        os.close(descriptor)


class _NotHere(Exception):
    """What a locator leads to is no file of this machine."""


def _opened(root: Root, locator: str) -> int:
    """Return a descriptor of a regular file, looked at (O_PATH) before it is opened."""
    handle = os.open(_prefix(root.folder) + locator, os.O_PATH | os.O_CLOEXEC)
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise _NotHere("not a regular file")
        if _inside(root, handle) is None:
            raise _NotHere("leads out of the machine's root")
        return os.open(f"/proc/self/fd/{handle}", os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    finally:
        os.close(handle)


def _all_of(descriptor: int, most_bytes: int) -> bytes:
    pieces: list[bytes] = []
    size = 0
    while size <= most_bytes and (piece := os.read(descriptor, 1 << 16)):
        pieces.append(piece)
        size += len(piece)
    return b"".join(pieces)


@cache
def _prefix(folder: Path) -> str:
    """Return what stands before a locator: nothing on a live machine."""
    return os.fspath(folder).rstrip("/")


@cache
def _real_prefix(folder: Path) -> str:
    """Return the same without links. A machine's folder does not move while it is read."""
    return os.path.realpath(folder).rstrip("/")


def _inside(root: Root, handle: int) -> str | None:
    """Return the locator of what a descriptor has open; None if that lies outside of the machine's root."""
    real, base = os.readlink(f"/proc/self/fd/{handle}"), _real_prefix(root.folder)
    if real == base or not base:
        return real if not base else "/"
    return real[len(base) :] if real.startswith(base + "/") else None


def resolve(root: Root, locator: str) -> str | None:
    """Return the locator that a locator leads to through all links; None if that is nowhere in the root."""
    try:
        handle = os.open(_prefix(root.folder) + locator, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        return _inside(root, handle)
    finally:
        os.close(handle)


def names_in(root: Root, folder: str) -> tuple[str, ...]:
    """Return the names in a folder, sorted; empty if it is not there or cannot be listed."""
    return _list(root, folder)[1]


def _list(root: Root, folder: str) -> tuple[Answer, tuple[str, ...]]:
    try:
        handle = os.open(_prefix(root.folder) + folder, os.O_PATH | os.O_CLOEXEC)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error)), ()
    try:
        if _inside(root, handle) is None:
            return Answer(SourceOutcome.FAILED, error="leads out of the machine's root"), ()
        return Answer(SourceOutcome.READ), tuple(sorted(os.listdir(f"/proc/self/fd/{handle}")))
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error)), ()
    finally:
        os.close(handle)


def file_reply(root: Root, name: str, locator: str, suffix: str = "txt") -> Reply:
    """Return one file as the reply `name`."""
    answer = read_file(root, locator)
    return Reply(name, locator, answer.outcome, answer.data, answer.error, suffix, answer.by_root)


class Lister:
    """Asks a machine for many small files and keeps a row for each (see `shipworthy.machine.listing`)."""

    def __init__(self, root: Root) -> None:
        self.root = root
        self.rows: list[ListingRow] = []
        self.by_root = False

    def text(self, path: str) -> str | None:
        """Ask for a file's text; undecodable bytes are replaced, as sysfs has texts of firmware in it."""
        answer = self._read(path)
        text = answer.data.decode("utf-8", "replace") if answer.outcome is SourceOutcome.READ else None
        self.rows.append(ListingRow(path=path, outcome=answer.outcome, text=text, error=answer.error))
        return None if text is None else text.strip()

    def texts(self, folder: str, names: tuple[str, ...]) -> None:
        """Ask for the texts of several files in a folder."""
        for name in names:
            self.text(f"{folder}/{name}")

    def binary(self, path: str) -> bytes:
        """Ask for a file's bytes."""
        answer = self._read(path)
        read = answer.outcome is SourceOutcome.READ
        self.rows.append(
            ListingRow(
                path=path, outcome=answer.outcome, hex=answer.data.hex() if read else None, error=answer.error
            )
        )
        return answer.data if read else b""

    def _read(self, path: str) -> Answer:
        answer = read_file(self.root, path, MOST_ATTRIBUTE_BYTES)
        self.by_root = self.by_root or answer.by_root
        return answer

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
        return Reply(name, locator, outcome, encode_listing(self.rows), "", "jsonl", self.by_root)
