"""For each type of structure: dmidecode 3.4's labels, and the rule that holds each against our fields."""

from __future__ import annotations

import re

from decoding.smbios_raw_labels import (
    Agrees,
    Ours,
    Rule,
    custom,
    entries,
    handle,
    listed,
    number,
    same_text,
    same_word,
    size,
    spaced,
    text,
    word,
    words,
    yes,
)

NOT_PROVIDED = {"Not Provided": "not told", "No Error": "no error"}
NO_CACHE = {"Not Provided": "not told", "No L1 Cache": "none", "No L2 Cache": "none", "No L3 Cache": "none"}

FIRMWARE = {
    "ISA is supported": "ISA",
    "MCA is supported": "MCA",
    "EISA is supported": "EISA",
    "PCI is supported": "PCI",
    "PC Card (PCMCIA) is supported": "PC Card",
    "PNP is supported": "Plug and Play",
    "APM is supported": "APM",
    "BIOS is upgradeable": "firmware can be updated",
    "BIOS shadowing is allowed": "shadowing",
    "VLB is supported": "VL-VESA",
    "ESCD support is available": "ESCD",
    "Boot from CD is supported": "start from CD",
    "Selectable boot is supported": "start device can be chosen",
    "BIOS ROM is socketed": "ROM in a socket",
    "Boot from PC Card (PCMCIA) is supported": "start from PC Card",
    "EDD is supported": "EDD",
    "Japanese floppy for NEC 9800 1.2 MB is supported (int 13h)": "floppy NEC 9800 1.2 MB",
    "Japanese floppy for Toshiba 1.2 MB is supported (int 13h)": "floppy Toshiba 1.2 MB",
    '5.25"/360 kB floppy services are supported (int 13h)': "floppy 5.25 inch 360 KB",
    '5.25"/1.2 MB floppy services are supported (int 13h)': "floppy 5.25 inch 1.2 MB",
    '3.5"/720 kB floppy services are supported (int 13h)': "floppy 3.5 inch 720 KB",
    '3.5"/2.88 MB floppy services are supported (int 13h)': "floppy 3.5 inch 2.88 MB",
    "Print screen service is supported (int 5h)": "print screen",
    "8042 keyboard services are supported (int 9h)": "8042 keyboard",
    "Serial services are supported (int 14h)": "serial services",
    "Printer services are supported (int 17h)": "printer services",
    "CGA/mono video services are supported (int 10h)": "CGA and mono video",
    "NEC PC-98": "NEC PC-98",
    "ACPI is supported": "ACPI",
    "USB legacy is supported": "USB legacy",
    "AGP is supported": "AGP",
    "I2O boot is supported": "I2O start",
    "LS-120 boot is supported": "LS-120 start",
    "ATAPI Zip drive boot is supported": "ATAPI ZIP start",
    "IEEE 1394 boot is supported": "IEEE 1394 start",
    "Smart battery is supported": "smart battery",
    "BIOS boot specification is supported": "BIOS Boot Specification",
    "Function key-initiated network boot is supported": "network start by function key",
    "Targeted content distribution is supported": "targeted content distribution",
    "UEFI is supported": "UEFI",
    "System is a virtual machine": "virtual machine",
    "Manufacturing mode is supported": "manufacturing mode supported",
    "Manufacturing mode is enabled": "manufacturing mode enabled",
}
BOARD = {
    "Board is a hosting board": "hosting board",
    "Board requires at least one daughter board": "needs a daughter board",
    "Board is removable": "removable",
    "Board is replaceable": "replaceable",
    "Board is hot swappable": "hot swappable",
}
ABILITIES = {
    "64-bit capable": "64-bit",
    "Multi-Core": "multi-core",
    "Hardware Thread": "hardware threads",
    "Execute Protection": "execute protection",
    "Enhanced Virtualization": "virtualisation",
    "Power/Performance Control": "power and performance control",
    "128-bit Capable": "128-bit",
    "Arm64 SoC ID": "Arm64 SoC ID",
}
FLAGS = {"pse-36": "pse36", "psn": "pn", "clfsh": "clflush", "ds": "dts", "htt": "ht"}
SLOT = {
    "5.0 V is provided": "5 V",
    "3.3 V is provided": "3.3 V",
    "Opening is shared": "shared opening",
    "PC Card-16 is supported": "PC Card-16",
    "Cardbus is supported": "CardBus",
    "Zoom Video is supported": "Zoom Video",
    "Modem ring resume is supported": "modem ring resume",
    "PME signal is supported": "PME",
    "Hot-plug devices are supported": "hot plug",
    "SMBus signal is supported": "SMBus",
    "PCIe slot bifurcation is supported": "bifurcation",
    "Async/surprise removal is supported": "surprise removal",
    "Flexbus slot, CXL 1.0 capable": "CXL 1",
    "Flexbus slot, CXL 2.0 capable": "CXL 2",
    "Flexbus slot, CXL 3.0 capable": "CXL 3",
}
SRAM = ("Other", "Unknown", "Non-burst", "Burst", "Pipeline Burst", "Synchronous", "Asynchronous")
DETAILS = (
    "Other", "Unknown", "Fast-paged", "Static Column", "Pseudo-static", "RAMBus", "Synchronous", "CMOS",
    "EDO", "Window DRAM", "Cache DRAM", "Non-Volatile", "Registered (Buffered)", "Unbuffered (Unregistered)",
    "LRDIMM",
)  # fmt: skip
MODES = (
    "Other", "Unknown", "Volatile memory", "Byte-accessible persistent memory",
    "Block-accessible persistent memory",
)  # fmt: skip
TPM = {
    "Family configurable via firmware update": "family by firmware update",
    "Family configurable via platform software support": "family by platform software",
    "Family configurable via OEM proprietary mechanism": "family by the maker's own way",
}
MODULE_SIZE = {"No Module Installed": "not fitted"}
PART_SIZE = {"None": 0}


def _address(printed: str, _: list[str], ours: Ours) -> bool:
    return str(ours.get("start_address")) == printed


def _rom(printed: str, lines: list[str], ours: Ours) -> bool:
    if "OUT OF SPEC" in printed:
        return str(ours.get("rom_bytes")).startswith("code 0x")
    return size("rom_bytes").agrees(printed, lines, ours)


def _contents(printed: str, lines: list[str], ours: Ours) -> bool:
    mine = entries(ours, "contains")
    return (mine == set(lines) and printed == str(len(lines))) or mine == {f"{printed} announced"}


def _elements(printed: str, lines: list[str], ours: Ours) -> bool:
    """Types of structures are named by dmidecode and numbered by us: held are counts, and boards' names."""
    said = str(ours.get("contains"))
    mine = [] if said == "none" else said.split("; ")
    if mine == [f"{printed} announced"]:
        return not lines
    if printed != str(len(lines)) or len(mine) != len(lines):
        return False
    for line, entry in zip(lines, mine, strict=True):
        match = re.fullmatch(r"(.*) \((\d+)(?:-(\d+))?\)", line.strip())
        own = re.fullmatch(r"(.*) (\d+) to (\d+)", entry)
        if match is None or own is None or (match[2], match[3] or match[2]) != (own[2], own[3]):
            return False
        if not own[1].startswith("structures of type") and not same_word(match[1], own[1]):
            return False
    return True


def _status(printed: str, _: list[str], ours: Ours) -> bool:
    if printed == "Unpopulated":
        return ours.get("fitted") is False
    state = printed.removeprefix("Populated, ")
    mine = {"Disabled By BIOS": "Disabled By Firmware"}.get(state, state)
    return ours.get("fitted") is True and same_word(mine, ours.get("status"))


def _signature(printed: str, _: list[str], ours: Ours) -> bool:
    """Of AMD's dmidecode prints no type; of Arm its words are hexadecimal too."""
    mine = str(ours.get("signature"))
    theirs = printed.lower().replace("implementor", "implementer")
    return theirs.replace("0x", "") in (mine.lower().replace("0x", ""), mine.partition(", ")[2])


def _flags(printed: str, lines: list[str], ours: Ours) -> bool:
    names = [line.partition(" ")[0].lower() for line in lines]
    return printed in ("", "None") and {FLAGS.get(name, name) for name in names} == entries(ours, "flags")


def _voltage(printed: str, lines: list[str], ours: Ours) -> bool:
    mine = ours.get("voltage_v")
    if printed == "Unknown":
        return mine == "unknown"
    if isinstance(mine, float):
        return printed == f"{mine:.1f} V"
    return re.findall(r"[0-9.]+", printed) == str(mine).split(", ")


def _id(printed: str, _: list[str], ours: Ours) -> bool:
    return printed.lower() == ours.get("id_hex")


def _configuration(printed: str, _: list[str], ours: Ours) -> bool:
    enabled = "Enabled" if ours.get("enabled") else "Disabled"
    socketed = "Socketed" if ours.get("socketed") else "Not Socketed"
    return printed == f"{enabled}, {socketed}, Level {ours.get('level')}"


def _slot_type(printed: str, _: list[str], ours: Ours) -> bool:
    width, kind = str(ours.get("width")), str(ours.get("type"))
    width = "" if width in ("Other", "Unknown") else f"{width} "
    said = (f"{width}{kind}",)
    return re.sub(r"code 0x[0-9A-F]+", "<OUT OF SPEC>", said[0]) == printed


def _slot_id(printed: str, _: list[str], ours: Ours) -> bool:
    """dmidecode prints the low byte of a number that is a word."""
    mine = ours.get("slot_id")
    if isinstance(mine, int):
        return printed == str(mine & 0xFF)
    return printed.lower() == mine


def _pci(field: str) -> Agrees:
    return lambda printed, _, ours: ours.get(field) == printed


def _memory_address(field: str) -> Rule:
    """Long addresses are bytes (7.20); the `k` that dmidecode 3.4 puts behind them is a slip of its own."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        return int(printed.rstrip("k"), 16) == ours.get(field)

    return custom(field, agrees)


def _range(printed: str, lines: list[str], ours: Ours) -> bool:
    """Where a range ends before it begins dmidecode's sum runs over; ours says what is wrong."""
    if ours.get("range_bytes") == "it ends before it begins":
        return int(str(ours["first_address"])) >= int(str(ours["last_address"]))
    return size("range_bytes").agrees(printed, lines, ours)


def _maker_code(field: str) -> Rule:
    """Bank and byte with its parity; a code whose parity does not hold stays a number with us."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        mine = str(ours.get(field))
        match = re.fullmatch(r"Bank (\d+), Hex 0x([0-9A-F]{2})", printed)
        if match is None:
            return printed == "Unknown" and mine == "unknown"
        bank, byte = int(match[1]), int(match[2], 16)
        if own := re.fullmatch(r"JEP106 bank (\d+) code 0x([0-9A-F]{2})", mine):
            return (int(own[1]), int(own[2], 16)) == (bank, byte & 0x7F)
        if code := re.fullmatch(r"code 0x([0-9A-F]{2})([0-9A-F]{2})", mine):
            return ((int(code[2], 16) & 0x7F) + 1, int(code[1], 16)) == (bank, byte)
        return False

    return custom(field, agrees)


def _supply_status(printed: str, _: list[str], ours: Ours) -> bool:
    if printed == "Not Present":
        return ours.get("present") is False
    return ours.get("present") is True and same_word(printed.removeprefix("Present, "), ours.get("status"))


def _probe(
    unit: str, scale: float, fine: str, fine_scale: float, field: str, fine_field: str
) -> dict[str, Rule]:
    return {
        "Description": text("label"),
        "Location": word("location"),
        "Status": word("status"),
        "Maximum Value": number(f"max_{field}", unit, scale),
        "Minimum Value": number(f"min_{field}", unit, scale),
        "Resolution": number(f"resolution_{fine_field}", fine, fine_scale),
        "Tolerance": number(f"tolerance_{field}", unit, scale),
        "Accuracy": number("accuracy_percent", "%"),
        "OEM-specific Information": handle("maker_bits"),
        "Nominal Value": number(f"nominal_{field}", unit, scale),
    }


RULES: dict[int, dict[str, Rule]] = {
    0: {
        "Vendor": text("maker"),
        "Version": text("version"),
        "Release Date": text("date"),
        "Address": custom("start_address", _address),
        "Runtime Size": size("runtime_bytes"),
        "ROM Size": custom("rom_bytes", _rom),
        "Characteristics": listed(("characteristics", "more_characteristics"), FIRMWARE),
        "BIOS Revision": text("revision"),
        "Firmware Revision": text("controller_revision"),
    },
    1: {
        "Manufacturer": text("maker"),
        "Product Name": text("model"),
        "Version": text("version"),
        "Serial Number": text("serial"),
        "UUID": word("uuid", Not_Present="not present", Not_Settable="not set"),
        "Wake-up Type": word("woken_by"),
        "SKU Number": text("sku"),
        "Family": text("family"),
    },
    2: {
        "Manufacturer": text("maker"),
        "Product Name": text("model"),
        "Version": text("version"),
        "Serial Number": text("serial"),
        "Asset Tag": text("asset"),
        "Features": listed(("features",), BOARD),
        "Location In Chassis": text("location"),
        "Chassis Handle": handle("chassis_handle"),
        "Type": word("type"),
        "Contained Object Handles": custom("contains", _contents),
    },
    3: {
        "Manufacturer": text("maker"),
        "Type": word("type"),
        "Lock": yes("lock", "Present"),
        "Version": text("version"),
        "Serial Number": text("serial"),
        "Asset Tag": text("asset"),
        "Boot-up State": word("start_state"),
        "Power Supply State": word("power_supply_state"),
        "Thermal State": word("thermal_state"),
        "Security Status": word("security"),
        "OEM Information": handle("maker_bits"),
        "Height": number("height_u", "U"),
        "Number Of Power Cords": number("power_cords"),
        "Contained Elements": custom("contains", _elements),
        "SKU Number": text("sku"),
    },
    4: {
        "Socket Designation": text("socket"),
        "Type": word("type"),
        "Family": word("family"),
        "Manufacturer": text("maker"),
        "ID": custom("id_hex", _id),
        "Signature": custom("signature", _signature),
        "Flags": custom("flags", _flags),
        "Version": text("model"),
        "Voltage": custom("voltage_v", _voltage),
        "External Clock": number("external_clock_mhz", "MHz"),
        "Max Speed": number("socket_max_mhz", "MHz"),
        "Current Speed": number("start_mhz", "MHz"),
        "Status": custom("fitted", _status),
        "Upgrade": word("socket_type"),
        "L1 Cache Handle": handle("l1_cache_handle", NO_CACHE),
        "L2 Cache Handle": handle("l2_cache_handle", NO_CACHE),
        "L3 Cache Handle": handle("l3_cache_handle", NO_CACHE),
        "Serial Number": text("serial"),
        "Asset Tag": text("asset"),
        "Part Number": text("part_number"),
        "Core Count": number("cores"),
        "Core Enabled": number("cores_enabled"),
        "Thread Count": number("threads"),
        "Characteristics": listed(("characteristics",), ABILITIES),
    },
    7: {
        "Socket Designation": text("label"),
        "Configuration": custom("level", _configuration),
        "Operational Mode": word("mode"),
        "Location": word("location"),
        "Installed Size": size("size_bytes"),
        "Maximum Size": size("max_bytes"),
        "Supported SRAM Types": listed(("sram_types_possible",), {name: name for name in SRAM}),
        "Installed SRAM Type": spaced("sram_type", SRAM),
        "Speed": number("speed_ns", "ns"),
        "Error Correction Type": word("error_correction"),
        "System Type": word("type"),
        "Associativity": word("associativity"),
    },
    8: {
        "Internal Reference Designator": text("internal_label"),
        "Internal Connector Type": word("internal_connector"),
        "External Reference Designator": text("label"),
        "External Connector Type": word("connector"),
        "Port Type": word("type"),
    },
    9: {
        "Designation": text("label"),
        "Type": custom("type", _slot_type),
        "Current Usage": word("usage"),
        "Length": words(
            "length",
            {'2.5" drive form factor': "2.5 inch drive", '3.5" drive form factor': "3.5 inch drive"},
        ),
        "ID": custom("slot_id", _slot_id),
        "Characteristics": listed(("characteristics",), SLOT),
        "Bus Address": custom("device", _pci("device")),
        "Data Bus Width": number("lanes"),
        "Peer Devices": number("peers"),
        "PCI Express Generation": number("generation"),
        "Slot Physical Width": word("physical_width"),
        "Pitch": number("pitch_mm", "mm"),
        "Height": word("height", Not_applicable="not applicable"),
    },
    16: {
        "Location": words("location", {"CXL Flexbus 1.0": "CXL Add-on Card"}),
        "Use": word("use"),
        "Error Correction Type": word("error_correction"),
        "Maximum Capacity": size("capacity_bytes"),
        "Error Information Handle": handle("error_handle", NOT_PROVIDED),
        "Number Of Devices": number("slots"),
    },
    17: {
        "Array Handle": handle("array_handle"),
        "Error Information Handle": handle("error_handle", NOT_PROVIDED),
        "Total Width": number("total_width_bits", "bits"),
        "Data Width": number("data_width_bits", "bits"),
        "Size": size("size_bytes", MODULE_SIZE),
        "Form Factor": word("form_factor"),
        "Set": custom("set", lambda printed, _, ours: printed.lower() == str(ours.get("set"))),
        "Locator": text("locator"),
        "Bank Locator": text("bank"),
        "Type": word("type"),
        "Type Detail": spaced("type_detail", DETAILS),
        "Speed": number("firmware_speed_mt_s", "MT/s"),
        "Manufacturer": text("maker"),
        "Serial Number": text("serial"),
        "Asset Tag": text("asset"),
        "Part Number": text("part_number"),
        "Rank": number("rank"),
        "Configured Memory Speed": number("configured_speed_mt_s", "MT/s"),
        "Minimum Voltage": number("min_voltage_mv", "V", 0.001),
        "Maximum Voltage": number("max_voltage_mv", "V", 0.001),
        "Configured Voltage": number("voltage_mv", "V", 0.001),
        "Memory Technology": word("technology"),
        "Memory Operating Mode Capability": spaced("modes", MODES),
        "Firmware Version": text("firmware_version"),
        "Module Manufacturer ID": _maker_code("maker_code"),
        "Module Product ID": word("product_id"),
        "Memory Subsystem Controller Manufacturer ID": _maker_code("controller_maker_code"),
        "Memory Subsystem Controller Product ID": word("controller_product_id"),
        "Non-Volatile Size": size("non_volatile_bytes", PART_SIZE),
        "Volatile Size": size("volatile_bytes", PART_SIZE),
        "Cache Size": size("cache_bytes", PART_SIZE),
        "Logical Size": size("logical_bytes", PART_SIZE),
    },
    19: {
        "Starting Address": _memory_address("first_address"),
        "Ending Address": _memory_address("last_address"),
        "Range Size": custom("range_bytes", _range),
        "Physical Array Handle": handle("array_handle"),
        "Partition Width": number("partition_width"),
    },
    20: {
        "Starting Address": _memory_address("first_address"),
        "Ending Address": _memory_address("last_address"),
        "Range Size": custom("range_bytes", _range),
        "Physical Device Handle": handle("device_handle"),
        "Memory Array Mapped Address Handle": handle("range_handle"),
        "Partition Row Position": custom(
            "row_position",
            lambda printed, _, ours: (
                printed.lower() == str(ours["row_position"])
                or (printed == "<OUT OF SPEC>" and ours["row_position"] == 0)
            ),
        ),
        "Interleave Position": number("interleave_position"),
        "Interleaved Data Depth": number("interleave_depth"),
    },
    22: {
        "Location": text("label"),
        "Manufacturer": text("maker"),
        "Manufacture Date": text("manufactured"),
        "Serial Number": text("serial"),
        "Name": text("model"),
        "Chemistry": word("chemistry"),
        "Design Capacity": number("design_capacity_mwh", "mWh"),
        "Design Voltage": number("design_voltage_mv", "mV"),
        "SBDS Version": text("smart_battery_version"),
        "Maximum Error": number("max_error_percent", "%"),
        "SBDS Serial Number": text("smart_battery_serial"),
        "SBDS Manufacture Date": text("smart_battery_date"),
        "SBDS Chemistry": text("smart_battery_chemistry"),
        "OEM-specific Information": handle("maker_bits"),
    },
    26: _probe("V", 0.001, "mV", 1, "voltage_mv", "voltage_mv"),
    27: {
        "Temperature Probe Handle": handle("temperature_probe_handle"),
        "Type": word("type"),
        "Status": word("status"),
        "Cooling Unit Group": number("group"),
        "OEM-specific Information": handle("maker_bits"),
        "Nominal Speed": number("nominal_speed_rpm", "rpm"),
        "Description": text("label"),
    },
    28: _probe("deg C", 1, "deg C", 1, "temperature_c", "temperature_c"),
    29: _probe("A", 0.001, "mA", 1, "current_ma", "current_ma"),
    32: {
        "Status": custom(
            "status",
            lambda printed, _, ours: (
                same_word(printed, ours.get("status"))
                or (printed.endswith("-specific") and str(ours.get("status")).startswith("code 0x"))
            ),
        )
    },
    39: {
        "Power Unit Group": number("group"),
        "Location": text("label"),
        "Name": text("model"),
        "Manufacturer": text("maker"),
        "Serial Number": text("serial"),
        "Asset Tag": text("asset"),
        "Model Part Number": text("part_number"),
        "Revision": text("revision"),
        "Max Power Capacity": number("max_power_w", "W"),
        "Status": custom("status", _supply_status),
        "Type": word("type"),
        "Input Voltage Range Switching": word("input_range"),
        "Plugged": yes("unplugged", "No"),
        "Hot Replaceable": yes("hot_replaceable", "Yes"),
        "Input Voltage Probe Handle": handle("voltage_probe_handle"),
        "Cooling Device Handle": handle("cooling_handle"),
        "Input Current Probe Handle": handle("current_probe_handle"),
    },
    41: {
        "Reference Designation": text("label"),
        "Type": word("type"),
        "Status": yes("enabled", "Enabled"),
        "Type Instance": number("instance"),
        "Bus Address": custom("device", _pci("device")),
    },
    43: {
        "Vendor ID": text("maker"),
        "Specification Version": text("specification"),
        "Firmware Revision": text("firmware_version"),
        "Description": text("label"),
        "Characteristics": listed(("characteristics",), TPM),
        "OEM-specific Information": handle("maker_bits"),
    },
}


def rule_for(kind: int, label: str) -> Rule | None:
    """Return the rule for a label. Numbered labels (strings of the maker, peers) have one rule for all."""
    rules = RULES.get(kind, {})
    if label in rules:
        return rules[label]
    if kind in (11, 12) and (match := re.fullmatch(r"(?:String|Option) (\d+)", label)):
        index = int(match[1])
        return custom(f"text_{index}", _numbered_text(index))
    if kind == 9 and (match := re.fullmatch(r"Peer Device (\d+)", label)):
        return custom("peer_devices", _numbered_peer(int(match[1])))
    return None


def _numbered_text(index: int) -> Agrees:
    """Of texts that are not there we name the last one only."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        mine = ours.get(f"text_{index}")
        if printed == "<BAD INDEX>" and mine is None:
            return any(re.fullmatch(r"string \d+ of \d+", str(said)) for said in ours.values())
        return same_text(printed, mine)

    return agrees


def _numbered_peer(index: int) -> Agrees:
    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        match = re.fullmatch(r"(\S+) \(Width (\d+)\)", printed)
        mine = str(ours["peer_devices"]).split("; ")
        return match is not None and mine[index - 1] == f"{match[1]} x{match[2]}"

    return agrees
