"""SPD of DDR4 modules, 512 bytes, to facts.

Standard: JEDEC JESD21-C, 4.1.2.L-4 (annex L, release 4). Offsets as in the open firmware header
SdramSpdDdr4.h (edk2, MdePkg), and every field held against the reference decoder decode-dimms 4.3. Densities
of 12 and 24 Gbit (codes 8 and 9) are from memory of release 5; the reference decoder does not know them.
"""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.spd import common
from shipworthy.machine.parse.spd.common import DIMM, SODIMM, Decoded, TimeBase
from shipworthy.machine.raw import Fault
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

BYTES = 512
SERIAL_AT = 325
XMP_AT = 384
XMP_MAGIC = b"\x0c\x4a"
"""Where profiles of overclocked DDR4 modules begin (XMP 2.0): common practice, from memory. No public
source was found for the fields in that block, so its presence and revision are all that is told."""

MODULE_TYPES = {  # byte 3, low half: its name, and the form factor as SMBIOS has it
    0x1: ("RDIMM", DIMM),
    0x2: ("UDIMM", DIMM),
    0x3: ("SO-DIMM", SODIMM),
    0x4: ("LRDIMM", DIMM),
    0x5: ("Mini-RDIMM", None),
    0x6: ("Mini-UDIMM", None),
    0x8: ("72b-SO-RDIMM", SODIMM),
    0x9: ("72b-SO-UDIMM", SODIMM),
    0xC: ("16b-SO-DIMM", SODIMM),
    0xD: ("32b-SO-DIMM", SODIMM),
}
_DENSITIES_MBIT = (*(256 << power for power in range(8)), 12 << 10, 24 << 10)
_WIDEST_DEVICE, _WIDEST_BUS = 3, 3
_MAKER_END = 352
_BUFFERED = (0x1, 0x4, 0x5, 0x8)
_ANNEX = (131, 191, "fields of registered and load-reduced modules")
_HYBRID = (192, 253, "fields of hybrid modules and extended functions")
_MAKERS, _USER = (353, 381, "the maker's own data"), (384, 511, "user data")

TIME = TimeBase((125, 1), (1, 1))


def decode(data: bytes) -> Decoded:
    """Return what an image says. Fields under a checksum that does not hold are implausible."""
    if len(data) < 128:
        return Decoded(faults=(Fault(RemarkKind.CUT_SHORT, f"bytes 0-{len(data)}", "a DDR4 image has 512"),))
    faults = common.checksum_faults(data, 0, 125, 126)
    fields, more = _layout(data)
    fields += _timings(data)
    if faults:
        fields = tuple(said(field.name, Absent.IMPLAUSIBLE) for field in fields)
    further = () if faults else _further(data)
    if len(data) < BYTES:
        faults += (Fault(RemarkKind.CUT_SHORT, f"bytes {len(data)}-{BYTES - 1}", "not there"),)
    full = data.ljust(BYTES, b"\0")
    if len(data) >= 256:
        faults += common.checksum_faults(full, 128, 253, 254)
    profiles = _profiles(full)
    cycle = next(field.value for field in fields if field.name == "tck_min_ps")
    jedec = common.speed_of_thirds(cycle if isinstance(cycle, int) else Absent.IMPLAUSIBLE)
    fields += (
        said("jedec_speed_mt_s", jedec),
        *common.rated_speed(jedec, profiles, full[XMP_AT:]),
    )
    faults += more + profiles.faults + _left_over(full, profiles)
    return Decoded(
        fields + common.if_there(_maker(full), len(data) >= _MAKER_END) + profiles.said, faults, further
    )


def _layout(data: bytes) -> tuple[tuple[Said, ...], tuple[Fault, ...]]:
    """Bytes 1 to 14: what the module is made of."""
    name, form_factor = MODULE_TYPES.get(data[3] & 0x0F, (Absent.IMPLAUSIBLE, None))
    bus_bits = 8 << (data[13] & 7) if data[13] & 7 <= _WIDEST_BUS else None
    check_bits = 8 if data[13] >> 3 & 3 == 1 else 0
    device_bits = 4 << (data[12] & 7) if data[12] & 7 <= _WIDEST_DEVICE else None
    size, faults = _size_bytes(data, bus_bits, device_bits)
    fields = (
        said("type", "DDR4"),
        said("spd_revision", f"{data[1] >> 4}.{data[1] & 0x0F}"),
        said("module_type", name),
        said("form_factor", form_factor or Absent.NOT_OFFERED),
        said("size_bytes", size),
        said("rank", (data[12] >> 3 & 7) + 1),
        said("device_width_bits", device_bits or Absent.IMPLAUSIBLE),
        said("data_width_bits", bus_bits or Absent.IMPLAUSIBLE),
        said("total_width_bits", bus_bits + check_bits if bus_bits else Absent.IMPLAUSIBLE),
        said("nominal_voltage_mv", 1200 if data[11] & 1 else Absent.NOT_OFFERED),
        said("thermal_sensor", bool(data[14] & 0x80)),
    )
    return fields, faults


def _size_bytes(
    data: bytes, bus_bits: int | None, device_bits: int | None
) -> tuple[int | Absent, tuple[Fault, ...]]:
    """Density, width and ranks; stacked dies that load the bus once (3DS) count as ranks of their own."""
    if data[12] & 0x40:  # ranks of two kinds: the second kind's density is a ratio in byte 10
        detail = "ranks that are not alike: the capacity is not told"
        return Absent.NOT_OFFERED, (Fault(RemarkKind.NOT_UNDERSTOOD, "byte 12", detail),)
    code = data[4] & 0x0F
    density = _DENSITIES_MBIT[code] if code < len(_DENSITIES_MBIT) else None
    if bus_bits is None or device_bits is None:
        return Absent.IMPLAUSIBLE, ()
    dies = (data[6] >> 4 & 7) + 1 if data[6] & 0x83 == 0x82 else 1
    ranks = ((data[12] >> 3 & 7) + 1) * dies
    return common.size_bytes(density, bus_bits, device_bits, ranks), ()


def _timings(data: bytes) -> tuple[Said, ...]:
    """Bytes 17 to 29, with the fine corrections of 120 to 125. Units are fixed: 125 ps and 1 ps."""
    if data[17]:  # bits of other time bases, which no release has defined
        names = ("tck_min_ps", "taa_min_ps", "trcd_min_ps", "trp_min_ps", "tras_min_ps", "trc_min_ps")
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in (*names, "cas_latencies"))
    upper = data[27]
    return (
        said("tck_min_ps", common.plausible_cycle_ps(TIME.ps(data[18], data[125]))),
        said("taa_min_ps", common.plausible_ps(TIME.ps(data[24], data[123]))),
        said("trcd_min_ps", common.plausible_ps(TIME.ps(data[25], data[122]))),
        said("trp_min_ps", common.plausible_ps(TIME.ps(data[26], data[121]))),
        said("tras_min_ps", common.plausible_ps(TIME.ps((upper & 0x0F) << 8 | data[28]))),
        said("trc_min_ps", common.plausible_ps(TIME.ps((upper & 0xF0) << 4 | data[29], data[120]))),
        said("cas_latencies", _latencies(data)),
    )


def _latencies(data: bytes) -> str | Absent:
    """Bytes 20 to 23: bit 0 is 7, or 23 where the highest bit is set."""
    mask = int.from_bytes(data[20:24], "little")
    return common.latencies(mask & 0x3FFFFFFF, 23 if mask >> 31 else 7)


def _maker(data: bytes) -> tuple[Said, ...]:
    """Bytes 320 to 351, which no checksum covers."""
    return (
        said("maker_code", common.maker_code(data, 320)),
        said("serial", common.serial(data[SERIAL_AT : SERIAL_AT + 4])),
        said("manufactured", common.manufactured(data[323], data[324])),
        said("part_number", common.part_number(data[329:349])),
        said("dram_maker_code", common.maker_code(data, 350)),
    )


def _profiles(data: bytes) -> Decoded:
    if data[XMP_AT : XMP_AT + 2] != XMP_MAGIC:
        return Decoded()
    name = f"XMP {data[387] >> 4}.{data[387] & 0x0F}"
    detail = f"{name}: speed, timings and voltage of its profiles"
    return Decoded(
        (said("profiles", name),),
        (Fault(RemarkKind.NOT_UNDERSTOOD, f"bytes {XMP_AT}-{BYTES - 1}", detail),),
    )


def _left_over(data: bytes, profiles: Decoded) -> tuple[Fault, ...]:
    ranges = [_HYBRID, _MAKERS]
    if data[3] & 0x0F in _BUFFERED:
        ranges.insert(0, _ANNEX)
    if not profiles.said:
        ranges.append(_USER)
    return common.left_over(data, ranges)


def _further(data: bytes) -> tuple[tuple[str, int], ...]:
    """The other timings of bytes 19 to 45, with the fine corrections of 117 to 119 and 124."""
    found = (
        ("tck_max_ps", TIME.ps(data[19], data[124])),
        ("trfc1_min_ps", TIME.ps(common.word(data, 30))),
        ("trfc2_min_ps", TIME.ps(common.word(data, 32))),
        ("trfc4_min_ps", TIME.ps(common.word(data, 34))),
        ("tfaw_min_ps", TIME.ps((data[36] & 0x0F) << 8 | data[37])),
        ("trrd_s_min_ps", TIME.ps(data[38], data[119])),
        ("trrd_l_min_ps", TIME.ps(data[39], data[118])),
        ("tccd_l_min_ps", TIME.ps(data[40], data[117])),
        ("twr_min_ps", TIME.ps((data[41] & 0x0F) << 8 | data[42])),
        ("twtr_s_min_ps", TIME.ps((data[43] & 0x0F) << 8 | data[44])),
        ("twtr_l_min_ps", TIME.ps((data[43] & 0xF0) << 4 | data[45])),
    )
    return tuple((name, value) for name, value in found if value)  # the last three came with release 3
