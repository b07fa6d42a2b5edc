"""SPD of DDR3 modules, 256 bytes, to facts.

Standard: JEDEC JESD21-C, 4.1.2.11 (annex K), revision 1.3 (from memory). Every field was held against the
reference decoder decode-dimms 4.3.
"""

from __future__ import annotations

from typing import NamedTuple

from shipworthy.machine.listing import said
from shipworthy.machine.parse.spd import common
from shipworthy.machine.parse.spd import xmp1 as spd_xmp1
from shipworthy.machine.parse.spd.common import DIMM, SODIMM, Decoded, TimeBase
from shipworthy.machine.raw import Fault
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

BYTES = 256
SERIAL_AT = 122

MODULE_TYPES = {  # byte 3: its name, and the form factor as SMBIOS has it
    0x1: ("RDIMM", DIMM),
    0x2: ("UDIMM", DIMM),
    0x3: ("SO-DIMM", SODIMM),
    0x4: ("Micro-DIMM", None),
    0x5: ("Mini-RDIMM", None),
    0x6: ("Mini-UDIMM", None),
    0x7: ("Mini-CDIMM", None),
    0x8: ("72b-SO-UDIMM", SODIMM),
    0x9: ("72b-SO-RDIMM", SODIMM),
    0xA: ("72b-SO-CDIMM", SODIMM),
    0xB: ("LRDIMM", DIMM),
    0xC: ("16b-SO-DIMM", SODIMM),
    0xD: ("32b-SO-DIMM", SODIMM),
}
_LARGEST_DENSITY, _WIDEST_DEVICE, _WIDEST_BUS = 6, 3, 3

_ANNEX = (63, 116, "fields of registered and load-reduced modules")
_MAKERS, _USER, _BEHIND_PROFILES = (
    (150, 175, "the maker's own data"),
    (176, 255, "user data"),
    (255, 255, "user data"),
)
_BUFFERED = (0x1, 0x5, 0x9, 0xB)


class Timings(NamedTuple):
    """The timings that are facts, in ps."""

    cycle: int | Absent
    access: int | Absent
    row_to_column: int | Absent
    precharge: int | Absent
    active: int | Absent
    row_cycle: int | Absent


def decode(data: bytes) -> Decoded:
    """Return what an image says. Fields under a checksum that does not hold are implausible."""
    if len(data) < 128:
        return Decoded(faults=(Fault(RemarkKind.CUT_SHORT, f"bytes 0-{len(data)}", "a DDR3 image has 256"),))
    covered_to = 116 if data[0] & 0x80 else 125
    faults = common.checksum_faults(data, 0, covered_to, 126)
    sound = not faults
    base = _time_base(data)
    fields = _layout(data) + _timings(data, base)
    if not sound:
        fields = tuple(said(field.name, Absent.IMPLAUSIBLE) for field in fields)
    full = data.ljust(BYTES, b"\0")
    maker = _covered_maker(full, sound or covered_to == 116) + common.if_there(_maker(full), len(data) >= 150)
    profiles = spd_xmp1.decode(full)
    fields += _speeds(fields, profiles, full[176:])
    faults += profiles.faults + _left_over(full, profiles)
    if len(data) < BYTES:
        faults += (Fault(RemarkKind.CUT_SHORT, f"bytes {len(data)}-{BYTES - 1}", "not there"),)
    further = _further(data, base) if sound and base.sound else ()
    return Decoded(fields + maker + profiles.said, faults, further + profiles.further)


def _layout(data: bytes) -> tuple[Said, ...]:
    """Bytes 1 to 8 and 32: what the module is made of."""
    name, form_factor = MODULE_TYPES.get(data[3] & 0x0F, (Absent.IMPLAUSIBLE, None))
    device_bits = 4 << (data[7] & 7) if data[7] & 7 <= _WIDEST_DEVICE else None
    bus_bits = 8 << (data[8] & 7) if data[8] & 7 <= _WIDEST_BUS else None
    check_bits = 8 if data[8] >> 3 & 3 == 1 else 0
    ranks = (data[7] >> 3 & 7) + 1
    density = 256 << (data[4] & 0x0F) if data[4] & 0x0F <= _LARGEST_DENSITY else None
    size: int | Absent = Absent.IMPLAUSIBLE
    if device_bits is not None and bus_bits is not None:
        size = common.size_bytes(density, bus_bits, device_bits, ranks)
    return (
        said("type", "DDR3"),
        said("spd_revision", f"{data[1] >> 4}.{data[1] & 0x0F}"),
        said("module_type", name),
        said("form_factor", form_factor or Absent.NOT_OFFERED),
        said("size_bytes", size),
        said("rank", ranks),
        said("device_width_bits", device_bits or Absent.IMPLAUSIBLE),
        said("data_width_bits", bus_bits or Absent.IMPLAUSIBLE),
        said("total_width_bits", bus_bits + check_bits if bus_bits else Absent.IMPLAUSIBLE),
        said("nominal_voltage_mv", _voltage_mv(data[6])),
        said("thermal_sensor", bool(data[32] & 0x80)),
    )


def _voltage_mv(byte: int) -> int | Absent:
    """Return the lowest exact voltage that the module runs at: 1.35 V (bit 1), or 1.5 V unless bit 0."""
    if byte & 2:
        return 1350
    return Absent.IMPLAUSIBLE if byte & 1 else 1500


def _time_base(data: bytes) -> TimeBase:
    """Bytes 9 to 11: fine time base in ps, medium time base in ns, each a dividend and a divisor."""
    return TimeBase((data[10] * 1000, data[11]), (data[9] >> 4, data[9] & 0x0F))


def _main_timings(data: bytes, base: TimeBase) -> Timings:
    """Bytes 12 to 23, with the fine corrections of 34 to 38."""
    if not base.sound:
        return Timings(*(Absent.IMPLAUSIBLE,) * 6)
    upper = data[21]
    return Timings(
        common.plausible_cycle_ps(base.ps(data[12], data[34])),
        common.plausible_ps(base.ps(data[16], data[35])),
        common.plausible_ps(base.ps(data[18], data[36])),
        common.plausible_ps(base.ps(data[20], data[37])),
        common.plausible_ps(base.ps((upper & 0x0F) << 8 | data[22])),
        common.plausible_ps(base.ps((upper & 0xF0) << 4 | data[23], data[38])),
    )


def _timings(data: bytes, base: TimeBase) -> tuple[Said, ...]:
    found = _main_timings(data, base)
    return (
        said("tck_min_ps", found.cycle),
        said("taa_min_ps", found.access),
        said("trcd_min_ps", found.row_to_column),
        said("trp_min_ps", found.precharge),
        said("tras_min_ps", found.active),
        said("trc_min_ps", found.row_cycle),
        said("cas_latencies", common.latencies(common.word(data, 14) & 0x7FFF, 4)),
    )


def _speeds(fields: tuple[Said, ...], profiles: Decoded, user: bytes) -> tuple[Said, ...]:
    cycle = next(field.value for field in fields if field.name == "tck_min_ps")
    jedec = common.speed_of_thirds(cycle if isinstance(cycle, int) else Absent.IMPLAUSIBLE)
    return (said("jedec_speed_mt_s", jedec), *common.rated_speed(jedec, profiles, user))


def _covered_maker(data: bytes, sound: bool) -> tuple[Said, ...]:
    """Bytes 117 to 125, which the checksum covers in some images."""
    found = (
        said("maker_code", common.maker_code(data, 117)),
        said("serial", common.serial(data[SERIAL_AT : SERIAL_AT + 4])),
        said("manufactured", common.manufactured(data[120], data[121])),
    )
    return found if sound else tuple(said(field.name, Absent.IMPLAUSIBLE) for field in found)


def _maker(data: bytes) -> tuple[Said, ...]:
    """Bytes 128 to 149, which no checksum covers."""
    return (
        said("part_number", common.part_number(data[128:146])),
        said("dram_maker_code", common.maker_code(data, 148)),
    )


def _left_over(data: bytes, profiles: Decoded) -> tuple[Fault, ...]:
    ranges = [_MAKERS, _BEHIND_PROFILES if profiles.said else _USER]
    if data[3] & 0x0F in _BUFFERED:
        ranges.insert(0, _ANNEX)
    return common.left_over(data, ranges)


def _further(data: bytes, base: TimeBase) -> tuple[tuple[str, int], ...]:
    """The other timings of bytes 17 to 29."""
    return (
        ("twr_min_ps", base.ps(data[17])),
        ("trrd_min_ps", base.ps(data[19])),
        ("trfc_min_ps", base.ps(common.word(data, 24))),
        ("twtr_min_ps", base.ps(data[26])),
        ("trtp_min_ps", base.ps(data[27])),
        ("tfaw_min_ps", base.ps((data[28] & 0x0F) << 8 | data[29])),
    )
