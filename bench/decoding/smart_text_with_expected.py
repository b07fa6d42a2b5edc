"""smartctl's text of 22 drives against the decode that another library's authors expect (`device.json`).

Their names and roundings differ from ours, and some of what they expect is not in the text. Where that is so,
the note says why, and the check beside it that it is so.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from decoding.smart_text import facts_of, plain
from decoding.tally import Tally
from shipworthy.machine.parse.smartctl import text_report as smartctl_text
from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome

SET = "smart-text-with-expected"
NVME = {
    "availableSpare": "available_spare_percent",
    "availableSpareThreshold": "available_spare_threshold_percent",
    "controllerBusyTime": "busy_minutes",
    "criticalTemperatureTime": "critical_temperature_minutes",
    "criticalWarning": "critical_warning",
    "errorEntries": "error_log_entries",
    "hostReadCommands": "host_read_commands",
    "hostWriteCommands": "host_write_commands",
    "integrityErrors": "media_errors",
    "percentageUsed": "percentage_used",
    "powerCycles": "power_cycles",
    "powerOnHours": "power_on_hours",
    "unsafeShutdowns": "unsafe_shutdowns",
    "warningTemperatureTime": "warning_temperature_minutes",
}
PLAIN = {
    "firmware": "firmware_version",
    "serial": "serial",
    "family": "family",
    "size": "size_bytes",
    "temperature": "temperature_c",
    "smart_capable": "smart_supported",
    "smart_enabled": "smart_enabled",
}


def measure(folder: Path) -> Tally:
    tally = Tally(SET)
    for drive in sorted(entry for entry in folder.iterdir() if entry.is_dir()):
        tally.items += 1
        expected = json.loads((drive / "device.json").read_text())["values"]
        files = sorted(file for file in drive.iterdir() if file.name.startswith("_"))
        text = "\n".join(file.read_text("utf-8", "replace") for file in files)
        replies = tuple(
            Reply(f"smartctl-text.{n}", f"/{file.name}", SourceOutcome.READ, file.read_bytes())
            for n, file in enumerate(files, 1)
        )
        try:
            parsed = smartctl_text.parse(replies)
        except Exception as error:
            tally.crash(drive.name, error)
            continue
        tally.unsupported += sum(remark.kind.value == "not understood" for remark in parsed.remarks)
        facts = facts_of(parsed)
        for name, want in wanted(expected).items():
            _hold(tally, drive.name, name, want, facts, text)
        _hold_attributes(tally, drive.name, expected, files)
    return tally


def wanted(expected: Any) -> dict[str, object]:
    want: dict[str, object] = {name: expected.get(key) for key, name in PLAIN.items()}
    want["model"] = expected.get("model")
    want["health_passed"] = {"PASS": True, "FAIL": False}.get(expected.get("assessment"))
    want["logical_block_bytes"] = expected.get("logical_sector_size")
    want["physical_block_bytes"] = expected.get("physical_sector_size")
    rate = expected.get("rotation_rate")
    want["rotation_rpm"] = rate if isinstance(rate, int) and rate > 1 else None
    want["technology"] = "solid state" if expected.get("is_ssd") else "spinning"
    inner = expected.get("if_attributes") or {}
    want |= {name: inner[key] for key, name in NVME.items() if key in inner}
    for key, name in (("dataUnitsRead", "read_bytes"), ("dataUnitsWritten", "written_bytes")):
        if inner.get(key):
            want[name] = inner[key] * 512000
    for number, degrees in (expected.get("temperatures") or {}).items():
        want[f"temperature_sensor_{number}_c"] = degrees
    diagnostics = expected.get("diagnostics") or {}
    if diagnostics.get("Reallocated_Sector_Ct") is not None:
        want["grown_defects"] = diagnostics["Reallocated_Sector_Ct"]
    ways = ("Reads", "Writes", "Verifies")
    if diagnostics.get("Uncorrected_Reads") is not None:
        want["media_errors"] = sum(diagnostics[f"Uncorrected_{way}"] for way in ways)
    if diagnostics.get("Writes_GB") is not None:
        want["written_bytes"] = round(diagnostics["Writes_GB"] * 1000) * 10**6
    return want


def _hold(tally: Tally, drive: str, name: str, want: object, facts: dict[str, object], text: str) -> None:
    got = facts.get(name)
    reason = "" if want == got else explained(name, want, got, facts, text)
    if reason:
        tally.notes[reason] = int(tally.notes.get(reason, 0)) + 1
    else:
        tally.hold(drive, name, want, got)


def explained(name: str, want: object, got: object, facts: dict[str, object], text: str) -> str:
    """Return why the expected decode is wrong or says the same in other words; nothing if it is not."""
    if want is None and got is not None:
        return f"expected has no {name}, the text does" if _in_text(name, got, text) else ""
    if name == "technology" and got == "NVMe" and want == "solid state":
        return "other words: an NVMe drive is solid state"
    if name == "technology" and want == "spinning" and got is None and "Rotation Rate" not in text:
        return "expected guesses: the text does not say whether it spins"
    if name == "model" and got is not None and want == f"{facts.get('maker')} {got}":
        return "other words: SCSI's vendor stands before the product; ours is the fact `maker`"
    masked = got == "not offered" and set(str(want)) <= set("X 0")
    if name in ("serial", "model", "firmware_version") and masked:
        return "placeholder: the expected text is a row of X"
    if name in ("smart_supported", "smart_enabled") and got is None and not _says(name, text):
        return f"expected assumes: the text has no line that says {name}"
    if name == "temperature_c" and want == 0 and "Drive Trip Temperature:        0 C" in text:
        return "expected takes 0 °C of a virtual disk, whose limit is 0 °C too, for a temperature"
    if name == "model" and re.search(rf"^Add. Product Id:\s+{re.escape(str(want))}$", text, re.M):
        return "expected takes the additional product id for the model"
    return ""


def _says(name: str, text: str) -> bool:
    words = "Enabled|Disabled" if name == "smart_enabled" else "Available|Unavailable"
    return re.search(rf"SMART support is:\s+({words})", text) is not None


def _in_text(name: str, got: object, text: str) -> bool:
    """Whether a value stands in the text: a number by its digits, a word as it is."""
    if isinstance(got, bool):
        return re.search(r"SMART (support is|overall-health|Health Status)", text) is not None
    if isinstance(got, int):
        numbers = re.findall(r"\d[\d.,\u00a0\u202f ]*", text)
        return any(plain(found) == got for found in numbers if len(found) < 40)
    return str(got).split(",")[0].lower() in text.lower() or name == "technology"


def _hold_attributes(tally: Tally, drive: str, expected: Any, files: list[Path]) -> None:
    """Each row of the table of attributes: value, worst, threshold, raw text, whether it fails."""
    got = {}
    for file in files:
        for lines in smartctl_text._reports_in(file.read_bytes()):
            report = smartctl_text.read_lines(lines)
            got |= {a.id: (a.value, a.worst, a.threshold, a.text, a.state) for a in report.attributes}
    for row in expected.get("attributes") or []:
        if row:
            state = {"-": "", "Past": "past", "FAILING_NOW": "now", "NOW": "now"}[row["when_failed"]]
            want = (row["value_int"], row["worst"], row["thresh"], row["raw"], state)
            tally.hold(drive, f"attribute {row['num']}", want, got.get(row["num"]))
