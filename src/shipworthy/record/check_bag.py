"""Check a record: a BagIt 1.0 bag in the form that `bag` writes (RFC 8493, section 3), and its seal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from shipworthy.model.attempt import Attempt
from shipworthy.model.base import Trouble, decode, digest_of
from shipworthy.record.checks import collisions, contents, odd_entries, presence, read_bounded, signer_of
from shipworthy.record.digests import Hashing
from shipworthy.record.faults import Fault, FaultKind, VerifyReport, fault, in_order
from shipworthy.record.info import DECLARATION, identity, read_info
from shipworthy.record.keys import LONGEST_JWS_BYTES, TrustList
from shipworthy.record.layout import (
    ATTEMPT_FILE,
    BAGIT,
    INFO,
    LISTED_TAGS,
    MANIFEST,
    PAYLOAD,
    SEAL,
    TAG_FILES,
    TAG_MANIFEST,
)
from shipworthy.record.manifest import Manifest, read_manifest
from shipworthy.record.names import is_unsafe, printable
from shipworthy.record.tree import Entry, EntryKind, Tree

_MOST_BYTES = {
    BAGIT: 4096,
    INFO: 65536,
    MANIFEST: 32 << 20,
    TAG_MANIFEST: 65536,
    SEAL: LONGEST_JWS_BYTES,
}
_MOST_ATTEMPT_BYTES = 1 << 20
_FETCH = "fetch.txt"
_ATTEMPT = f"{PAYLOAD}/{ATTEMPT_FILE}"


class _Payload(NamedTuple):
    """named: safe paths of the manifest and their digests. there: those that are regular files, and sizes."""

    named: Mapping[str, str]
    there: Mapping[str, int]


def check_bag(tree: Tree, entries: list[Entry], trust: TrustList | None) -> VerifyReport:
    """Return everything that is wrong with a record."""
    faults = list(odd_entries(entries))
    kinds = {entry.name: entry.kind for entry in entries}
    tags = _read_tags(tree, kinds, faults)
    manifest = read_manifest(tags.get(MANIFEST, b""))
    payload = _payload(manifest, entries)
    hashing = Hashing(tree, payload.there.items())
    try:
        faults += _tag_faults(tags)
        faults += _name_faults(manifest, payload, entries, listed=MANIFEST in tags)
        signer = _signer(tags, trust, faults)
        attempt = _attempt(tree, kinds, faults, named=_ATTEMPT in payload.named)
        faults += _info_faults(tags, attempt, entries)
        faults += contents(hashing, payload.named)
    finally:
        hashing.close()
    return VerifyReport(
        subject="record",
        faults=in_order(faults),
        signer=signer,
        digest=digest_of(tags[TAG_MANIFEST]) if TAG_MANIFEST in tags else "",
        unit_id="" if attempt is None else printable(attempt.unit_id),
        attempt_id="" if attempt is None else printable(attempt.attempt_id),
        number=0 if attempt is None else attempt.number,
        files=len(payload.there),
        size_bytes=sum(payload.there.values()),
    )


def _read_tags(tree: Tree, kinds: Mapping[str, EntryKind], faults: list[Fault]) -> dict[str, bytes]:
    tags = {}
    for name in TAG_FILES:
        if name not in kinds:
            faults.append(fault(FaultKind.SEAL_MISSING if name == SEAL else FaultKind.MISSING, name))
        elif kinds[name] is EntryKind.FOLDER:
            faults.append(fault(FaultKind.NOT_A_FILE, name))
        elif kinds[name] is EntryKind.FILE:
            data = read_bounded(tree, name, _MOST_BYTES[name], faults)
            if data is not None:
                tags[name] = data
    return tags


def _payload(manifest: Manifest, entries: list[Entry]) -> _Payload:
    below = f"{PAYLOAD}/"
    listed = manifest.digests.items()
    named = {name: digest for name, digest in listed if name.startswith(below) and not is_unsafe(name)}
    there = {e.name: e.size_bytes for e in entries if e.kind is EntryKind.FILE and e.name in named}
    return _Payload(named, there)


def _tag_faults(tags: Mapping[str, bytes]) -> Iterator[Fault]:
    if tags.get(BAGIT, DECLARATION) != DECLARATION:
        yield fault(FaultKind.DECLARATION, BAGIT)
    if TAG_MANIFEST not in tags:
        return
    listed = read_manifest(tags[TAG_MANIFEST])
    yield from _line_faults(TAG_MANIFEST, listed)
    for name in listed.digests.keys() ^ set(LISTED_TAGS):
        yield fault(FaultKind.TAG_LIST, TAG_MANIFEST, name)
    for name in LISTED_TAGS:
        if (
            name in tags
            and name in listed.digests
            and digest_of(tags[name]) != f"sha512:{listed.digests[name]}"
        ):
            yield fault(FaultKind.CHANGED, name)


def _line_faults(name: str, manifest: Manifest) -> Iterator[Fault]:
    for number in manifest.malformed:
        yield fault(FaultKind.MALFORMED_LINE, name, str(number))
    for number in manifest.doubled:
        yield fault(FaultKind.DOUBLE_ENTRY, name, str(number))


def _name_faults(
    manifest: Manifest, payload: _Payload, entries: list[Entry], *, listed: bool
) -> Iterator[Fault]:
    """listed: whether the manifest was read; without one, nothing can be called missing or unexpected."""
    yield from _line_faults(MANIFEST, manifest)
    for name in manifest.digests.keys() - payload.named.keys():
        yield fault(FaultKind.UNSAFE_PATH, name, MANIFEST)
    if any(entry.name == _FETCH for entry in entries):
        yield fault(FaultKind.FETCH, _FETCH)
    below = [entry for entry in entries if entry.name.startswith(f"{PAYLOAD}/")]
    beside = [entry for entry in entries if "/" not in entry.name]
    ours = {*TAG_FILES, PAYLOAD, _FETCH}
    yield from (
        fault(FaultKind.UNEXPECTED, entry.name)
        for entry in beside
        if entry.name not in ours and entry.kind in (EntryKind.FILE, EntryKind.FOLDER)
    )
    yield from collisions({*payload.named, *(entry.name for entry in entries)})
    if listed:
        yield from presence(below, payload.named)
        if not manifest.digests:
            yield fault(FaultKind.EMPTY, MANIFEST)


def _signer(tags: Mapping[str, bytes], trust: TrustList | None, faults: list[Fault]) -> str:
    if SEAL not in tags or TAG_MANIFEST not in tags:
        return ""
    signature = tags[SEAL].decode("ascii", "replace")
    return signer_of(tags[TAG_MANIFEST], signature, SEAL, trust, faults)


def _attempt(
    tree: Tree, kinds: Mapping[str, EntryKind], faults: list[Fault], *, named: bool
) -> Attempt | None:
    """named: whether the manifest names it; if it does and the file is not there, that is told already."""
    if kinds.get(_ATTEMPT) is not EntryKind.FILE:
        if _ATTEMPT not in kinds and not named:
            faults.append(fault(FaultKind.CONTENT, _ATTEMPT))
        return None
    data = read_bounded(tree, _ATTEMPT, _MOST_ATTEMPT_BYTES, faults)
    if data is None:
        return None
    try:
        return decode(data, Attempt, _ATTEMPT)
    except Trouble:
        faults.append(fault(FaultKind.CONTENT, _ATTEMPT))
        return None


def _info_faults(tags: Mapping[str, bytes], attempt: Attempt | None, entries: list[Entry]) -> Iterator[Fault]:
    if INFO not in tags:
        return
    labels = read_info(tags[INFO])
    if labels is None:
        yield fault(FaultKind.INFO, INFO)
        return
    files = [e for e in entries if e.kind is EntryKind.FILE and e.name.startswith(f"{PAYLOAD}/")]
    totals = f"{sum(entry.size_bytes for entry in files)}.{len(files)}"
    if labels.get("Payload-Oxum") != totals:
        yield fault(FaultKind.TOTALS, INFO, totals)
    if attempt is not None:
        said = {"External-Identifier": attempt.attempt_id, **identity(attempt)}
        for label in [label for label, value in said.items() if labels.get(label) != value]:
            yield fault(FaultKind.IDENTITY, INFO, label)
