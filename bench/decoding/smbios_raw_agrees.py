"""Words that only dmidecode 3.4 prints, and how a label agrees with our fields where no plain rule does."""

from __future__ import annotations

import re

from decoding.smbios_raw_labels import (
    Agrees,
    Ours,
    Rule,
    custom,
    entries,
    same_text,
    same_word,
    size,
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


def address(printed: str, _: list[str], ours: Ours) -> bool:
    return str(ours.get("start_address")) == printed


def rom_size(printed: str, lines: list[str], ours: Ours) -> bool:
    if "OUT OF SPEC" in printed:
        return str(ours.get("rom_bytes")).startswith("code 0x")
    return size("rom_bytes").agrees(printed, lines, ours)


def contents(printed: str, lines: list[str], ours: Ours) -> bool:
    mine = entries(ours, "contains")
    return (mine == set(lines) and printed == str(len(lines))) or mine == {f"{printed} announced"}


def elements(printed: str, lines: list[str], ours: Ours) -> bool:
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


def status(printed: str, _: list[str], ours: Ours) -> bool:
    if printed == "Unpopulated":
        return ours.get("fitted") is False
    state = printed.removeprefix("Populated, ")
    mine = {"Disabled By BIOS": "Disabled By Firmware"}.get(state, state)
    return ours.get("fitted") is True and same_word(mine, ours.get("status"))


def signature(printed: str, _: list[str], ours: Ours) -> bool:
    """Of AMD's dmidecode prints no type; of Arm its words are hexadecimal too."""
    mine = str(ours.get("signature"))
    theirs = printed.lower().replace("implementor", "implementer")
    return theirs.replace("0x", "") in (mine.lower().replace("0x", ""), mine.partition(", ")[2])


def flags(printed: str, lines: list[str], ours: Ours) -> bool:
    names = [line.partition(" ")[0].lower() for line in lines]
    return printed in ("", "None") and {FLAGS.get(name, name) for name in names} == entries(ours, "flags")


def voltage(printed: str, lines: list[str], ours: Ours) -> bool:
    mine = ours.get("voltage_v")
    if printed == "Unknown":
        return mine == "unknown"
    if isinstance(mine, float):
        return printed == f"{mine:.1f} V"
    return re.findall(r"[0-9.]+", printed) == str(mine).split(", ")


def processor_id(printed: str, _: list[str], ours: Ours) -> bool:
    return printed.lower() == ours.get("id_hex")


def configuration(printed: str, _: list[str], ours: Ours) -> bool:
    enabled = "Enabled" if ours.get("enabled") else "Disabled"
    socketed = "Socketed" if ours.get("socketed") else "Not Socketed"
    return printed == f"{enabled}, {socketed}, Level {ours.get('level')}"


def slot_type(printed: str, _: list[str], ours: Ours) -> bool:
    width, kind = str(ours.get("width")), str(ours.get("type"))
    width = "" if width in ("Other", "Unknown") else f"{width} "
    said = (f"{width}{kind}",)
    return re.sub(r"code 0x[0-9A-F]+", "<OUT OF SPEC>", said[0]) == printed


def slot_id(printed: str, _: list[str], ours: Ours) -> bool:
    """dmidecode prints the low byte of a number that is a word."""
    mine = ours.get("slot_id")
    if isinstance(mine, int):
        return printed == str(mine & 0xFF)
    return printed.lower() == mine


def same_as(field: str) -> Agrees:
    return lambda printed, _, ours: ours.get(field) == printed


def memory_address(field: str) -> Rule:
    """Long addresses are bytes (7.20); the `k` that dmidecode 3.4 puts behind them is a slip of its own."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        return int(printed.rstrip("k"), 16) == ours.get(field)

    return custom(field, agrees)


def range_size(printed: str, lines: list[str], ours: Ours) -> bool:
    """Where a range ends before it begins dmidecode's sum runs over; ours says what is wrong."""
    if ours.get("range_bytes") == "it ends before it begins":
        return int(str(ours["first_address"])) >= int(str(ours["last_address"]))
    return size("range_bytes").agrees(printed, lines, ours)


def maker_code(field: str) -> Rule:
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


def supply_status(printed: str, _: list[str], ours: Ours) -> bool:
    if printed == "Not Present":
        return ours.get("present") is False
    return ours.get("present") is True and same_word(printed.removeprefix("Present, "), ours.get("status"))


def numbered_text(index: int) -> Agrees:
    """Of texts that are not there we name the last one only."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        mine = ours.get(f"text_{index}")
        if printed == "<BAD INDEX>" and mine is None:
            return any(re.fullmatch(r"string \d+ of \d+", str(said)) for said in ours.values())
        return same_text(printed, mine)

    return agrees


def numbered_peer(index: int) -> Agrees:
    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        match = re.fullmatch(r"(\S+) \(Width (\d+)\)", printed)
        mine = str(ours["peer_devices"]).split("; ")
        return match is not None and mine[index - 1] == f"{match[1]} x{match[2]}"

    return agrees
