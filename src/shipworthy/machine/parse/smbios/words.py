"""Words of SMBIOS enumerations (DMTF DSP0134, section in each line): boards, chassis, memory, caches, power.

Terms and codes: `check-values/smbios-enums.csv` of the reference data (dmidecode's source, and the EDK II
header for what is newer), and for enumerations that it does not list what dmidecode 3.4 prints for each code.
From memory: memory technology 0x08.
"""

from __future__ import annotations


def named(*runs: tuple[int, str]) -> dict[int, str]:
    """Return words by code: each run begins at its code, words between bars."""
    return {first + index: word for first, run in runs for index, word in enumerate(run.split("|"))}


# 7.4.1, chassis types
CHASSIS_TYPES = named(
    (
        0x01,
        "Other|Unknown|Desktop|Low Profile Desktop|Pizza Box|Mini Tower|Tower|Portable|Laptop|"
        "Notebook|Hand Held|Docking Station|All In One|Sub Notebook|Space-saving|Lunch Box|"
        "Main Server Chassis|Expansion Chassis|Sub Chassis|Bus Expansion Chassis|"
        "Peripheral Chassis|RAID Chassis|Rack Mount Chassis|Sealed-case PC|Multi-system|"
        "CompactPCI|AdvancedTCA|Blade|Blade Enclosing|Tablet|Convertible|Detachable|IoT Gateway|"
        "Embedded PC|Mini PC|Stick PC",
    ),
)

# 7.4.2, states of a chassis
STATES = named(
    (0x01, "Other|Unknown|Safe|Warning|Critical|Non-recoverable"),
)

# 7.4.3, security of a chassis
SECURITY_STATES = named(
    (0x01, "Other|Unknown|None|External Interface Locked Out|External Interface Enabled"),
)

# 7.2.2, what woke the system up
WAKE_UPS = named(
    (0x00, "Reserved|Other|Unknown|APM Timer|Modem Ring|LAN Remote|Power Switch|PCI PME#|AC Power Restored"),
)

# 7.3.2, board types
BOARD_TYPES = named(
    (
        0x01,
        "Unknown|Other|Server Blade|Connectivity Switch|System Management Module|"
        "Processor Module|I/O Module|Memory Module|Daughter Board|Motherboard|"
        "Processor+Memory Module|Processor+I/O Module|Interconnect Board",
    ),
)

# 7.18.1, memory device form factors
FORM_FACTORS = named(
    (
        0x01,
        "Other|Unknown|SIMM|SIP|Chip|DIP|ZIP|Proprietary Card|DIMM|TSOP|Row Of Chips|RIMM|SODIMM|"
        "SRIMM|FB-DIMM|Die|CAMM|CUDIMM|CSODIMM",
    ),
)

# 7.18.2, memory device types
MEMORY_TYPES = named(
    (
        0x01,
        "Other|Unknown|DRAM|EDRAM|VRAM|SRAM|RAM|ROM|Flash|EEPROM|FEPROM|EPROM|CDRAM|3DRAM|SDRAM|"
        "SGRAM|RDRAM|DDR|DDR2|DDR2 FB-DIMM|Reserved|Reserved|Reserved|DDR3|FBD2|DDR4|LPDDR|"
        "LPDDR2|LPDDR3|LPDDR4|Logical non-volatile device|HBM|HBM2|DDR5|LPDDR5|HBM3|MRDIMM",
    ),
)

# 7.18.6, memory technologies
MEMORY_TECHNOLOGIES = named(
    (0x01, "Other|Unknown|DRAM|NVDIMM-N|NVDIMM-F|NVDIMM-P|Intel Optane DC persistent memory|MRDIMM"),
)

# 7.17.1, where a memory array is
ARRAY_LOCATIONS = named(
    (
        0x01,
        "Other|Unknown|System Board Or Motherboard|ISA Add-on Card|EISA Add-on Card|"
        "PCI Add-on Card|MCA Add-on Card|PCMCIA Add-on Card|Proprietary Add-on Card|NuBus",
    ),
    (
        0xA0,
        "PC-98/C20 Add-on Card|PC-98/C24 Add-on Card|PC-98/E Add-on Card|"
        "PC-98/Local Bus Add-on Card|CXL Add-on Card",
    ),
)

# 7.17.2, what a memory array is for
ARRAY_USES = named(
    (0x01, "Other|Unknown|System Memory|Video Memory|Flash Memory|Non-volatile RAM|Cache Memory"),
)

# 7.17.3, memory array error correction
ERROR_CORRECTIONS = named(
    (0x01, "Other|Unknown|None|Parity|Single-bit ECC|Multi-bit ECC|CRC"),
)

# 7.8, bits 9:8 of a cache's configuration
CACHE_MODES = named(
    (0x00, "Write Through|Write Back|Varies With Memory Address|Unknown"),
)

# 7.8, bits 6:5 of a cache's configuration
CACHE_LOCATIONS = named(
    (0x00, "Internal|External"),
    (0x03, "Unknown"),
)

# 7.8.3, cache error correction
CACHE_ERROR_CORRECTIONS = named(
    (0x01, "Other|Unknown|None|Parity|Single-bit ECC|Multi-bit ECC"),
)

# 7.8.4, what a cache holds
CACHE_TYPES = named(
    (0x01, "Other|Unknown|Instruction|Data|Unified"),
)

# 7.8.5, cache associativity
ASSOCIATIVITIES = named(
    (
        0x01,
        "Other|Unknown|Direct Mapped|2-way Set-associative|4-way Set-associative|"
        "Fully Associative|8-way Set-associative|16-way Set-associative|12-way Set-associative|"
        "24-way Set-associative|32-way Set-associative|48-way Set-associative|"
        "64-way Set-associative|20-way Set-associative",
    ),
)

# 7.23.1, battery chemistry
CHEMISTRIES = named(
    (
        0x01,
        "Other|Unknown|Lead Acid|Nickel Cadmium|Nickel Metal Hydride|Lithium Ion|Zinc Air|Lithium Polymer",
    ),
)

# 7.27 to 7.30, bits 7:5: state of a probe or cooling device
PROBE_STATES = named(
    (0x01, "Other|Unknown|OK|Non-critical|Critical|Non-recoverable"),
)

# 7.40.1, bits 9:7: state of a power supply
SUPPLY_STATES = named((0x01, "Other|Unknown|OK|Non-critical|Critical"))

# 7.27.1, 7.29.1, 7.30.1, bits 4:0: what a probe looks at
PROBE_LOCATIONS = named(
    (
        0x01,
        "Other|Unknown|Processor|Disk|Peripheral Bay|System Management Module|Motherboard|"
        "Memory Module|Processor Module|Power Unit|Add-in Card",
    ),
)

# 7.29.1, bits 4:0: a temperature probe can look at more
TEMPERATURE_LOCATIONS = PROBE_LOCATIONS | named(
    (0x0C, "Front Panel Board|Back Panel Board|Power System Board|Drive Back Plane"),
)

# 7.28.1, bits 4:0: cooling devices
COOLING_TYPES = named(
    (
        0x01,
        "Other|Unknown|Fan|Centrifugal Blower|Chip Fan|Cabinet Fan|Power Supply Fan|Heat Pipe|"
        "Integrated Refrigeration",
    ),
    (0x10, "Active Cooling|Passive Cooling"),
)

# 7.40.1, bits 13:10: power supplies
SUPPLY_TYPES = named(
    (0x01, "Other|Unknown|Linear|Switching|Battery|UPS|Converter|Regulator"),
)

# 7.40.1, bits 6:3: input voltage range switching
SUPPLY_RANGES = named(
    (0x01, "Other|Unknown|Manual|Auto-switch|Wide Range|N/A"),
)

# 7.33.1, how the last start ended; 0x80 and up are the maker's
BOOT_STATES = named(
    (
        0x00,
        "No errors detected|No bootable media|Operating system failed to load|"
        "Firmware-detected hardware failure|Operating system-detected hardware failure|"
        "User-requested boot|System security violation|Previously-requested image|"
        "System watchdog timer expired",
    ),
)

SILENT_WORDS = frozenset({"Other", "Unknown", "Reserved"})
"""Words by which firmware says that it does not say."""
