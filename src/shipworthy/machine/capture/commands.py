"""Ask a device by a system call on its node, or take the recorded answer of a recorded machine.

NVMe: NVME_IOCTL_ADMIN_CMD of linux/nvme_ioctl.h. ATA: SG_IO of scsi/sg.h with ATA PASS-THROUGH (16) of SAT.
All requests only read. A drive that does not answer costs at most the timeout of each.
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import os
from collections.abc import Callable

from shipworthy.machine.capture.files import Answer, outcome_of, read_file, word_of
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

TIMEOUT_MS = 5000
NVME_IOCTL_ADMIN_CMD = 0xC0484E41  # _IOWR('N', 0x41, struct nvme_admin_cmd), 72 bytes
SG_IO = 0x2285
NVME_IDENTIFY, NVME_GET_LOG_PAGE = 0x06, 0x02
ATA_PASS_THROUGH_16 = 0x85
ATA_IDENTIFY_DEVICE, ATA_READ_LOG_EXT = 0xEC, 0x2F
_PIO_DATA_IN = 4 << 1
_FROM_DEVICE_IN_BLOCKS = 0x0E  # T_DIR from device, BYT_BLOK blocks, T_LENGTH in the sector count
_SENSE_BYTES = 64


class NvmeAdminCommand(ctypes.Structure):
    """struct nvme_admin_cmd."""

    _fields_ = (
        ("opcode", ctypes.c_uint8),
        ("flags", ctypes.c_uint8),
        ("rsvd1", ctypes.c_uint16),
        ("nsid", ctypes.c_uint32),
        ("cdw2", ctypes.c_uint32),
        ("cdw3", ctypes.c_uint32),
        ("metadata", ctypes.c_uint64),
        ("addr", ctypes.c_uint64),
        ("metadata_len", ctypes.c_uint32),
        ("data_len", ctypes.c_uint32),
        ("cdw10", ctypes.c_uint32),
        ("cdw11", ctypes.c_uint32),
        ("cdw12", ctypes.c_uint32),
        ("cdw13", ctypes.c_uint32),
        ("cdw14", ctypes.c_uint32),
        ("cdw15", ctypes.c_uint32),
        ("timeout_ms", ctypes.c_uint32),
        ("result", ctypes.c_uint32),
    )


class SgIoHeader(ctypes.Structure):
    """struct sg_io_hdr."""

    _fields_ = (
        ("interface_id", ctypes.c_int),
        ("dxfer_direction", ctypes.c_int),
        ("cmd_len", ctypes.c_ubyte),
        ("mx_sb_len", ctypes.c_ubyte),
        ("iovec_count", ctypes.c_ushort),
        ("dxfer_len", ctypes.c_uint),
        ("dxferp", ctypes.c_void_p),
        ("cmdp", ctypes.c_void_p),
        ("sbp", ctypes.c_void_p),
        ("timeout", ctypes.c_uint),
        ("flags", ctypes.c_uint),
        ("pack_id", ctypes.c_int),
        ("usr_ptr", ctypes.c_void_p),
        ("status", ctypes.c_ubyte),
        ("masked_status", ctypes.c_ubyte),
        ("msg_status", ctypes.c_ubyte),
        ("sb_len_wr", ctypes.c_ubyte),
        ("host_status", ctypes.c_ushort),
        ("driver_status", ctypes.c_ushort),
        ("resid", ctypes.c_int),
        ("duration", ctypes.c_uint),
        ("info", ctypes.c_uint),
    )


def recorded(root: Root, device: str, request: str) -> tuple[str, Answer]:
    """Return where a recorded machine keeps a device's answer, and the answer."""
    locator = f"/replies/{device}/{request}.bin"
    return locator, read_file(root, locator)


def nvme_admin(node: str, opcode: int, size_bytes: int, *, nsid: int = 0, cdw10: int = 0) -> Answer:
    """Return what an NVMe controller answers to an admin command that only reads."""
    buffer = ctypes.create_string_buffer(size_bytes)
    command = NvmeAdminCommand(
        opcode=opcode,
        nsid=nsid,
        addr=ctypes.addressof(buffer),
        data_len=size_bytes,
        cdw10=cdw10,
        timeout_ms=TIMEOUT_MS,
    )

    def ask(descriptor: int) -> str:
        status = fcntl.ioctl(descriptor, NVME_IOCTL_ADMIN_CMD, command, True)
        return f"NVMe status 0x{status:03X}" if status else ""

    return _asked(node, ask, buffer)


def ata_in(node: str, command: int, *, lba: int = 0, page: int = 0) -> Answer:
    """Return the 512 bytes that an ATA drive answers to a command that only reads.

    lba: low byte of the address (the log of READ LOG EXT); page: its page.
    """
    buffer = ctypes.create_string_buffer(512)
    sense = ctypes.create_string_buffer(_SENSE_BYTES)
    protocol = _PIO_DATA_IN | (1 if command == ATA_READ_LOG_EXT else 0)  # bit 0: a 48-bit command
    cdb = (ctypes.c_ubyte * 16)(
        ATA_PASS_THROUGH_16,
        protocol,
        _FROM_DEVICE_IN_BLOCKS,
        0,
        0,
        0,
        1,
        0,
        lba,
        0,
        page,
        0,
        0,
        0,
        command,
        0,
    )
    header = SgIoHeader(
        interface_id=ord("S"),
        dxfer_direction=-3,  # SG_DXFER_FROM_DEV
        cmd_len=len(cdb),
        mx_sb_len=_SENSE_BYTES,
        dxfer_len=len(buffer),
        dxferp=ctypes.addressof(buffer),
        cmdp=ctypes.addressof(cdb),
        sbp=ctypes.addressof(sense),
        timeout=TIMEOUT_MS,
    )

    def ask(descriptor: int) -> str:
        fcntl.ioctl(descriptor, SG_IO, header, True)
        if header.status or header.host_status or header.driver_status & ~0x08:
            return f"SCSI status 0x{header.status:02X}, host 0x{header.host_status:02X}"
        return ""

    return _asked(node, ask, buffer)


def _asked(node: str, ask: Callable[[int], str], buffer: ctypes.Array[ctypes.c_char]) -> Answer:
    """Open a node for reading and ask; a device's own refusal is a failure with its status as the word."""
    try:
        descriptor = os.open(node, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        return Answer(outcome_of(error), error=word_of(error))
    try:
        error_word = ask(descriptor)
    except OSError as error:
        unknown = error.errno in (errno.ENOTTY, errno.EINVAL)  # the driver has no such request
        return Answer(SourceOutcome.ABSENT if unknown else outcome_of(error), error=word_of(error))
    finally:
        os.close(descriptor)
    if error_word:
        return Answer(SourceOutcome.FAILED, error=error_word)
    return Answer(SourceOutcome.READ, buffer.raw)
