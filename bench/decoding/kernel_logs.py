"""kernel-logs: error lines of 227 FreeBSD logs, three of Linux, and six descriptions of machine checks.

The index's counts are of a scan that counts harmless lines too, so that a kind of error is held as found or
not, decided by stricter expressions of our own; quiet logs must stay quiet. The words of the status of each
machine check are held against what FreeBSD's kernel itself made of the same status, in the line after it.
"""

from __future__ import annotations

import re
import tarfile
import time
from collections import Counter
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse.boot_log import source as boot_log
from shipworthy.machine.parse.boot_log.errors import ErrorKind, classify
from shipworthy.machine.parse.boot_log.mca import decode_status
from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import PartKind

SET = "kernel-logs"
STRICT = {
    "medium": (ErrorKind.DISK, re.compile(r"\((?:a?da|nda)\d+:.*(?:MEDIUM ERROR|UNC )")),
    "crc": (ErrorKind.LINK, re.compile(r"Uncorrectable parity/CRC|ICRC")),
    "pcie": (ErrorKind.LINK, re.compile(r"PCIe error reported")),
    "nvme": (ErrorKind.DISK, re.compile(r"nvme\d+: Resetting controller due to")),
    "panic": (ErrorKind.PANIC, re.compile(r"^(?:\[\d+\] )?(?:panic: |Fatal trap \d)", re.M)),
    "mca": (ErrorKind.MACHINE_CHECK_CORRECTED, re.compile(r"MCA: Bank \d+, Status")),
    "thermal": (ErrorKind.THERMAL, re.compile(r"critical temperature detected|exceeds safe limits")),
}
RECORD = re.compile(
    r"MCA: Bank \d+, Status (0x[0-9a-f]{16})\n(?:.*MCA: (?:Global|Vendor).*\n)*.*MCA: CPU \d+ (.*)"
)
KERNEL_WORDS = {
    "read": "RD", "write": "WR", "scrubbing": "MS", "generic": "GEN", "address or command": "AC",
    "instruction fetch": "IRD", "eviction": "EVICT", "internal parity": "internal parity",
}  # fmt: skip


def measure(folder: Path) -> Tally:
    """Return how lines and status words are told."""
    tally = Tally(SET)
    index = dict(_index(folder))
    counts: Counter[str] = Counter()
    lines, seconds = 0, 0.0
    with tarfile.open(folder / "freebsd-dmesg.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() else None
            if file is None or not member.name.endswith(".txt"):
                continue
            data, name = file.read(), Path(member.name).stem
            tally.items += 1
            text = data.decode("utf-8", "replace")
            start = time.process_time()
            try:
                kinds = Counter(kind for line in text.splitlines() if (kind := classify(line)))
                seconds += time.process_time() - start
                boot_log.parse((Reply(id="dmesg.1", locator=name, outcome=SourceOutcome.READ, data=data),))
            except Exception as error:
                tally.crash(name, error)
                continue
            lines += text.count("\n")
            tally.hold(name, "recognised", True, boot_log.recognises(f"{name}-dmesg.txt", data[:4096]))
            _log(tally, name, text, index.get(name, set()), kinds)
            counts.update(kind.value for kind in kinds)
            _status_words(tally, name, text)
    _linux(tally, folder / "gpud")
    _injections(tally, folder / "mcelog-inject")
    tally.notes = {"lines": lines, "seconds to classify": round(seconds, 3)}
    tally.notes |= {f"logs with {kind}": count for kind, count in sorted(counts.items())}
    return tally


def _index(folder: Path) -> list[tuple[str, set[str]]]:
    rows = (folder / "freebsd-dmesg-index.tsv").read_text("utf-8").splitlines()[1:]
    cells = [row.split("\t") for row in rows]
    return [
        (c[0], {p.partition("=")[0] for p in c[5].split(",") if p} if len(c) > 5 else set()) for c in cells
    ]


def _log(tally: Tally, name: str, text: str, patterns: set[str], kinds: Counter[ErrorKind]) -> None:
    if not patterns:
        tally.hold(name, "quiet", {}, dict(kinds))
    wanted: dict[ErrorKind, bool] = {}
    for kind, strict in STRICT.values():
        wanted[kind] = wanted.get(kind, False) or strict.search(text) is not None
    for kind, want in wanted.items():
        if want or kind not in (ErrorKind.DISK,):  # a disk has more ways to fail than the two looked for
            tally.hold(name, kind.value, want, kinds[kind] > 0)
    if "mca" in patterns or "panic" in patterns or "pcie" in patterns:
        tally.hold(name, "an error, as the index has one", True, bool(kinds))


def _status_words(tally: Tally, name: str, text: str) -> None:
    """FreeBSD prints `COR (94) OVER RD channel 1 memory error` of the status in the line before."""
    for match in RECORD.finditer(text):
        check, words = decode_status(int(match[1], 16)), match[2]
        tally.hold(name, f"{match[1]} corrected", "UNCOR" not in words, not check.uncorrected)
        tally.hold(name, f"{match[1]} overflow", " OVER " in words, check.overflow)
        count = re.match(r"COR \((\d+)\)", words)
        if count:
            tally.hold(name, f"{match[1]} count", int(count[1]), check.corrected_count)
        tally.hold(name, f"{match[1]} kind", True, _same_kind(words, check.meaning))


def _same_kind(words: str, meaning: str) -> bool:
    """Whether the kernel's words and ours name the same kind, request and channel or level."""
    asked = next((short for long, short in KERNEL_WORDS.items() if f": {long}," in meaning), "")
    if "memory error" in words:
        channel = re.search(r"channel (\d+|\?\?)", words)
        told = f"channel {channel[1]}" if channel and channel[1] != "??" else "channel not told"
        return "memory controller" in meaning and meaning.endswith(told) and f" {asked} " in f" {words} "
    if "CACHE" in words:
        level = re.search(r" L(\d) ", words)
        kind = {"I": "instruction", "D": "data", "G": "generic"}[words[words.index("CACHE") - 1]]
        return f"{kind} cache" in meaning and level is not None and f"level {level[1]}" in meaning
    return meaning in words


def _linux(tally: Tally, folder: Path) -> None:
    """An Xid for each line that has one, and for the card that it names; a crash; and no alarm of peermem."""
    for file in sorted(folder.iterdir()):
        data = file.read_bytes()
        text = data.decode("utf-8", "replace")
        tally.items += 1
        tally.hold(file.name, "recognised", True, boot_log.recognises(file.name, data[:4096]))
        kinds = Counter(kind for line in text.splitlines() if (kind := classify(line)))
        tally.hold(file.name, "Xid lines", text.count("NVRM: Xid ("), kinds[ErrorKind.GRAPHICS])
        tally.hold(file.name, "crash", "BUG: unable to handle" in text, kinds[ErrorKind.PANIC] > 0)
        reply = Reply(id="dmesg.1", locator=file.name, outcome=SourceOutcome.READ, data=data)
        cards = [s for s in boot_log.parse((reply,)).sightings if s.kind is PartKind.GRAPHICS]
        want = sorted({f"pci:{m}.0" for m in re.findall(r"Xid \(PCI:([0-9a-f:]+)\)", text)})
        tally.hold(file.name, "cards", want, sorted(s.place for s in cards))


def _injections(tally: Tally, folder: Path) -> None:
    """All six are corrected errors that are valid, with MISC and ADDR as the description has them or not."""
    for file in sorted(folder.iterdir()):
        text = file.read_text("utf-8")
        status = re.search(r"^STATUS\s+(0x[0-9a-f]+)", text, re.M)
        tally.items += 1
        if status is None:
            tally.unsupported += 1
            continue
        check = decode_status(int(status[1], 16))
        tally.hold(file.name, "valid", True, check.valid)
        tally.hold(file.name, "corrected", True, not check.uncorrected and not check.context_corrupt)
        tally.hold(file.name, "misc", "\nMISC" in text, check.misc_valid)
        tally.hold(file.name, "address", "\nADDR" in text, check.address_valid)
        kind = "I/O" if "iomca" in file.name else "memory controller: generic, channel 0"
        tally.hold(file.name, "meaning", kind, check.meaning)
