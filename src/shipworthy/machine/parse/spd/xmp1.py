"""The profile block of overclocked DDR3 modules (XMP 1.x, in the user bytes 176 to 254), to facts.

Its maker's document is not public. Source of every field decoded here: the open firmware coreboot,
src/device/dram/ddr3.c, spd_xmp_decode_ddr3(). A revision from 1.3 on may correct times by fine units, for
which there is no such source: the speed of such a profile is not told.
"""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.spd import common
from shipworthy.machine.parse.spd.common import Decoded, TimeBase
from shipworthy.machine.raw import Fault
from shipworthy.model.words import Absent, RemarkKind

MAGIC = b"\x0c\x4a"
AT = 176
_PROFILES = ((0x01, 180, 185), (0x02, 182, 220))  # bit in byte 178, time base, first byte
_PROFILE_BYTES = 24
_LAST_WITHOUT_FINE_UNITS = 0x12


def decode(data: bytes) -> Decoded:
    """Return what the block says; nothing at all where there is none."""
    if data[AT : AT + 2] != MAGIC:
        return Decoded()
    revision = data[179]
    name = f"XMP {revision >> 4}.{revision & 0x0F}"
    enabled = [number for number, (bit, _, _) in enumerate(_PROFILES) if data[178] & bit]
    count = said("profiles", name), said("profile_count", len(enabled))
    further: tuple[tuple[str, int], ...] = ()
    speeds: list[int | Absent] = []
    for number in enabled:
        _, base_at, at = _PROFILES[number]
        base = TimeBase((data[base_at] * 1000, data[base_at + 1]))
        found = _profile(data[at : at + _PROFILE_BYTES], base, number + 1)
        further += found
        speeds.append(_speed(data[at + 1], base))
    faults = (Fault(RemarkKind.NOT_UNDERSTOOD, "bytes 176-254", f"{name}: fields besides speed and timings"),)
    if revision > _LAST_WITHOUT_FINE_UNITS:
        detail = f"{name}: fine corrections of times, so the profiles' speed is not told"
        return Decoded(count, (*faults, Fault(RemarkKind.NOT_UNDERSTOOD, "bytes 176-254", detail)), further)
    known = [speed for speed in speeds if not isinstance(speed, Absent)]
    speed = max(known) if known and len(known) == len(speeds) else Absent.IMPLAUSIBLE
    return Decoded(
        (*count, said("profile_speed_mt_s", speed if enabled else Absent.NOT_OFFERED)), faults, further
    )


def _speed(cycle: int, base: TimeBase) -> int | Absent:
    if not base.sound:
        return Absent.IMPLAUSIBLE
    return common.speed_of_thirds(common.plausible_cycle_ps(base.ps(cycle)))


def _profile(data: bytes, base: TimeBase, number: int) -> tuple[tuple[str, int], ...]:
    """One profile: voltage in steps of 50 mV, then times in medium units of the profile's own."""
    voltage_mv = (data[0] & 1) * 50 + (data[0] >> 1 & 0x0F) * 100 + (data[0] >> 5 & 3) * 1000
    found = [("voltage_mv", voltage_mv)]
    if base.sound:
        found += [
            ("tck_min_ps", base.ps(data[1])),
            ("taa_min_ps", base.ps(data[2])),
            ("trp_min_ps", base.ps(data[6])),
            ("trcd_min_ps", base.ps(data[7])),
            ("tras_min_ps", base.ps((data[9] & 0x0F) << 8 | data[10])),
            ("trc_min_ps", base.ps((data[9] & 0xF0) << 4 | data[11])),
        ]
    return tuple((f"profile_{number}_{name}", value) for name, value in found)
