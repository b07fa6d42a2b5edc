"""smartctl's text of 1,000 real drives: against the index beside it, and against plain counts by expressions.

The index is a scan of the same text by other code (model, health line, signals). Where it and we differ, the
lines themselves are looked at by an expression here, and the note says who is right.
"""

from __future__ import annotations

import csv
import re
import tarfile
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse.smartctl import text_report as smartctl_text
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.reading import SourceOutcome

SET = "smart-text"
SIGNALS = {
    "reallocated": "reallocated_sectors",
    "pending": "pending_sectors",
    "offline_unc": "uncorrectable_sectors",
    "crc": "interface_crc_errors",
    "attr_failing_now": "attributes_failing_now",
    "attr_failed_past": "attributes_failed_past",
    "critical_warning": "critical_warning",
    "error_log": "error_log_entries",
}


def reports(folder: Path) -> dict[str, bytes]:
    with tarfile.open(folder / "smart-text.tar.xz") as archive:
        return {
            Path(member.name).stem: file.read()
            for member in archive
            if member.name.endswith(".txt") and (file := archive.extractfile(member)) is not None
        }


def facts_of(parsed: Parsed) -> dict[str, object]:
    facts: dict[str, object] = {}
    for sighting in parsed.sightings:
        for said in sighting.said:
            facts.setdefault(said.name, said.value if said.absent is None else str(said.absent))
    return facts


def measure(folder: Path) -> Tally:
    tally = Tally(SET)
    lines = (folder / "index.tsv").read_text("utf-8").splitlines()
    rows = {row["id"]: row for row in csv.DictReader(lines, delimiter="\t")}
    recognised = 0
    for name, data in sorted(reports(folder).items()):
        tally.items += 1
        try:
            recognised += smartctl_text.recognises(f"{name}.txt", data[:4096])
            reply = Reply("smartctl-text.1", f"/{name}.txt", SourceOutcome.READ, data)
            parsed = smartctl_text.parse((reply,))
        except Exception as error:
            tally.crash(name, error)
            continue
        tally.unsupported += sum(remark.kind.value == "not understood" for remark in parsed.remarks)
        facts, text = facts_of(parsed), data.decode()
        _against_index(tally, name, rows[name], facts, text)
        for fact, want in wanted(text).items():
            if isinstance(want, int) and want >> 63:
                tally.hold(name, f"{fact} that cannot be so", "implausible", facts.get(fact))
            else:
                tally.hold(name, fact, want, facts.get(fact))
    tally.notes["recognised"] = recognised
    tally.notes["unsupported are"] = "raw values of attributes whose packing or unit no source tells"
    return tally


def _against_index(tally: Tally, name: str, row: dict[str, str], facts: dict[str, object], text: str) -> None:
    tally.hold(name, "model", row["model"], facts.get("model"))
    tally.hold(name, "family", row["model_family"] or None, facts.get("family"))
    passed = {"PASSED": True, "FAILED!": False}.get(row["health_line"])
    tally.hold(name, "health_passed", passed, facts.get("health_passed"))
    signals = set(filter(None, row["signals_seen_in_text"].split(",")))
    checks = {signal: _seen(facts.get(fact)) for signal, fact in SIGNALS.items()}
    if row["kind"] == "NVMe":
        media, used = facts.get("media_errors"), facts.get("percentage_used")
        checks["media_errors"] = _seen(media) or media == "implausible"
        checks["used_100"] = isinstance(used, int) and used >= 100
    for signal, got in checks.items():
        want = signal in signals
        reason = "" if want == got else explained(signal, want, row["kind"], text)
        if reason:
            tally.notes[reason] = int(tally.notes.get(reason, 0)) + 1
        else:
            tally.hold(name, f"signal {signal}", want, got)


def explained(signal: str, want: bool, kind: str, text: str) -> str:
    """Return why the index is wrong of a signal, told by an expression on the text; nothing if it is not."""

    def has(expression: str) -> bool:
        return bool(re.search(expression, text, re.M))

    nvme = kind == "NVMe"
    statistic = {
        "crc": r"^(?:0x0| +)6\s+0x018",
        "reallocated": r"^(?:0x0| +)3\s+0x020",
        "offline_unc": "$^",
    }.get(signal, "$^")
    if signal == "reallocated" and want and nvme and has(r"^ 5 -\s"):
        return "index wrong: row 5 of the NVMe power states taken as attribute 5"
    if signal == "error_log" and not want and nvme and has(r"^Error Information Log Entries:\s+[1-9]"):
        return "index narrower: it does not count the NVMe error log"
    if has(statistic + r"\s+\d\s+[1-9]\d*\s") and not want:
        return f"index narrower: {signal} seen by the device statistics only"
    if has(statistic + r"\s+\d\s+0\s") and want:
        return f"witnesses differ: {signal} counted by the attribute and not by the device statistics"
    if signal == "crc" and not want and has(r"^218 CRC_Error_Count .* [1-9]\d*$"):
        return "index narrower: CRC errors in attribute 218"
    if want and has(r"^19[89] (Read|Write)_Sectors_Tot_Ct "):
        return f"index wrong: attribute taken as {signal} by its number, its name says sectors"
    if signal == "offline_unc" and want and has(r"^198 .* \d{11,}$"):
        return "raw value of attribute 198 is packed: no count of sectors has 11 digits"
    return ""


def _seen(value: object) -> bool:
    return isinstance(value, int) and value > 0


def plain(text: str) -> int:
    """A number with whatever separators: all its digits."""
    return int(re.sub(r"\D", "", text))


LINES = {
    "size_bytes": r"^(?:User Capacity|Namespace 1 Size/Capacity):\s+([\d.,\s\u00a0\u202f]+?)\s*(?:bytes|\[)",
    "power_cycles": r"^(?:Power Cycles:\s+([\d.,\s\u00a0\u202f]+)$|0x01\s+0x008\s+4\s+(\d+)\s)",
    "media_errors": r"^Media and Data Integrity Errors:\s+([\d.,\u00a0\u202f]+)$",
    "unsafe_shutdowns": r"^Unsafe Shutdowns:\s+([\d.,\u00a0\u202f]+)$",
    "host_read_commands": r"^Host Read Commands:\s+([\d.,\u00a0\u202f]+)$",
    "rotation_rpm": r"^Rotation Rate:\s+(\d+) rpm",
}


def wanted(text: str) -> dict[str, object]:
    """Return what plain expressions find in the text."""
    want: dict[str, object] = {}
    for name, expression in LINES.items():
        match = re.search(expression, text, re.M)
        if match:
            want[name] = plain(next(group for group in match.groups() if group))
    written = re.search(r"^Data Units Written:\s+([\d.,\u00a0\u202f]+) \[", text, re.M)
    if written and plain(written[1]):
        want["written_bytes"] = plain(written[1]) * 512000
    firmware = re.search(r"^Firmware Version:[ \t]+(\S.*)$", text, re.M)
    if firmware:
        want["firmware_version"] = firmware[1].strip()
    hours = re.search(r"^  9 Power_On_\S+ .*? (\d+)(?:h\+\d+m\S*)?(?: \([\d ]+\))?$", text, re.M)
    statistic = re.search(r"^0x01\s+0x010\s+4\s+(\d+)\s", text, re.M)
    if statistic or hours:
        want["power_on_hours"] = int((statistic or hours)[1])  # type: ignore[index]
    if "SAMSUNG SP0411N" in text and "power_on_hours" in want:
        # half minutes: one of the two has 9604 hours in its error log, where the attribute has 1152645
        want["power_on_hours"] = int(str(want["power_on_hours"])) // 120
    return want
