"""SPD of DDR5 modules, 1024 bytes, to facts.

Standard: JEDEC JESD400-5. Source of the offsets: the open firmware header xPrfMemSpd5.h (openSIL), written
to revision 0.9 of the document; capacity by the rule in the project's check values (memory.md). Module types
5 to 8 are from memory of JESD400-5C. No reference decoder for DDR5 images was at hand.
"""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.spd import common
from shipworthy.machine.parse.spd.common import DIMM, SODIMM, Decoded
from shipworthy.machine.raw import Fault
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

BYTES = 1024
SERIAL_AT = 517
PROFILES_AT = 640
XMP_AT, XMP_MAGIC = 640, b"\x0c\x4a"
EXPO_AT, EXPO_MAGIC = 832, b"EXPO"
"""Where the two blocks of profiles of overclocked DDR5 modules begin (XMP 3.0, EXPO): common practice, from
memory. No public source was found for the fields in them, so presence and revision are all that is told."""

MODULE_TYPES = {  # byte 3, low half: its name, and the form factor as SMBIOS has it
    0x1: ("RDIMM", DIMM),
    0x2: ("UDIMM", DIMM),
    0x3: ("SO-DIMM", SODIMM),
    0x4: ("LRDIMM", DIMM),
    0x5: ("CUDIMM", "CUDIMM"),
    0x6: ("CSO-DIMM", "CSODIMM"),
    0x7: ("MRDIMM", DIMM),
    0x8: ("CAMM2", "CAMM"),
    0xA: ("DDIMM", None),
    0xB: ("solder down", None),
}
_DENSITIES_GBIT = (0, 4, 8, 12, 16, 24, 32, 48, 64)
_DIES = {0: 1, 2: 2, 3: 4, 4: 8, 5: 16}
_WIDEST_DEVICE, _WIDEST_BUS = 3, 3
_MAKER_END = 554
_FIRST_LATENCY, _LATENCY_STEP = 20, 2
_MAKERS = (555, 639, "the maker's own data")
_BEYOND_REVISION = (58, 125, "timings of later revisions")


def decode(data: bytes) -> Decoded:
    """Return what an image says. Fields under a checksum that does not hold are implausible."""
    if len(data) < 512:
        return Decoded(faults=(Fault(RemarkKind.CUT_SHORT, f"bytes 0-{len(data)}", "a DDR5 image has 1024"),))
    faults = common.checksum_faults(data, 0, 509, 510)
    fields, more = _layout(data)
    fields += _timings(data)
    if faults:
        fields = tuple(said(field.name, Absent.IMPLAUSIBLE) for field in fields)
    further = () if faults else _further(data)
    if len(data) < BYTES:
        faults += (Fault(RemarkKind.CUT_SHORT, f"bytes {len(data)}-{BYTES - 1}", "not there"),)
    full = data.ljust(BYTES, b"\0")
    profiles = _profiles(full)
    cycle = next(field.value for field in fields if field.name == "tck_min_ps")
    jedec = common.speed_of_hundreds(cycle if isinstance(cycle, int) else Absent.IMPLAUSIBLE)
    fields += (
        said("jedec_speed_mt_s", jedec),
        *common.rated_speed(jedec, profiles, full[PROFILES_AT:]),
    )
    left = [_BEYOND_REVISION, _MAKERS]
    if not profiles.said:
        left.append((PROFILES_AT, BYTES - 1, "user data"))
    faults += more + profiles.faults + common.left_over(full, left)
    return Decoded(
        fields + common.if_there(_maker(full), len(data) >= _MAKER_END) + profiles.said, faults, further
    )


def _layout(data: bytes) -> tuple[tuple[Said, ...], tuple[Fault, ...]]:
    """Bytes 1 to 18, 212, 234 and 235: what the module is made of."""
    name, form_factor = MODULE_TYPES.get(data[3] & 0x0F, (Absent.IMPLAUSIBLE, None))
    channels = (data[235] >> 5 & 3) + 1
    bus_bits = 8 << (data[235] & 7) if data[235] & 7 <= _WIDEST_BUS else None
    check_bits = (data[235] >> 3 & 3) * 4
    device_bits = 4 << (data[6] >> 5) if data[6] >> 5 <= _WIDEST_DEVICE else None
    size, faults = _size_bytes(data, bus_bits, device_bits, channels)
    fields = (
        said("type", "DDR5"),
        said("spd_revision", f"{data[1] >> 4}.{data[1] & 0x0F}"),
        said("module_type", name),
        said("form_factor", form_factor or Absent.NOT_OFFERED),
        said("size_bytes", size),
        said("rank", (data[234] >> 3 & 7) + 1),
        said("device_width_bits", device_bits or Absent.IMPLAUSIBLE),
        said("data_width_bits", channels * bus_bits if bus_bits else Absent.IMPLAUSIBLE),
        said("total_width_bits", channels * (bus_bits + check_bits) if bus_bits else Absent.IMPLAUSIBLE),
        said("nominal_voltage_mv", 1100 if data[16] >> 4 == 0 else Absent.NOT_OFFERED),
        said("thermal_sensor", bool(data[212] & 0xC0)),
    )
    return fields, faults


def _size_bytes(
    data: bytes, bus_bits: int | None, device_bits: int | None, channels: int
) -> tuple[int | Absent, tuple[Fault, ...]]:
    """Sub-channels, devices across each, dies in a package, density and ranks."""
    if data[234] & 0x40:  # ranks of two kinds: bytes 8 to 11 are the second kind's
        detail = "ranks that are not alike: the capacity is not told"
        return Absent.NOT_OFFERED, (Fault(RemarkKind.NOT_UNDERSTOOD, "byte 234", detail),)
    code, dies = data[4] & 0x1F, _DIES.get(data[4] >> 5)
    if code >= len(_DENSITIES_GBIT) or dies is None or bus_bits is None or device_bits is None:
        return Absent.IMPLAUSIBLE, ()
    units = channels * dies * ((data[234] >> 3 & 7) + 1)
    return common.size_bytes(_DENSITIES_GBIT[code] << 10, bus_bits, device_bits, units), ()


def _timings(data: bytes) -> tuple[Said, ...]:
    """Bytes 20 to 39, in ps."""
    return (
        said("tck_min_ps", common.plausible_cycle_ps(common.word(data, 20))),
        said("taa_min_ps", common.plausible_ps(common.word(data, 30))),
        said("trcd_min_ps", common.plausible_ps(common.word(data, 32))),
        said("trp_min_ps", common.plausible_ps(common.word(data, 34))),
        said("tras_min_ps", common.plausible_ps(common.word(data, 36))),
        said("trc_min_ps", common.plausible_ps(common.word(data, 38))),
        said(
            "cas_latencies",
            common.latencies(int.from_bytes(data[24:29], "little"), _FIRST_LATENCY, _LATENCY_STEP),
        ),
    )


def _maker(data: bytes) -> tuple[Said, ...]:
    """Bytes 512 to 553, which no checksum covers."""
    return (
        said("maker_code", common.maker_code(data, 512)),
        said("serial", common.serial(data[SERIAL_AT : SERIAL_AT + 4])),
        said("manufactured", common.manufactured(data[515], data[516])),
        said("part_number", common.part_number(data[521:551])),
        said("dram_maker_code", common.maker_code(data, 552)),
    )


def _profiles(data: bytes) -> Decoded:
    names: list[str] = []
    faults: list[Fault] = []
    if data[XMP_AT : XMP_AT + 2] == XMP_MAGIC:
        names.append(f"XMP {data[642] >> 4}.{data[642] & 0x0F}")
        faults.append(Fault(RemarkKind.NOT_UNDERSTOOD, "bytes 640-831", f"{names[-1]}: all of its fields"))
    if data[EXPO_AT : EXPO_AT + 4] == EXPO_MAGIC:
        names.append("EXPO")
        faults.append(Fault(RemarkKind.NOT_UNDERSTOOD, "bytes 832-959", "EXPO: all of its fields"))
    return Decoded((said("profiles", ", ".join(names)),) if names else (), tuple(faults))


def _further(data: bytes) -> tuple[tuple[str, int], ...]:
    """The other timings of bytes 22 to 47; refresh times are in ns."""
    return (
        ("tck_max_ps", common.word(data, 22)),
        ("twr_min_ps", common.word(data, 40)),
        ("trfc1_min_ps", common.word(data, 42) * 1000),
        ("trfc2_min_ps", common.word(data, 44) * 1000),
        ("trfc_sb_min_ps", common.word(data, 46) * 1000),
    )
