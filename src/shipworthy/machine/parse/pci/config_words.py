"""What a PCI configuration space is taken apart into, and the names of its codes (see `config`).

PCI Code and ID Assignment Specification (capability ids) and PCI Express Base Specification, 7.5 to 7.8
(port types, speeds, error bits), from memory; the same numbers stand in the Linux kernel's `pci_regs.h`.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.raw import Fault

POWER_MANAGEMENT, SUBSYSTEM, EXPRESS = 0x01, 0x0D, 0x10
AER, SERIAL, RESIZABLE_BAR = 0x0001, 0x0003, 0x0015

CAPABILITIES = {
    0x01: "power management",
    0x02: "AGP",
    0x03: "vital product data",
    0x04: "slot identification",
    0x05: "MSI",
    0x07: "PCI-X",
    0x08: "HyperTransport",
    0x09: "vendor specific",
    0x0A: "debug port",
    0x0D: "bridge subsystem ids",
    0x0E: "AGP 8x",
    0x10: "PCI Express",
    0x11: "MSI-X",
    0x12: "SATA",
    0x13: "advanced features",
    0x14: "enhanced allocation",
}
EXTENDED = {
    0x0001: "advanced error reporting",
    0x0002: "virtual channel",
    0x0003: "device serial number",
    0x0004: "power budgeting",
    0x000B: "vendor specific",
    0x000D: "access control services",
    0x000E: "alternative routing id",
    0x000F: "address translation services",
    0x0010: "single-root I/O virtualisation",
    0x0015: "resizable BAR",
    0x0018: "latency tolerance reporting",
    0x0019: "secondary PCI Express",
    0x001B: "process address space id",
    0x001E: "L1 substates",
    0x001F: "precision time measurement",
    0x0023: "designated vendor specific",
    0x0025: "data link feature",
    0x0026: "physical layer 16 GT/s",
    0x0027: "lane margining",
    0x002A: "physical layer 32 GT/s",
}
PORT_TYPES = {
    0x0: "endpoint",
    0x1: "legacy endpoint",
    0x4: "root port",
    0x5: "switch upstream port",
    0x6: "switch downstream port",
    0x7: "PCI Express to PCI bridge",
    0x8: "PCI to PCI Express bridge",
    0x9: "root complex integrated endpoint",
    0xA: "root complex event collector",
}
SPEEDS_GT_S = {1: 2.5, 2: 5.0, 3: 8.0, 4: 16.0, 5: 32.0, 6: 64.0}
WIDTHS = (1, 2, 4, 8, 12, 16, 32)
SCALES = (1.0, 0.1, 0.01, 0.001)
HIGH_POWER = {0xF0: 250.0, 0xF1: 275.0, 0xF2: 300.0}  # values at scale 0 that mean more than 239 W

# The short names are those of the kernel's aer_dev_* files.
UNCORRECTABLE = {
    4: "DLP",
    5: "SDES",
    12: "TLP",
    13: "FCP",
    14: "CmpltTO",
    15: "CmpltAbrt",
    16: "UnxCmplt",
    17: "RxOF",
    18: "MalfTLP",
    19: "ECRC",
    20: "UnsupReq",
    21: "ACSViol",
    22: "UncorrIntErr",
    23: "BlockedTLP",
    24: "AtomicOpBlocked",
    25: "TLPBlockedErr",
    26: "PoisonTLPBlocked",
}
CORRECTABLE = {
    0: "RxErr",
    6: "BadTLP",
    7: "BadDLLP",
    8: "Rollover",
    12: "Timeout",
    13: "NonFatalErr",
    14: "CorrIntErr",
    15: "HeaderOF",
}


@dataclass(frozen=True, slots=True)
class Capability:
    """One entry of a capability list. version: of extended ones."""

    number: int
    at: int
    extended: bool = False
    version: int = 0

    @property
    def name(self) -> str:
        known = EXTENDED if self.extended else CAPABILITIES
        return known.get(self.number, f"capability 0x{self.number:0{4 if self.extended else 2}x}")


@dataclass(frozen=True, slots=True)
class Express:
    """The PCI Express capability. None: not fetched, or a value that the specification does not have."""

    port_type: str | None
    payload_max_bytes: int | None
    payload_bytes: int | None
    link_max_speed_gt_s: float | None
    link_max_width: int | None
    link_speed_gt_s: float | None
    link_width: int | None
    target_speed_gt_s: float | None
    slot: bool
    slot_number: int | None
    slot_power_w: float | None


@dataclass(frozen=True, slots=True)
class Errors:
    """Advanced error reporting: what the registers hold at this moment, as bits."""

    uncorrectable: int
    uncorrectable_mask: int
    correctable: int
    correctable_mask: int


@dataclass(frozen=True, slots=True)
class ResizableBar:
    """One BAR whose size can be set. sizes: those that the device can do."""

    bar: int
    size_bytes: int
    sizes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Config:
    """What a configuration space says. reached: how far the lists could be followed."""

    vendor: int
    device: int
    command: int
    status: int
    revision: int
    class_code: int
    header_type: int
    multifunction: bool
    subsystem: tuple[int, int] | None
    buses: tuple[int, int, int] | None
    bars: tuple[int, ...]
    capabilities: tuple[Capability, ...] = ()
    express: Express | None = None
    power_state: str | None = None
    errors: Errors | None = None
    serial: str | None = None
    resizable: tuple[ResizableBar, ...] = ()
    readable: bool = True
    extended_readable: bool = True
    faults: tuple[Fault, ...] = ()

    def has(self, number: int, *, extended: bool = False) -> bool:
        return any(c.number == number and c.extended is extended for c in self.capabilities)
