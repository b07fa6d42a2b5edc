"""Tell that two sources speak of one part though they know it at different places.

Firmware counts sockets and slots in its own way, a module's SPD hangs on a bus, and a report of another tool
knows a drive by its nickname alone. What pairs them is the serial; where none does, they stay apart.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

import msgspec

from shipworthy.machine.parse import spd_pairs
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_NICKNAME = "node:"


def natural(text: str) -> tuple[tuple[int, int | str], ...]:
    """Return a key that puts `cpu:10` after `cpu:9`."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple((0, int(piece)) if piece[0].isdigit() else (1, piece) for piece in pieces)


def paired(sightings: Sequence[Sighting]) -> list[Sighting]:
    """Return the sightings with one place for what is one part, as far as that can be told."""
    return _drives(_modules(_processors(sightings)))


def _moved(sighting: Sighting, place: str) -> Sighting:
    return msgspec.structs.replace(sighting, place=place, also_at=(*sighting.also_at, sighting.place))


def _processors(sightings: Sequence[Sighting]) -> list[Sighting]:
    """The firmware counts sockets in an order of its own and does not know the kernel's numbers. Where both
    know equally many processors they are taken in order, which is exact for one; else they stay apart."""
    kernel = {s.place for s in sightings if s.kind is PartKind.PROCESSOR and s.place.startswith("socket:")}
    firmware = {s.place for s in sightings if s.place.startswith("smbios-processor:")}
    if len(kernel) != len(firmware):
        return list(sightings)
    pairs = dict(zip(sorted(firmware, key=natural), sorted(kernel, key=natural), strict=True))
    return [_moved(s, pairs[s.place]) if s.place in pairs else s for s in sightings]


def _modules(sightings: list[Sighting]) -> list[Sighting]:
    """An SPD that no slot can be told for is a part of its own kind, so that no module is counted twice."""
    modules = [s for s in sightings if s.kind is PartKind.MEMORY_MODULE]
    chips = [s for s in modules if _is_spd(s)]
    slots = list({s.place: s for s in modules if not _is_spd(s) and _fitted(s)}.values())
    if not slots or not chips:
        return sightings
    pairs = spd_pairs.pairs(slots, chips)

    def placed(sighting: Sighting) -> Sighting:
        if sighting not in chips:
            return sighting
        if sighting.place in pairs:
            return _moved(sighting, pairs[sighting.place])
        return msgspec.structs.replace(sighting, kind=PartKind.UNPLACED_MODULE)

    return [placed(s) for s in sightings]


def _drives(sightings: list[Sighting]) -> list[Sighting]:
    """A drive known by its nickname is the wired one with the same serial, if exactly one has it."""
    drives = [s for s in sightings if s.kind is PartKind.STORAGE]
    wired = {s.place: s for s in drives if not s.place.startswith(_NICKNAME) and _text(s, "serial")}
    named = {s.place: s for s in drives if s.place.startswith(_NICKNAME) and _text(s, "serial")}
    pairs = _matched(named, wired, lambda name, wire: _serial(name) == _serial(wire))
    return [_moved(s, pairs[s.place]) if s.place in pairs else s for s in sightings]


def _matched(
    ones: dict[str, Sighting], others: dict[str, Sighting], match: Callable[[Sighting, Sighting], bool]
) -> dict[str, str]:
    """Return which place of `ones` is which of `others`, where both find exactly each other."""
    found = {place: [p for p, other in others.items() if match(one, other)] for place, one in ones.items()}
    taken: dict[str, int] = {}
    for places in found.values():
        for place in places:
            taken[place] = taken.get(place, 0) + 1
    return {one: places[0] for one, places in found.items() if len(places) == 1 and taken[places[0]] == 1}


def _is_spd(sighting: Sighting) -> bool:
    return sighting.source.split(".", 1)[0] == "spd"


def _fitted(sighting: Sighting) -> bool:
    return all(said.absent is not Absent.NOT_FITTED for said in _named(sighting, "size_bytes"))


def _named(sighting: Sighting, name: str) -> Iterable[Said]:
    return (said for said in sighting.said if said.name == name)


def _text(sighting: Sighting, name: str) -> str:
    value = next((said.value for said in _named(sighting, name)), None)
    return "" if value is None else str(value)


def _serial(sighting: Sighting) -> str:
    return re.sub(r"[^0-9A-Z]", "", _text(sighting, "serial").upper())
