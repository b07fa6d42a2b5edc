"""Check a pack: the statement that `pack.jws` carries and signs, and the files beside it."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.attempt import PackStatement
from shipworthy.model.base import Trouble, decode
from shipworthy.record.checks import collisions, contents, odd_entries, presence, read_bounded, signer_of
from shipworthy.record.digests import Hashing
from shipworthy.record.faults import Fault, FaultKind, VerifyReport, fault, in_order
from shipworthy.record.keys import LONGEST_JWS_BYTES, TrustList, taken_apart
from shipworthy.record.layout import PACK_SEAL
from shipworthy.record.names import is_unsafe, printable
from shipworthy.record.tree import Entry, EntryKind, Tree


def check_pack(tree: Tree, entries: list[Entry], trust: TrustList | None) -> VerifyReport:
    """Return everything that is wrong with a pack; its digest is that of the record it was made from."""
    faults = list(odd_entries(entries))
    statement, signer = _statement(tree, entries, trust, faults)
    if statement is None:
        return VerifyReport(subject="pack", faults=in_order(faults), signer=signer)
    faults += _listing_faults(statement)
    named = {
        row.file: row.digest.removeprefix("sha512:") for row in statement.files if not is_unsafe(row.file)
    }
    sizes = {e.name: e.size_bytes for e in entries if e.kind is EntryKind.FILE and e.name in named}
    hashing = Hashing(tree, sizes.items())
    try:
        faults += presence(entries, {*named, PACK_SEAL})
        faults += collisions({*named, *(entry.name for entry in entries)})
        faults += contents(hashing, named)
    finally:
        hashing.close()
    return VerifyReport(
        subject="pack",
        faults=in_order(faults),
        signer=signer,
        digest=statement.record_digest,
        unit_id=printable(statement.unit_id),
        attempt_id=printable(statement.attempt_id),
        number=statement.number,
        files=len(sizes),
        size_bytes=sum(sizes.values()),
    )


def _statement(
    tree: Tree, entries: list[Entry], trust: TrustList | None, faults: list[Fault]
) -> tuple[PackStatement | None, str]:
    """Return what the pack says of itself, and who signed that (empty if nobody that we trust)."""
    kind = next((entry.kind for entry in entries if entry.name == PACK_SEAL), None)
    if kind is not EntryKind.FILE:
        faults.append(fault(FaultKind.SEAL_MISSING, PACK_SEAL))
        return None, ""
    data = read_bounded(tree, PACK_SEAL, LONGEST_JWS_BYTES, faults)
    if data is None:
        return None, ""
    try:
        payload, detached = taken_apart(data.decode("ascii", "replace"))
    except Trouble:
        faults.append(fault(FaultKind.SEAL_WRONG, PACK_SEAL))
        return None, ""
    signer = signer_of(payload, detached, PACK_SEAL, trust, faults)
    try:
        return decode(payload, PackStatement, PACK_SEAL), signer
    except Trouble:
        faults.append(fault(FaultKind.CONTENT, PACK_SEAL))
        return None, signer


def _listing_faults(statement: PackStatement) -> Iterator[Fault]:
    names = [row.file for row in statement.files]
    if not names:
        yield fault(FaultKind.EMPTY, PACK_SEAL)
    seen = {PACK_SEAL}
    for number, name in enumerate(names, 1):
        if is_unsafe(name):
            yield fault(FaultKind.UNSAFE_PATH, name, PACK_SEAL)
        if name in seen:
            yield fault(FaultKind.DOUBLE_ENTRY, PACK_SEAL, str(number))
        seen.add(name)
