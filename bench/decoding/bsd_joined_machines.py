"""bsd-joined-machines: dmidecode's text, pciconf's list and the boot log of 733 machines, held together.

What decides is independent of the parsers: plain regular expressions over the log and the list. Memory is
held as the firmware's modules against the kernel's `real memory`; machines that differ by more than 10 % are
told apart by what their own three reports show, and the rest is listed as not explained.
"""

from __future__ import annotations

import re
import tarfile
import time
from collections import Counter
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse import pciconf_text
from shipworthy.machine.parse.boot_log import source as boot_log
from shipworthy.machine.parse.dmidecode_text import source as dmidecode_text
from shipworthy.machine.raw import Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import PartKind

SET = "bsd-joined-machines"
GIB = 1 << 30
STAMP = r"^(?:\[[ 0-9.]+\] )?"
REAL = re.compile(STAMP + r"(?:real mem(?:ory)? *= (\d+) \(|total memory = (\d+) MB)", re.M)
CPU = re.compile(STAMP + r"(?:CPU: (.+?) +\([\d.]+-MHz|cpu0: (\w[^,\n]*), (?:[\d.]+ MHz|id 0x))", re.M)
DRIVE = re.compile(STAMP + r"((?:ada|da|nda|nvd)\d+): <(.*)> (?!.*detached)(\S.*)$", re.M)
OTHER_DRIVE = re.compile(STAMP + r"((?:sd|wd)\d+)(?: at [^<\n]*)?: <(.*?)>", re.M)
MEGABYTES = re.compile(STAMP + r"((?:ada|da|nda|nvd)\d+): (\d+)MB \(\d+ \d+ byte", re.M)
FUNCTION = re.compile(r"@pci(\d+):(\d+):(\d+):(\d):\s+class=0x(\w{6}) (.*)")


def machines(folder: Path) -> Iterator[tuple[str, dict[str, bytes]]]:
    """Yield each machine's name and its three files."""
    found: dict[str, dict[str, bytes]] = {}
    with tarfile.open(folder / "bsd-joined-machines.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() else None
            path = Path(member.name)
            if file is not None and path.suffix == ".txt":
                found.setdefault(path.parent.name, {})[path.name] = file.read()
    yield from sorted(found.items())


def measure(folder: Path) -> Tally:
    """Return how the parsers do; notes: seconds by kind, reasons of memory that differs."""
    tally = Tally(SET)
    seconds: Counter[str] = Counter()
    reasons: dict[str, list[str]] = {}
    for name, files in machines(folder):
        tally.items += 1
        said: dict[str, list[Sighting]] = {}
        for file, parser in (
            ("dmidecode.txt", dmidecode_text),
            ("pciconf.txt", pciconf_text),
            ("dmesg.txt", boot_log),
        ):
            data = files.get(file, b"")
            tally.hold(name, f"{file} recognised", True, parser.recognises(file, data[:4096]))
            reply = Reply(id=f"{parser.NAME}.1", locator=file, outcome=SourceOutcome.READ, data=data)
            start = time.process_time()
            try:
                said[file] = list(parser.parse((reply,)).sightings)
            except Exception as error:
                tally.crash(f"{name} {file}", error)
                said[file] = []
            seconds[f"seconds {parser.NAME}"] += time.process_time() - start
        log = files["dmesg.txt"].decode("utf-8", "replace")
        reason = _memory(tally, name, log, said)
        if reason:
            reasons.setdefault(reason, []).append(name)
        _processor(tally, name, log, said["dmesg.txt"])
        _drives(tally, name, log, said["dmesg.txt"])
        _functions(tally, name, files["pciconf.txt"].decode("utf-8", "replace"), said["pciconf.txt"])
        _places(tally, name, said)
    tally.notes = {key: round(value, 3) for key, value in seconds.items()}
    tally.notes |= {
        f"memory: {reason}": f"{len(names)}: {' '.join(names)}" for reason, names in reasons.items()
    }
    return tally


def value(sightings: list[Sighting], kind: PartKind, name: str) -> object:
    """Return the first value of a field; None if none has it."""
    parts = (s for s in sightings if s.kind is kind)
    return next(
        (f.value for part in parts for f in part.said if f.name == name and f.value is not None), None
    )


def _memory(tally: Tally, name: str, log: str, said: dict[str, list[Sighting]]) -> str:
    """Hold the modules' sum against the kernel; return why they differ, else nothing."""
    starts = [int(m[1]) if m[1] else int(m[2]) << 20 for m in REAL.finditer(log)]
    tally.hold(name, "real memory", starts[-1], value(said["dmesg.txt"], PartKind.MEMORY, "real_bytes"))
    fitted = value(said["dmidecode.txt"], PartKind.MEMORY, "fitted_bytes")
    real = starts[-1]
    if isinstance(fitted, int) and abs(fitted - real) <= 0.1 * max(fitted, real):
        tally.agree += 1
        return ""
    reason = why_memory_differs(fitted, real, starts, said)
    if reason == "not explained":
        tally.differ += 1
        tally.example(f"{name}: memory: modules {fitted}, kernel {real}")
    return reason


def why_memory_differs(fitted: object, real: int, starts: list[int], said: dict[str, list[Sighting]]) -> str:
    """Return the reason that the machine's own reports show."""
    modules = [s for s in said["dmidecode.txt"] if s.kind is PartKind.MEMORY_MODULE]
    sizes = [f.value for s in modules for f in s.said if f.name == "size_bytes" and isinstance(f.value, int)]
    if not modules:
        return "the firmware tells of no module"
    if not isinstance(fitted, int):
        return "the firmware tells no size of a module"
    ranges = [s for s in said["dmidecode.txt"] if s.kind is PartKind.MEMORY_RANGE and "/" not in s.place]
    spans = [f.value for s in ranges for f in s.said if f.name == "size_bytes" and isinstance(f.value, int)]
    usable = value(said["dmesg.txt"], PartKind.MEMORY, "usable_bytes")
    if value(said["dmesg.txt"], PartKind.KERNEL, "architecture") == "i386" and real < 4.3 * GIB:
        return "32-bit system"
    if any(abs(fitted - start) <= 0.1 * fitted for start in starts):
        return "another start in the same log agrees"
    if spans and abs(sum(spans) - real) <= 0.1 * real:
        return "the firmware's own address ranges agree with the kernel, its modules do not"
    if not isinstance(usable, int) or not 0.8 * real < usable <= real:
        return "not explained"
    subsets = {sum(some) for n in range(1, len(sizes)) for some in combinations(sizes, n)}
    if any(abs(one - real) <= 0.02 * real for one in subsets):
        return "another day: the kernel had some of these modules"
    if real % (GIB // 2) == 0:
        return "another day: the kernel had other modules"
    return "not explained"


def _processor(tally: Tally, name: str, log: str, said: list[Sighting]) -> None:
    match = list(CPU.finditer(log))
    if match:
        want = " ".join((match[-1][1] or match[-1][2]).split())
        tally.hold(name, "processor", want, value(said, PartKind.PROCESSOR, "model"))


def _drives(tally: Tally, name: str, log: str, said: list[Sighting]) -> None:
    """Every drive with a description: its model, and its size as the log's own MB. A bridge without a name or
    a version of its own says 0."""
    found = {s.place: {f.name: f.value for f in s.said} for s in said}
    described = {m[1]: m[2] for m in DRIVE.finditer(log)}
    if not described:
        described = {m[1]: m[2] for m in OTHER_DRIVE.finditer(log)}
    for unit, text in described.items():
        fact = found.get(f"node:{unit}", {})
        model, firmware = fact.get("model"), fact.get("firmware_version")
        pieces = " ".join(str(piece) for piece in (model, firmware) if piece)
        if ", " in text:
            tally.hold(name, f"drive {unit}", text.split(", ")[1].strip(), model)
        else:
            told = re.sub(r"^0 | 0+$", "", " ".join(text.split()))
            tally.hold(name, f"drive {unit}", told, " ".join(pieces.split()))
    for unit, megabytes in {m[1]: int(m[2]) for m in MEGABYTES.finditer(log)}.items():
        size = found.get(f"node:{unit}", {}).get("size_bytes")
        tally.hold(name, f"size of {unit}", megabytes, size >> 20 if isinstance(size, int) else size or 0)


def _functions(tally: Tally, name: str, text: str, said: list[Sighting]) -> None:
    """Every function: where, class and ids."""
    want = {}
    for match in FUNCTION.finditer(text):
        place = f"pci:{int(match[1]):04x}:{int(match[2]):02x}:{int(match[3]):02x}.{match[4]}"
        ids = dict(re.findall(r"(\w+)=0x(\w+)", match[6]))
        chip = ids.get("chip", ids.get("device", "") + ids.get("vendor", ""))
        want[place] = (f"0x{match[5]}", f"0x{chip[4:]}", f"0x{chip[:4]}")
    got = {}
    for s in said:
        fact = {f.name: f.value for f in s.said}
        got[s.place] = (fact.get("class"), fact.get("vendor_id"), fact.get("device_id"))
    tally.hold(name, "functions", len(want), len(got))
    for place, ids_ in want.items():
        tally.hold(name, place, ids_, got.get(place))


def _places(tally: Tally, name: str, said: dict[str, list[Sighting]]) -> None:
    """Where the log alone proves a place, the list names the same unit at the same function."""
    units = {unit: s.place for s in said["pciconf.txt"] for unit in s.also_at}
    for s in said["dmesg.txt"]:
        for place in s.also_at:
            if s.kind is PartKind.NETWORK and s.place in units:
                tally.hold(name, f"place of {s.place}", units[s.place], place)
            elif "/ata-" in place:
                tally.hold(name, f"controller of {s.place}", True, place.split("/")[0] in units.values())
