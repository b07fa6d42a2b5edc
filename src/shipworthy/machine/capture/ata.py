"""Ask ATA drives for their identity and, where they keep one, their log of device statistics."""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import ATA_IDENTIFY_DEVICE, ATA_READ_LOG_EXT, ata_in, recorded
from shipworthy.machine.capture.files import Answer, Lister, read_file
from shipworthy.machine.parse.wiring import ata_port_folder
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

_DISK = re.compile(r"sd[a-z]+")
STATISTICS_LOG, GENERAL_PAGE = 0x04, 0x01
PAGE_89_IDENTIFY = 60


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    drives: list[str] = []
    for name in lister.names(BLOCK):
        path = lister.target(f"{BLOCK}/{name}") if _DISK.fullmatch(name) else None
        if path is not None and ata_port_folder(path) is not None:
            list_wiring(lister, name, path)
            drives.append(name)
    replies = [lister.reply("ata", BLOCK)]
    for name in drives:
        replies.append(_asked(root, name, "identify", "ata-identify"))
        replies.append(_asked(root, name, "statistics", "ata-device-statistics"))
    return replies


def capture_identity(root: Root) -> list[Reply]:
    """The same without the statistics: what the configuration needs."""
    return [reply for reply in capture(root) if not reply.id.endswith("statistics")]


def _asked(root: Root, device: str, request: str, file: str) -> Reply:
    locator, answer = _live(device, request) if root.live else recorded(root, device, file)
    if request == "identify" and answer.outcome is not SourceOutcome.READ:
        page = _identify_in_page(root, device)
        if page is not None:
            locator, answer = page
    return Reply(f"ata.{device}.{request}", locator, answer.outcome, answer.data, answer.error, "bin")


def _identify_in_page(root: Root, device: str) -> tuple[str, Answer] | None:
    """The kernel keeps the ATA information page (SAT, page 89h) for any account: the 512 bytes lie at 60."""
    locator = f"{BLOCK}/{device}/device/vpd_pg89"
    answer = read_file(root, locator)
    if answer.outcome is not SourceOutcome.READ or len(answer.data) < PAGE_89_IDENTIFY + 512:
        return None
    return locator, Answer(SourceOutcome.READ, answer.data[PAGE_89_IDENTIFY : PAGE_89_IDENTIFY + 512])


def _live(device: str, request: str) -> tuple[str, Answer]:
    node = f"/dev/{device}"
    if request == "identify":
        return f"{node} IDENTIFY DEVICE", ata_in(node, ATA_IDENTIFY_DEVICE)
    return f"{node} log 04h page 01h", ata_in(node, ATA_READ_LOG_EXT, lba=STATISTICS_LOG, page=GENERAL_PAGE)
