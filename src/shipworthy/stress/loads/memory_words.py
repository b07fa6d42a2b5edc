"""What a wrong word of memory tells: which bits and byte lanes, whether it stays wrong, where it lies.

A word that was not as expected is read twice more, past the caches where the processor lets a program do so
(march_kernels). What should have been there is worked out anew from the sequence: the check can be wrong too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from shipworthy.machine.root import LIVE
from shipworthy.stress.loads.memory_modules import Modules, modules_of
from shipworthy.stress.protocol import Wrong

ONCE = "memory word read wrongly once"
STAYS = "memory word that stays wrong"
CHANGES = "memory word that reads differently each time"
CHECK = "the check itself"
CANDIDATES_MOST = 4


@dataclass(frozen=True)
class Found:
    """A word that a loop found wrong. expected: as the loop held it; again: what two more reads gave."""

    offset_bytes: int
    expected: int
    found: int
    again: tuple[int, int]


def kind_of(found: Found, expected: int) -> str:
    """Return what is wrong. expected: worked out anew, not as the loop held it."""
    if found.expected != expected or found.found == expected:
        return CHECK
    if found.again == (expected, expected):
        return ONCE
    return STAYS if found.again == (found.found, found.found) else CHANGES


def lanes_of(differing: int) -> str:
    """Return the bits of 64 that differ, and the byte lanes (bits 8k to 8k + 7 are lane k) they lie in."""
    bits = [bit for bit in range(64) if differing >> bit & 1]
    lanes = sorted({bit // 8 for bit in bits})
    told = f"{'bit' if len(bits) == 1 else 'bits'} {_runs(bits)}" if bits else "no bit"
    if not lanes:
        return told
    return f"{told}, byte {'lane' if len(lanes) == 1 else 'lanes'} {_runs(lanes)}"


def _runs(numbers: list[int]) -> str:
    """Return numbers in order, runs of three and more as `first–last`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


class Words:
    """Makes reports of wrong words. The firmware's table is read when the first one needs it."""

    def __init__(
        self,
        physical_address: Callable[[int], int | None],
        read_modules: Callable[[], Modules] = lambda: modules_of(LIVE),
    ) -> None:
        self._physical_address, self._read_modules = physical_address, read_modules

    @cached_property
    def _modules(self) -> Modules:
        return self._read_modules()

    def report(self, found: Found, expected: int, during: str) -> Wrong:
        """Return the report of one wrong word. during: the pass, and what memory had to hold."""
        what = kind_of(found, expected)
        if what == CHECK:
            return self._of_check(found, expected, during)
        lanes = lanes_of(expected ^ found.found)
        place, part = self._place(found.offset_bytes)
        return Wrong(
            what=f"{what}, in {during}",
            where=f"offset 0x{found.offset_bytes:x}, {lanes}, {place}",
            expected=f"0x{expected:016x}",
            found=f"0x{found.found:016x}",
            part=part,
        )

    def _of_check(self, found: Found, expected: int, during: str) -> Wrong:
        """The loop expected something else than the sequence says, or called right words wrong."""
        held = found.expected if found.expected != expected else found.found
        lanes = lanes_of(expected ^ held)
        return Wrong(
            what=f"{CHECK}, in {during}: not the memory",
            where=f"what the loop compared with at offset 0x{found.offset_bytes:x}, {lanes}",
            expected=f"0x{expected:016x}",
            found=f"0x{held:016x}",
        )

    def _place(self, offset_bytes: int) -> tuple[str, str]:
        physical = self._physical_address(offset_bytes)
        if physical is None:
            return "physical address not told", ""
        where, modules = f"physical address 0x{physical:x}", self._modules
        if part := modules.meant(physical):
            return f"{where}, module {part}", part
        names = modules.candidates(physical)
        if not names:
            return f"{where}, no module known for it", ""
        more = f" and {len(names) - CANDIDATES_MOST} more" if len(names) > CANDIDATES_MOST else ""
        return f"{where}, one of the modules {', '.join(names[:CANDIDATES_MOST])}{more}", ""
