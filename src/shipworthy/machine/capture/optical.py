"""Ask for the optical drives, what the kernel found that they can do, and which medium lies in them.

GET CONFIGURATION of MMC only reads. The node is opened without waiting, so a tray stays as it is.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import recorded, scsi_in
from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

INFO = "/proc/sys/dev/cdrom/info"
GET_CONFIGURATION = 0x46
ANSWER_BYTES = 1024  # some 30 features with 20 bytes each
_NAME = re.compile(r"sr\d+")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    names = [name for name in lister.names(BLOCK) if _NAME.fullmatch(name)]
    for name in names:
        list_wiring(lister, name, lister.target(f"{BLOCK}/{name}"))
        lister.texts(f"{BLOCK}/{name}/device", ("vendor", "model", "rev"))
        lister.binary(f"{BLOCK}/{name}/device/vpd_pg80")
        lister.text(f"{BLOCK}/{name}/size")
    replies = [lister.reply("optical", BLOCK)]
    if names:
        replies.append(file_reply(root, "optical.info", INFO))
    return replies + [_asked(root, name) for name in names]


def _asked(root: Root, name: str) -> Reply:
    if root.live:
        node = f"/dev/{name}"
        cdb = bytes([GET_CONFIGURATION, 0, 0, 0, 0, 0, 0, ANSWER_BYTES >> 8, ANSWER_BYTES & 0xFF, 0])
        locator, answer = f"{node} get configuration 46h", scsi_in(node, cdb, ANSWER_BYTES)
    else:
        locator, answer = recorded(root, name, "get-configuration")
    identity = f"optical.{name}.get-configuration"
    return Reply(identity, locator, answer.outcome, answer.data, answer.error, "bin")
