"""Files that other general tools wrote about a machine, as sources: for one that cannot be reached.

A file is told by what is in it. The kinds are in `shipworthy.machine.kinds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from shipworthy.machine.capture.files import names_in, read_file
from shipworthy.machine.kinds import KINDS, Kind
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import SIMULATED_MARK, Root
from shipworthy.machine.sources import SOURCES, Source
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import RemarkKind

TREE_FOLDERS = ("proc", "sys", "replies")
MOST_FILES = 500
MOST_BYTES = 16 << 20
HEAD_BYTES = 4096
LEFT_OVER = "left-over"


def sources_of(root: Root) -> tuple[Source, ...]:
    """Return what there is to ask of a machine: its own sources where we run on it or have its tree, and the
    reports that lie beside, be it in what the privileged capture brought."""
    if root.live:
        beside = () if root.privileged is None else _report_sources(Root(root.privileged))
        return SOURCES + tuple(source for source in beside if source.name != LEFT_OVER)
    reports = _report_sources(root)
    only_reports = any(source.name != LEFT_OVER for source in reports) and not _is_tree(root)
    return reports if only_reports else SOURCES + reports


def known_sources() -> tuple[Source, ...]:
    """Return every source whose replies can be parsed here, reports included."""
    taken = {source.name for source in SOURCES}
    reports = (_source(kind, ()) for kind in KINDS if kind.recognises and kind.name not in taken)
    return (*SOURCES, *reports, _left_over(()))


def _is_tree(root: Root) -> bool:
    return any(root.path(name).is_dir() for name in TREE_FOLDERS)


def _report_sources(root: Root) -> tuple[Source, ...]:
    found: dict[str, list[tuple[str, bytes]]] = {}
    left_over: list[tuple[str, bytes]] = []
    for name in names_in(root, "/")[:MOST_FILES]:
        if name == SIMULATED_MARK or not root.path(name).is_file():
            continue
        answer = read_file(root, f"/{name}", MOST_BYTES)
        kind = kind_of(name, answer.data) if answer.outcome is SourceOutcome.READ else None
        if kind is None:
            left_over.append((name, b""))
        else:
            found.setdefault(kind.name, []).append((name, answer.data))
    sources = [_source(kind, found[kind.name]) for kind in KINDS if kind.name in found]
    return (*sources, _left_over(left_over)) if left_over else tuple(sources)


def kind_of(name: str, data: bytes) -> Kind | None:
    """Return the kind of a file; None if it is none that is told by its content."""
    head = data[:HEAD_BYTES]
    return next((kind for kind in KINDS if kind.recognises and kind.recognises(name, head)), None)


def _source(kind: Kind, files: Sequence[tuple[str, bytes]]) -> Source:
    return Source(kind.name, partial(_replies, kind, files), kind.parse, limit_s=30.0)


def _replies(kind: Kind, files: Sequence[tuple[str, bytes]], root: Root) -> list[Reply]:
    del root  # the files were read when their kinds were told
    return [
        Reply(f"{kind.name}.{number}", f"/{name}", SourceOutcome.READ, kind.prepare(data), "", kind.suffix)
        for number, (name, data) in enumerate(files, 1)
    ]


def _left_over(files: Sequence[tuple[str, bytes]]) -> Source:
    """Files that no kind knows are named, so that nobody believes they were read."""

    def capture(root: Root) -> list[Reply]:
        del root
        names = "".join(f"{name}\n" for name, _ in files)
        return [Reply(LEFT_OVER, "/", SourceOutcome.READ, names.encode("utf-8", "replace"))]

    return Source(LEFT_OVER, capture, _parse_left_over)


def _parse_left_over(replies: tuple[Reply, ...]) -> Parsed:
    return Parsed(
        remarks=tuple(
            Remark(
                source=reply.id, kind=RemarkKind.NOT_UNDERSTOOD, where=name, detail="a file of no known kind"
            )
            for reply in replies
            for name in reply.data.decode("utf-8", "replace").splitlines()
        )
    )
