"""smartctl's JSON of real drives: our facts against plain look-ups of keys, and a raw count by expressions.

The file is the reference. What is looked up here is written without the parser's code: paths of keys by hand,
and for attributes the raw value from the row of the table.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from decoding.tally import Tally
from shipworthy.machine.parse.smartctl import json_report as smartctl_json
from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome

SET = "smart-json"


def measure(folder: Path) -> Tally:
    tally = Tally(SET)
    recognised = 0
    for file in sorted(folder.rglob("*.json")):
        tally.items += 1
        data = file.read_bytes()
        try:
            recognised += smartctl_json.recognises(file.name, data[:4096])
            reply = Reply("smartctl-json.1", f"/{file.name}", SourceOutcome.READ, data, "", "json")
            parsed = smartctl_json.parse((reply,))
        except Exception as error:
            tally.crash(file.name, error)
            continue
        facts: dict[str, object] = {}
        for sighting in parsed.sightings:
            for said in sighting.said:
                facts.setdefault(said.name, said.value if said.absent is None else str(said.absent))
        tally.unsupported += sum(remark.kind.value == "not understood" for remark in parsed.remarks)
        report = json.loads(data)
        for name, want in wanted(report).items():
            reason = explained(name, want, facts.get(name), report)
            if reason:
                tally.notes[reason] = int(tally.notes.get(reason, 0)) + 1
            else:
                tally.hold(file.name, name, want, facts.get(name))
    tally.notes["recognised"] = recognised
    tally.notes["unsupported are"] = (
        "attributes 241 and 242 of drives of which no source says what they count"
    )
    return tally


def explained(name: str, want: object, got: object, report: Any) -> str:
    """Return why a plain look-up is wrong; nothing if it is not."""
    if want == got:
        return ""
    if got == "not offered" and set(str(want)) == {"X"}:
        return f"placeholder: the {name} is a row of X"
    if got == "not offered" and want == "REDACTED":
        return f"placeholder: whoever published the report put REDACTED in place of the {name}"
    number = next((n for n, fact in ATTRIBUTES.items() if fact == name), None)
    names = [row["name"] for row in at(report, "ata_smart_attributes.table") or [] if row["id"] == number]
    if got is None and names == ["Not_In_Use"]:
        return f"attribute {number} is called Not_In_Use, so it is no {name}"
    return ""


def at(report: Any, path: str) -> Any:
    """Look a value up by a path with points, as jq does; None where there is none."""
    for key in path.split("."):
        if isinstance(report, list):
            report = report[int(key)] if int(key) < len(report) else None
        else:
            report = report.get(key) if isinstance(report, dict) else None
    return report


PLAIN = {
    "firmware_version": ("firmware_version", "scsi_revision", "revision"),
    "serial": ("serial_number",),
    "model": ("model_name", "scsi_model_name"),
    "family": ("model_family",),
    "logical_block_bytes": ("logical_block_size",),
    "physical_block_bytes": ("physical_block_size",),
    "power_on_hours": ("power_on_time.hours",),
    "power_cycles": ("power_cycle_count",),
    "temperature_c": ("temperature.current",),
    "health_passed": ("smart_status.passed",),
    "trim": ("trim.supported",),
    "smart_supported": ("smart_support.available",),
    "smart_enabled": ("smart_support.enabled",),
    "nvme_version": ("nvme_version.string",),
    "namespaces": ("nvme_number_of_namespaces",),
    "controller_id": ("nvme_controller_id",),
    "capacity_bytes": ("nvme_total_capacity",),
    "unallocated_bytes": ("nvme_unallocated_capacity",),
    "critical_warning": ("nvme_smart_health_information_log.critical_warning",),
    "available_spare_percent": ("nvme_smart_health_information_log.available_spare",),
    "available_spare_threshold_percent": ("nvme_smart_health_information_log.available_spare_threshold",),
    "percentage_used": ("nvme_smart_health_information_log.percentage_used",),
    "host_read_commands": ("nvme_smart_health_information_log.host_reads",),
    "host_write_commands": ("nvme_smart_health_information_log.host_writes",),
    "busy_minutes": ("nvme_smart_health_information_log.controller_busy_time",),
    "unsafe_shutdowns": ("nvme_smart_health_information_log.unsafe_shutdowns",),
    "warning_temperature_minutes": ("nvme_smart_health_information_log.warning_temp_time",),
    "critical_temperature_minutes": ("nvme_smart_health_information_log.critical_comp_time",),
    "temperature_sensor_1_c": ("nvme_smart_health_information_log.temperature_sensors.0",),
    "temperature_sensor_2_c": ("nvme_smart_health_information_log.temperature_sensors.1",),
    "grown_defects": ("scsi_grown_defect_list",),
    "start_stop_cycles": ("scsi_start_stop_cycle_counter.accumulated_start_stop_cycles",),
    "temperature_critical_c": ("temperature.drive_trip",),
}
ATTRIBUTES = {5: "reallocated_sectors", 197: "pending_sectors", 198: "uncorrectable_sectors"}
ATTRIBUTES |= {199: "interface_crc_errors", 187: "media_errors"}


def wanted(report: Any) -> dict[str, object]:
    """Return what the file says, by our names, only where it says it."""
    want: dict[str, object] = {}
    for name, paths in PLAIN.items():
        found = next((value for path in paths if (value := at(report, path)) is not None), None)
        if found is not None:
            want[name] = found
    rotation, size = at(report, "rotation_rate"), at(report, "user_capacity.bytes")
    if rotation:
        want["rotation_rpm"] = rotation
    if size is not None:
        want["size_bytes"] = size
    log = at(report, "nvme_smart_health_information_log") or {}
    if log:
        want |= {
            "written_bytes": log["data_units_written"] * 512000,
            "read_bytes": log["data_units_read"] * 512000,
            "media_errors": log["media_errors"],
            "error_log_entries": log["num_err_log_entries"],
        }
    for name, key in (("sata_max_gbit_s", "max"), ("sata_now_gbit_s", "current")):
        speed = at(report, f"interface_speed.{key}.string")
        if speed:
            want[name] = float(speed.split()[0])
    if at(report, "wwn"):
        want["wwn"] = f"0x{report['wwn']['naa']:x}{report['wwn']['oui']:06x}{report['wwn']['id']:09x}"
    count = at(report, "ata_smart_error_log.summary.count")
    if count is not None:
        want["error_log_entries"] = count
    want |= _of_attributes(report)
    if at(report, "scsi_error_counter_log"):
        rows = report["scsi_error_counter_log"]
        want["written_bytes"] = int(rows["write"]["gigabytes_processed"].replace(".", "")) * 10**6
        want["media_errors"] = sum(row["total_uncorrected_errors"] for row in rows.values())
    return want


def _of_attributes(report: Any) -> dict[str, object]:
    rows = at(report, "ata_smart_attributes.table") or []
    want: dict[str, object] = {
        ATTRIBUTES[row["id"]]: row["raw"]["value"] for row in rows if row["id"] in ATTRIBUTES
    }
    if rows:
        want["attributes_failing_now"] = sum(row["when_failed"] == "now" for row in rows)
        want["attributes_failed_past"] = sum(row["when_failed"] == "past" for row in rows)
    return want
