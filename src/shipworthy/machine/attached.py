"""The drives that are attached right now: place, today's kernel name, serial and size, as sysfs has them."""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.capture.block import capture
from shipworthy.machine.parse.block import parse
from shipworthy.machine.root import Root
from shipworthy.model.words import PartKind


@dataclass(frozen=True)
class Attached:
    """One drive. place: as the reading names it. kernel_name: a nickname, which changes. serial: empty where
    it shows none. size_bytes: 0 where it has no medium."""

    place: str
    kernel_name: str
    serial: str
    size_bytes: int


def attached_drives(root: Root) -> tuple[Attached, ...]:
    """Return the drives of a machine in the order of their kernel names. It takes some milliseconds."""
    found = []
    for sighting in parse(tuple(capture(root))).sightings:
        if sighting.kind is PartKind.STORAGE:
            said = {one.name: one.value for one in sighting.said}
            size = said.get("size_bytes")
            found.append(
                Attached(
                    place=sighting.place,
                    kernel_name=str(said["kernel_name"]),
                    serial=str(said.get("serial") or "").strip(),
                    size_bytes=int(size) if isinstance(size, int | float) else 0,
                )
            )
    return tuple(found)
