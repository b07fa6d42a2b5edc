"""Check a record or a pack, offline: every fault, by kind, whatever it is that was handed in.

Nothing that is checked is trusted: links are never followed, sizes are bounded, keys come from the trust
list alone, and what cannot be parsed is a fault like another. Hashing runs in threads while the rest is
looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import msgspec

from shipworthy.model.base import Trouble
from shipworthy.record.check_bag import check_bag
from shipworthy.record.check_pack import check_pack
from shipworthy.record.faults import Fault, FaultKind, VerifyReport, fault, in_order
from shipworthy.record.keys import TrustList
from shipworthy.record.layout import (
    BAGIT,
    MANIFEST,
    PACK_SEAL,
    PAYLOAD,
    TAG_MANIFEST,
    is_attempt_id,
    number_of,
)
from shipworthy.record.tree import Tree, said

_HEX = re.compile(r"(?:sha512:)?([0-9a-f]{128})")


@dataclass(frozen=True)
class _Expected:
    unit_id: str
    attempt: str | int
    digest: str


def verify(folder: Path, trust: TrustList | None, expect: str | None = None) -> VerifyReport:
    """Return what is wrong with a record or a pack; nothing, if it is as its signer sealed it.

    trust: whose seals count; without one, that is a fault too. expect: `UNIT/ATTEMPT/DIGEST`, as the shop
    gives it: tells an older attempt passed as the newest. Raises Trouble if there is no such folder, or
    for an `expect` of another form.
    """
    expected = None if expect is None else _parsed(expect)
    try:
        tree = Tree(folder)
    except OSError as error:
        raise Trouble(
            f"there is no record or pack to check: {said(error)}", folder, "Name the folder of one."
        ) from error
    with tree:
        entries = list(tree.entries())
        check = check_pack if _is_pack({entry.name for entry in entries}) else check_bag
        report = check(tree, entries, trust)
    against = [] if expected is None else list(_held_against(report, expected))
    return msgspec.structs.replace(report, faults=in_order([*report.faults, *against]))


def _is_pack(names: set[str]) -> bool:
    """A pack has a seal of its own name; one that lost it still looks nothing like a bag."""
    like_a_bag = bool(names & {BAGIT, PAYLOAD, MANIFEST, TAG_MANIFEST})
    return not like_a_bag and bool(names & {PACK_SEAL, "report.html", "report.pdf"})


def _parsed(expect: str) -> _Expected:
    parts = expect.split("/")
    match = _HEX.fullmatch(parts[-1])
    if len(parts) != 3 or match is None:
        raise _bad_expectation(expect)
    unit_id, attempt, _ = parts
    if is_attempt_id(attempt):
        return _Expected(unit_id, attempt, f"sha512:{match[1]}")
    number = number_of(attempt) or (int(attempt) if re.fullmatch("[0-9]{1,9}", attempt) else 0)
    if not number or not unit_id:
        raise _bad_expectation(expect)
    return _Expected(unit_id, number, f"sha512:{match[1]}")


def _bad_expectation(expect: str) -> Trouble:
    return Trouble(
        f"{expect!r} is not an expectation",
        "",
        "Write UNIT/attempt-NNN/sha512:DIGEST, all three as the shop gave them.",
    )


def _held_against(report: VerifyReport, expected: _Expected) -> Iterable[Fault]:
    found = report.attempt_id if isinstance(expected.attempt, str) else report.number
    if report.unit_id != expected.unit_id:
        yield fault(FaultKind.OTHER_UNIT, detail=report.unit_id)
    if found != expected.attempt:
        yield fault(FaultKind.OTHER_ATTEMPT, detail=str(found))
    if report.digest != expected.digest:
        yield fault(FaultKind.OTHER_DIGEST, detail=report.digest)
