"""SMBIOS structures of what sits on or in the board: connectors, slots, onboard devices, security module;
batteries, power supplies, probes and cooling devices.

Standard: DMTF DSP0134 7.9, 7.10, 7.23, 7.27 to 7.30, 7.40, 7.42, 7.44. Offsets of types 8, 9, 41, 43:
`check-values/smbios.md`; of the others from memory, held against dmidecode.
"""

from __future__ import annotations

from shipworthy.machine.parse.smbios.fields import (
    NONE,
    NOT_GIVEN,
    UNKNOWN,
    Field,
    Layout,
    Value,
    bit,
    handle,
    hexadecimal,
    joined,
    number,
    of,
    parts,
    pci_address,
    text,
    word,
)
from shipworthy.machine.parse.smbios.table import Structure, text_of
from shipworthy.machine.parse.smbios.words import (
    CHEMISTRIES,
    COOLING_TYPES,
    PROBE_LOCATIONS,
    PROBE_STATES,
    SUPPLY_RANGES,
    SUPPLY_STATES,
    SUPPLY_TYPES,
    TEMPERATURE_LOCATIONS,
)
from shipworthy.machine.parse.smbios.words_board import (
    CONNECTORS,
    ONBOARD_TYPES,
    PORT_TYPES,
    SLOT_HEIGHTS,
    SLOT_LENGTHS,
    SLOT_TYPES,
    SLOT_USES,
    SLOT_WIDTHS,
)

PC_CARD = 7  # slot type
SLOT_HAS = dict(
    enumerate(
        [
            "5 V", "3.3 V", "shared opening", "PC Card-16", "CardBus", "Zoom Video", "modem ring resume",
            "PME", "hot plug", "SMBus", "bifurcation", "surprise removal", "CXL 1", "CXL 2",
            "CXL 3",
        ],
        1,
    )
)  # fmt: skip
"""7.10.6 and 7.10.7, bytes 0x0B and 0x0C as one word; bit 0 says that nothing is known. CXL 3 from memory."""
TPM_CAN = {
    3: "family by firmware update",
    4: "family by platform software",
    5: "family by the maker's own way",
}
"""7.44.1; bit 2 says that the others say nothing."""
NOMINAL_UNKNOWN = 0x8000
NO_PROBE = {0xFFFF: NONE}
SMART_BATTERY_CHEMISTRY = 2


def slot_bits(s: Structure) -> int | None:
    """Both bytes of characteristics; the second is missing in 2.0."""
    if len(s.area) < 0x0C:
        return None
    return s.area[0x0B] | (s.area[0x0C] << 8 if len(s.area) > 0x0C else 0)


def slot_tail(s: Structure) -> int | None:
    """Where the fields behind the peers begin (3.2): a byte of width, one of count, five for each peer."""
    peers = s.number(0x12, 1)
    return None if peers is None else 0x13 + 5 * peers


def _slot_id(s: Structure) -> Value:
    if s.area[0x05] == PC_CARD:
        return f"adapter {s.area[0x09]}, socket {s.area[0x0A]}"
    return s.number(0x09, 2) or 0


def _slot_characteristics(s: Structure) -> Value:
    bits = slot_bits(s) or 0
    return UNKNOWN if bits & 1 else joined([word for at, word in SLOT_HAS.items() if bits >> at & 1])


def _slot_address(s: Structure) -> Value:
    return pci_address(s, 0x0D, 0x0F, 0x10) or NOT_GIVEN


def _slot_peers(s: Structure) -> Value | None:
    end = slot_tail(s)
    if end is None or end > len(s.area):
        return None
    starts = range(0x13, end, 5)
    return joined([f"{pci_address(s, at, at + 2, at + 3)} x{s.area[at + 4]}" for at in starts])


def _behind_peers(name: str, offset: int, size: int, read: Field) -> Field:
    """A field that lies so many bytes behind the peers; `read` sees the structure as if there were none."""

    def moved(s: Structure) -> Value | None:
        tail = slot_tail(s)
        if tail is None or tail + offset + size > len(s.area):
            return None
        return read.read(Structure(s.type, s.handle, s.area[tail + offset :][:size], s.strings))

    return Field(name, moved)


def battery_serial(s: Structure) -> str | None:
    """The number of a smart battery, where no text is given (7.23)."""
    found = s.number(0x10, 2)
    return None if s.number(0x07, 1) or found is None else f"{found:04X}"


def battery_date(s: Structure) -> str | None:
    """Days, months and years since 1980 of a smart battery, where no text is given (7.23)."""
    packed = s.number(0x12, 2)
    if s.number(0x06, 1) or packed is None:
        return None
    return f"{1980 + (packed >> 9)}-{packed >> 5 & 15:02}-{packed & 31:02}"


def battery_capacity_mwh(s: Structure) -> int | None:
    """The capacity times its multiplier, which the first version did not have (7.23); 0 unknown."""
    capacity, multiplier = s.number(0x0A, 2), s.number(0x15, 1)
    return None if capacity is None else capacity * (1 if multiplier is None else multiplier)


def _battery_capacity(s: Structure) -> Value:
    return UNKNOWN if not s.number(0x0A, 2) else battery_capacity_mwh(s) or 0


def _smart_battery_chemistry(s: Structure) -> Value | None:
    return text("smart_battery_chemistry", 0x14).read(s) if s.area[0x09] == SMART_BATTERY_CHEMISTRY else None


def tpm_vendor(s: Structure) -> str:
    """Four signs, fewer where a zero ends them."""
    return text_of(s.area[0x04:0x08].partition(b"\0")[0])


def tpm_firmware(s: Structure) -> str | None:
    """By the major version of the specification: two bytes of a TCPA structure, or two words (7.44)."""
    major = s.number(0x08, 1)
    if major == 1 and len(s.area) >= 0x0E:
        return f"{s.area[0x0C]}.{s.area[0x0D]}"
    high, low = s.number(0x0C, 2), s.number(0x0A, 2)
    return f"{high}.{low}" if major == 2 and high is not None and low is not None else None


def _tpm_characteristics(s: Structure) -> Value:
    bits = s.number(0x13, 8) or 0
    return "not told" if bits & 4 else joined([word for at, word in TPM_CAN.items() if bits >> at & 1])


def _probe(
    title: str,
    section: str,
    unit: str,
    per_unit: int,
    fine: str,
    per_fine: int,
    locations: dict[int, str] = PROBE_LOCATIONS,
) -> Layout:
    """Types 26, 28 and 29 have one layout; the unit and its parts differ."""
    return Layout(
        title,
        section,
        (
            text("label", 0x04),
            word("location", 0x05, locations, mask=0x1F),
            word("status", 0x05, PROBE_STATES, mask=7, shift=5),
            parts(f"max_{unit}", 0x06, per_unit),
            parts(f"min_{unit}", 0x08, per_unit),
            parts(f"resolution_{fine}", 0x0A, per_fine, sign=False),
            parts(f"tolerance_{unit}", 0x0C, per_unit),
            parts("accuracy_percent", 0x0E, 100, sign=False),
            hexadecimal("maker_bits", 0x10, 4),
            parts(f"nominal_{unit}", 0x14, per_unit),
        ),
        least=0x14,
    )


LAYOUTS = {
    8: Layout(
        "connector",
        "7.9",
        (
            text("internal_label", 0x04),
            word("internal_connector", 0x05, CONNECTORS),
            text("label", 0x06),
            word("connector", 0x07, CONNECTORS),
            word("type", 0x08, PORT_TYPES),
        ),
        least=9,
    ),
    9: Layout(
        "slot",
        "7.10",
        (
            text("label", 0x04),
            word("type", 0x05, SLOT_TYPES),
            word("width", 0x06, SLOT_WIDTHS),
            word("usage", 0x07, SLOT_USES),
            word("length", 0x08, SLOT_LENGTHS),
            of("slot_id", 0x0B, _slot_id),
            of("characteristics", 0x0C, _slot_characteristics),
            of("device", 0x11, _slot_address),
            number("lanes", 0x11),
            number("peers", 0x12),
            of("peer_devices", 0x13, _slot_peers),
            _behind_peers("generation", 0, 1, number("", 0)),
            _behind_peers("physical_width", 1, 1, word("", 0, SLOT_WIDTHS)),
            _behind_peers("pitch_mm", 2, 2, of("", 2, lambda s: (s.number(0, 2) or 0) / 100)),
            _behind_peers("height", 4, 1, word("", 0, SLOT_HEIGHTS)),
        ),
        least=0x0C,
        since=(((2, 1), 0x0D), ((2, 6), 0x11), ((3, 2), 0x13), ((3, 4), 0x17), ((3, 5), 0x18)),
        lists=True,
    ),
    22: Layout(
        "battery",
        "7.23",
        (
            text("label", 0x04),
            text("maker", 0x05),
            text("manufactured", 0x06),
            text("serial", 0x07),
            text("model", 0x08),
            word("chemistry", 0x09, CHEMISTRIES),
            of("design_capacity_mwh", 0x0C, _battery_capacity),
            number("design_voltage_mv", 0x0C, 2, unknown=(0,)),
            text("smart_battery_version", 0x0E),
            number("max_error_percent", 0x0F, unknown=(0xFF,)),
            of("smart_battery_serial", 0x12, battery_serial),
            of("smart_battery_date", 0x14, battery_date),
            of("smart_battery_chemistry", 0x15, _smart_battery_chemistry),
            hexadecimal("maker_bits", 0x16, 4),
        ),
        least=0x10,
        since=(((2, 2), 0x1A),),
    ),
    26: _probe("voltage probe", "7.27", "voltage_mv", 1, "voltage_mv", 10),
    27: Layout(
        "cooling device",
        "7.28",
        (
            handle("temperature_probe_handle", 0x04, NO_PROBE),
            word("type", 0x06, COOLING_TYPES, mask=0x1F),
            word("status", 0x06, PROBE_STATES, mask=7, shift=5),
            number("group", 0x07, unknown=(0,), said=NONE),
            hexadecimal("maker_bits", 0x08, 4),
            number("nominal_speed_rpm", 0x0C, 2, unknown=(NOMINAL_UNKNOWN,)),
            text("label", 0x0E),
        ),
        least=0x0C,
        since=(((2, 7), 0x0F),),
    ),
    28: _probe(
        "temperature probe", "7.29", "temperature_c", 10, "temperature_c", 1000, TEMPERATURE_LOCATIONS
    ),
    29: _probe("current probe", "7.30", "current_ma", 1, "current_ma", 10),
    39: Layout(
        "power supply",
        "7.40",
        (
            number("group", 0x04, unknown=(0,), said=NONE),
            text("label", 0x05),
            text("model", 0x06),
            text("maker", 0x07),
            text("serial", 0x08),
            text("asset", 0x09),
            text("part_number", 0x0A),
            text("revision", 0x0B),
            number("max_power_w", 0x0C, 2, unknown=(0x8000,)),
            bit("present", 0x0E, 1, size=2),
            word("status", 0x0E, SUPPLY_STATES, mask=7, shift=7, size=2),
            word("type", 0x0E, SUPPLY_TYPES, mask=15, shift=10, size=2),
            word("input_range", 0x0E, SUPPLY_RANGES, mask=15, shift=3, size=2),
            bit("unplugged", 0x0E, 2, size=2),
            bit("hot_replaceable", 0x0E, 0, size=2),
            handle("voltage_probe_handle", 0x10, NO_PROBE),
            handle("cooling_handle", 0x12, NO_PROBE),
            handle("current_probe_handle", 0x14, NO_PROBE),
        ),
        least=0x10,
    ),
    41: Layout(
        "onboard device",
        "7.42",
        (
            text("label", 0x04),
            word("type", 0x05, ONBOARD_TYPES, mask=0x7F),
            bit("enabled", 0x05, 7),
            number("instance", 0x06),
            of("device", 0x0B, lambda s: pci_address(s, 0x07, 0x09, 0x0A) or NOT_GIVEN),
        ),
        least=0x0B,
    ),
    43: Layout(
        "security module",
        "7.44",
        (
            of("maker", 0x08, tpm_vendor),
            of("specification", 0x0A, lambda s: f"{s.area[0x08]}.{s.area[0x09]}"),
            of("firmware_version", 0x0E, lambda s: tpm_firmware(s) or UNKNOWN),
            text("label", 0x12),
            of("characteristics", 0x1B, _tpm_characteristics),
            hexadecimal("maker_bits", 0x1B, 4),
        ),
        least=0x1F,
    ),
}
