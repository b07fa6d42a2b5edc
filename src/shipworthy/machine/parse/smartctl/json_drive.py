"""What one report of `smartctl --json` says of its drive, without trusting its shape."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeAlias

from shipworthy.machine.listing import said
from shipworthy.machine.parse.nvme.pages import DATA_UNIT_BYTES, warning_words
from shipworthy.machine.parse.wiring import NVME_CONTROLLER
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

Json: TypeAlias = dict[str, Any]
MOST = 1 << 63


def get(value: object, *path: str) -> object:
    """Return what lies at a path of keys; None if there is no such thing."""
    for key in path:
        if not isinstance(value, dict):
            return None
        value = value.get(key)
    return value


def text(value: object) -> str | None:
    """Return a text that says something; None if it is no text or a placeholder."""
    bare = value.strip() if isinstance(value, str) else ""
    return bare if bare and not is_placeholder(bare) else None


def number(value: object) -> int | None:
    """Return a whole number; None if it is none or larger than anything a drive counts."""
    if isinstance(value, bool) or not isinstance(value, int):
        return None
    return value if 0 <= value < MOST else None


def counted(value: object) -> int | Absent | None:
    """Return a count; one that passes 63 bits is no count of anything that a drive has done."""
    huge = isinstance(value, int | float) and not isinstance(value, bool) and value >= MOST
    return Absent.IMPLAUSIBLE if huge else number(value)


def _flag(value: object) -> bool | None:
    return value if isinstance(value, bool) else None


def _fields(*pairs: tuple[str, Scalar | Absent | None]) -> Iterator[Said]:
    """Give the fields that the report has; a report leaves out what it does not know."""
    return (said(name, value) for name, value in pairs if value is not None)


def drive_facts(report: Json) -> tuple[Said, ...]:
    """Identity, size, link, health, counters, logs."""
    fields = (*_identity(report), *_shape(report), *_link(report), *_health(report))
    return (*fields, *_counters(report), *_nvme(report), *_scsi(report), *_logs(report))


def _identity(report: Json) -> tuple[Said, ...]:
    vendor = text(report.get("scsi_vendor")) or text(report.get("vendor"))
    product = text(report.get("scsi_product")) or text(report.get("product"))
    model = text(report.get("model_name")) or text(report.get("scsi_model_name"))
    firmware = report.get("firmware_version", report.get("scsi_revision", report.get("revision")))
    fields = [
        said("model", model or product),
        said("serial", text(report.get("serial_number"))),
        said("firmware_version", text(firmware)),
    ]
    rest = _fields(
        ("maker", vendor),
        ("family", text(report.get("model_family"))),
        ("wwn", _wwn(report)),
        ("interface", _interface(report)),
        ("kernel_name", _kernel_name(report)),
    )
    return (*fields, *rest)


def _kernel_name(report: Json) -> str | None:
    """The drive's nickname. `nvme0` is that of its controller: the drive itself is a namespace below it."""
    name = text(get(report, "device", "name")) or ""
    node = name.removeprefix("/dev/")
    return (
        node if name.startswith("/dev/") and node.isalnum() and not NVME_CONTROLLER.fullmatch(node) else None
    )


def _wwn(report: Json) -> str | None:
    naa, oui, one = (number(get(report, "wwn", key)) for key in ("naa", "oui", "id"))
    if naa is not None and oui is not None and one is not None:
        return f"0x{(naa << 60 | oui << 36 | one) & (1 << 64) - 1:016x}"
    return text(report.get("logical_unit_id"))


def _interface(report: Json) -> str | None:
    protocol = text(get(report, "device", "protocol"))
    if protocol == "SCSI":
        transport = text(get(report, "scsi_transport_protocol", "name")) or ""
        return "SAS" if transport.startswith("SAS") else "SCSI"
    return {"ATA": "SATA", "NVMe": "NVMe"}.get(protocol or "")


def _shape(report: Json) -> tuple[Said, ...]:
    rotation = number(report.get("rotation_rate"))
    technology = None if rotation is None else "spinning" if rotation else "solid state"
    if text(get(report, "device", "protocol")) == "NVMe":
        technology = "NVMe"
    form = text(get(report, "form_factor", "name"))
    return tuple(
        _fields(
            ("size_bytes", _size(report)),
            ("logical_block_bytes", number(report.get("logical_block_size"))),
            ("physical_block_bytes", number(report.get("physical_block_size"))),
            ("technology", technology),
            ("rotation_rpm", rotation or None),
            ("form_factor", form_word(form) if form else None),
            ("trim", _flag(get(report, "trim", "supported"))),
            ("smart_supported", _flag(get(report, "smart_support", "available"))),
            ("smart_enabled", _flag(get(report, "smart_support", "enabled"))),
            ("security_state", _security(report)),
        )
    )


def form_word(name: str) -> str:
    """Return the form factor as we write it: `2.5 inches` is `2.5 inch`, `< 1.8 inches` is under that."""
    return name.replace("< ", "under ").replace("inches", "inch").strip()


def _size(report: Json) -> int | None:
    namespaces = get(report, "nvme_namespaces")
    first = namespaces[0] if isinstance(namespaces, list) and namespaces else None
    for value in (get(report, "user_capacity", "bytes"), get(first, "size", "bytes")):
        size = number(value)
        if size:
            return size
    return None


def _security(report: Json) -> str | None:
    words = text(get(report, "ata_security", "string"))
    return security_word(words) if words else None


def security_word(words: str) -> str:
    """Return `Disabled, frozen [SEC2]` as `disabled, frozen`; `Unavailable` is not supported."""
    bare = words.split("[")[0].strip().lower().replace("not frozen", "").strip(" ,")
    return "not supported" if bare == "unavailable" else bare


def _link(report: Json) -> tuple[Said, ...]:
    def gbit_s(which: str) -> float | None:
        units = number(get(report, "interface_speed", which, "units_per_second"))
        bits = number(get(report, "interface_speed", which, "bits_per_unit"))
        return round(units * bits / 1e9, 3) if units and bits else None

    return tuple(_fields(("sata_max_gbit_s", gbit_s("max")), ("sata_now_gbit_s", gbit_s("current"))))


def _health(report: Json) -> tuple[Said, ...]:
    passed = _flag(get(report, "smart_status", "passed"))
    status = number(get(report, "smartctl", "exit_status")) or 0
    if passed is None and status >> 3 & 1:
        passed = False
    return tuple(_fields(("health_passed", passed)))


def _counters(report: Json) -> tuple[Said, ...]:
    temperature = number(get(report, "temperature", "current"))
    limit = number(get(report, "temperature", "drive_trip"))
    return tuple(
        _fields(
            ("power_on_hours", counted(get(report, "power_on_time", "hours"))),
            ("power_cycles", counted(report.get("power_cycle_count"))),
            ("temperature_c", celsius(temperature)),
            ("temperature_critical_c", celsius(limit)),
        )
    )


def celsius(degrees: int | None) -> int | Absent | None:
    """A drive that knows no temperature says 0; one beyond what any survives is implausible."""
    if not degrees:
        return None
    return degrees if degrees <= 120 else Absent.IMPLAUSIBLE


def _nvme(report: Json) -> tuple[Said, ...]:
    log = get(report, "nvme_smart_health_information_log")
    vendor, subsystem = (number(get(report, "nvme_pci_vendor", key)) for key in ("id", "subsystem_id"))
    oui = number(report.get("nvme_ieee_oui_identifier"))
    warning = number(get(log, "critical_warning"))
    written, read = (counted(get(log, key)) for key in ("data_units_written", "data_units_read"))
    fields = _fields(
        ("vendor_id", None if vendor is None else f"0x{vendor:04x}"),
        ("subsystem_vendor_id", None if subsystem is None else f"0x{subsystem:04x}"),
        ("ieee_oui", None if oui is None else f"0x{oui:06x}"),
        ("nvme_version", text(get(report, "nvme_version", "string"))),
        ("controller_id", number(report.get("nvme_controller_id"))),
        ("eui64", _eui64(report)),
        ("namespaces", number(report.get("nvme_number_of_namespaces"))),
        ("capacity_bytes", number(report.get("nvme_total_capacity")) or None),
        ("unallocated_bytes", number(report.get("nvme_unallocated_capacity"))),
        ("critical_warning", warning),
        ("critical_warning_words", None if warning is None else warning_words(warning)),
        ("available_spare_percent", number(get(log, "available_spare"))),
        ("available_spare_threshold_percent", number(get(log, "available_spare_threshold"))),
        ("percentage_used", number(get(log, "percentage_used"))),
        ("written_bytes", None if written is None else amount(written, DATA_UNIT_BYTES)),
        ("read_bytes", None if read is None else amount(read, DATA_UNIT_BYTES)),
        ("host_read_commands", counted(get(log, "host_reads"))),
        ("host_write_commands", counted(get(log, "host_writes"))),
        ("busy_minutes", counted(get(log, "controller_busy_time"))),
        ("unsafe_shutdowns", counted(get(log, "unsafe_shutdowns"))),
        ("media_errors", counted(get(log, "media_errors"))),
        ("error_log_entries", counted(get(log, "num_err_log_entries"))),
        ("warning_temperature_minutes", number(get(log, "warning_temp_time"))),
        ("critical_temperature_minutes", number(get(log, "critical_comp_time"))),
    )
    return (*fields, *_sensors(get(log, "temperature_sensors")))


def _eui64(report: Json) -> str | None:
    namespaces = get(report, "nvme_namespaces")
    first = namespaces[0] if isinstance(namespaces, list) and namespaces else None
    oui, one = (number(get(first, "eui64", key)) for key in ("oui", "ext_id"))
    return None if oui is None or one is None else f"0x{(oui << 40 | one) & (1 << 64) - 1:016x}"


def amount(units: int | Absent, size: int) -> int | Absent:
    """Return bytes; 0 units mean that the drive does not count, and what passes 60 bits is no count."""
    if isinstance(units, Absent):
        return units
    if not units:
        return Absent.NOT_OFFERED
    return units * size if units * size < 1 << 60 else Absent.IMPLAUSIBLE


def _sensors(values: object) -> Iterator[Said]:
    for position, value in enumerate(values[:8] if isinstance(values, list) else (), 1):
        degrees = celsius(number(value))
        if degrees is not None:
            yield said(f"temperature_sensor_{position}_c", degrees)


def _scsi(report: Json) -> tuple[Said, ...]:
    log = get(report, "scsi_error_counter_log")
    uncorrected = [number(get(log, way, "total_uncorrected_errors")) for way in ("read", "write", "verify")]
    known = [value for value in uncorrected if value is not None]
    cycles = get(report, "scsi_start_stop_cycle_counter")
    year, week = (text(get(cycles, f"{part}_of_manufacture")) for part in ("year", "week"))
    return tuple(
        _fields(
            ("written_bytes", gigabytes(get(log, "write", "gigabytes_processed"))),
            ("read_bytes", gigabytes(get(log, "read", "gigabytes_processed"))),
            ("media_errors", sum(known) if known else None),
            ("grown_defects", number(report.get("scsi_grown_defect_list"))),
            ("percentage_used", number(report.get("scsi_percentage_used_endurance_indicator"))),
            ("start_stop_cycles", number(get(cycles, "accumulated_start_stop_cycles"))),
            ("manufactured", f"{year}-W{week}" if year and week else None),
        )
    )


def gigabytes(value: object) -> int | None:
    """Return the bytes of `315926.142`, in 10^9 bytes with three digits behind the sign of the locale."""
    words = value.strip() if isinstance(value, str) else ""
    whole, _, part = words.replace(",", ".").rpartition(".")
    if not (whole.isdecimal() and part.isdecimal() and len(part) == 3 and len(whole) <= 10):
        return None
    return int(whole) * 10**9 + int(part) * 10**6


def _logs(report: Json) -> tuple[Said, ...]:
    errors = get(report, "ata_smart_error_log")
    counts = [number(get(errors, kind, "count")) for kind in ("extended", "summary")]
    tests = get(report, "ata_smart_self_test_log")
    tables = [get(tests, kind, "table") for kind in ("extended", "standard")]
    rows = next((table for table in tables if isinstance(table, list)), None)
    outcomes = [_outcome(row) for row in rows or []]
    outcomes += _scsi_tests(report)
    fields = _fields(("error_log_entries", next((c for c in counts if c is not None), None)))
    return (*fields, *self_test_facts(outcomes))


def _outcome(row: object) -> tuple[str, bool]:
    words = text(get(row, "status", "string")) or "not named"
    passed = get(row, "status", "passed")
    return words, passed is False


def _scsi_tests(report: Json) -> Iterator[tuple[str, bool]]:
    for position in range(20):
        code = number(get(report, f"scsi_self_test_{position}", "result", "value"))
        if code is not None:
            words = text(get(report, f"scsi_self_test_{position}", "result", "string")) or f"code {code}"
            yield words, code in (3, 4, 5, 6, 7)


def self_test_facts(outcomes: list[tuple[str, bool]]) -> tuple[Said, ...]:
    """How many self-tests the drive's log has, how many of them failed, and how the newest ended."""
    if not outcomes:
        return ()
    return (
        said("self_tests_logged", len(outcomes)),
        said("self_tests_failed", sum(failed for _, failed in outcomes)),
        said("self_test_last", outcomes[0][0]),
    )


def statistics_facts(report: Json) -> tuple[Said, ...]:
    """The log of device statistics: the values that are valid, by page and offset."""
    pages = get(report, "ata_device_statistics", "pages")
    values: dict[tuple[int, int], int] = {}
    for page in pages if isinstance(pages, list) else []:
        rows = get(page, "table")
        for row in rows if isinstance(rows, list) else []:
            one, at, value = (
                number(get(page, "number")),
                number(get(row, "offset")),
                number(get(row, "value")),
            )
            if (
                one is not None
                and at is not None
                and value is not None
                and get(row, "flags", "valid") is True
            ):
                values[one, at] = value
    return statistic_facts(values, number(report.get("logical_block_size")) or 512)


def statistic_facts(values: dict[tuple[int, int], int], block_bytes: int) -> tuple[Said, ...]:
    """Return the facts of statistics by (page, offset); ACS, as in `parse.ata.pages`."""
    written, read, used = values.get((1, 24)), values.get((1, 40)), values.get((7, 8))
    return tuple(
        _fields(
            ("power_cycles", values.get((1, 8))),
            ("power_on_hours", values.get((1, 16))),
            ("written_bytes", None if written is None else amount(written, block_bytes)),
            ("read_bytes", None if read is None else amount(read, block_bytes)),
            ("media_errors", values.get((4, 8))),
            ("reallocated_sectors", values.get((3, 32))),
            ("temperature_c", celsius(values.get((5, 8)))),
            ("interface_crc_errors", values.get((6, 24))),
            ("percentage_used", used),
        )
    )
