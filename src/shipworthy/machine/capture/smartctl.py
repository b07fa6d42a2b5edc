"""Ask smartctl for drives that take neither our NVMe nor our ATA commands: on SAS, RAID and some USB bridges.

One child process a drive, two at most, each bounded in time and in what it may print. A sleeping drive is not
woken (`--nocheck`). Versions before 7.0 print no JSON; that is told by what they print instead.
"""

from __future__ import annotations

import os
import re

from shipworthy.machine.capture.ata import takes_ata_commands
from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.child import run
from shipworthy.machine.capture.commands import ATA_IDENTIFY_DEVICE, ata_in, recorded
from shipworthy.machine.capture.files import Lister, read_file
from shipworthy.machine.parse.wiring import usb_device_folder
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

FOLDERS = ("/usr/sbin", "/usr/bin", "/sbin", "/bin")
OPTIONS = ("--json=c", "-x", "--nocheck=standby,0")
MOST_DRIVES = 2
MOST_BYTES = 4 << 20
LIMIT_S = 8.0
_DISK = re.compile(r"sd[a-z]+")
_NO_DRIVE = {b"QEMU", b"VBOX", b"VMware,", b"Msft"}  # virtual disks, which have no health to tell
RECORDED = "smartctl"


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    drives: list[str] = []
    for name in lister.names(BLOCK):
        path = lister.target(f"{BLOCK}/{name}") if _DISK.fullmatch(name) else None
        if path is not None and _is_for_smartctl(root, name, path):
            list_wiring(lister, name, path)
            drives.append(name)
    replies = [lister.reply("smartctl", BLOCK)]
    return replies + [_asked(root, name, number) for number, name in enumerate(drives)]


def _is_for_smartctl(root: Root, name: str, path: str) -> bool:
    """Whether no other source asks it: it is no stick, virtual disk, or drive that answers ATA commands."""
    if read_file(root, f"{BLOCK}/{name}/removable").data.strip() != b"0":
        return False
    if not takes_ata_commands(root, name, path):
        return read_file(root, f"{BLOCK}/{name}/device/vendor").data.strip() not in _NO_DRIVE
    if usb_device_folder(path) is None:
        return False
    answers = ata_in(f"/dev/{name}", ATA_IDENTIFY_DEVICE).outcome is SourceOutcome.READ if root.live else True
    return not answers


def _asked(root: Root, name: str, number: int) -> Reply:
    reply_id = f"smartctl.{name}"
    if not root.live:
        locator, answer = recorded(root, name, RECORDED)
        return Reply(reply_id, locator, answer.outcome, answer.data, answer.error, "json")
    locator = f"smartctl {' '.join(OPTIONS)} /dev/{name}"
    if number >= MOST_DRIVES:
        return Reply(reply_id, locator, SourceOutcome.FAILED, b"", f"{MOST_DRIVES} drives were asked", "json")
    tool = find_tool()
    if tool is None:
        return Reply(reply_id, locator, SourceOutcome.ABSENT, b"", "not installed", "json")
    if not os.access(f"/dev/{name}", os.R_OK):  # os.access asks for this account, which the tool will be too
        return Reply(reply_id, locator, SourceOutcome.REFUSED, b"", "EACCES", "json")
    return ask((tool, *OPTIONS, f"/dev/{name}"), reply_id, locator)


def find_tool() -> str | None:
    """Return smartctl's path, looked for where a system keeps such tools and nowhere else."""
    return next((p for f in FOLDERS if os.access(p := f"{f}/smartctl", os.X_OK)), None)


def ask(
    command: tuple[str, ...],
    reply_id: str,
    locator: str,
    limit_s: float = LIMIT_S,
    most_bytes: int = MOST_BYTES,
) -> Reply:
    """Run a command and return what it prints. Its exit status is a bit mask that says how the drive is."""
    printed = run(command, limit_s, most_bytes)
    if printed.trouble:
        return Reply(reply_id, locator, SourceOutcome.FAILED, b"", printed.trouble, "json")
    outcome = SourceOutcome.READ if printed.data.strip() else SourceOutcome.EMPTY
    word = f"exit status {printed.status}" if printed.status else ""
    return Reply(reply_id, locator, outcome, printed.data, word, "json")
