"""What is on the drives that were sold, and whether the system that runs was started from one of them.

A machine on the bench often runs a system of the bench's own, from a stick. Only one that runs from drives of
which every one stands for an order line is taken for the system that is delivered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from shipworthy.model.facts import Part
from shipworthy.model.orders import OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import CARRIED, Category, PartKind

_NONE = "none"
ENCRYPTED = frozenset({"crypto_LUKS", "BitLocker"})
"""libblkid's names of what hides a file system (from memory)."""


class Contents(Enum):
    NOTHING = "nothing"
    SOMETHING = "something"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Delivered:
    """drives: those that stand for a line, in order of place. runs_from: places of the drives below the root
    of the system that runs; empty where none can be told."""

    drives: tuple[Part, ...]
    system: Part | None
    runs_from: frozenset[str]

    @property
    def runs(self) -> bool:
        """Whether the system that runs is on the drives that were sold, and on no other."""
        return bool(self.runs_from) and self.runs_from <= {
            place for d in self.drives for place in places_of(d)
        }

    def holds_what_runs(self, drive: Part) -> bool:
        return bool(self.runs_from & set(places_of(drive)))

    def contents(self, drive: Part) -> Contents:
        """Return whether anything is on a drive, as far as the reading tells."""
        if self.holds_what_runs(drive) or (drive.number("partitions") or 0) > 0:
            return Contents.SOMETHING
        told = [drive.text("partition_table"), drive.text("file_systems")]
        if any(word not in ("", _NONE) for word in told):
            return Contents.SOMETHING
        looked = drive.number("partitions") == 0 and told == [_NONE, _NONE]
        return Contents.NOTHING if looked else Contents.UNKNOWN


def delivered_of(reading: Reading, owners: Mapping[str, OrderLine]) -> Delivered:
    """Return what is delivered. owners: the order line of each place that has one."""
    drives = [
        part
        for part in sorted(reading.of_kind(PartKind.STORAGE), key=lambda part: part.place)
        if (line := owners.get(part.place)) is not None and line.category is Category.STORAGE
    ]
    system = next(iter(reading.of_kind(PartKind.KERNEL)), None)
    places = system.text("system_on") if system is not None else ""
    return Delivered(tuple(drives), system, frozenset(filter(None, places.split(", "))))


def places_of(drive: Part) -> tuple[str, ...]:
    return (drive.place, *drive.also_at)


def is_carried(drive: Part) -> bool:
    """Whether a drive is one to carry about: its maker may sell it formatted (common practice)."""
    return drive.text("interface") in CARRIED


def file_systems(drive: Part) -> tuple[str, ...] | None:
    """Return the signatures that were found on a drive; None where nobody looked."""
    said = drive.text("file_systems")
    if not said:
        return None
    return () if said == _NONE else tuple(said.split(", "))


def in_words(drive: Part, *, runs: bool) -> str:
    """Return what is on a drive: `2 partitions (gpt), vfat, ext4`."""
    count = drive.number("partitions")
    parts = [f"{count} partition{'s' if count != 1 else ''}"] if count else []
    parts += [
        word
        for word in (drive.text("partition_table"), drive.text("file_systems"))
        if word not in ("", _NONE)
    ]
    if runs:
        parts.append("the system that runs now")
    return ", ".join(parts)
