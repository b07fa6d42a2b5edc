"""The privileged capture: what only root may ask of this machine, as a tar on standard output.

This file is the whole of what runs as root. It imports nothing but the standard library, so that one copy of
it, owned by root, is all that has to be trusted:

    sudo python3 -I /usr/local/libexec/shipworthy-privileged | shipworthy read --privileged - --into FOLDER

It takes no argument and no path, asks a fixed list of things, only reads, decodes nothing and writes nothing
but the stream: members as a recorded machine has them, then `replies/privileged.json` with what was refused.
The other half (`unpack`) trusts none of it. The functions that ask a device serve the tool itself too. NVMe:
linux/nvme_ioctl.h. ATA and optical drives: SG_IO of scsi/sg.h, ATA PASS-THROUGH (16) of SAT, ACS and MMC.
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import io
import json
import os
import re
import sys
import tarfile
import time
from collections.abc import Callable, Iterator, Mapping
from functools import partial

VERSION, BASE = 1, "/"
MOST_BYTES = 4 << 20  # of one member; the other half has the same bound
TIMEOUT_MS = 5000  # of one request to a device
LONGEST_S = 60.0  # after which nothing more is asked

NVME_IOCTL_ADMIN_CMD, SG_IO = 0xC0484E41, 0x2285  # the first: _IOWR('N', 0x41, 72 bytes)
NVME_IDENTIFY, NVME_GET_LOG_PAGE, ATA_PASS_THROUGH_16 = 0x06, 0x02, 0x85
ATA_IDENTIFY_DEVICE, ATA_READ_LOG_EXT, ATA_SMART, ATA_CHECK_POWER_MODE = 0xEC, 0x2F, 0xB0, 0xE5
SMART_READ_DATA, SMART_READ_THRESHOLDS, SMART_RETURN_STATUS = 0xD0, 0xD1, 0xDA
SMART_SIGNATURE = 0xC24F00  # LBA mid 4Fh and high C2h: without them a drive refuses SMART
_NON_DATA, _PIO_DATA_IN, _CHECK_CONDITION = 3 << 1, 4 << 1, 0x20  # CK_COND: registers as sense data
_FROM_DEVICE_IN_BLOCKS = 0x0E  # T_DIR from device, BYT_BLOK blocks, T_LENGTH in the sector count
_SENSE_BYTES, _NO_TRANSFER, _FROM_DEVICE = 64, -1, -3  # SG_DXFER_NONE, SG_DXFER_FROM_DEV
_DRIVER_SENSE, _DRIVER_TIMEOUT, _DID_TIME_OUT, _NVME_HOST_ABORTED = 0x08, 0x06, 0x03, 0x371

_U8, _U16, _U32, _U64 = ctypes.c_uint8, ctypes.c_uint16, ctypes.c_uint32, ctypes.c_uint64
_INT, _POINTER = ctypes.c_int, ctypes.c_void_p


# fmt: off
class NvmeAdminCommand(ctypes.Structure):
    """struct nvme_admin_cmd."""

    _fields_ = (
        ("opcode", _U8), ("flags", _U8), ("rsvd1", _U16), ("nsid", _U32), ("cdw2", _U32), ("cdw3", _U32),
        ("metadata", _U64), ("addr", _U64), ("metadata_len", _U32), ("data_len", _U32), ("cdw10", _U32),
        ("cdw11", _U32), ("cdw12", _U32), ("cdw13", _U32), ("cdw14", _U32), ("cdw15", _U32),
        ("timeout_ms", _U32), ("result", _U32),
    )


class SgIoHeader(ctypes.Structure):
    """struct sg_io_hdr."""

    _fields_ = (
        ("interface_id", _INT), ("dxfer_direction", _INT), ("cmd_len", _U8), ("mx_sb_len", _U8),
        ("iovec_count", _U16), ("dxfer_len", _U32), ("dxferp", _POINTER), ("cmdp", _POINTER),
        ("sbp", _POINTER), ("timeout", _U32), ("flags", _U32), ("pack_id", _INT), ("usr_ptr", _POINTER),
        ("status", _U8), ("masked_status", _U8), ("msg_status", _U8), ("sb_len_wr", _U8),
        ("host_status", _U16), ("driver_status", _U16), ("resid", _INT), ("duration", _U32), ("info", _U32),
    )
# fmt: on


class DeviceRefused(OSError):
    """A device's own status, as strerror. errno: ETIMEDOUT where it gave no answer in its time, else EIO."""


def nvme_admin(node: str, opcode: int, size: int, *, nsid: int = 0, cdw10: int = 0, cdw11: int = 0) -> bytes:
    """Return what an NVMe controller answers to an admin command that only reads. OSError, DeviceRefused."""
    buffer = ctypes.create_string_buffer(size)
    command = NvmeAdminCommand(opcode=opcode, nsid=nsid, cdw10=cdw10, cdw11=cdw11, timeout_ms=TIMEOUT_MS)
    command.addr, command.data_len = ctypes.addressof(buffer), size
    status = _asked(node, lambda descriptor: fcntl.ioctl(descriptor, NVME_IOCTL_ADMIN_CMD, command, True))
    if status:
        timed_out = status & 0x7FF == _NVME_HOST_ABORTED
        raise DeviceRefused(errno.ETIMEDOUT if timed_out else errno.EIO, f"NVMe status 0x{status:03X}")
    return buffer.raw


def scsi_in(node: str, cdb: bytes, size: int) -> bytes:
    """Return what a SCSI device answers to a command that only reads. OSError, DeviceRefused."""
    data, header, _ = _scsi(node, cdb, size)
    if header.status:
        raise DeviceRefused(errno.EIO, f"SCSI status 0x{header.status:02X}, host 0x00")
    return data


def ata_in(node: str, command: int, *, feature: int = 0, lba: int = 0, blocks: int = 1) -> bytes:
    """Return the blocks of 512 bytes that an ATA drive answers to a command that only reads."""
    return scsi_in(node, _ata_cdb(command, feature, lba, blocks), 512 * blocks)


def ata_sense(node: str, command: int, *, feature: int = 0, lba: int = 0) -> bytes:
    """Return the sense data with an ATA drive's registers after a command that transfers nothing."""
    _, header, sense = _scsi(node, _ata_cdb(command, feature, lba, 0), 0)
    if not header.sb_len_wr:
        raise DeviceRefused(errno.EIO, f"SCSI status 0x{header.status:02X}, no sense data")
    return sense[: header.sb_len_wr]


def _ata_cdb(command: int, feature: int, lba: int, blocks: int) -> bytes:
    """ATA PASS-THROUGH (16). Bit 0 of byte 1: 48 bits of address, which of these the log command has."""
    low = lba.to_bytes(6, "little")
    protocol = (_PIO_DATA_IN if blocks else _NON_DATA) | (command == ATA_READ_LOG_EXT)
    flags = _FROM_DEVICE_IN_BLOCKS if blocks else _CHECK_CONDITION
    head = (ATA_PASS_THROUGH_16, protocol, flags, 0, feature, 0, blocks)
    return bytes((*head, low[3], low[0], low[4], low[1], low[5], low[2], 0, command, 0))


def _scsi(node: str, cdb: bytes, size: int) -> tuple[bytes, SgIoHeader, bytes]:
    buffer, sense = ctypes.create_string_buffer(max(size, 1)), ctypes.create_string_buffer(_SENSE_BYTES)
    raw = (ctypes.c_ubyte * len(cdb))(*cdb)
    header = SgIoHeader(interface_id=ord("S"), dxfer_direction=_FROM_DEVICE if size else _NO_TRANSFER)
    header.cmd_len, header.cmdp = len(cdb), ctypes.addressof(raw)
    header.mx_sb_len, header.sbp = _SENSE_BYTES, ctypes.addressof(sense)
    header.dxfer_len, header.dxferp, header.timeout = size, ctypes.addressof(buffer), TIMEOUT_MS
    _asked(node, lambda descriptor: fcntl.ioctl(descriptor, SG_IO, header, True))
    if header.host_status or header.driver_status & ~_DRIVER_SENSE:
        word = f"SCSI status 0x{header.status:02X}, host 0x{header.host_status:02X}"
        timed_out = header.host_status == _DID_TIME_OUT or header.driver_status & 0x0F == _DRIVER_TIMEOUT
        raise DeviceRefused(errno.ETIMEDOUT if timed_out else errno.EIO, word)
    return buffer.raw[: max(size - header.resid, 0)], header, sense.raw


def _asked(node: str, ask: Callable[[int], int]) -> int:
    descriptor = os.open(node, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        return ask(descriptor)
    finally:
        os.close(descriptor)


Ask = Callable[[str], bytes]
EVERY, STATISTICS_LOG, HEALTH_LOG = 0xFFFFFFFF, 0x04, 0x02 | (512 // 4 - 1) << 16  # dwords less one
_statistics = partial(partial, ata_in, command=ATA_READ_LOG_EXT)
_smart = partial(partial, command=ATA_SMART, lba=SMART_SIGNATURE)
GET_CONFIGURATION, CONFIGURATION_BYTES = bytes.fromhex("46000000000000040000"), 1024  # 30 features of 20

# What is asked of a drive, by the name of its file in a recorded machine, without `.bin`.
CONTROLLER_REQUESTS: dict[str, Ask] = {
    "identify-controller": partial(nvme_admin, opcode=NVME_IDENTIFY, size=4096, cdw10=1),
    "smart-log": partial(nvme_admin, opcode=NVME_GET_LOG_PAGE, size=512, nsid=EVERY, cdw10=HEALTH_LOG),
}
ATA_REQUESTS: dict[str, Ask] = {
    "ata-power-mode": partial(ata_sense, command=ATA_CHECK_POWER_MODE),
    "ata-identify": partial(ata_in, command=ATA_IDENTIFY_DEVICE),
}
AWAKE_REQUESTS: dict[str, Ask] = {  # what may wake a drive: asked only of one that is awake
    "ata-device-statistics": _statistics(lba=STATISTICS_LOG | 1 << 8),  # and its page
    **{f"ata-device-statistics-{n:02x}": _statistics(lba=STATISTICS_LOG | n << 8) for n in (4, 5, 6, 7)},
    "ata-smart": _smart(ata_in, feature=SMART_READ_DATA),
    "ata-smart-thresholds": _smart(ata_in, feature=SMART_READ_THRESHOLDS),
    "ata-smart-status": _smart(ata_sense, feature=SMART_RETURN_STATUS),
}
OPTICAL_REQUESTS = {"get-configuration": partial(scsi_in, cdb=GET_CONFIGURATION, size=CONFIGURATION_BYTES)}
FILES = (
    *(f"sys/firmware/dmi/tables/{name}" for name in ("smbios_entry_point", "DMI")),
    *(f"sys/class/dmi/id/{name}_serial" for name in ("product", "board", "chassis")),
    "sys/class/dmi/id/product_uuid",
)


def is_asleep(sense: bytes) -> bool:
    """Return whether CHECK POWER MODE says standby: a count of 00h or 01h in the registers (ACS; SAT)."""
    sense = sense.ljust(14, b"\xff")
    if sense[:1] == b"\x72" and sense[8:9] == b"\x09":  # descriptors: ATA Status Return
        return sense[13] in (0x00, 0x01)
    fixed = sense[:1] in (b"\x70", b"\xf0") and sense[12:14] == b"\x00\x1d"  # the registers are there
    return fixed and sense[6] in (0x00, 0x01)


class Capture:
    """One run: yields members, and keeps the name and the word of what gave none."""

    def __init__(self) -> None:
        self.not_read: list[dict[str, str]] = []
        self._silent: set[str] = set()  # drives that gave no answer in their time
        self._ends_s = time.monotonic() + LONGEST_S

    def members(self) -> Iterator[tuple[str, bytes]]:
        zones = _names("sys/class/powercap", r"[a-z0-9-]+(:[0-9a-f]+){1,3}")
        for name in (*FILES, *(f"sys/class/powercap/{zone}/energy_uj" for zone in zones)):
            yield from self._member(name, partial(_file, name))
        for address in _names("sys/bus/pci/devices", r"[0-9a-f]{4,8}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]"):
            name = f"sys/bus/pci/devices/{address}/config"
            yield from self._member(name, partial(_configuration_space, name))
        for controller in _names("sys/class/nvme", r"nvme\d{1,4}"):
            yield from self._drive(controller, CONTROLLER_REQUESTS)
        for namespace in _names("sys/block", r"nvme\d{1,4}n\d{1,4}"):
            number = int(_word(f"sys/block/{namespace}/nsid") or namespace.rpartition("n")[2])
            identify = partial(nvme_admin, opcode=NVME_IDENTIFY, size=4096, nsid=number)
            yield from self._drive(namespace, {"identify-namespace": identify})
        for disk in _names("sys/block", r"sd[a-z]{1,4}"):
            yield from self._disk(disk)
        for drive in _names("sys/block", r"sr\d{1,3}"):
            yield from self._drive(drive, OPTICAL_REQUESTS)
        yield from self._member("dmesg.txt", _kernel_log)

    def _disk(self, name: str) -> Iterator[tuple[str, bytes]]:
        """ATA commands go to what hangs on an ATA port, what SCSI calls ATA, and disks on USB, no sticks."""
        block = f"sys/block/{name}"
        path, fixed = os.path.realpath(BASE + block), _word(f"{block}/removable") == "0"
        on_usb, on_ata = re.search(r"/usb\d+/", path), re.search(r"/ata\d+/", path)
        if not (on_ata or (on_usb and fixed) or _word(f"{block}/device/vendor") == "ATA"):
            return
        awake = True
        for member, data in self._drive(name, ATA_REQUESTS):
            awake = awake and not (member.endswith("/ata-power-mode.bin") and is_asleep(data))
            yield member, data
        if awake:
            yield from self._drive(name, AWAKE_REQUESTS)

    def _drive(self, name: str, requests: Mapping[str, Ask]) -> Iterator[tuple[str, bytes]]:
        for request, ask in requests.items():
            member = f"replies/{name}/{request}.bin"
            if name in self._silent:
                self._not(member, "not asked, as the drive did not answer before")
            else:
                yield from self._member(member, partial(ask, f"{BASE}dev/{name}"), name)

    def _member(self, name: str, ask: Callable[[], bytes], drive: str = "") -> Iterator[tuple[str, bytes]]:
        """Yield a member, or keep why there is none. What is simply not there is no news."""
        if time.monotonic() > self._ends_s:
            return self._not(name, f"not asked, as {LONGEST_S:g} s had passed")
        try:
            data = ask()
        except OSError as error:
            code = errno.errorcode.get(error.errno or 0, type(error).__name__)
            self._silent |= {drive} if error.errno == errno.ETIMEDOUT else set()
            if error.errno not in (errno.ENOENT, errno.ENOTDIR, errno.ENODEV, errno.ENXIO):
                self._not(name, str(error.strerror) if isinstance(error, DeviceRefused) else code)
            return
        if len(data) > MOST_BYTES:
            self._not(name, f"more than {MOST_BYTES} bytes")
        elif data:
            yield name, data

    def report(self) -> dict[str, object]:
        told = {"version": VERSION, "unix_time": int(time.time()), "root": os.geteuid() == 0}
        return told | {"not_read": self.not_read}

    def _not(self, name: str, error: str) -> None:
        self.not_read.append({"name": name, "error": error})


def _names(folder: str, pattern: str) -> list[str]:
    try:
        return sorted(filter(re.compile(pattern).fullmatch, os.listdir(BASE + folder)))  # noqa: PTH208
    except OSError:  # no such bus or class here
        return []


def _file(name: str) -> bytes:
    with open(BASE + name, "rb") as file:
        return file.read(MOST_BYTES + 1)


def _word(name: str) -> str:
    try:
        return _file(name).decode("ascii", "replace").strip()
    except OSError:
        return ""


_CAPABILITIES, _EXPRESS = {0x01: 8, 0x0D: 8}, 0x10  # power management, subsystem: bytes defined
_EXTENDED = {0x0001: 0x2C, 0x0003: 12, 0x0015: 56}  # error reporting, serial number, resizable BARs


def _configuration_space(name: str) -> bytes:
    """Return the defined registers of a PCI function in their places, zeros between.

    Undefined ones are not read, as not every device bears it (lspci(8), -xxx); a function that sleeps without
    power is not asked. Layout: PCI 3.0, 6.7, and PCI Express, 7.5 to 7.8 (from memory).
    """
    if _word(name.replace("config", "power_state")) == "D3cold":
        return b""
    space = bytearray()
    with open(BASE + name, "rb", buffering=0) as file:

        def read(at: int, count: int) -> bytes:
            file.seek(at)
            data = file.read(count) or b""
            space.extend(bytes(max(at + len(data) - len(space), 0)))
            space[at : at + len(data)] = data
            return data

        header, seen = read(0, 64).ljust(64, b"\0"), set[int]()
        at, next_list = (header[0x34] & 0xFC if header[6] & 0x10 else 0), 0
        while at >= 0x40 and at not in seen and len(entry := read(at, 4)) == 4:
            seen.add(at)
            size = _CAPABILITIES.get(entry[0], 4)
            if entry[0] == _EXPRESS:
                newer, slot, next_list = entry[2] & 0x0F >= 2, entry[3] & 0x01, 0x100
                size = 0x3C if newer else 0x1C if slot else 0x14
            read(at, size)
            at = entry[1] & 0xFC
        at = next_list
        while at >= 0x100 and at not in seen and (entry := read(at, 4)) not in (b"", bytes(4), b"\xff" * 4):
            seen.add(at)
            read(at, _EXTENDED.get(int.from_bytes(entry[:2], "little"), 4))
            at = int.from_bytes(entry[2:], "little") >> 4 & 0xFFC
    return bytes(space)


def _kernel_log() -> bytes:
    """Return the kernel's own log, by syslog(2): how large it is (10), then all of it (3)."""
    ask = ctypes.CDLL(None, use_errno=True).klogctl
    buffer = ctypes.create_string_buffer(min(max(ask(10, None, 0), 1), MOST_BYTES))
    count = ask(3, buffer, len(buffer))
    if count < 0:
        raise OSError(ctypes.get_errno(), "klogctl")
    return buffer.raw[:count]


def main(arguments: list[str]) -> int:
    """Stream the capture; return the exit status."""
    if arguments or sys.stdout.isatty():
        sys.stderr.write("No arguments, please, and pipe the tar into `shipworthy read --privileged -`.\n")
        return 2
    capture = Capture()
    try:
        with tarfile.open(fileobj=sys.stdout.buffer, mode="w|", format=tarfile.USTAR_FORMAT) as tar:
            for name, data in capture.members():
                _add(tar, name, data)
            _add(tar, "replies/privileged.json", json.dumps(capture.report(), indent=1).encode())
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # or Python would complain once more as it ends
        sys.stderr.write("The program that reads the stream ended before it.\n")
        return 1
    return 0


def _add(tar: tarfile.TarFile, name: str, data: bytes) -> None:
    member = tarfile.TarInfo(name)
    member.size, member.mode = len(data), 0o600
    tar.addfile(member, io.BytesIO(data))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
