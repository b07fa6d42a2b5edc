"""A folder from anywhere, read without ever following a link, and with bounds on what it may cost."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import NamedTuple

from shipworthy.record.closing import Closing

MOST_ENTRIES = 100_000
DEEPEST = 32
_FOLDER_FLAGS = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW
_FILE_FLAGS = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_NOCTTY  # a pipe must not make us wait


class EntryKind(Enum):
    FILE = "file"
    FOLDER = "folder"
    LINK = "link"
    OTHER = "other"  # a device, a pipe, a socket
    UNREADABLE = "unreadable"
    BEYOND_BOUNDS = "beyond bounds"  # too deep, or too many: what is below or after it was not looked at


class Entry(NamedTuple):
    """name: path below the tree's root, with `/`. error: the system's word, where it was unreadable."""

    name: str
    kind: EntryKind
    size_bytes: int = 0
    error: str = ""


class TooLarge(Exception):
    """The file is larger than what its kind may be."""


class Tree(Closing):
    """The root is opened once; everything below it is opened step by step from there."""

    def __init__(self, folder: Path) -> None:
        """Raises OSError if the folder cannot be opened. A link as the root itself is followed."""
        self._root = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)

    def open_file(self, name: str) -> int:
        """Return a descriptor of a regular file below the root; OSError for anything else."""
        with Walker(self) as walker:
            return walker.open_file(name)

    def read(self, name: str, most_bytes: int) -> bytes:
        """Return a file's bytes. Raises OSError, or TooLarge."""
        with open(self.open_file(name), "rb") as file:
            data = file.read(most_bytes + 1)
        if len(data) > most_bytes:
            raise TooLarge(name)
        return data

    def entries(self) -> Iterator[Entry]:
        """Yield everything below the root, folders too, in no promised order."""
        waiting, seen = [""], 0
        while waiting:
            folder = waiting.pop()
            for entry in self._entries_of(folder):
                seen += 1
                if seen > MOST_ENTRIES or entry.name.count("/") >= DEEPEST:
                    yield entry._replace(kind=EntryKind.BEYOND_BOUNDS)
                    if seen > MOST_ENTRIES:
                        return
                    continue
                yield entry
                if entry.kind is EntryKind.FOLDER:
                    waiting.append(entry.name)

    def close(self) -> None:
        os.close(self._root)

    def open_folder(self, name: str) -> int:
        """Return a descriptor, for the caller to close, of a folder below the root; empty: the root."""
        folder = os.open(".", _FOLDER_FLAGS, dir_fd=self._root)
        for part in name.split("/") if name else ():
            try:
                inner = os.open(part, _FOLDER_FLAGS, dir_fd=folder)
            finally:
                os.close(folder)
            folder = inner
        return folder

    def _entries_of(self, folder: str) -> Iterator[Entry]:
        try:
            descriptor = self.open_folder(folder)
        except OSError as error:
            yield Entry(folder, EntryKind.UNREADABLE, error=said(error))
            return
        try:
            with os.scandir(descriptor) as found:
                for entry in found:
                    yield _entry(f"{folder}/{entry.name}" if folder else entry.name, entry)
        except OSError as error:
            yield Entry(folder, EntryKind.UNREADABLE, error=said(error))
        finally:
            os.close(descriptor)


class Walker(Closing):
    """Opens files of a tree one after another; those of one folder in a row cost one step each."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._name, self._folder = "", -1

    def open_file(self, name: str) -> int:
        """Return a descriptor of a regular file below the root; OSError for anything else."""
        folder, _, last = name.rpartition("/")
        if self._folder < 0 or folder != self._name:
            self.close()
            self._folder = self._tree.open_folder(folder)
            self._name = folder
        return _regular(os.open(last, _FILE_FLAGS, dir_fd=self._folder))

    def close(self) -> None:
        if self._folder >= 0:
            os.close(self._folder)
            self._folder = -1


def _entry(name: str, found: os.DirEntry[str]) -> Entry:
    try:
        status = found.stat(follow_symlinks=False)
    except OSError as error:
        return Entry(name, EntryKind.UNREADABLE, error=said(error))
    if stat.S_ISLNK(status.st_mode):
        return Entry(name, EntryKind.LINK)
    if stat.S_ISDIR(status.st_mode):
        return Entry(name, EntryKind.FOLDER)
    if stat.S_ISREG(status.st_mode):
        return Entry(name, EntryKind.FILE, status.st_size)
    return Entry(name, EntryKind.OTHER)


def said(error: OSError) -> str:
    """Return the system's word for an error."""
    return error.strerror or str(error)


def _regular(descriptor: int) -> int:
    if stat.S_ISREG(os.fstat(descriptor).st_mode):
        return descriptor
    os.close(descriptor)
    raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
