"""Which SPD lies in which slot of the firmware's: nobody says so, it has to be told from what both say.

An SPD has an address on a bus, a slot has a name on the board; how the two go together is the board's own
business. Both name the module, though, in serial, part number and size.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shipworthy.machine.parse.spd.source import same_serial
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Sighting

Alike = Callable[[Sighting, Sighting], bool]


def pairs(slots: Sequence[Sighting], modules: Sequence[Sighting]) -> dict[str, str]:
    """Return the slot's place by the place of the SPD in it, for those that can be told.

    slots: the firmware's sightings of slots that hold something. modules: those of SPDs. A pair is one where
    neither fits any other that is left: by serial; then by part number and size; then by what does not speak
    against it, which is elimination. Modules that are alike in all of it are not paired, as any of them may
    lie in any of the slots.
    """
    found: dict[str, str] = {}
    for alike in (_serial, _part_and_size, _nothing_against):
        while new := _only_fits(slots, modules, found, alike):
            found |= new
    return found


def _only_fits(
    slots: Sequence[Sighting], modules: Sequence[Sighting], found: dict[str, str], alike: Alike
) -> dict[str, str]:
    free = [slot for slot in slots if slot.place not in found.values()]
    left = [module for module in modules if module.place not in found]
    fits = {m.place: [s for s in free if alike(s, m)] for m in left}
    wanted = [s.place for candidates in fits.values() for s in candidates]
    return {
        place: candidates[0].place
        for place, candidates in fits.items()
        if len(candidates) == 1 and wanted.count(candidates[0].place) == 1
    }


def _value(sighting: Sighting, name: str) -> Scalar | None:
    return next((field.value for field in sighting.said if field.name == name), None)


def _serial(slot: Sighting, module: Sighting) -> bool:
    a, b = _value(slot, "serial"), _value(module, "serial")
    return isinstance(a, str) and isinstance(b, str) and same_serial(a, b)


def _differ(slot: Sighting, module: Sighting, name: str) -> bool:
    """Return whether both say something, and not the same. Firmware pads, cuts and turns part numbers into
    capitals: a beginning of at least eight signs is the same."""
    a, b = _value(slot, name), _value(module, name)
    if a is None or b is None or a == b:
        return False
    if name != "part_number" or not isinstance(a, str) or not isinstance(b, str):
        return True
    one, other = sorted((a.strip().casefold(), b.strip().casefold()), key=len)
    return one != other and not (len(one) >= _SIGNS_THAT_TELL and other.startswith(one))


def _part_and_size(slot: Sighting, module: Sighting) -> bool:
    both = _value(slot, "part_number") is not None and _value(module, "part_number") is not None
    return both and not _differ(slot, module, "part_number") and not _differ(slot, module, "size_bytes")


def _nothing_against(slot: Sighting, module: Sighting) -> bool:
    return not any(_differ(slot, module, name) for name in ("part_number", "size_bytes", "type"))


_SIGNS_THAT_TELL = 8
