"""Checks that records and packs have in common. Each yields faults and raises nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from shipworthy.record.digests import Hashing
from shipworthy.record.faults import Fault, FaultKind, fault
from shipworthy.record.keys import SealWrong, SignerUnknown, TrustList, verify_detached
from shipworthy.record.names import folded
from shipworthy.record.tree import Entry, EntryKind, TooLarge, Tree, said

_BY_ENTRY = {
    EntryKind.LINK: FaultKind.LINK,
    EntryKind.OTHER: FaultKind.NOT_A_FILE,
    EntryKind.UNREADABLE: FaultKind.UNREADABLE,
    EntryKind.BEYOND_BOUNDS: FaultKind.BEYOND_BOUNDS,
}


def odd_entries(entries: Iterable[Entry]) -> Iterator[Fault]:
    """Links, devices, what cannot be looked into, and what goes beyond our bounds."""
    for entry in entries:
        if entry.kind in _BY_ENTRY:
            yield fault(_BY_ENTRY[entry.kind], entry.name, entry.error)


def collisions(names: Iterable[str]) -> Iterator[Fault]:
    """Names, or their folders, that are one on a file system without case or with another Unicode form."""
    first: dict[str, str] = {}
    for name in sorted(_with_folders(names)):
        other = first.setdefault(folded(name), name)
        if other != name:
            yield fault(FaultKind.COLLISION, name, other)


def _with_folders(names: Iterable[str]) -> set[str]:
    every = set(names)
    for name in list(every):
        folder = name.rpartition("/")[0]
        while folder and folder not in every:
            every.add(folder)
            folder = folder.rpartition("/")[0]
    return every


def presence(entries: Iterable[Entry], named: Iterable[str]) -> Iterator[Fault]:
    """What is named and not there, and what is there and not named; links and devices are told elsewhere."""
    wanted = set(named)
    folders = _with_folders(wanted) - wanted
    kinds = {entry.name: entry.kind for entry in entries}
    for name in wanted - kinds.keys():
        yield fault(FaultKind.MISSING, name)
    for name, kind in kinds.items():
        if kind is EntryKind.FOLDER and name in wanted:
            yield fault(FaultKind.NOT_A_FILE, name)
        elif (kind is EntryKind.FILE and name not in wanted) or (
            kind is EntryKind.FOLDER and name not in folders
        ):
            yield fault(FaultKind.UNEXPECTED, name)


def contents(hashing: Hashing, digests: Mapping[str, str]) -> Iterator[Fault]:
    """Files whose bytes are not those of their digest (hex), or cannot be read."""
    for row in hashing.results():
        if row.error:
            yield fault(FaultKind.UNREADABLE, row.name, row.error)
        elif row.hexdigest != digests[row.name]:
            yield fault(FaultKind.CHANGED, row.name)


def read_bounded(tree: Tree, name: str, most_bytes: int, faults: list[Fault]) -> bytes | None:
    """Return a file's bytes; None, and a fault added, if there are too many or it cannot be read."""
    try:
        return tree.read(name, most_bytes)
    except TooLarge:
        faults.append(fault(FaultKind.TOO_LARGE, name))
    except OSError as error:
        faults.append(fault(FaultKind.UNREADABLE, name, said(error)))
    return None


def signer_of(payload: bytes, signature: str, name: str, trust: TrustList | None, faults: list[Fault]) -> str:
    """Return whose signature it is; empty, and a fault added, if it is nobody's that we trust."""
    if trust is None:
        faults.append(fault(FaultKind.NO_TRUST_LIST, name))
        return ""
    try:
        return verify_detached(payload, signature, trust)
    except SignerUnknown as unknown:
        faults.append(fault(FaultKind.UNKNOWN_SIGNER, name, unknown.kid))
    except SealWrong:
        faults.append(fault(FaultKind.SEAL_WRONG, name))
    return ""
