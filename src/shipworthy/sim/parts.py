"""The parts of the invented unit, and the facts that can be planted in them.

Makers, models and serials are invented. PCI and PNP ids were assigned to nobody when they were chosen;
the network address is of the locally administered kind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from uuid import UUID

from shipworthy.sim.edid import Screen, Timing
from shipworthy.sim.nvme import Drive, Wear, lba_count
from shipworthy.sim.smbios import Module


class Fault(StrEnum):
    """What can be wrong with the unit. Each is planted in what the part itself says."""

    WRONG_PART = "wrong part"  # a Tarn C5 sits where a Tarn C7 was sold
    PROFILE_OFF = "profile off"  # the memory runs at 4800 MT/s, its profile for 6000 was left off
    DRIVE_NOT_NEW = "drive not new"  # the drive has 3112 hours, 410 cycles and 18 TB behind it
    LINK_SLOW = "link slow"  # once the unit is warm, the drive's link falls back to half of its speed


@dataclass(frozen=True)
class Processor:
    maker: str
    model: str
    microcode: str
    socket: str
    min_mhz: int
    base_mhz: int
    all_core_mhz: int
    max_mhz: int
    power_limit_w: int


@dataclass(frozen=True)
class Identity:
    """Of a thing that the firmware names."""

    maker: str
    model: str
    version: str
    serial: str
    asset: str = ""


@dataclass(frozen=True)
class Slot:
    locator: str
    bank: str
    module: Module | None = None


@dataclass(frozen=True)
class Parts:
    """Everything that the unit is made of and that says so itself."""

    processor: Processor
    slots: tuple[Slot, ...]
    drive: Drive
    wear: Wear
    screen: Screen


SYSTEM = Identity("Kestrel Desk", "Quiet Desk 4", "2026", "KDQ4-26-0093")
SYSTEM_UUID = UUID("5e0b7c1a-0412-4d4b-9a31-7f2c6d80e415")
BOARD = Identity("Holloway", "Holloway B6-Q", "1.3", "HB6Q-71150934", "")
CHASSIS = Identity("Osprey Works", "Osprey Fold 2", "2", "OF2-004417")
FIRMWARE = Identity("Holloway", "", "1.12", "")
FIRMWARE_DATE = "02/11/2026"
MAC_ADDRESS = "02:4b:44:04:12:01"

_TARN_C7 = Processor("Tarn", "Tarn C7", "0x11c", "TS4", 800, 3600, 4200, 4700, 90)


def _module(serial: str) -> Module:
    return Module(8192, "Fennec", serial, "FQ5-60-8X", 6000, 6000, 1250)


_AS_SOLD = Parts(
    processor=_TARN_C7,
    slots=(
        Slot("DIMM_A1", "BANK 0"),
        Slot("DIMM_A2", "BANK 1", _module("2F61C0A4")),
        Slot("DIMM_B1", "BANK 2"),
        Slot("DIMM_B2", "BANK 3", _module("2F61C0B7")),
    ),
    drive=Drive(
        vendor=0x70DE,
        subsystem_vendor=0x70DE,
        model="Quarrel M2 1TB",
        serial="QM2A26070088153",
        firmware_version="Q2.04",
        blocks=lba_count(1000),
        warning_k=358,
        critical_k=363,
    ),
    wear=Wear(
        power_on_hours=2,
        power_cycles=11,
        read_bytes=2_300_000_000,
        written_bytes=1_200_000_000,
        percentage_used=0,
        unsafe_shutdowns=1,
    ),
    screen=Screen(
        maker="LWL",
        product=0x27A4,
        name="Lindwall L27Q",
        serial="L27Q6A01938",
        week=9,
        year=2026,
        # 59.95 Hz with reduced blanking: 2560 + 160 pixels, 1440 + 41 lines, 241.50 MHz (VESA CVT 1.2)
        timing=Timing(24_150, 2560, 160, 48, 32, 1440, 41, 3, 5, 597, 336),
    ),
)


def fitted(faults: frozenset[Fault] = frozenset()) -> Parts:
    """Return the parts as sold, or with what is wrong with them."""
    parts = _AS_SOLD
    if Fault.WRONG_PART in faults:
        parts = replace(parts, processor=replace(parts.processor, model="Tarn C5"))
    if Fault.PROFILE_OFF in faults:
        parts = replace(parts, slots=tuple(_profile_off(slot) for slot in parts.slots))
    if Fault.DRIVE_NOT_NEW in faults:
        parts = replace(parts, wear=Wear(3112, 410, 21_400_000_000_000, 18_000_000_000_000, 3, 37))
    return parts


def _profile_off(slot: Slot) -> Slot:
    return replace(slot, module=replace(slot.module, configured_mt_s=4800)) if slot.module else slot
