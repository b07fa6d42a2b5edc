"""Fields of dmidecode's text: firmware, system, board, chassis, processors, memory and its modules.

Names and meanings are those of the tables' own parser. Units as dmidecode prints them: kB, MB, GB and TB are
powers of 1024 (DMTF DSP0134), `MHz` of a module's speed up to version 3.0 stands for the same number of MT/s.
"""

from __future__ import annotations

import re
from collections import Counter

from shipworthy.machine.listing import said
from shipworthy.machine.parse import jep106
from shipworthy.machine.parse.dmidecode_text.lines import Report, TextStructure
from shipworthy.machine.parse.firmware_table import memory_facts, plausible_millivolts
from shipworthy.machine.parse.units import BYTES_IN
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

_SIZE = re.compile(r"([0-9]{1,12}) (bytes|kB|MB|GB|TB|EB)(?: \+ ([0-9]{1,6}) bytes)?")
_NUMBER = re.compile(r"[0-9]{1,9}")
_VOLTS = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,4})?) V")
_SPEED = re.compile(r"([0-9]{1,9}) (?:MT/s|MHz)")
_DETAIL = re.compile(
    r"Fast-paged|Static Column|Pseudo-static|RAMBus|Synchronous|CMOS|EDO|Window DRAM|Cache DRAM|Non-Volatile"
    r"|Registered|Unbuffered|LRDIMM"
)
_HANDLE = re.compile(r"0x([0-9A-F]{4,8})")

_MAKERS = {"intel": "Intel", "genuineintel": "Intel", "advanced micro devices": "AMD", "amd": "AMD"}


def size_bytes(s: TextStructure, label: str) -> int | Absent:
    """A size such as `16 GB`, `8192 MB`, `36352 kB`; and `8388607 kB + 512 bytes` of odd ones."""
    match = _SIZE.match(s.fields.get(label, ""))
    if match is None:
        return Absent.NOT_OFFERED
    size = int(match[1]) * BYTES_IN[match[2][0].upper()] + int(match[3] or 0)
    return size if size < 1 << 63 else Absent.IMPLAUSIBLE


def leading_number(s: TextStructure, label: str) -> int | Absent:
    """The whole number that a field begins with; 0 is silence, as in the table."""
    match = _NUMBER.match(s.fields.get(label, ""))
    return int(match[0]) or Absent.NOT_OFFERED if match else Absent.NOT_OFFERED


def speed_mt_s(s: TextStructure, *labels: str) -> int | Absent:
    """Return the speed in MT/s of the first of these fields that has one."""
    for label in labels:
        match = _SPEED.match(s.fields.get(label, ""))
        if match and int(match[1]):
            return int(match[1])
    return Absent.NOT_OFFERED


def millivolts(s: TextStructure, *labels: str) -> int | Absent:
    """`1.35 V`; beyond 60 V, the most that counts as safe, is no voltage of a module."""
    for label in labels:
        match = _VOLTS.match(s.fields.get(label, ""))
        if match:
            return plausible_millivolts(round(float(match[1]) * 1000))
    return Absent.NOT_OFFERED


def handle_of(s: TextStructure, label: str) -> int:
    """The handle that a field names; -1 where it names none."""
    match = _HANDLE.match(s.fields.get(label, ""))
    return int(match[1], 16) if match else -1


def firmware_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 0 (7.1)."""
    return (
        said("maker", s.value("Vendor")),
        said("version", s.value("Version")),
        said("date", s.value("Release Date")),
        said("rom_bytes", size_bytes(s, "ROM Size")),
        said("revision", s.value("BIOS Revision")),
        said("controller_revision", s.value("Firmware Revision")),
        said("virtual_machine", _virtual_machine(s)),
    )


def _virtual_machine(s: TextStructure) -> bool | Absent:
    """A characteristic of 2.4 and later: the structure's second extension byte, at 0x13."""
    told = "System is a virtual machine" in s.lists.get("Characteristics", ())
    return told if s.length >= 0x14 else Absent.NOT_OFFERED


def system_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 1 (7.2)."""
    uuid = s.value("UUID")
    known = not isinstance(uuid, Absent) and uuid not in ("Not Present", "Not Settable")
    return (
        said("maker", s.value("Manufacturer")),
        said("model", s.value("Product Name")),
        said("version", s.value("Version")),
        said("serial", s.value("Serial Number")),
        said("uuid", str(uuid).lower() if known else Absent.NOT_OFFERED),
        said("sku", s.value("SKU Number")),
        said("family", s.value("Family")),
    )


def board_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 2 (7.3)."""
    return (
        said("maker", s.value("Manufacturer")),
        said("model", s.value("Product Name")),
        said("version", s.value("Version")),
        said("serial", s.value("Serial Number")),
        said("asset", s.value("Asset Tag")),
    )


def chassis_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 3 (7.4)."""
    return (
        said("maker", s.value("Manufacturer")),
        said("type", s.word("Type")),
        said("version", s.value("Version")),
        said("serial", s.value("Serial Number")),
        said("asset", s.value("Asset Tag")),
    )


def processor_fitted(s: TextStructure) -> bool:
    """`Populated, Enabled` and the like; `Unpopulated` is an empty socket."""
    return s.fields.get("Status", "").startswith("Populated")


def processor_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 4 (7.5). Maker as people know it, model with single spaces: one spelling for all sources."""
    model, maker = s.value("Version"), s.value("Manufacturer")
    return (
        said("socket", s.value("Socket Designation")),
        said("socket_type", Absent.NOT_OFFERED if s.fields.get("Upgrade") == "None" else s.word("Upgrade")),
        said("processor_family", s.word("Family")),
        said("maker", maker if isinstance(maker, Absent) else _maker(maker)),
        said("model", model if isinstance(model, Absent) else " ".join(model.split())),
        said("cores", leading_number(s, "Core Count")),
        said("cores_enabled", leading_number(s, "Core Enabled")),
        said("threads", leading_number(s, "Thread Count")),
        said("socket_max_mhz", leading_number(s, "Max Speed")),
        said("external_clock_mhz", leading_number(s, "External Clock")),
        said("serial", s.value("Serial Number")),
        said("asset", s.value("Asset Tag")),
        said("part_number", s.value("Part Number")),
    )


def _maker(text: str) -> str:
    bare = text.casefold()
    if bare == "authenticamd":
        return "AMD"
    return next((word for start, word in _MAKERS.items() if bare.startswith(start)), text)


def module_size_bytes(s: TextStructure) -> int | Absent:
    """An empty slot says so; `Unknown` is a module whose size is not told."""
    text = s.fields.get("Size", "")
    if text in ("No Module Installed", "Not Installed"):
        return Absent.NOT_FITTED
    return size_bytes(s, "Size")


def array_facts(arrays: list[TextStructure], modules: list[TextStructure]) -> tuple[Said, ...]:
    """Type 16 (7.17): the memory as a whole, of all arrays of system memory and their modules."""
    counts = (leading_number(s, "Number Of Devices") for s in arrays)
    return memory_facts(
        sum(n for n in counts if not isinstance(n, Absent)),
        [module_size_bytes(s) for s in modules],
        [size_bytes(s, "Maximum Capacity") for s in arrays],
        arrays[0].word("Error Correction Type") if arrays else Absent.NOT_OFFERED,
    )


def module_places(modules: list[TextStructure]) -> list[str]:
    """Return the slots' places: locator and bank as the firmware names them; a repeated name is numbered."""
    places: list[str] = []
    times: Counter[str] = Counter()
    for s in modules:
        names = [t for label in ("Locator", "Bank Locator") if not isinstance(t := s.plain(label), Absent)]
        place = "smbios:" + ("/".join(names) or "unnamed")
        times[place] += 1
        if times[place] > 1:
            s.report.fault(RemarkKind.REPEATED, f"type {s.type}", place)
        places.append(place if times[place] == 1 else f"{place}#{times[place]}")
    return places


def module_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 17 (7.18): one slot. Of an empty one every field but its name is not fitted."""
    names = (said("locator", s.plain("Locator")), said("bank", s.plain("Bank Locator")))
    size = module_size_bytes(s)
    if size is Absent.NOT_FITTED:
        return names + _NOT_FITTED
    return names + _fitted_facts(s, size)


def _fitted_facts(s: TextStructure, size: int | Absent) -> tuple[Said, ...]:
    maker, code = _maker_and_code(s)
    return (
        said("size_bytes", size),
        said("type", s.word("Type")),
        said("form_factor", s.word("Form Factor")),
        said("firmware_speed_mt_s", speed_mt_s(s, "Speed")),
        said("configured_speed_mt_s", speed_mt_s(s, "Configured Memory Speed", "Configured Clock Speed")),
        said("maker", maker),
        said("maker_code", code),
        said("part_number", s.value("Part Number")),
        said("serial", s.value("Serial Number")),
        said("asset", s.value("Asset Tag")),
        said("rank", leading_number(s, "Rank")),
        said("voltage_mv", millivolts(s, "Configured Voltage", "Configured voltage")),
        said("total_width_bits", leading_number(s, "Total Width")),
        said("data_width_bits", leading_number(s, "Data Width")),
        said("technology", s.word("Memory Technology")),
        said("type_detail", _type_detail(s)),
        said("firmware_version", s.value("Firmware Version")),
        said("volatile_bytes", _part_bytes(s, "Volatile Size")),
        said("non_volatile_bytes", _part_bytes(s, "Non-Volatile Size")),
    )


def _maker_and_code(s: TextStructure) -> tuple[str | Absent, str | Absent]:
    """The maker's name, and its code by JEP106: the field of 3.2, or the name where firmware wrote a code."""
    maker = s.value("Manufacturer")
    told = jep106.canonical(s.fields.get("Module Manufacturer ID", ""))
    code = Absent.NOT_OFFERED if told is None else told
    meant = None if isinstance(maker, Absent) else jep106.canonical(maker)
    if meant is None:
        return maker, code
    return Absent.NOT_OFFERED, meant if isinstance(code, Absent) else code


def _type_detail(s: TextStructure) -> str | Absent:
    """`Synchronous Unbuffered (Unregistered)`: words one behind another, some of two words."""
    return "; ".join(_DETAIL.findall(s.fields.get("Type Detail", ""))) or Absent.NOT_OFFERED


def _part_bytes(s: TextStructure, label: str) -> int | Absent:
    """Part of a module's size; `None` is none of it."""
    return 0 if s.fields.get(label) == "None" else size_bytes(s, label)


_NOT_FITTED = tuple(
    Said(name=field.name, absent=Absent.NOT_FITTED)
    for field in _fitted_facts(TextStructure(-1, 17, Report()), Absent.NOT_FITTED)
)
