"""Seal an attempt: make a BagIt 1.0 bag of it (RFC 8493), sign it, and let it appear in one rename."""

from __future__ import annotations

import os
from pathlib import Path

from shipworthy.model.base import Trouble
from shipworthy.record.attempt import OpenAttempt, all_records, remove_leftovers
from shipworthy.record.digests import Hashed, Hashing
from shipworthy.record.files import disk_trouble, make_folders, rename_no_replace, sync_folder, write_whole
from shipworthy.record.info import DECLARATION, write_info
from shipworthy.record.keys import SigningKey, sign_detached
from shipworthy.record.layout import (
    BAGIT,
    INFO,
    LISTED_TAGS,
    MANIFEST,
    PAYLOAD,
    SEAL,
    TAG_MANIFEST,
    sealed_folder,
)
from shipworthy.record.manifest import write_manifest
from shipworthy.record.names import check_name, printable
from shipworthy.record.tree import Entry, EntryKind, Tree


def seal(attempt: OpenAttempt, key: SigningKey | None) -> Path:
    """Seal and sign an open attempt, and return the folder of the record.

    The bag is made and brought to the disk where the attempt lies, then moved in one rename. A kill or a
    power cut at any moment leaves the attempt open (sealing it again starts afresh) or the record sealed
    and valid. Raises Trouble without a key, for a link or a device among the files, for a record that is
    there already, and for a disk that refuses; the attempt is then open as before.
    """
    if key is None:
        raise Trouble(
            "a record cannot be sealed without a key", attempt.root, "Make a key, or name its file."
        )
    attempt.close_logs()
    with disk_trouble(attempt.root):
        remove_leftovers(attempt.root)
        _remove_empty_folders(attempt.folder)
        _write_tags(attempt, key)
        sync_folder(attempt.root)
    return _move(attempt)


def _write_tags(attempt: OpenAttempt, key: SigningKey) -> None:
    with Tree(attempt.root) as tree:
        files = _payload(tree, attempt.root)
        hashed = _hash_durably(tree, files)
    info = write_info(
        attempt.attempt,
        sealed_on=attempt.clock.now().utc.date(),
        size_bytes=sum(file.size_bytes for file in files),
        files=len(files),
    )
    tags = {
        BAGIT: DECLARATION,
        INFO: info,
        MANIFEST: write_manifest((row.name, row.hexdigest) for row in hashed),
    }
    for name, data in tags.items():
        write_whole(attempt.root / name, data)
    with Tree(attempt.root) as tree:
        listed = _hash_durably(tree, [Entry(name, EntryKind.FILE, len(tags[name])) for name in LISTED_TAGS])
    tag_manifest = write_manifest((row.name, row.hexdigest) for row in listed)
    write_whole(attempt.root / TAG_MANIFEST, tag_manifest)
    write_whole(attempt.root / SEAL, sign_detached(tag_manifest, key).encode("ascii"))


def _payload(tree: Tree, where: Path) -> list[Entry]:
    """Return the files to list; Trouble for anything that a record cannot hold."""
    files = []
    for entry in tree.entries():
        if entry.kind is EntryKind.FOLDER:
            continue
        if entry.kind is not EntryKind.FILE or not entry.name.startswith(f"{PAYLOAD}/"):
            raise Trouble(
                f"{printable(entry.name)!r} cannot be part of a record",
                where,
                "Move it elsewhere, then seal.",
            )
        check_name(entry.name)
        files.append(entry)
    return files


def _hash_durably(tree: Tree, files: list[Entry]) -> list[Hashed]:
    hashing = Hashing(tree, [(file.name, file.size_bytes) for file in files], also=os.fsync)
    try:
        hashed = list(hashing.results())
    finally:
        hashing.close()
    for row in hashed:
        if row.error:
            raise Trouble(f"cannot read {row.name}: {row.error}", "", "Check the disk, then seal again.")
    return hashed


def _remove_empty_folders(folder: Path) -> None:
    """Remove folders without files (a bag lists files alone), and make the names in the others durable."""
    for path, _, _ in os.walk(folder, topdown=False):
        if any(Path(path).iterdir()) or path == str(folder):
            sync_folder(Path(path))
        else:
            Path(path).rmdir()


def _move(attempt: OpenAttempt) -> Path:
    target = sealed_folder(attempt.records, attempt.attempt.unit_id, attempt.attempt.number)
    with all_records(attempt.records):
        make_folders(target.parent)
        try:
            rename_no_replace(attempt.root, target)
        except FileExistsError as error:
            raise Trouble(
                "there is a record already", target, "Open a new attempt; a record is final."
            ) from error
        sync_folder(target.parent)
        sync_folder(attempt.root.parent)
        attempt.forget_lock()
    return target
