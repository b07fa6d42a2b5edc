"""What tests of small device sources share: folders of our own making, and files that the kernel fails."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

from shipworthy.machine.join import join
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from tests.machine.facts_of import Facts
from tests.machine.recorded import write

Capture = Callable[[Root], Sequence[Reply]]
Parse = Callable[[tuple[Reply, ...]], Parsed]


def files(root: Path, folder: str, texts: Mapping[str, str | bytes]) -> None:
    """Write files of a folder; a text ends with a newline, as sysfs's do."""
    for name, content in texts.items():
        write(root, f"{folder}/{name}", f"{content}\n" if isinstance(content, str) else content)


def read(root: Path, capture: Capture, parse: Parse) -> Parsed:
    return parse(tuple(capture(Root(root))))


def by_place(parsed: Parsed) -> dict[str, Facts]:
    """Return the joined parts' fields by place; of several kinds at one place together."""
    found: dict[str, Facts] = {}
    for part in join(parsed.sightings):
        facts = {fact.name: fact.value if fact.value is not None else fact.absent for fact in part.facts}
        found.setdefault(part.place, {}).update(facts)
    return found


def failing(monkeypatch: pytest.MonkeyPatch, ending: str, error: int = errno.EIO) -> None:
    """Let every read of a file whose path ends so fail, as a driver does whose device does not answer."""
    real = os.read

    def reading(descriptor: int, count: int) -> bytes:
        if Path(f"/proc/self/fd/{descriptor}").readlink().as_posix().endswith(ending):
            raise OSError(error, os.strerror(error))
        return real(descriptor, count)

    monkeypatch.setattr(os, "read", reading)
