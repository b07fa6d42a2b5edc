"""Why a machine shows no part of a kind: is none there, or could nobody look?"""

from __future__ import annotations

from shipworthy.model.reading import Reading, SourceOutcome
from shipworthy.model.words import Absent, PartKind

# Where the kernel lists the parts of a kind; a row of the raw index says how asking for it ended.
_LISTINGS = {
    PartKind.PROCESSOR: "/proc/cpuinfo",
    PartKind.BOARD: "/sys/class/dmi/id",
    PartKind.MEMORY: "/proc/meminfo",
    PartKind.MEMORY_MODULE: "/sys/firmware/dmi/tables",
    PartKind.STORAGE: "/sys/block",
    PartKind.GRAPHICS: "/sys/bus/pci/devices",
    PartKind.NETWORK: "/sys/class/net",
    PartKind.DISPLAY: "/sys/class/drm",
    PartKind.OPTICAL_DRIVE: "/sys/block",
}
_NEVER_NONE = frozenset({PartKind.PROCESSOR, PartKind.BOARD, PartKind.MEMORY, PartKind.MEMORY_MODULE})


def why_none(reading: Reading, kind: PartKind) -> Absent:
    """Return NOT_FITTED if the list of such parts was read and is empty, else why nobody can tell."""
    if kind is PartKind.DISPLAY and are_jacks_hidden(reading):
        return Absent.NOT_OFFERED
    listing = _LISTINGS.get(kind, "")
    rows = [row for row in reading.sources if listing and _below(row.locator, listing)]
    if not rows:
        return Absent.NOT_ASKED
    exact = [row for row in rows if row.locator == listing]
    outcomes = {row.outcome for row in exact or rows}
    if outcomes & {SourceOutcome.REFUSED, SourceOutcome.FAILED}:
        return Absent.NOT_READABLE
    if outcomes & {SourceOutcome.READ, SourceOutcome.EMPTY}:
        return Absent.NOT_OFFERED if kind in _NEVER_NONE else Absent.NOT_FITTED
    return Absent.NOT_OFFERED


def are_jacks_hidden(reading: Reading) -> bool:
    """Whether a graphics device shows no jack: there is no driver for it, or one that keeps its jacks to
    itself (NVIDIA's without mode setting; from memory). What hangs on it is then not seen, and may be there.

    A 3D controller (class 0302) has no jacks of its own.
    """
    cards = {port.place.split("-", 1)[0] for port in reading.ports if port.place.startswith("drm:")}
    devices = [p for p in reading.of_kind(PartKind.GRAPHICS) if not p.text("class").startswith("0x0302")]
    return len(cards) < len(devices)


def _below(locator: str, listing: str) -> bool:
    return locator == listing or locator.startswith(listing + "/")
