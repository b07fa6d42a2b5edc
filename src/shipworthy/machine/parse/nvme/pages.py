"""NVMe Identify and the health log, page by page, to facts.

Standard: NVM Express Base Specification, Identify Controller, Identify Namespace and log page 02h
(SMART / Health Information). Offsets as in libnvme's packed structures (check values, storage.md); names of
the bits of a critical warning and of NGUID, EUI-64 and power states from the specification (from memory,
NVMe 1.4, figures 195, 245, 247 and 251).
"""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.listing import said
from shipworthy.machine.parse.drive_pages import ascii_text, says_nothing
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

CONTROLLER_BYTES, NAMESPACE_BYTES, HEALTH_BYTES = 4096, 4096, 512
DATA_UNIT_BYTES = 512_000  # thousands of 512-byte units, rounded up
POWER_STATES_AT, POWER_STATE_BYTES = 2048, 32

CRITICAL_WARNINGS = (
    "spare below threshold",
    "temperature beyond threshold",
    "reliability degraded",
    "read-only",
    "backup device failed",
    "persistent memory region unreliable",
)
_GROUP_WARNINGS = ("spare below threshold", "", "reliability degraded", "read-only")


def warning_words(bits: int, words: tuple[str, ...] = CRITICAL_WARNINGS) -> str:
    """Return a warning's bits as words, `none` if none is set; a bit without a name by its number."""
    names = [words[n] if n < len(words) and words[n] else f"bit {n}" for n in range(8) if bits >> n & 1]
    return ", ".join(names) or "none"


def kelvin_limit_c(kelvin: int) -> int | Absent:
    """Return a limit in whole °C (kelvin - 273, the usual integer practice). 0 and all ones: no limit."""
    return Absent.NOT_OFFERED if kelvin in (0, 0xFFFF) else kelvin - 273


def kelvin_now_c(kelvin: int) -> int | Absent:
    """Return a measured temperature in whole °C; one that no running drive has is implausible."""
    if kelvin == 0:
        return Absent.NOT_OFFERED
    return kelvin - 273 if 233 <= kelvin <= 423 else Absent.IMPLAUSIBLE


def number(data: bytes, at: int, size: int) -> int:
    """Return a number of a page, little-endian."""
    return int.from_bytes(data[at : at + size], "little")


def _fits(value: int) -> int | Absent:
    """A counter of 128 bits that passes 63 bits is no count of anything that a drive has done."""
    return Absent.IMPLAUSIBLE if value >> 63 else value


def _reported(value: int) -> int | Absent:
    """Return a field of which 0 means that the drive does not report it."""
    return _fits(value) if value else Absent.NOT_OFFERED


def _id(number: int) -> str | Absent:
    return f"0x{number:04x}" if number not in (0, 0xFFFF) else Absent.NOT_OFFERED


def _version(value: int) -> str | Absent:
    """Return `1.4` or `1.3.1`: major in 31:16, minor in 15:8, tertiary in 7:0. Before 1.2 it was 0."""
    if not value:
        return Absent.NOT_OFFERED
    major, minor, tertiary = value >> 16, value >> 8 & 0xFF, value & 0xFF
    return f"{major}.{minor}.{tertiary}" if tertiary else f"{major}.{minor}"


def power_w(descriptor: bytes) -> float | Absent:
    """Return the most power of a power state, in W.

    Power state descriptor: most power at 0 (2) in 0.01 W, or 0.0001 W where bit 0 of byte 3 is set.
    """
    power = number(descriptor, 0, 2)
    return round(power * (0.0001 if descriptor[3] & 1 else 0.01), 4) if power else Absent.NOT_OFFERED


def _controller(data: bytes) -> tuple[Said, ...]:
    states = data[263] + 1
    return (
        said("model", ascii_text(data[24:64])),
        said("serial", ascii_text(data[4:24])),
        said("firmware_version", ascii_text(data[64:72])),
        said("temperature_warning_c", kelvin_limit_c(number(data, 266, 2))),
        said("temperature_critical_c", kelvin_limit_c(number(data, 268, 2))),
        said("capacity_bytes", _reported(number(data, 280, 16))),
        said("unallocated_bytes", _fits(number(data, 296, 16)) if any(data[280:296]) else Absent.NOT_OFFERED),
        said("vendor_id", _id(number(data, 0, 2))),
        said("subsystem_vendor_id", _id(number(data, 2, 2))),
        said("ieee_oui", f"0x{number(data, 73, 3):06x}" if any(data[73:76]) else Absent.NOT_OFFERED),
        said("nvme_version", _version(number(data, 80, 4))),
        said("controller_id", number(data, 78, 2)),
        said("namespaces", _reported(number(data, 516, 4))),
        said("power_states", states if states <= 32 else Absent.IMPLAUSIBLE),
        said("power_most_w", power_w(data[POWER_STATES_AT : POWER_STATES_AT + POWER_STATE_BYTES])),
    )


def _namespace(data: bytes) -> tuple[Said, ...]:
    """Blocks at 0, in use at 16 (NUSE); format in use at 26; formats from 128, 4 each; NGUID 104, EUI 120.

    The size of a block is 2 to the power of byte 2 of the format in use.
    """
    power = data[128 + 4 * format_in_use(data) + 2]
    blocks = number(data, 0, 8)
    right = 9 <= power <= 16 and 0 < blocks << power < 1 << 63
    return (
        said("size_bytes", blocks << power if right else Absent.IMPLAUSIBLE),
        said("logical_block_bytes", 1 << power if right else Absent.IMPLAUSIBLE),
        said(
            "allocated_bytes",
            number(data, 16, 8) << power if right and number(data, 16, 8) <= blocks else Absent.IMPLAUSIBLE,
        ),
        said("lba_formats", lba_formats(data)),
        said("eui64", "0x" + data[120:128].hex() if any(data[120:128]) else Absent.NOT_OFFERED),
        said("nguid", "0x" + data[104:120].hex() if any(data[104:120]) else Absent.NOT_OFFERED),
    )


def format_in_use(data: bytes) -> int:
    """FLBAS at 26: bits 3:0, and where there are more than 16 formats bits 6:5 above them."""
    return data[26] & 0x0F | ((data[26] & 0x60) >> 1 if data[25] >= 16 else 0)


def lba_formats(data: bytes) -> str | Absent:
    """Return the formats that the namespace can take: block size, and `+` bytes of metadata, of each."""
    formats = []
    for n in range(min(data[25], 63) + 1):
        metadata, power = number(data, 128 + 4 * n, 2), data[128 + 4 * n + 2]
        if power >= 9:  # 0: this format is not available; less than 512 bytes is not allowed
            formats.append(f"{1 << min(power, 31)}+{metadata}")
    return ", ".join(formats) or Absent.NOT_OFFERED


def _health(data: bytes) -> tuple[Said, ...]:
    """Data units of 0 mean that the drive does not report them. Its own word for health is byte 0."""
    sensors = ((f"temperature_sensor_{n}_c", kelvin_now_c(number(data, 198 + 2 * n, 2))) for n in range(1, 9))
    return (
        said("critical_warning", data[0]),
        said("critical_warning_words", warning_words(data[0])),
        said("health_passed", data[0] == 0),
        said("available_spare_percent", data[3]),
        said("available_spare_threshold_percent", data[4]),
        said("percentage_used", data[5]),
        said("endurance_group_warnings", warning_words(data[6], _GROUP_WARNINGS)),
        said("read_bytes", _reported(number(data, 32, 16) * DATA_UNIT_BYTES)),
        said("written_bytes", _reported(number(data, 48, 16) * DATA_UNIT_BYTES)),
        said("host_read_commands", _fits(number(data, 64, 16))),
        said("host_write_commands", _fits(number(data, 80, 16))),
        said("busy_minutes", _fits(number(data, 96, 16))),
        said("power_cycles", _fits(number(data, 112, 16))),
        said("power_on_hours", _fits(number(data, 128, 16))),
        said("unsafe_shutdowns", _fits(number(data, 144, 16))),
        said("media_errors", _fits(number(data, 160, 16))),
        said("error_log_entries", _fits(number(data, 176, 16))),
        said("temperature_c", kelvin_now_c(number(data, 1, 2))),
        said("warning_temperature_minutes", number(data, 192, 4)),
        said("critical_temperature_minutes", number(data, 196, 4)),
        said("thermal_transitions_1", number(data, 216, 4)),
        said("thermal_transitions_2", number(data, 220, 4)),
        said("thermal_throttled_1_s", number(data, 224, 4)),
        said("thermal_throttled_2_s", number(data, 228, 4)),
        *(said(name, value) for name, value in sensors if value is not Absent.NOT_OFFERED),
    )


CONTROLLER_NAMES = tuple(field.name for field in _controller(bytes(CONTROLLER_BYTES)))
NAMESPACE_NAMES = tuple(field.name for field in _namespace(bytes(NAMESPACE_BYTES)))
HEALTH_NAMES = tuple(field.name for field in _health(bytes(HEALTH_BYTES)))


def _facts(
    data: bytes, size: int, names: tuple[str, ...], read: Callable[[bytes], tuple[Said, ...]]
) -> tuple[Said, ...]:
    nothing = says_nothing(data, size)
    if nothing is not None:
        return tuple(said(name, nothing) for name in names)
    return read(data)


def controller_facts(data: bytes) -> tuple[Said, ...]:
    """Identify Controller, 4096 bytes: serial at 4 (20), model at 24 (40), firmware at 64 (8) …"""
    return _facts(data, CONTROLLER_BYTES, CONTROLLER_NAMES, _controller)


def namespace_facts(data: bytes) -> tuple[Said, ...]:
    """Identify Namespace, 4096 bytes."""
    return _facts(data, NAMESPACE_BYTES, NAMESPACE_NAMES, _namespace)


def health_facts(data: bytes) -> tuple[Said, ...]:
    """Log page 02h, 512 bytes. A sensor that reports 0 is not there, and is left out."""
    return _facts(data, HEALTH_BYTES, HEALTH_NAMES, _health)
