"""Kernel logs as files: what the kernel found at start, and the hardware errors that it speaks of.

Source: dmesg(8) of FreeBSD and its kin, OpenBSD, NetBSD and Linux, with or without stamps. A log says what
was there when it was written, by the names of that start: parts are at `node:ada0` and the like, and also at
their wired place where the log alone proves it. Counts are of lines that say what went wrong.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.boot_log import freebsd as boot_log_freebsd
from shipworthy.machine.parse.boot_log import linux as boot_log_linux
from shipworthy.machine.parse.boot_log import openbsd as boot_log_openbsd
from shipworthy.machine.parse.boot_log.errors import ErrorKind, bare, classify
from shipworthy.machine.parse.boot_log.parts import Log
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import PartKind, RemarkKind

NAME = "dmesg"
MOST_BYTES, MOST_LINES = 4 << 20, 100_000  # a ring buffer has a quarter of this, at most

_RECOGNISED = re.compile(
    # how a log begins
    rb"^---<<BOOT>>---|^Copyright \(c\) .*The (?:FreeBSD|HardenedBSD|DragonFly) |^(?:Open|Net)BSD [0-9]"
    rb"|Linux version [0-9]+\.[0-9]+|^CPU: .* class CPU\)|^(?:\S+ )?real mem(?:ory)? += [0-9]+"
    # stamps
    rb"|^(?:<[0-9]>)?\[ *[0-9]{1,6}\.[0-9]{6}\] |^[0-9]{1,3},[0-9]+,[0-9]+,[-c+][^;\n]*;|^\[[0-9]+\] \w"
    rb"|^\[[A-Z][a-z]{2} [A-Z][a-z]{2} +[0-9]{1,2} [0-9:]{8} [0-9]{4}\] "
    # the middle of a log that has lost its beginning
    rb"|^[a-z_]+[0-9]+: <[^>\n]+> .*\bon (?:acpi|pci|isa|motherboard|uhub|usbus)[0-9]*$|^ugen[0-9.]+: <"
    rb"|^MCA: (?:Bank|Global Cap) |^\((?:noperiph|[a-z]+[0-9]+):[a-z-]+[0-9]+:[0-9a-f:-]+\): [A-Za-z]"
    rb"|^\w+\(\) at \w+\+0x[0-9a-f]+/frame 0x|^#[0-9]+ 0x[0-9a-f]{8,16} at \w+\+0x|^subsystem [0-9a-f]{5,8}$"
    rb"|^Deprecated code \(to be removed in FreeBSD",
    re.MULTILINE,
)
_DEVICE_LINE = re.compile(rb"^[a-z_]+[0-9]+: [a-zA-Z0-9<]", re.MULTILINE)
_XID = re.compile(r"NVRM: Xid \(PCI:([0-9A-Fa-f]{4,8}:[0-9A-Fa-f]{2}:[0-9A-Fa-f]{2})[^)]*\): ([0-9]{1,4}),")


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is a kernel's log, by its beginning; and by its name where that is not enough."""
    if _RECOGNISED.search(head):
        return True
    return "dmesg" in name.lower() and b"\0" not in head and _DEVICE_LINE.search(head) is not None


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one log."""
    return parsed_each(replies, _parse_log)


def _parse_log(reply: Reply) -> Parsed:
    log = read_log(reply.data)
    remarks: tuple[Remark, ...] = ()
    if len(reply.data) > MOST_BYTES or reply.data.count(b"\n") > MOST_LINES:
        remarks = (remark(reply.id, RemarkKind.CUT_SHORT, f"line {len(log.lines)}", "the rest is not read"),)
    return Parsed(tuple(sightings(log, reply.id)), remarks=remarks)


def read_log(data: bytes) -> Log:
    """Return a log's lines without their stamps."""
    text = data[:MOST_BYTES].decode("utf-8", "replace").replace("\r", "")
    return Log([bare(line) for line in text.split("\n", MOST_LINES)[:MOST_LINES] if line])


def sightings(log: Log, source: str) -> Iterator[Sighting]:
    """Yield what a log says, by the kind of its kernel; and its errors, whatever the kernel."""
    reader = next((r for r in (boot_log_openbsd, boot_log_freebsd, boot_log_linux) if r.speaks(log)), None)
    if reader is not None:
        yield from reader.sightings(log, source)
    yield Sighting(kind=PartKind.KERNEL, place="kernel", source=source, said=error_facts(log.lines))
    yield from _graphics_errors(log, source)


def error_facts(lines: list[str]) -> tuple[Said, ...]:
    """How many lines speak of each kind of error, and the first of each that there is."""
    counts: Counter[ErrorKind] = Counter()
    first: dict[ErrorKind, str] = {}
    for line in lines:
        kind = classify(line)
        if kind is not None:
            counts[kind] += 1
            first.setdefault(kind, line[:200])
    fields = [
        said("log_lines", len(lines)),
        said("machine_check_corrected_lines", counts[ErrorKind.MACHINE_CHECK_CORRECTED]),
        said("machine_check_uncorrected_lines", counts[ErrorKind.MACHINE_CHECK_UNCORRECTED]),
        said("disk_error_lines", counts[ErrorKind.DISK]),
        said("link_error_lines", counts[ErrorKind.LINK]),
        said("graphics_error_lines", counts[ErrorKind.GRAPHICS]),
        said("thermal_lines", counts[ErrorKind.THERMAL]),
        said("panic_lines", counts[ErrorKind.PANIC]),
    ]
    if ErrorKind.MACHINE_CHECK_CORRECTED in first:
        fields.append(said("first_machine_check_corrected", first[ErrorKind.MACHINE_CHECK_CORRECTED]))
    if ErrorKind.MACHINE_CHECK_UNCORRECTED in first:
        fields.append(said("first_machine_check_uncorrected", first[ErrorKind.MACHINE_CHECK_UNCORRECTED]))
    if ErrorKind.DISK in first:
        fields.append(said("first_disk_error", first[ErrorKind.DISK]))
    if ErrorKind.LINK in first:
        fields.append(said("first_link_error", first[ErrorKind.LINK]))
    if ErrorKind.GRAPHICS in first:
        fields.append(said("first_graphics_error", first[ErrorKind.GRAPHICS]))
    if ErrorKind.THERMAL in first:
        fields.append(said("first_thermal", first[ErrorKind.THERMAL]))
    if ErrorKind.PANIC in first:
        fields.append(said("first_panic", first[ErrorKind.PANIC]))
    return tuple(fields)


def _graphics_errors(log: Log, source: str) -> Iterator[Sighting]:
    """NVIDIA's driver names the card and a number of its own list; a function 0 is what it means."""
    codes: dict[str, list[str]] = {}
    for line in log.lines:
        match = _XID.match(line)
        if match:
            domain, _, rest = match[1].lower().partition(":")
            known = codes.setdefault(f"pci:{int(domain, 16):04x}:{rest}.0", [])
            if match[2] not in known:
                known.append(match[2])
    for place, numbers in codes.items():
        fields = (said("xid_codes", ",".join(numbers)),)
        yield Sighting(kind=PartKind.GRAPHICS, place=place, source=source, said=fields)


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every line that speaks of an error, by its kind."""
    fields = tuple((kind.value, line) for line in read_log(data).lines if (kind := classify(line)))
    return (Section("errors", "", fields),)
