"""Ask for the optical drives, what the kernel found that they can do, and which medium lies in them.

GET CONFIGURATION of MMC only reads. The node is opened without waiting, so a tray stays as it is.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import CONFIGURATION_BYTES, GET_CONFIGURATION, asked, scsi_in
from shipworthy.machine.capture.files import Answer, Lister, file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

INFO = "/proc/sys/dev/cdrom/info"
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
    locator, answer = asked(root, name, "get-configuration", lambda: _live(f"/dev/{name}"))
    identity = f"optical.{name}.get-configuration"
    return Reply(identity, locator, answer.outcome, answer.data, answer.error, "bin", answer.by_root)


def _live(node: str) -> tuple[str, Answer]:
    return f"{node} get configuration 46h", scsi_in(node, GET_CONFIGURATION, CONFIGURATION_BYTES)
