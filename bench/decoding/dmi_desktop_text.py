"""dmi-desktop-text: 2,489 reports of dmidecode, held against plain regular expressions over the same text.

Counted apart from the parser: structures, modules that are fitted, their sizes, speeds, part numbers and
makers, and the fields of firmware, system, board, chassis and processor as they stand.
"""

from __future__ import annotations

import re
import tarfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse.dmidecode_text import source as dmidecode_text
from shipworthy.machine.parse.jep106 import OTHER_LISTS
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind

SET = "dmi-desktop-text"
STRUCTURE = re.compile(
    r"^Handle 0x[0-9A-F]{4}, DMI type (\d+), \d+ bytes$(.*?)(?=^Handle 0x|\Z)", re.M | re.S
)
SPOILT = re.compile(r"^[0-9A-F]{32}\n(?=Chassis Information$)", re.M)
UNITS = {"kB": 2**10, "MB": 2**20, "GB": 2**30}
SILENT = {"Not Specified", "Unknown", "<BAD INDEX>", "<OUT OF SPEC>", "--", "...", ""}
SILENT_TYPES = {"Other", "Reserved"}
HEX = re.compile(r"(?:JEDEC ID:)?(?:Unknown \()?(?:0x)?((?:[0-9A-Fa-f]{2} ?){2,8})\)?")
SINGLE = {
    0: (PartKind.FIRMWARE, {"Vendor": "maker", "Version": "version", "Release Date": "date"}),
    1: (PartKind.SYSTEM, {"Manufacturer": "maker", "Product Name": "model", "Version": "version"}),
    2: (PartKind.BOARD, {"Manufacturer": "maker", "Product Name": "model", "Version": "version"}),
    3: (PartKind.CHASSIS, {"Manufacturer": "maker", "Type": "type", "Version": "version"}),
    4: (PartKind.PROCESSOR, {"Version": "model", "Socket Designation": "socket"}),
}
FITTED = {8: PartKind.CONNECTOR, 7: PartKind.CACHE, 9: PartKind.SLOT, 41: PartKind.ONBOARD_DEVICE}
NUMBERS = {"Core Count": "cores", "Thread Count": "threads", "Max Speed": "socket_max_mhz"}


def reports(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Yield each report's name and bytes."""
    with tarfile.open(folder / "dmi-desktop-text.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() else None
            if file is not None and member.name.endswith(".txt"):
                yield Path(member.name).stem, file.read()


def measure(folder: Path) -> Tally:
    """Return how the parser does on all reports; notes: seconds of parsing alone, and what was met."""
    tally = Tally(SET)
    seconds = 0.0
    counts: Counter[str] = Counter()
    for name, data in reports(folder):
        tally.items += 1
        reply = Reply(id="dmidecode-text.1", locator=name, outcome=SourceOutcome.READ, data=data)
        tally.hold(name, "recognised", True, dmidecode_text.recognises(f"{name}.txt", data[:4096]))
        start = time.process_time()
        try:
            parsed = dmidecode_text.parse((reply,))
        except Exception as error:
            tally.crash(name, error)
            continue
        seconds += time.process_time() - start
        compare(tally, name, data.decode("utf-8", "replace"), parsed, counts)
    tally.notes = {"seconds": round(seconds, 3), **counts}
    return tally


def compare(tally: Tally, name: str, text: str, parsed: Parsed, counts: Counter[str]) -> None:
    """Hold one report's facts against its text."""
    structures = [(int(match[1]), match[2]) for match in STRUCTURE.finditer(text)]
    facts = [values(sighting) for sighting in parsed.sightings]
    _accounting(tally, name, text, structures, parsed)
    _modules(tally, name, structures, [f for f in facts if f["kind"] is PartKind.MEMORY_MODULE], counts)
    for number, (kind, fields) in SINGLE.items():
        want = [block for found, block in structures if found == number]
        if number == 4:
            want = [block for block in want if "Status: Populated" in block]
        got = [f for f in facts if f["kind"] is kind]
        if want and got and (number == 4 or len(want) == 1):
            _fields(tally, f"{name} type {number}", want[0], got[0], fields)
    for number, kind in FITTED.items():
        here = sum(found == number for found, _ in structures)
        tally.hold(name, f"parts of type {number}", here, sum(f["kind"] is kind for f in facts))


def values(sighting: Sighting) -> dict[str, object]:
    """Return a sighting's values by name, with its kind."""
    return {"kind": sighting.kind, **{s.name: s.value for s in sighting.said}}


def _accounting(
    tally: Tally, name: str, text: str, structures: list[tuple[int, str]], parsed: Parsed
) -> None:
    """Every structure is read, or counted in a remark."""
    left = [
        r
        for r in parsed.remarks
        if r.kind is RemarkKind.NOT_UNDERSTOOD and re.fullmatch(r"type \d+", r.where)
    ]
    left = [r for r in left if "a line that is no field" not in r.detail]
    unread = sum(found not in dmidecode_text.READ_TYPES for found, _ in structures)
    named = sum(r.count for r in left if int(r.where[5:]) not in dmidecode_text.READ_TYPES)
    tally.hold(name, "structures named as not read", unread, named)
    spoilt = len(SPOILT.findall(text))
    made = len([s for s in parsed.sightings if s.kind not in (PartKind.MEMORY,)])
    empty = sum(found == 4 and "Status: Populated" not in block for found, block in structures)
    arrays = sum(found == 16 and "Use: System Memory" in block for found, block in structures)
    ends = sum(found == 127 for found, _ in structures)
    leftover = sum(r.count for r in left if int(r.where[5:]) in dmidecode_text.READ_TYPES)
    read = sum(found in dmidecode_text.READ_TYPES for found, _ in structures)
    tally.hold(name, "structures read", read + spoilt, made + empty + arrays + ends + leftover)
    tally.unsupported += named


def _modules(
    tally: Tally,
    name: str,
    structures: list[tuple[int, str]],
    got: list[dict[str, object]],
    counts: Counter[str],
) -> None:
    flash = [b for n, b in structures if n == 16 and "Use: System Memory" not in b]
    blocks = [block for number, block in structures if number == 17]
    if flash:
        counts["reports with another memory array"] += 1
        blocks = blocks[: len(got)]
    tally.hold(name, "slots", len(blocks), len(got))
    fitted = [b for b in blocks if "\tSize: No Module Installed" not in b]
    found = [f for f in got if not _empty(f)]
    tally.hold(name, "modules", len(fitted), len(found))
    counts["modules"] += len(found)
    for index, (block, fact) in enumerate(zip(blocks, got, strict=False)):
        if "\tSize: No Module Installed" not in block:
            _module(tally, f"{name} module {index}", block, fact, counts)


def _empty(fact: dict[str, object]) -> bool:
    return fact.get("size_bytes") is None and fact.get("type") is None and fact.get("form_factor") is None


def _module(tally: Tally, item: str, block: str, fact: dict[str, object], counts: Counter[str]) -> None:
    size = re.search(r"\n\tSize: (\d+) (kB|MB|GB)\n", block)
    tally.hold(item, "size", int(size[1]) * UNITS[size[2]] if size else None, fact["size_bytes"])
    speed = re.search(r"\n\tSpeed: (\d+) M(?:T/s|Hz)", block)
    tally.hold(item, "speed", int(speed[1]) if speed else None, fact["firmware_speed_mt_s"])
    now = re.search(r"\n\tConfigured (?:Memory|Clock) Speed: (\d+) M(?:T/s|Hz)", block)
    tally.hold(item, "configured speed", int(now[1]) if now else None, fact["configured_speed_mt_s"])
    tally.hold(item, "part number", _text(block, "Part Number"), fact["part_number"])
    tally.hold(item, "type", _text(block, "Type"), fact["type"])
    maker = _text(block, "Manufacturer")
    coded = HEX.fullmatch(maker or "")
    tally.hold(item, "maker", None if coded else maker, fact["maker"])
    told = re.search(r"\n\tModule Manufacturer ID: Bank (\d+), Hex 0x([0-9A-F]{2})", block)
    by_name = _maker_code(bytes.fromhex(coded[1])) if coded and maker not in OTHER_LISTS else None
    by_field = None
    if told and int(told[2], 16).bit_count() % 2 and int(told[1]) <= 24:
        by_field = f"JEP106 bank {told[1]} code 0x{int(told[2], 16) & 0x7F:02X}"
    elif told:
        counts["codes that cannot be"] += 1
    tally.hold(item, "maker code", by_field or by_name, fact["maker_code"])
    if by_name and by_field:
        counts["codes told twice, " + ("the same" if by_name == by_field else "not the same")] += 1


def _maker_code(data: bytes) -> str | None:
    """By our own hand: bytes of 0x7F counted, or the count itself; odd parity in both."""
    if len(data) == 8:
        run = re.fullmatch(rb"(\x7f*)([^\x7f\0])\0*", data, re.DOTALL)
        count, code = (len(run[1]), run[2][0]) if run else (0, 0)
    else:
        count, code = data[0] & 0x7F, data[1]
        if data[0].bit_count() % 2 == 0 or len(data) not in (2, 6):
            return None
    odd = code.bit_count() % 2 == 1 and code & 0x7F not in (0, 0x7F)
    return f"JEP106 bank {count + 1} code 0x{code & 0x7F:02X}" if odd and count < 24 else None


def _text(block: str, label: str) -> str | None:
    match = re.search(rf"^\t{label}: *(.*?) *$", block, re.M)
    text = match[1] if match else ""
    if label == "Type" and text in SILENT_TYPES:
        return None
    return None if text in SILENT or is_placeholder(text) else text


def _fields(tally: Tally, item: str, block: str, fact: dict[str, object], fields: dict[str, str]) -> None:
    for label, field in fields.items():
        want = _text(block, label)
        if field == "model":
            want = " ".join(want.split()) if want and fact["kind"] is PartKind.PROCESSOR else want
        tally.hold(item, field, want, fact.get(field))
    for label, field in NUMBERS.items():
        match = re.search(rf"^\t{label}: (\d+)", block, re.M)
        if match and fact["kind"] is PartKind.PROCESSOR:
            tally.hold(item, field, int(match[1]) or None, fact[field])
