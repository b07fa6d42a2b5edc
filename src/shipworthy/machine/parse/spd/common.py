"""What the generations of a memory module's SPD share: checksums, times, maker, date, serial, part number.

Standard: JEDEC JESD21-C, 4.1.2.11 (DDR3) and 4.1.2.L (DDR4), and JESD400-5 (DDR5). Offsets and rules as in
the project's check values (memory.md), in the reference decoder decode-dimms 4.3, and, named where they are
used, in open firmware. SPD is Serial Presence Detect: a small memory on the module that its maker wrote.
"""

from __future__ import annotations

import binascii
from collections.abc import Sequence
from dataclasses import dataclass

from shipworthy.machine.listing import said, text_or_silence
from shipworthy.machine.parse import jep106
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Fault
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

LONGEST_CYCLE_PS, SHORTEST_CYCLE_PS = 4000, 100
"""No clock of DDR3 to DDR5 is slower than 250 MHz or faster than 10 GHz: the rest is no cycle time."""

DIMM, SODIMM = "DIMM", "SODIMM"  # as SMBIOS names the form factors


@dataclass(frozen=True, slots=True)
class Decoded:
    """What an image says. further: timings that no fact carries, in ps, for people who look into it."""

    said: tuple[Said, ...] = ()
    faults: tuple[Fault, ...] = ()
    further: tuple[tuple[str, int], ...] = ()


def crc16(data: bytes) -> int:
    """Return the SPD checksum: polynomial 0x1021, start 0, not reflected (CRC-16/XMODEM)."""
    return binascii.crc_hqx(data, 0)


def checksum_faults(data: bytes, start: int, end: int, at: int) -> tuple[Fault, ...]:
    """Return the fault of the checksum at `at` (low byte first) over `start` to `end`, if it is one."""
    stored, computed = word(data, at), crc16(data[start : end + 1])
    if stored == computed:
        return ()
    detail = f"stored 0x{stored:04X}, computed 0x{computed:04X}"
    return (Fault(RemarkKind.BAD_CHECKSUM, f"bytes {start}-{end}", detail),)


def word(data: bytes, at: int) -> int:
    """Return two bytes as a number, low byte first."""
    return int.from_bytes(data[at : at + 2], "little")


def is_blank(data: bytes) -> bool:
    """Return whether bytes were never written: all 0x00 or all 0xFF."""
    return not data.strip(b"\0") or not data.strip(b"\xff")


def signed(byte: int) -> int:
    """Return a byte in two's complement."""
    return byte - 256 if byte & 0x80 else byte


def left_over(data: bytes, ranges: Sequence[tuple[int, int, str]]) -> tuple[Fault, ...]:
    """Return a fault for each of these ranges (first, last, what it is) that holds something undecoded."""
    return tuple(
        Fault(RemarkKind.NOT_UNDERSTOOD, f"bytes {first}-{last}", what)
        for first, last, what in ranges
        if not is_blank(data[first : last + 1])
    )


@dataclass(frozen=True, slots=True)
class TimeBase:
    """How an image counts time: medium units of `medium_ps[0] / medium_ps[1]` ps, and fine ones likewise."""

    medium_ps: tuple[int, int]
    fine_ps: tuple[int, int] = (1, 1)

    @property
    def sound(self) -> bool:
        return all((*self.medium_ps, *self.fine_ps))

    def ps(self, medium: int, fine_byte: int = 0) -> int:
        """Return a time in whole ps: a count of medium units, corrected by a signed count of fine ones."""
        (a, b), (c, d) = self.medium_ps, self.fine_ps
        top, bottom = medium * a * d + signed(fine_byte) * c * b, b * d
        return (2 * top + bottom) // (2 * bottom)


def plausible_ps(time_ps: int) -> int | Absent:
    """Return a shortest time that a module names; it cannot be nothing, nor a millisecond."""
    return time_ps if 0 < time_ps < 1_000_000 else Absent.IMPLAUSIBLE


def plausible_cycle_ps(time_ps: int) -> int | Absent:
    """Return a shortest cycle in ps, as a clock of DDR3 to DDR5 can have it."""
    return time_ps if SHORTEST_CYCLE_PS <= time_ps <= LONGEST_CYCLE_PS else Absent.IMPLAUSIBLE


def speed_of_thirds(cycle_ps: int | Absent) -> int | Absent:
    """Return the data rate of DDR3 and DDR4 in MT/s by the shortest cycle.

    Rates are whole multiples of 800/3 MT/s, so the exact cycle is 7.5 ns over a whole number (JESD79-3 and
    -4, speed bins). Images give whole ps, some of them cut: within 1 ps it is that rate, cut to whole MT/s
    as the trade does (2666, not 2667). Any other cycle gives its own rate.
    """
    if isinstance(cycle_ps, Absent):
        return cycle_ps
    steps = (2 * 7500 + cycle_ps) // (2 * cycle_ps)
    if steps and abs(7500 - cycle_ps * steps) < steps:
        return steps * 800 // 3
    return 2_000_000 // cycle_ps


def speed_of_hundreds(cycle_ps: int | Absent) -> int | Absent:
    """Return the data rate of DDR5 in MT/s by the shortest cycle.

    Rates are whole multiples of 400 MT/s (JESD79-5, speed bins); the cycle is cut to whole ps, so the rate
    is the one whose exact cycle is less than 1 ps away. Any other cycle gives its own rate.
    """
    if isinstance(cycle_ps, Absent):
        return cycle_ps
    rate = (2_000_000 + 200 * cycle_ps) // (400 * cycle_ps) * 400
    if rate and abs(2_000_000 - cycle_ps * rate) < rate:
        return rate
    return 2_000_000 // cycle_ps


def size_bytes(density_mbit: int | None, bus_bits: int, device_bits: int, ranks: int) -> int | Absent:
    """Return a capacity: density over 8, times devices across the bus, times ranks (check values, memory.md).

    Bits for error correction hold no data and are not in it.
    """
    if not density_mbit or bus_bits < device_bits:
        return Absent.IMPLAUSIBLE
    return (density_mbit << 20) // 8 * (bus_bits // device_bits) * ranks


def latencies(mask: int, first: int, step: int = 1) -> str | Absent:
    """Return the CAS latencies that a mask names, `10, 11, 13`."""
    found = [first + step * bit for bit in range(mask.bit_length()) if mask >> bit & 1]
    return ", ".join(map(str, found)) if found else Absent.NOT_OFFERED


def maker_code(data: bytes, at: int) -> str | Absent:
    """Return the maker by JEP106 at these two bytes: the count of continuation codes, then the code."""
    code = jep106.of_bytes(data[at], data[at + 1])
    return code if isinstance(code, Absent) else str(code)


def part_number(data: bytes) -> str | Absent:
    """Return a part number without its padding: ASCII, to the first sign that cannot be printed."""
    text = data.decode("latin-1")
    end = next((i for i, sign in enumerate(text) if not " " <= sign <= "~"), len(text))
    text = text[:end].strip()
    return text_or_silence(text)


def serial(data: bytes) -> str | Absent:
    """Return a serial's four bytes as hexadecimal digits in their order; not offered if never written."""
    text = data.hex().upper()
    return Absent.NOT_OFFERED if len(data) != 4 or is_placeholder(text) else text


def manufactured(year: int, week: int) -> str | Absent:
    """Return `2024-W17`, or `2024` where the week is none.

    Both are decimal digits in half bytes; some makers write plain numbers (decode-dimms, which takes them
    so too). Neither generation is older than 2007, so a year from 80 on, in the last century, cannot be.
    """
    if (year, week) in ((0x00, 0x00), (0xFF, 0xFF)):
        return Absent.NOT_OFFERED
    decimal = _decimal(year), _decimal(week)
    if decimal[0] is not None and decimal[1] is not None and decimal[1] <= 53:
        found = (decimal[0], decimal[1])
    elif year <= 99 and 1 <= week <= 53:
        found = (year, week)
    else:
        return Absent.IMPLAUSIBLE
    if not 5 <= found[0] < 80:
        return Absent.IMPLAUSIBLE
    return f"20{found[0]:02d}-W{found[1]:02d}" if found[1] else f"20{found[0]:02d}"


def _decimal(byte: int) -> int | None:
    """Return the number of two decimal digits in half bytes; None if one is no digit."""
    high, low = byte >> 4, byte & 0x0F
    return high * 10 + low if high < 10 and low < 10 else None


def rated_speed(jedec: int | Absent, profiles: Decoded, user: bytes) -> tuple[Said, ...]:
    """Return the speed that the module is made for: the fastest profile's, or JEDEC's where there is none.

    user: the bytes where blocks of profiles lie. Where they hold something whose speed is not understood,
    nothing is said: only the part number can tell, and the JEDEC speed may be too low.
    """
    if isinstance(jedec, Absent):
        return (said("rated_speed_mt_s", jedec),)
    if not profiles.said:
        return (said("rated_speed_mt_s", jedec),) if is_blank(user) else ()
    found = next((field.value for field in profiles.said if field.name == "profile_speed_mt_s"), None)
    return (said("rated_speed_mt_s", max(found, jedec)),) if isinstance(found, int) else ()


def if_there(fields: tuple[Said, ...], there: bool) -> tuple[Said, ...]:
    """Return fields, or that they could not be read where the image ends before them."""
    return fields if there else tuple(said(field.name, Absent.NOT_READABLE) for field in fields)
