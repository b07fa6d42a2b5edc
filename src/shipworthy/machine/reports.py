"""Files that other general tools wrote about a machine, as sources: for one that cannot be reached.

A file is told by what is in it. The kinds are in `shipworthy.machine.kinds`. What is not read is named with
the reason, so that nobody believes it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

import msgspec

from shipworthy.machine.asking import LEFT_OVER
from shipworthy.machine.capture.files import head_of, names_in, read_file
from shipworthy.machine.kinds import KINDS, Kind
from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.raw import Parsed, Reply, remark
from shipworthy.machine.root import SIMULATED_MARK, Root
from shipworthy.machine.sources import SOURCES, Source
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import RemarkKind

TREE_FOLDERS = ("proc", "sys", "replies")
MOST_FILES = 500
MOST_BYTES = 16 << 20
MOST_TOTAL_BYTES = 64 << 20
HEAD_BYTES = 4096
_OWN = frozenset(source.name for source in SOURCES)


def sources_of(root: Root) -> tuple[Source, ...]:
    """Return what there is to ask of a machine: its own sources where we run on it or have its tree, and the
    reports that lie beside, be it in what the privileged capture brought."""
    if root.live:
        beside = () if root.privileged is None else _report_sources(Root(root.privileged))
        return SOURCES + tuple(source for source in beside if source.name != LEFT_OVER)
    reports = _report_sources(root)
    only_reports = any(source.name != LEFT_OVER for source in reports) and not is_tree(root)
    return reports if only_reports else SOURCES + reports


def known_sources() -> tuple[Source, ...]:
    """Return every source whose replies can be parsed here, reports included."""
    reports = (_source(kind, ()) for kind in KINDS if kind.recognises)
    return (*SOURCES, *reports, _left_over(()))


def tells_something(root: Root) -> bool:
    """Return whether a folder holds anything of a machine: a tree, or a report of a known kind."""
    return is_tree(root) or any(source.name != LEFT_OVER for source in _report_sources(root))


def is_tree(root: Root) -> bool:
    """Return whether a folder holds a recorded machine's paths."""
    return any(root.path(name).is_dir() for name in TREE_FOLDERS)


def kind_of(name: str, data: bytes) -> Kind | None:
    """Return the kind of a file; None if it is none that is told by its content."""
    head = data[:HEAD_BYTES]
    return next((kind for kind in KINDS if kind.recognises and kind.recognises(name, head)), None)


@dataclass
class _Folder:
    """The files of a folder as they are looked at, within the bounds of what is read of it."""

    root: Root
    known: dict[str, list[tuple[str, bytes]]] = field(default_factory=dict)
    left: list[ListingRow] = field(default_factory=list)
    total: int = 0

    def look_at(self, name: str) -> None:
        shown = "".join(sign if sign.isprintable() else "?" for sign in name)
        if self.root.path(name).is_dir():
            self._leave(shown, "a folder: name it by itself, or put its files beside the others")
            return
        head = head_of(self.root, f"/{name}", HEAD_BYTES)
        if head.strip(b"\n \0") and kind_of(shown, head) is None:  # a folder may hold gigabytes of anything
            self._leave(shown, "a file of no known kind")
            return
        answer = read_file(self.root, f"/{name}", MOST_BYTES)
        if answer.outcome in (SourceOutcome.FAILED, SourceOutcome.REFUSED, SourceOutcome.ABSENT):
            self._leave(shown, f"it could not be read: {answer.error}")
        elif answer.outcome is SourceOutcome.EMPTY:
            self._leave(shown, "it is empty")
        elif self.total + len(answer.data) > MOST_TOTAL_BYTES:
            self._leave(shown, f"with it, the files have more than {MOST_TOTAL_BYTES >> 20} MiB")
        elif (kind := kind_of(shown, answer.data)) is None:
            self._leave(shown, "a file of no known kind")
        else:
            self.total += len(answer.data)
            self.known.setdefault(kind.name, []).append((shown, answer.data))

    def _leave(self, name: str, why: str) -> None:
        self.left.append(ListingRow(path=name, outcome=SourceOutcome.FAILED, error=why))

    def leave_rest(self, names: Sequence[str]) -> None:
        if names:
            self._leave(f"{len(names)} more", f"at most {MOST_FILES} files of a folder are read")


def _report_sources(root: Root) -> tuple[Source, ...]:
    tree = is_tree(root)  # whose folders are the machine's own
    names = [n for n in names_in(root, "/") if n != SIMULATED_MARK and not (tree and root.path(n).is_dir())]
    folder = _Folder(root)
    for name in names[:MOST_FILES]:
        folder.look_at(name)
    folder.leave_rest(names[MOST_FILES:])
    sources = [_source(kind, folder.known[kind.name]) for kind in KINDS if kind.name in folder.known]
    return (*sources, _left_over(folder.left)) if folder.left else tuple(sources)


def _source(kind: Kind, files: Sequence[tuple[str, bytes]]) -> Source:
    """A file of what a machine's own source gives too is a source by itself: both may lie in one folder."""
    name = f"{kind.name}-file" if kind.name in _OWN else kind.name
    return Source(name, partial(_replies, name, kind, files), kind.parse, limit_s=30.0)


def _replies(source: str, kind: Kind, files: Sequence[tuple[str, bytes]], root: Root) -> list[Reply]:
    del root  # the files were read when their kinds were told
    return [
        Reply(f"{source}.{number}", f"/{name}", SourceOutcome.READ, kind.prepare(data), "", kind.suffix)
        for number, (name, data) in enumerate(files, 1)
    ]


def _left_over(rows: Sequence[ListingRow]) -> Source:
    """What was not read is named, so that nobody believes it was."""

    def capture(root: Root) -> list[Reply]:
        del root
        return [Reply(LEFT_OVER, "/", SourceOutcome.READ, encode_listing(rows), "", "jsonl")]

    return Source(LEFT_OVER, capture, _parse_left_over)


def _parse_left_over(replies: tuple[Reply, ...]) -> Parsed:
    rows = (
        (reply.id, msgspec.json.decode(line, type=ListingRow))
        for reply in replies
        for line in reply.data.splitlines()
    )
    return Parsed(
        remarks=tuple(remark(source, RemarkKind.NOT_UNDERSTOOD, row.path, row.error) for source, row in rows)
    )
