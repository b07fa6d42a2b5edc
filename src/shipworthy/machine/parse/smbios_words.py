"""Words of SMBIOS enumerations (DMTF DSP0134, section in each name's line; values above 0x10 of the form
factors and 0x24 of the memory types as in the EDK II header, written for version 3.8)."""

from __future__ import annotations

# 7.4.1, chassis types, from 1
CHASSIS_TYPES = dict(
    enumerate(
        [
            "Other",
            "Unknown",
            "Desktop",
            "Low Profile Desktop",
            "Pizza Box",
            "Mini Tower",
            "Tower",
            "Portable",
            "Laptop",
            "Notebook",
            "Hand Held",
            "Docking Station",
            "All In One",
            "Sub Notebook",
            "Space-saving",
            "Lunch Box",
            "Main Server Chassis",
            "Expansion Chassis",
            "Sub Chassis",
            "Bus Expansion Chassis",
            "Peripheral Chassis",
            "RAID Chassis",
            "Rack Mount Chassis",
            "Sealed-case PC",
            "Multi-system",
            "CompactPCI",
            "AdvancedTCA",
            "Blade",
            "Blade Enclosing",
            "Tablet",
            "Convertible",
            "Detachable",
            "IoT Gateway",
            "Embedded PC",
            "Mini PC",
            "Stick PC",
        ],
        1,
    )
)

# 7.18.1, memory device form factors, from 1
FORM_FACTORS = dict(
    enumerate(
        [
            "Other",
            "Unknown",
            "SIMM",
            "SIP",
            "Chip",
            "DIP",
            "ZIP",
            "Proprietary Card",
            "DIMM",
            "TSOP",
            "Row Of Chips",
            "RIMM",
            "SODIMM",
            "SRIMM",
            "FB-DIMM",
            "Die",
            "CAMM",
            "CUDIMM",
            "CSODIMM",
        ],
        1,
    )
)

# 7.18.2, memory device types, from 1
MEMORY_TYPES = dict(
    enumerate(
        [
            "Other",
            "Unknown",
            "DRAM",
            "EDRAM",
            "VRAM",
            "SRAM",
            "RAM",
            "ROM",
            "Flash",
            "EEPROM",
            "FEPROM",
            "EPROM",
            "CDRAM",
            "3DRAM",
            "SDRAM",
            "SGRAM",
            "RDRAM",
            "DDR",
            "DDR2",
            "DDR2 FB-DIMM",
            "Reserved",
            "Reserved",
            "Reserved",
            "DDR3",
            "FBD2",
            "DDR4",
            "LPDDR",
            "LPDDR2",
            "LPDDR3",
            "LPDDR4",
            "Logical non-volatile device",
            "HBM",
            "HBM2",
            "DDR5",
            "LPDDR5",
            "HBM3",
            "MRDIMM",
        ],
        1,
    )
)

# 7.17.3, memory array error correction, from 1
ERROR_CORRECTIONS = dict(
    enumerate(["Other", "Unknown", "None", "Parity", "Single-bit ECC", "Multi-bit ECC", "CRC"], 1)
)

SILENT_WORDS = frozenset({"Other", "Unknown", "Reserved"})
"""Words by which firmware says that it does not say."""
