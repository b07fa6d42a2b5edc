"""Ask a device by a system call on its node, or take the recorded answer of a recorded machine.

The calls themselves are in `privileged`, which has to stand alone. All requests only read. A drive that does
not answer costs at most the time limit of each.
"""

from __future__ import annotations

import errno
from collections.abc import Callable
from dataclasses import replace

from shipworthy.machine.capture import privileged
from shipworthy.machine.capture.files import Answer, outcome_of, read_file, word_of
from shipworthy.machine.capture.privileged import (
    ATA_CHECK_POWER_MODE,
    ATA_IDENTIFY_DEVICE,
    ATA_READ_LOG_EXT,
    ATA_SMART,
    CONFIGURATION_BYTES,
    GET_CONFIGURATION,
    NVME_GET_LOG_PAGE,
    NVME_IDENTIFY,
    NVME_IOCTL_ADMIN_CMD,
    SG_IO,
    SMART_READ_DATA,
    SMART_READ_THRESHOLDS,
    SMART_RETURN_STATUS,
    SMART_SIGNATURE,
    DeviceRefused,
    NvmeAdminCommand,
    SgIoHeader,
)
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

__all__ = (
    "ATA_CHECK_POWER_MODE",
    "ATA_IDENTIFY_DEVICE",
    "ATA_READ_LOG_EXT",
    "ATA_SMART",
    "CONFIGURATION_BYTES",
    "GET_CONFIGURATION",
    "NVME_GET_LOG_PAGE",
    "NVME_IDENTIFY",
    "NVME_IOCTL_ADMIN_CMD",
    "SG_IO",
    "SMART_READ_DATA",
    "SMART_READ_THRESHOLDS",
    "SMART_RETURN_STATUS",
    "SMART_SIGNATURE",
    "NvmeAdminCommand",
    "SgIoHeader",
    "asked",
    "ata_in",
    "ata_sense",
    "nvme_admin",
    "recorded",
    "scsi_in",
)


def recorded(root: Root, device: str, request: str) -> tuple[str, Answer]:
    """Return where a recorded machine keeps a device's answer, and the answer."""
    locator = f"/replies/{device}/{request}.bin"
    return locator, read_file(root, locator)


def asked(
    root: Root, device: str, request: str, live: Callable[[], tuple[str, Answer]]
) -> tuple[str, Answer]:
    """Return where a device's answer is from, and the answer, live or recorded.

    Where this account may not ask, the privileged capture's answer is taken, if there is one.
    """
    if not root.live:
        return recorded(root, device, request)
    locator, answer = live()
    if answer.outcome is not SourceOutcome.REFUSED or root.privileged is None:
        return locator, answer
    kept_at, kept = recorded(Root(root.privileged), device, request)
    if kept.outcome is SourceOutcome.ABSENT:
        return locator, answer
    return kept_at, replace(kept, by_root=True)


def nvme_admin(
    node: str, opcode: int, size_bytes: int, *, nsid: int = 0, cdw10: int = 0, cdw11: int = 0
) -> Answer:
    """Return what an NVMe controller answers to an admin command that only reads."""
    return _answer(
        lambda: privileged.nvme_admin(node, opcode, size_bytes, nsid=nsid, cdw10=cdw10, cdw11=cdw11)
    )


def ata_in(node: str, command: int, *, feature: int = 0, lba: int = 0, page: int = 0) -> Answer:
    """Return the 512 bytes that an ATA drive answers to a command that only reads.

    lba: the address, of READ LOG EXT the number of the log, of SMART its signature. page: of a log.
    """
    return _answer(lambda: privileged.ata_in(node, command, feature=feature, lba=lba | page << 8))


def ata_sense(node: str, command: int, *, feature: int = 0, lba: int = 0) -> Answer:
    """Return the sense data with an ATA drive's registers after a command that transfers nothing."""
    return _answer(lambda: privileged.ata_sense(node, command, feature=feature, lba=lba))


def scsi_in(node: str, cdb: bytes, size_bytes: int) -> Answer:
    """Return what a SCSI device answers to a command that only reads; as much of it as came."""
    return _answer(lambda: privileged.scsi_in(node, cdb, size_bytes))


def _answer(ask: Callable[[], bytes]) -> Answer:
    """A device's own refusal is a failure with its status as the word."""
    try:
        return Answer(SourceOutcome.READ, ask())
    except DeviceRefused as refusal:
        return Answer(SourceOutcome.FAILED, error=refusal.strerror or str(refusal))
    except OSError as error:
        unknown = error.errno in (errno.ENOTTY, errno.EINVAL)  # the driver has no such request
        return Answer(SourceOutcome.ABSENT if unknown else outcome_of(error), error=word_of(error))
