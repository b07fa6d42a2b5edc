"""Ask NVMe drives for their identity and health log."""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import NVME_GET_LOG_PAGE, NVME_IDENTIFY, nvme_admin, recorded
from shipworthy.machine.capture.files import Answer, Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

_NAMESPACE = re.compile(r"nvme(\d+)n(\d+)")
HEALTH_LOG = 0x02 | (512 // 4 - 1) << 16  # log id, and how many dwords less one
IDENTIFY_NAMESPACE, IDENTIFY_CONTROLLER = 0, 1


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    names = [name for name in lister.names(BLOCK) if _NAMESPACE.fullmatch(name)]
    for name in names:
        list_wiring(lister, name, lister.target(f"{BLOCK}/{name}"))
    replies = [lister.reply("nvme", BLOCK)]
    controllers = dict.fromkeys(_controller(lister, name) for name in names)
    for device in controllers:
        replies.append(_asked(root, device, "identify-controller"))
        replies.append(_asked(root, device, "smart-log"))
    replies += [_asked(root, name, "identify-namespace") for name in names]
    return replies


def capture_identity(root: Root) -> list[Reply]:
    """The same without the health log: what the configuration needs."""
    return [reply for reply in capture(root) if not reply.id.endswith("smart-log")]


def _controller(lister: Lister, namespace: str) -> str:
    path = f"{BLOCK}/{namespace}/controller"
    link = next((row.link for row in lister.rows if row.path == path and row.link), None)
    match = _NAMESPACE.fullmatch(namespace)
    assert match is not None
    return link.rsplit("/", 1)[-1] if link else f"nvme{match[1]}"


def _asked(root: Root, device: str, request: str) -> Reply:
    locator, answer = _live(device, request) if root.live else recorded(root, device, request)
    return Reply(f"nvme.{device}.{request}", locator, answer.outcome, answer.data, answer.error, "bin")


def _live(device: str, request: str) -> tuple[str, Answer]:
    node = f"/dev/{device}"
    if request == "smart-log":
        return f"{node} log 02h", nvme_admin(node, NVME_GET_LOG_PAGE, 512, nsid=0xFFFFFFFF, cdw10=HEALTH_LOG)
    if request == "identify-controller":
        return f"{node} identify 01h", nvme_admin(node, NVME_IDENTIFY, 4096, cdw10=IDENTIFY_CONTROLLER)
    match = _NAMESPACE.fullmatch(device)
    number = int(match[2]) if match else 1
    return f"{node} identify 00h", nvme_admin(
        node, NVME_IDENTIFY, 4096, nsid=number, cdw10=IDENTIFY_NAMESPACE
    )
