"""What can be wrong with a record or a pack: a closed set of kinds, each with a sentence in `messages`."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from shipworthy.model.base import Record, Value, values
from shipworthy.record.names import printable


class FaultKind(StrEnum):
    """Beside each kind: what `detail` holds, where it holds anything."""

    MISSING = "missing"
    UNEXPECTED = "unexpected"  # a file, or a folder without a named file in it
    CHANGED = "changed"
    UNREADABLE = "unreadable"  # the system's word
    UNSAFE_PATH = "unsafe path"  # the list it stands in
    LINK = "link"
    NOT_A_FILE = "not a file"  # a device, a pipe, a socket; or a folder where a file is named
    COLLISION = "collision"  # the other name
    MALFORMED_LINE = "malformed line"  # the line's number
    DOUBLE_ENTRY = "double entry"  # the line's number
    TOO_LARGE = "too large"
    BEYOND_BOUNDS = "beyond bounds"
    DECLARATION = "declaration"  # bagit.txt is not BagIt 1.0 in UTF-8
    FETCH = "fetch"
    INFO = "info"  # bag-info.txt has not its form
    TOTALS = "totals"  # the totals found
    IDENTITY = "identity"  # the label of bag-info.txt that says otherwise than attempt.json
    TAG_LIST = "tag list"  # the tag file that it leaves out, or should not name
    CONTENT = "content"  # attempt.json, or a pack's statement, is not one
    EMPTY = "empty"
    SEAL_MISSING = "seal missing"
    SEAL_WRONG = "seal wrong"
    UNKNOWN_SIGNER = "unknown signer"  # the thumbprint of the key
    NO_TRUST_LIST = "no trust list"
    OTHER_UNIT = "other unit"  # the one found
    OTHER_ATTEMPT = "other attempt"  # the one found
    OTHER_DIGEST = "other digest"  # the one found


class Fault(Record):
    """One fault. file: whose, below the record's folder, made printable; empty for the whole."""

    kind: FaultKind
    file: str = ""
    detail: str = ""

    @property
    def code(self) -> str:
        """The code of its sentence."""
        return "record.fault." + self.kind.replace(" ", "-")

    @property
    def values(self) -> tuple[Value, ...]:
        """What its sentence is made with."""
        return values(file=self.file, detail=self.detail)


class VerifyReport(Record):
    """What checking a record or a pack showed. Without faults, it is as its signer sealed it.

    digest: of the record (its `tagmanifest-sha512.txt`), also for a pack; empty where it cannot be told,
    as unit_id, attempt_id and number (then 0). signer: the name in the trust list; empty if the seal is
    not one of theirs.
    """

    schema: Literal[1] = 1
    subject: Literal["record", "pack"]
    faults: tuple[Fault, ...]
    signer: str = ""
    digest: str = ""
    unit_id: str = ""
    attempt_id: str = ""
    number: int = 0
    files: int = 0
    size_bytes: int = 0

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults


def fault(kind: FaultKind, file: str = "", detail: str = "") -> Fault:
    """Return a fault; names come from outside and are made printable."""
    return Fault(kind=kind, file=printable(file), detail=printable(detail))


def in_order(faults: list[Fault]) -> tuple[Fault, ...]:
    """Return the faults once each, ordered by file and kind."""
    return tuple(sorted(set(faults), key=lambda row: (row.file, row.kind, row.detail)))
