"""SHA-512 of many files at once: hashlib frees the interpreter's lock, so threads use every core."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import NamedTuple

from shipworthy.record.tree import Tree, Walker, said

_BATCH_BYTES, _BATCH_FILES, _READ_BYTES = 1 << 20, 128, 1 << 18
_MOST_THREADS = 4


class Hashed(NamedTuple):
    """hexdigest: SHA-512 (FIPS 180-4). error: why there is none."""

    name: str
    hexdigest: str
    error: str = ""


def nothing(_: int) -> None:
    """Do nothing more with the open file."""


class Hashing:
    """Hashing under way in threads of its own. Collect `results`, then close."""

    def __init__(
        self, tree: Tree, sizes_bytes: Iterable[tuple[str, int]], also: Callable[[int], None] = nothing
    ) -> None:
        """sizes_bytes: the files and their sizes. also: done to each open file's descriptor."""
        self._pool = ThreadPoolExecutor(min(_MOST_THREADS, os.cpu_count() or 1))
        self._waiting: list[Future[list[Hashed]]] = [
            self._pool.submit(_hash_batch, tree, names, also) for names in _batches(sizes_bytes)
        ]

    def results(self) -> Iterator[Hashed]:
        """Yield each file's digest, or why there is none."""
        for batch in self._waiting:
            yield from batch.result()

    def close(self) -> None:
        self._pool.shutdown(cancel_futures=True)


def _batches(sizes_bytes: Iterable[tuple[str, int]]) -> Iterator[list[str]]:
    """Yield names to be hashed by one thread in a row.

    Large files first, the largest leading, so that no core ends late; small ones by folder.
    """
    files = list(sizes_bytes)
    large = sorted((row for row in files if row[1] >= _BATCH_BYTES), key=lambda row: -row[1])
    yield from ([name] for name, _ in large)
    names: list[str] = []
    batch_bytes = 0
    for name, size_bytes in sorted(row for row in files if row[1] < _BATCH_BYTES):
        names.append(name)
        batch_bytes += size_bytes
        if batch_bytes >= _BATCH_BYTES or len(names) >= _BATCH_FILES:
            yield names
            names, batch_bytes = [], 0
    if names:
        yield names


def _hash_batch(tree: Tree, names: list[str], also: Callable[[int], None]) -> list[Hashed]:
    with Walker(tree) as walker:
        return [_hash(walker, name, also) for name in names]


def _hash(walker: Walker, name: str, also: Callable[[int], None]) -> Hashed:
    try:
        descriptor = walker.open_file(name)
        try:
            hexdigest = _hexdigest(descriptor)
            also(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        return Hashed(name, "", said(error))
    return Hashed(name, hexdigest)


def _hexdigest(descriptor: int) -> str:
    sha512 = hashlib.sha512()
    while data := os.read(descriptor, _READ_BYTES):
        sha512.update(data)
    return sha512.hexdigest()
