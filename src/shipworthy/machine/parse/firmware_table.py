"""What holds for the firmware's table, be it read from its bytes (SMBIOS) or from dmidecode's text of them.

Standard: DMTF DSP0134 (System Management BIOS). The bounds are our own: beyond them is no value of a PC.
"""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.machine.listing import said
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

LEAST_C, MOST_C = -60.0, 200.0  # beyond what any part of a PC is made for
MOST_RPM = 30_000  # fans of 40 mm in servers reach 25 000 to 28 000 (common practice)
MOST_WATTS = 10_000
MOST_MWH = 1_000_000
MOST_MILLIVOLTS = 60_000  # the most that counts as safe to touch: no voltage of a module


def at_most(most: int, value: int | Absent) -> int | Absent:
    """Return a number that may be so large; a larger one is implausible."""
    return Absent.IMPLAUSIBLE if not isinstance(value, Absent) and value > most else value


def plausible_c(degrees: float) -> float | Absent:
    """Return degrees Celsius as a part of a PC can have."""
    return degrees if LEAST_C <= degrees <= MOST_C else Absent.IMPLAUSIBLE


def plausible_millivolts(millivolts: int) -> int | Absent:
    """Return the voltage of a module; 0 is not offered."""
    return millivolts or Absent.NOT_OFFERED if millivolts < MOST_MILLIVOLTS else Absent.IMPLAUSIBLE


def memory_facts(
    slots: int, sizes: Sequence[int | Absent], capacities: Sequence[int | Absent], correction: str | Absent
) -> tuple[Said, ...]:
    """Return the memory as a whole (7.17, 7.18), by the sizes of its modules and what its arrays can hold.

    slots: what the arrays say that they have, or as many as are listed, if that is more. fitted_bytes and
    modules: of the slots that hold something; one unknown size makes the sum unknown.
    """
    fitted = [size for size in sizes if size is not Absent.NOT_FITTED]
    known = [size for size in fitted if not isinstance(size, Absent)]
    all_known = bool(known) and len(known) == len(fitted)
    capacity = sum(one for one in capacities if not isinstance(one, Absent))
    return (
        said("fitted_bytes", sum(known) if all_known else Absent.NOT_OFFERED),
        said("modules", len(fitted) if sizes else Absent.NOT_OFFERED),
        said("slots", max(slots, len(sizes)) or Absent.NOT_OFFERED),
        said("capacity_bytes", capacity or Absent.NOT_OFFERED),
        said("error_correction", correction),
    )
