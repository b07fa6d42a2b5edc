"""What the lines `Key: value` of smartctl's text say of a drive."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from shipworthy.machine.listing import said
from shipworthy.machine.parse.nvme.pages import DATA_UNIT_BYTES, warning_words
from shipworthy.machine.parse.smartctl.json_drive import (
    amount,
    celsius,
    form_word,
    gigabytes,
    security_word,
)
from shipworthy.machine.parse.smartctl.json_drive import text as worth
from shipworthy.machine.parse.smartctl.text_numbers import counted, hexadecimal, whole
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

Values = Mapping[str, str]
_FIRST = re.compile(r"Namespace (\d+) Size/Capacity")
_HOURS = re.compile(r"(\d{1,7}):(\d\d)")


def drive_facts(values: Values, tables: Values) -> tuple[Said, ...]:
    """Identity, size, link, health, counters, logs: what the report has of them."""
    if not any(key in values for key in ("Device Model", "Model Number", "Product", "Device")):
        return tuple(_health(values))
    groups = (_identity, _shape, _link, _health, _counters, _nvme, _scsi)
    fields = [field for group in groups for field in group(values)]
    return (*fields, *_fields(("error_log_entries", _errors(values, tables))))


def _fields(*pairs: tuple[str, Scalar | Absent | None]) -> Iterator[Said]:
    return (said(name, value) for name, value in pairs if value is not None)


def _first(values: Values, *keys: str) -> str:
    return next((values[key] for key in keys if key in values), "")


def _identity(values: Values) -> Iterator[Said]:
    yield said("model", worth(_first(values, "Device Model", "Model Number", "Product", "Device")))
    yield said("serial", _serial(_first(values, "Serial Number", "Serial number")))
    yield said("firmware_version", worth(_first(values, "Firmware Version", "Revision")))
    yield from _fields(
        ("maker", worth(values.get("Vendor", ""))),
        ("family", worth(values.get("Model Family", ""))),
        ("wwn", _wwn(values)),
        ("interface", _interface(values)),
    )


def _serial(words: str) -> str | None:
    """A report that was made public has two hyphens where its serial was."""
    return None if words == "--" else worth(words)


def _wwn(values: Values) -> str | None:
    """`5 002538 d41234567`, or `0x5000cca253066624`; one that was cut short for publication is none."""
    parts = values.get("LU WWN Device Id", "").split()
    if len(parts) == 3 and re.fullmatch(r"[0-9a-f]{16}", "".join(parts)):
        return "0x" + "".join(parts)
    one = values.get("Logical Unit id", "")
    return one if re.fullmatch(r"0x[0-9a-f]{16,32}", one) else None


def _interface(values: Values) -> str | None:
    if "Model Number" in values:
        return "NVMe"
    transport = values.get("Transport protocol", "")
    if "Product" in values:
        return "SAS" if transport.startswith("SAS") else "SCSI"
    return "SATA" if "SATA Version is" in values else None


def _shape(values: Values) -> Iterator[Said]:
    rotation = values.get("Rotation Rate", "")
    spins = re.match(r"(\d{3,5}) rpm", rotation)
    technology = "spinning" if spins else "solid state" if rotation.startswith("Solid State") else None
    if "Model Number" in values:
        technology = "NVMe"
    blocks = _block_bytes(values)
    form = worth(values.get("Form Factor", ""))
    yield from _fields(
        ("size_bytes", _size(values)),
        ("logical_block_bytes", blocks[0]),
        ("physical_block_bytes", blocks[1]),
        ("technology", technology),
        ("rotation_rpm", int(spins[1]) if spins else None),
        ("form_factor", form_word(form) if form else None),
        ("trim", _begins(values.get("TRIM Command", ""), ("Available", True), ("Unavailable", False))),
        ("smart_supported", _begins(values.get("SMART support is", ""), ("Avail", True), ("Unavail", False))),
        (
            "smart_enabled",
            _begins(values.get("SMART enabled is", ""), ("Enabled", True), ("Disabled", False)),
        ),
        ("security_state", _security(values.get("ATA Security is", ""))),
    )


def _begins(words: str, *choices: tuple[str, bool]) -> bool | None:
    return next((value for begin, value in choices if words.startswith(begin)), None)


def _security(words: str) -> str | None:
    """What smartctl itself calls unknown is none."""
    return security_word(words) if words and not words.startswith("Unknown") else None


def _size(values: Values) -> int | None:
    """Of an NVMe drive the first namespace, else the only one, as the whole may be divided."""
    keys = ("User Capacity", next((key for key in values if _FIRST.fullmatch(key)), ""))
    for key in (*keys, "Namespace Size/Capacity", "Total NVM Capacity"):
        size = whole(values.get(key, ""))
        if size and ("bytes" in values[key] or key != "User Capacity"):
            return size
    return None


def _block_bytes(values: Values) -> tuple[int | None, int | None]:
    """`512 bytes logical/physical`, or two sizes on the line; SCSI and NVMe have lines of their own."""
    both = _first(values, "Sector Size", "Sector Sizes")
    logical = whole(both)
    two = re.search(r"logical, (\d{3,6}) bytes physical", both)
    if two:
        return logical, int(two[1])
    if logical:
        return logical, logical if "logical/physical" in both else None
    nvme = next((whole(value) for key, value in values.items() if key.endswith("Formatted LBA Size")), None)
    return whole(values.get("Logical block size", "")) or nvme, whole(values.get("Physical block size", ""))


def _link(values: Values) -> Iterator[Said]:
    """`SATA 3.1, 6.0 Gb/s (current: 3.0 Gb/s)`."""
    words = values.get("SATA Version is", "")
    most = re.search(r", (\d\.\d) Gb/s", words)
    now = re.search(r"current: (\d\.\d) Gb/s", words)
    yield from _fields(
        ("sata_max_gbit_s", float(most[1]) if most else None),
        ("sata_now_gbit_s", float(now[1]) if now else None),
    )


def _health(values: Values) -> Iterator[Said]:
    """ATA and NVMe say PASSED or FAILED!; SCSI says OK, or names its sense."""
    test = values.get("SMART overall-health self-assessment test result", "")
    passed = _begins(test, ("PASSED", True), ("FAILED", False))
    status = values.get("SMART Health Status", "")
    if passed is None and status:
        passed = status.startswith("OK")
    return _fields(("health_passed", passed))


def _counters(values: Values) -> Iterator[Said]:
    now = _first(values, "Current Drive Temperature", "Temperature", "Current Temperature")
    trip = values.get("Drive Trip Temperature", "")
    yield from _fields(
        ("temperature_c", _celsius(now)),
        ("temperature_critical_c", _celsius(_first(values, "Critical Comp. Temp. Threshold") or trip)),
        ("temperature_warning_c", _celsius(_first(values, "Warning Comp. Temp. Threshold"))),
        ("power_on_hours", _hours(values)),
        ("power_cycles", counted(values.get("Power Cycles", ""))),
    )


def _celsius(words: str) -> int | Absent | None:
    match = re.match(r"(\d{1,4}) (?:C|Celsius)\b", words)
    return celsius(int(match[1])) if match else None


def _hours(values: Values) -> int | Absent | None:
    """`Power On Hours: 34,753` of NVMe; SCSI: `number of hours powered up = 32978.77`, or hours:minutes."""
    if "Power On Hours" in values:
        return counted(values["Power On Hours"])
    up = re.match(r"(\d{1,7})[.,]\d+", values.get("number of hours powered up", ""))
    if up:
        return int(up[1])
    clock = _HOURS.search(values.get("Accumulated power on time", ""))
    return int(clock[1]) if clock else None


def _nvme(values: Values) -> Iterator[Said]:
    if "Model Number" not in values:
        return
    warning = hexadecimal(values.get("Critical Warning", ""))
    vendor, subsystem = _vendors(values)
    written, read = (counted(values.get(key, "")) for key in ("Data Units Written", "Data Units Read"))
    oui = hexadecimal(values.get("IEEE OUI Identifier", ""))
    yield from _fields(
        ("vendor_id", vendor),
        ("subsystem_vendor_id", subsystem),
        ("ieee_oui", None if oui is None else f"0x{oui:06x}"),
        (
            "nvme_version",
            worth(values.get("NVMe Version", "")) if "<" not in values.get("NVMe Version", "") else None,
        ),
        ("critical_warning", warning),
        ("critical_warning_words", None if warning is None else warning_words(warning & 0xFF)),
        ("written_bytes", None if written is None else amount(written, DATA_UNIT_BYTES)),
        ("read_bytes", None if read is None else amount(read, DATA_UNIT_BYTES)),
    )
    for name, key in _NVME_NUMBERS:
        yield from _fields((name, counted(values.get(key, ""))))
    for number in range(1, 9):
        degrees = _celsius(values.get(f"Temperature Sensor {number}", ""))
        yield from _fields((f"temperature_sensor_{number}_c", degrees))


_NVME_NUMBERS = (
    ("capacity_bytes", "Total NVM Capacity"),
    ("unallocated_bytes", "Unallocated NVM Capacity"),
    ("controller_id", "Controller ID"),
    ("namespaces", "Number of Namespaces"),
    ("available_spare_percent", "Available Spare"),
    ("available_spare_threshold_percent", "Available Spare Threshold"),
    ("percentage_used", "Percentage Used"),
    ("host_read_commands", "Host Read Commands"),
    ("host_write_commands", "Host Write Commands"),
    ("busy_minutes", "Controller Busy Time"),
    ("unsafe_shutdowns", "Unsafe Shutdowns"),
    ("media_errors", "Media and Data Integrity Errors"),
    ("error_log_entries", "Error Information Log Entries"),
    ("warning_temperature_minutes", "Warning Comp. Temperature Time"),
    ("critical_temperature_minutes", "Critical Comp. Temperature Time"),
    ("thermal_transitions_1", "Thermal Temp. 1 Transition Count"),
    ("thermal_transitions_2", "Thermal Temp. 2 Transition Count"),
    ("thermal_throttled_1_s", "Thermal Temp. 1 Total Time"),
    ("thermal_throttled_2_s", "Thermal Temp. 2 Total Time"),
)


def _version(words: str) -> str | None:
    """`<1.2` stands for a controller that does not say it."""
    return words if re.fullmatch(r"\d+\.\d+(\.\d+)?", words) else None


def _vendors(values: Values) -> tuple[str | None, str | None]:
    """One line where both are the same, else two."""
    both = hexadecimal(values.get("PCI Vendor/Subsystem ID", ""))
    one = both if both is not None else hexadecimal(values.get("PCI Vendor ID", ""))
    other = both if both is not None else hexadecimal(values.get("PCI Vendor Subsystem ID", ""))
    return (None if one is None else f"0x{one:04x}", None if other is None else f"0x{other:04x}")


def _scsi(values: Values) -> Iterator[Said]:
    if "Product" not in values:
        return
    rows = {way: values.get(way, "").split() for way in ("read", "write", "verify")}
    uncorrected = [int(row[-1]) for row in rows.values() if len(row) == 7 and row[-1].isdecimal()]
    born = re.match(r"week (\d\d) of year (\d{4})", _made(values))
    used = re.match(r"(\d{1,3})%", values.get("Percentage used endurance indicator", ""))

    def processed(way: str) -> int | None:
        return gigabytes(rows[way][5]) if len(rows[way]) == 7 else None

    yield from _fields(
        ("written_bytes", processed("write")),
        ("read_bytes", processed("read")),
        ("media_errors", sum(uncorrected) if uncorrected else None),
        ("grown_defects", whole(values.get("Elements in grown defect list", ""))),
        ("start_stop_cycles", whole(values.get("Accumulated start-stop cycles", ""))),
        ("percentage_used", int(used[1]) if used else None),
        ("manufactured", f"{born[2]}-W{born[1]}" if born else None),
    )


def _made(values: Values) -> str:
    return values.get("Manufactured in", "")


def _errors(values: Values, tables: Values) -> int | None:
    """The count of ATA errors; `No Errors Logged` is none. NVMe has its own line and no errors otherwise."""
    if "Model Number" in values:
        return None
    count = whole(_first(values, "Device Error Count", "ATA Error Count"))
    return count if count is not None else whole(tables.get("errors", ""))
