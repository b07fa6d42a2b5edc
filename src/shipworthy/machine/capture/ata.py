"""Ask ATA drives for identity, SMART data, health and device statistics; one that sleeps is not woken."""

from __future__ import annotations

import re
from collections.abc import Callable

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import (
    ATA_CHECK_POWER_MODE,
    ATA_IDENTIFY_DEVICE,
    ATA_READ_LOG_EXT,
    ATA_SMART,
    SMART_READ_DATA,
    SMART_READ_THRESHOLDS,
    SMART_RETURN_STATUS,
    SMART_SIGNATURE,
    asked,
    ata_in,
    ata_sense,
)
from shipworthy.machine.capture.files import Answer, Lister, read_file
from shipworthy.machine.parse.ata.pages import asleep, smart_is_on
from shipworthy.machine.parse.wiring import ata_port_folder, usb_device_folder
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

_DISK = re.compile(r"sd[a-z]+")
STATISTICS_LOG = 0x04
PAGE_89_IDENTIFY = 60
_TIMED_OUT = ("host 0x03", "ETIMEDOUT", "Errno 110")  # DID_TIME_OUT of the kernel's SCSI

Ask = Callable[[str], Answer]


def _log(page: int) -> Ask:
    return lambda node: ata_in(node, ATA_READ_LOG_EXT, lba=STATISTICS_LOG, page=page)


def _smart(feature: int) -> Ask:
    return lambda node: ata_in(node, ATA_SMART, feature=feature, lba=SMART_SIGNATURE)


REQUESTS: dict[str, tuple[str, Ask]] = {
    "power-mode": ("ata-power-mode", lambda node: ata_sense(node, ATA_CHECK_POWER_MODE)),
    "identify": ("ata-identify", lambda node: ata_in(node, ATA_IDENTIFY_DEVICE)),
    "smart": ("ata-smart", _smart(SMART_READ_DATA)),
    "smart-thresholds": ("ata-smart-thresholds", _smart(SMART_READ_THRESHOLDS)),
    "smart-status": (
        "ata-smart-status",
        lambda node: ata_sense(node, ATA_SMART, feature=SMART_RETURN_STATUS, lba=SMART_SIGNATURE),
    ),
    "statistics": ("ata-device-statistics", _log(1)),
    "statistics-04": ("ata-device-statistics-04", _log(4)),
    "statistics-05": ("ata-device-statistics-05", _log(5)),
    "statistics-06": ("ata-device-statistics-06", _log(6)),
    "statistics-07": ("ata-device-statistics-07", _log(7)),
}
"""What is asked: the file that keeps it in a recorded machine, and the command."""

_SMART = ("smart", "smart-thresholds", "smart-status")
_LATER_PAGES = tuple(name for name in REQUESTS if name.startswith("statistics-"))


def capture(root: Root) -> list[Reply]:
    return _capture(root, _all_of)


def capture_identity(root: Root) -> list[Reply]:
    """Only who the drives are: what the configuration needs."""
    return _capture(root, _identity_of)


def _capture(root: Root, of_drive: Callable[[Root, str], list[Reply]]) -> list[Reply]:
    lister = Lister(root)
    drives: list[str] = []
    for name in lister.names(BLOCK):
        path = lister.target(f"{BLOCK}/{name}") if _DISK.fullmatch(name) else None
        if path is not None and takes_ata_commands(root, name, path):
            list_wiring(lister, name, path)
            drives.append(name)
    head = lister.reply("ata", BLOCK)
    return [head, *(reply for name in drives for reply in of_drive(root, name))]


def takes_ata_commands(root: Root, name: str, path: str) -> bool:
    """Whether a drive is asked with ATA commands: on an ATA port, called ATA by its host, or a disk on USB.

    A stick (removable) is not: some cannot bear it. Of the others the system's own device manager asks the
    same when they are plugged in (udev, rules for persistent storage).
    """
    if ata_port_folder(path) is not None:
        return True
    if usb_device_folder(path) is not None:
        return read_file(root, f"{BLOCK}/{name}/removable").data.strip() == b"0"
    return read_file(root, f"{BLOCK}/{name}/device/vendor").data.strip() == b"ATA"


def _all_of(root: Root, device: str) -> list[Reply]:
    """Ask in an order in which a drive that sleeps or is dead is asked nothing more."""
    mode = _asked(root, device, "power-mode")
    if mode.read and asleep(mode.data):
        return [mode, _kept_identity(root, device)]
    identity = _asked(root, device, "identify") if not _is_silent(mode) else _kept_identity(root, device)
    if _is_silent(mode) or not identity.read:
        return [mode, identity]
    replies = [mode, identity]
    wanted = ("statistics", *(_SMART if smart_is_on(identity.data) else ()))
    for request in wanted:
        replies.append(_asked(root, device, request))
        if _is_silent(replies[-1]):
            return replies
        if request == "statistics" and replies[-1].read:
            replies += [_asked(root, device, page) for page in _LATER_PAGES]
    return replies


def _identity_of(root: Root, device: str) -> list[Reply]:
    mode = _asked(root, device, "power-mode")
    if _is_silent(mode) or (mode.read and asleep(mode.data)):
        return [_kept_identity(root, device)]
    return [_asked(root, device, "identify")]


def _is_silent(reply: Reply) -> bool:
    """Whether the drive gave no answer in its time: the next request would wait as long."""
    return reply.outcome is SourceOutcome.FAILED and any(mark in reply.error for mark in _TIMED_OUT)


def _asked(root: Root, device: str, request: str) -> Reply:
    file, ask = REQUESTS[request]
    node = f"/dev/{device}"
    locator, answer = asked(root, device, file, lambda: (f"{node} {file}", ask(node)))
    if request == "identify" and answer.outcome is not SourceOutcome.READ:
        page = _identify_in_page(root, device)
        if page is not None:
            locator, answer = page
    name = f"ata.{device}.{request}"
    return Reply(name, locator, answer.outcome, answer.data, answer.error, "bin", answer.by_root)


def _kept_identity(root: Root, device: str) -> Reply:
    """The identity as the kernel keeps it from when it found the drive: no command is sent."""
    page = _identify_in_page(root, device)
    name = f"ata.{device}.identify"
    if page is None:
        locator = f"{BLOCK}/{device}/device/vpd_pg89"
        return Reply(name, locator, SourceOutcome.FAILED, b"", "not asked", "bin")
    locator, answer = page
    return Reply(name, locator, answer.outcome, answer.data, answer.error, "bin", answer.by_root)


def _identify_in_page(root: Root, device: str) -> tuple[str, Answer] | None:
    """The kernel keeps the ATA information page (SAT, page 89h) for any account: the 512 bytes lie at 60."""
    locator = f"{BLOCK}/{device}/device/vpd_pg89"
    answer = read_file(root, locator)
    if answer.outcome is not SourceOutcome.READ or len(answer.data) < PAGE_89_IDENTIFY + 512:
        return None
    return locator, Answer(SourceOutcome.READ, answer.data[PAGE_89_IDENTIFY : PAGE_89_IDENTIFY + 512])
