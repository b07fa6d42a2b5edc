"""Which module answers for a physical address, as far as the firmware's table tells.

SMBIOS type 20 gives each module the addresses it answers for; modules that are interleaved share them, and
which line lies in which is not told (DSP0134 7.21: position and depth, but no unit of interleaving). So a
module is meant only if no other can be. Type 19 tells of a whole array, and narrows nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from shipworthy.machine.capture.firmware import capture_smbios
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.root import Root
from shipworthy.model.facts import Sighting
from shipworthy.model.words import Absent, PartKind


@dataclass(frozen=True)
class Range:
    """Addresses that a module answers for, both ends included. shared: the table says that it is
    interleaved with others."""

    first: int
    last: int
    place: str
    shared: bool = False


@dataclass(frozen=True)
class Modules:
    """The fitted modules' places, and the addresses of those that the table gives any."""

    fitted: tuple[str, ...] = ()
    ranges: tuple[Range, ...] = ()

    def candidates(self, address: int) -> tuple[str, ...]:
        """Return the places of all modules that can hold a physical address; none if the table names none."""
        if self.ranges:
            return tuple(dict.fromkeys(r.place for r in self._over(address)))
        return self.fitted

    def meant(self, address: int) -> str:
        """Return the one module that can hold it; nothing if there are several, or may be.

        A table that leaves out a fitted module, or says anywhere that modules share addresses, is believed
        nowhere: firmware often writes ranges one behind the other for modules that are interleaved (seen in
        the reference tables).
        """
        if len(self.fitted) == 1:
            return self.fitted[0]
        names = self.candidates(address)
        return names[0] if len(names) == 1 and self._apart else ""

    @property
    def _apart(self) -> bool:
        """Whether every fitted module has addresses of its own."""
        ordered = sorted(self.ranges, key=lambda r: r.first)
        overlap = any(one.last >= other.first for one, other in pairwise(ordered))
        complete = {r.place for r in self.ranges} == set(self.fitted)
        return complete and not overlap and not any(r.shared for r in self.ranges)

    def _over(self, address: int) -> list[Range]:
        return [r for r in self.ranges if r.first <= address <= r.last]


def modules_of(root: Root) -> Modules:
    """Read the machine's table, which is for root alone; without it no module is known."""
    return modules_in(smbios.parse(tuple(capture_smbios(root))).sightings)


def modules_in(sightings: Iterable[Sighting]) -> Modules:
    """Return modules and ranges of an SMBIOS reading; a range without ends or module is left out."""
    fitted, ranges = [], []
    for seen in sightings:
        told = {said.name: said for said in seen.said}
        if seen.kind is PartKind.MEMORY_MODULE and told["size_bytes"].absent is not Absent.NOT_FITTED:
            fitted.append(seen.place)
        if seen.kind is PartKind.MEMORY_RANGE and (module := told.get("module")) and module.value:
            first, last = told["first_address"].value, told["last_address"].value
            if first and last:
                shared = told["interleave_position"].value is not None
                ranges.append(Range(int(str(first), 16), int(str(last), 16), str(module.value), shared))
    return Modules(tuple(fitted), tuple(ranges))
