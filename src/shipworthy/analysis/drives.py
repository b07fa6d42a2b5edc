"""Drives that got worse under load by their own word: the worst that each said, against how it began."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.analysis.complaints import named
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Happened
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Outcome

DRIVE = "drive.health"
WEAR, SPARE, LINK = "percentage used", "available spare", "link errors"
STEP_PERCENT = 1
"""Wear, and spare, may move by one in a burn-in: its own writing is what a drive is for."""
WELL = ("none", "passed")
"""What a drive says of itself in words when nothing is wrong (`machine.health`)."""


def drive_findings(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """Return a difference for each attribute that was worse at any time than when the burn-in began.

    At any time: a sector that waited and was written again, or a warning that went when the drive had cooled,
    is no matter of the past.
    """
    groups: dict[tuple[str, str, str], list[Happened]] = {}
    for event in events:
        if event.code == DRIVE:
            key = (event.text("attribute"), event.text("place"), event.text("serial"))
            groups.setdefault(key, []).append(event)
    for (attribute, place, serial), told in groups.items():
        before = told[0].said.get("before", 0)
        worst = max(told, key=lambda event: _worse_by(attribute, before, event.said.get("now", 0)))
        now = worst.said.get("now", 0)
        if _worse_by(attribute, before, now) <= 0:
            continue
        yield basis.finding(
            "health.drive-link" if attribute == LINK else "health.drive",
            Outcome.DIFFERS,
            Aspect.HEALTH,
            of_part=place,
            attribute=attribute,
            place=named(place),
            serial=serial,
            before=before,
            now=now,
        )


def _worse_by(attribute: str, before: Scalar, now: Scalar) -> float:
    """Return how much worse an attribute is than before, in its own numbers; 0 and less: it is not."""
    if isinstance(before, str) or isinstance(now, str):
        return float(len(_words(now) - _words(before)))
    rise = float(now) - float(before)
    if attribute == WEAR:
        return rise - STEP_PERCENT
    return -rise - STEP_PERCENT if attribute == SPARE else rise


def _words(said: Scalar) -> set[str]:
    return set(str(said).split(", ")) - set(WELL)
