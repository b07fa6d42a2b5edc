"""Comparing outside an attempt: an order with a reading, or a record with what the machine is now."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import msgspec

from shipworthy.compare import compare, with_substitutions
from shipworthy.jobs.catalogue import held_against
from shipworthy.jobs.known import known_to
from shipworthy.model.base import Scalar, Trouble, read_record
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Order
from shipworthy.model.policy import Policy
from shipworthy.model.reading import Reading
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import read_order


@dataclass(frozen=True)
class Change:
    """One item of the configuration that is not as it was; None where it is not there."""

    key: str
    was: Scalar | None
    now: Scalar | None


def order_of(path: Path, catalogue: Path | None = None) -> Order:
    """Return the order in a file, with its expectations; those of a part list too, if there is one."""
    order = with_expectations(read_order(path))
    looked_up = held_against(order, catalogue)
    return looked_up.order if looked_up else order


def compare_order(
    order: Path, reading: Path, policy: Policy, shop: Path | None = None, catalogue: Path | None = None
) -> Comparison:
    """Hold an order file against a reading's folder, with the substitutions that the policy allows.

    shop: folder of the list of the bench's own gear. No records are looked into: which of them would be of
    this very unit is not known here.
    """
    sold, found = order_of(order, catalogue), reading_in(reading)
    known = known_to(shop, None, found, "")
    comparison = compare(sold, found, policy.limits, ("reading/reading.json",), known)
    findings = with_substitutions(sold, comparison.findings, policy.substitutions)
    return msgspec.structs.replace(comparison, findings=findings)


def compare_readings(before: Path, now: Path) -> tuple[Change, ...]:
    """Return what changed in the configuration between two readings; either may be a sealed record."""
    changes = reading_in(before).configuration.changes_to(reading_in(now).configuration)
    return tuple(Change(*change) for change in changes)


def is_reading(path: Path) -> bool:
    """Whether a path is a reading's folder, a unit half's folder or a sealed record."""
    return any(place.is_file() for place in _places(path))


def reading_in(path: Path) -> Reading:
    """Return the reading in a folder: the last one of a record, or the only one of a unit half."""
    for place in _places(path):
        if place.is_file():
            return read_record(place, Reading)
    raise Trouble("holds no reading", path, "Name a folder made by `shipworthy read`, or a sealed record.")


def _places(path: Path) -> tuple[Path, ...]:
    """As shipped comes first: a record's reading at the end is what the customer got."""
    return (
        path / "data/reading-after/reading.json",
        path / "data/reading/reading.json",
        path / "reading/reading.json",
        path / "reading.json",
    )
