"""Which of the drives' health attributes changed since the segment's start. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.machine.health import DriveHealth
from shipworthy.model.base import Scalar, Value, values

Event = tuple[str, tuple[Value, ...]]


class HealthChanges:
    """Follows what drives say. A drive is the same one by its place and serial."""

    def __init__(self) -> None:
        self._start: dict[tuple[str, str, str], Scalar] = {}
        self._told: dict[tuple[str, str, str], Scalar] = {}
        self._not_read: set[str] = set()

    def look(self, drives: Iterable[DriveHealth]) -> list[Event]:
        """Take what all drives say and return the events: each change against the start, once."""
        events: list[Event] = []
        for drive in drives:
            if drive.why_not and drive.place not in self._not_read:
                self._not_read.add(drive.place)
                events.append(("drive.health-not-read", values(place=drive.place, why=drive.why_not)))
            events += (event for one in drive.attributes if (event := self._changed(drive, one)) is not None)
        return events

    def _changed(self, drive: DriveHealth, attribute: Value) -> Event | None:
        key = (drive.place, drive.serial, attribute.name)
        before = self._start.setdefault(key, attribute.value)
        if self._told.setdefault(key, before) == attribute.value:
            return None
        self._told[key] = attribute.value
        named = values(place=drive.place, serial=drive.serial, attribute=attribute.name)
        return ("drive.health", named + values(before=before, now=attribute.value))
