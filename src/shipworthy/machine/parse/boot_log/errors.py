"""Which line of a kernel's log speaks of a hardware error, and of which kind: Linux and the BSDs.

`classify` looks at one line alone, so that it serves a log on disk and a watcher during a burn-in. Of an
event that takes several lines one or two count: the ones that say what went wrong. What sounds alike and is
no error gives None: `PCIe error reporting enabled`, `MCE banks`, an empty card reader, an optical disc that
cannot be read, a probe of a socket that holds no disk, a command that a drive does not know.

Wording: FreeBSD's from the logs of bsdhw/Dmesg; Linux's from memory of its drivers (mce, EDAC, GHES, libata,
sd, nvme, AER, thermal) and NVIDIA's Xid lines from leptonai/gpud.
"""

from __future__ import annotations

import re
from enum import StrEnum

from shipworthy.machine.parse.boot_log.mca import decode_status


class ErrorKind(StrEnum):
    """What an error line of a kernel's log speaks of."""

    MACHINE_CHECK_CORRECTED = "machine check corrected"
    MACHINE_CHECK_UNCORRECTED = "machine check uncorrected"
    DISK = "disk error"
    LINK = "link error"  # PCI Express, or the cable of a drive
    GRAPHICS = "graphics error"
    THERMAL = "thermal"
    PANIC = "panic"


_STAMPS = re.compile(
    r"(?:<[0-9]{1,3}>)?"  # priority
    r"(?:[0-9]{1,4},[0-9]+,[0-9]+,[^;]{0,40};)?"  # /dev/kmsg
    r"(?:(?:[0-9]{4}-[0-9]{2}-[0-9]{2}[T ]\S{8,32}|[A-Z][a-z]{2} +[0-9]{1,2} [0-9:]{8}) \S{1,64} kernel: )?"
    r"(?:\[[ A-Za-z0-9:.,]{1,40}\] ?)?"
)
"""What may stand before a line: priority, the fields of /dev/kmsg, a log daemon's stamp, a time."""

_HINTS = (
    "error",
    "mca: bank",
    "machine check",
    "edac",
    "xid",
    "severity",
    "time",
    "panic",
    "bug",
    "fatal",
    "protection fault",
    "temperature",
    "sense",
    "hang",
    "fallen off",
    "failed",
    "fault",
    "limiting sata",
    "lockup",
    "controller",
)
"""In lower case. A line without any of these is no error line; most are settled so."""

_DISK = r"(?:ada|da|nda|nvd|wd|sd|ld)[0-9]+"
_CAM = rf"^\({_DISK}:[a-z0-9_-]+:[0-9:]+\): "
_LINUX_DISK = r"(?:sd[a-z]{1,3}|hd[a-z]|nvme[0-9]+(?:c[0-9]+)?n[0-9]+|mmcblk[0-9]+|vd[a-z]{1,2})(?:p?[0-9]+)?"

_NOT_DATA = r"op 0x[0-9a-f]+:\((?:DISCARD|SECURE_ERASE|WRITE_ZEROES)\)"
"""Requests that some drives refuse though the kernel believes they know them; no data is lost by it."""

_RULES: tuple[tuple[ErrorKind, str], ...] = (
    # FreeBSD, CAM and below
    (ErrorKind.LINK, r"^\(a?(?:da|probe)[0-9]+:\w+:[0-9:]+\): CAM status: Uncorrectable parity/CRC error"),
    (ErrorKind.LINK, _CAM + r"ATA status: .*error: \w+ \([^)]*ICRC"),
    (ErrorKind.LINK, _CAM + r"SCSI sense: .*CRC error"),
    (ErrorKind.LINK, r"^\w+: (?:Correctable|Uncorrectable|Fatal|Non-fatal) PCIe error reported"),
    (ErrorKind.DISK, _CAM + r"ATA status: .*error: \w+ \([^)]*(?:UNC|IDNF|AMNF|TK0NF|DF)\b"),
    (ErrorKind.DISK, _CAM + r"SCSI sense: (?:Deferred error: )?(?:MEDIUM ERROR|HARDWARE FAILURE)"),
    (ErrorKind.DISK, _CAM + r"CAM status: Command timeout"),
    (ErrorKind.DISK, rf"^g_vfs_done\(\):{_DISK}\w*\[\w+\(.*\]error = 5$"),
    (ErrorKind.DISK, r"^nvme[0-9]+: (?:Resetting controller due to|timeout with nothing complete)"),
    (ErrorKind.DISK, r"^nvme[0-9]+: (?:UNRECOVERED READ|INTERNAL DEVICE|WRITE FAULT|UNCORRECTABLE)[A-Z ]*"),
    (ErrorKind.DISK, r"^nvme[0-9]+: controller ready did not become"),
    (ErrorKind.THERMAL, r"^coretemp[0-9]+: critical temperature detected"),
    (ErrorKind.THERMAL, r"^acpi_tz[0-9]+: WARNING - current temperature .* exceeds safe limits"),
    (ErrorKind.PANIC, r"^(?:panic: |Fatal trap [0-9]+:|Fatal double fault)"),
    # Linux: machine checks and what reports them
    (ErrorKind.MACHINE_CHECK_UNCORRECTED, r"Machine Check Exception:"),
    (ErrorKind.MACHINE_CHECK_UNCORRECTED, r"\[Hardware Error\]: (?:Uncorrected|Deferred) error"),
    (ErrorKind.MACHINE_CHECK_UNCORRECTED, r"\[Hardware Error\]: event severity: (?:fatal|recoverable)"),
    (ErrorKind.MACHINE_CHECK_UNCORRECTED, r"^EDAC \w+: [0-9]+ UE "),
    (ErrorKind.MACHINE_CHECK_CORRECTED, r"\[Hardware Error\]: Corrected error"),
    (ErrorKind.MACHINE_CHECK_CORRECTED, r"\[Hardware Error\]: event severity: corrected"),
    (ErrorKind.MACHINE_CHECK_CORRECTED, r"\[Hardware Error\]: Machine check events logged"),
    (ErrorKind.MACHINE_CHECK_CORRECTED, r"^EDAC \w+: [0-9]+ CE "),
    # Linux: PCI Express and cables
    (ErrorKind.LINK, r"PCIe Bus Error: severity="),
    (ErrorKind.LINK, r"^ata[0-9]+(?:\.[0-9]+)?: error: \{[^}]*ICRC"),
    (ErrorKind.LINK, r"^ata[0-9]+(?:\.[0-9]+)?: limiting SATA link speed"),
    # Linux: drives
    (ErrorKind.DISK, r"^ata[0-9]+(?:\.[0-9]+)?: error: \{[^}]*(?:UNC|IDNF|AMNF|DF)"),
    (
        ErrorKind.DISK,
        r"^ata[0-9]+(?:\.[0-9]+)?: exception .*Emask 0x[0-9a-f]*4 .*\(timeout\)|Emask 0x4 \(timeout\)",
    ),
    (
        ErrorKind.DISK,
        rf"(?:I/O|critical medium|critical nexus) error, dev {_LINUX_DISK}\b(?!.*{_NOT_DATA})",
    ),
    (ErrorKind.DISK, rf"Buffer I/O error on dev(?:ice)? {_LINUX_DISK}\b"),
    (ErrorKind.DISK, rf"\[{_LINUX_DISK}\].* Sense Key : (?:Medium|Hardware) Error"),
    (ErrorKind.DISK, r"^nvme nvme[0-9]+: (?:I/O|I/O tag) [0-9]+ .*timeout"),
    (ErrorKind.DISK, r"^nvme nvme[0-9]+: controller is down"),
    # Linux: graphics
    (ErrorKind.GRAPHICS, r"^NVRM: Xid \(|^NVRM: GPU .*has fallen off the bus|^NVRM: .*RmInitAdapter failed"),
    (ErrorKind.GRAPHICS, r"amdgpu.* ring \w+ timeout|amdgpu.*(?:GPU fault detected|uncorrectable)"),
    (ErrorKind.GRAPHICS, r"GPU HANG: ecode"),
    # Linux: heat, and the end
    (ErrorKind.THERMAL, r"(?:Core|Package) temperature (?:is )?above threshold"),
    (ErrorKind.THERMAL, r"critical temperature reached|Critical temperature reached"),
    (ErrorKind.PANIC, r"^Kernel panic - not syncing"),
    (
        ErrorKind.PANIC,
        r"^BUG: (?:unable to handle|kernel NULL pointer)|^kernel BUG at |^watchdog: BUG: \w+ lockup",
    ),
    (ErrorKind.PANIC, r"^NMI watchdog: .*(?:soft|hard) lockup|^general protection fault[:,]"),
)
_COMPILED = tuple((kind, re.compile(pattern)) for kind, pattern in _RULES)

_BSD_STATUS = re.compile(r"^MCA: Bank [0-9]+, Status (0x[0-9a-f]{1,16})")
_LINUX_STATUS = re.compile(
    r"CPU [0-9]+: Machine Check(?: Exception)?: [0-9a-f]+ Bank [0-9]+: ([0-9a-f]{16})\b"
)
_OPTICAL = re.compile(r"\[sr[0-9]+\]|dev sr[0-9]+|dev fd[0-9]+|^\(cd[0-9]+:")
MOST_SIGNS = 1000  # of one line; a kernel writes less


def bare(line: str) -> str:
    """Return a line without the stamps before it."""
    line = line[:MOST_SIGNS]
    match = _STAMPS.match(line)
    return line[match.end() :] if match else line


def classify(line: str) -> ErrorKind | None:
    """Return what kind of hardware error one line of a kernel's log speaks of; None if of none."""
    low = line.lower()
    if not any(hint in low for hint in _HINTS):
        return None
    text = bare(line)
    status = _BSD_STATUS.match(text) or _LINUX_STATUS.search(text)
    if status:
        return _by_status(int(status[1], 16))
    if _OPTICAL.search(text):
        return None
    return next((kind for kind, pattern in _COMPILED if pattern.search(text)), None)


def _by_status(status: int) -> ErrorKind | None:
    """By the bits that all processors share: a record that is not valid is no error."""
    check = decode_status(status)
    if not check.valid:
        return None
    return (
        ErrorKind.MACHINE_CHECK_UNCORRECTED
        if check.uncorrected or check.context_corrupt
        else ErrorKind.MACHINE_CHECK_CORRECTED
    )
