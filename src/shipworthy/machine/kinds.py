"""The kinds of raw source that can be decoded from a file, without a machine: a line each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shipworthy.machine.raw import Parsed, Reply, Section

Parse = Callable[[tuple[Reply, ...]], Parsed]


def _as_it_is(data: bytes) -> bytes:
    return data


@dataclass(frozen=True)
class Kind:
    """One kind of file.

    what: in a few words, for people. parse: as of a source; each reply is one file. recognises: whether a
    file is of this kind, by its name and first bytes; None where its bytes do not tell, and it must be named.
    describe: every field as it lies there. prepare: the raw bytes in a file's text form.
    """

    name: str
    what: str
    parse: Parse
    recognises: Callable[[str, bytes], bool] | None = None
    describe: Callable[[bytes], tuple[Section, ...]] | None = None
    prepare: Callable[[bytes], bytes] = _as_it_is
    suffix: str = "txt"


KINDS: tuple[Kind, ...] = ()


def kind_named(name: str) -> Kind | None:
    return next((kind for kind in KINDS if kind.name == name), None)
