"""Where things lie in the folder of records (ADR 0012)."""

from __future__ import annotations

import re
from pathlib import Path

from shipworthy.model.base import Trouble
from shipworthy.record.names import folded, may_store, printable

PAYLOAD = "data"
ATTEMPT_FILE = "attempt.json"
STEPS_FILE = "steps.jsonl"
BAGIT, INFO, SEAL = "bagit.txt", "bag-info.txt", "seal.jws"
MANIFEST, TAG_MANIFEST = "manifest-sha512.txt", "tagmanifest-sha512.txt"
LISTED_TAGS = (BAGIT, INFO, MANIFEST)
TAG_FILES = (*LISTED_TAGS, TAG_MANIFEST, SEAL)
"""In the order they are written: each stands on those before it."""

PACK_SEAL = "pack.jws"

_ATTEMPT_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_SEALED = re.compile(r"attempt-([0-9]{3,9})")


def open_folder(records: Path) -> Path:
    """Return the folder of the attempts in progress."""
    return records / ".open"


def sealed_folder(records: Path, unit_id: str, number: int) -> Path:
    """Return where an attempt lies once it is sealed."""
    return records / unit_id / f"attempt-{number:03d}"


def is_attempt_id(text: str) -> bool:
    """Whether the text is a UUID as we write it."""
    return _ATTEMPT_ID.fullmatch(text) is not None


def number_of(folder_name: str) -> int | None:
    """Return the number in `attempt-001`; None for any other name."""
    match = _SEALED.fullmatch(folder_name)
    return int(match[1]) if match else None


def check_unit_id(records: Path, unit_id: str) -> None:
    """Raise Trouble for a unit id that cannot name a folder, or that differs from another only by case."""
    if "/" in unit_id or not may_store(unit_id):
        raise Trouble(
            f"the unit id {printable(unit_id)!r} cannot name a folder",
            "",
            "Use letters, digits, dots, dashes and underscores, and no dot at the start or end.",
        )
    if not records.is_dir():
        return
    for entry in records.iterdir():
        if entry.name != unit_id and folded(entry.name) == folded(unit_id):
            raise Trouble(
                f"the unit ids {unit_id!r} and {entry.name!r} differ only by case",
                records,
                "Change one of them.",
            )
