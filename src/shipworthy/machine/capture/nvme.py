"""Ask NVMe drives for their identity and health log."""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import NVME_GET_LOG_PAGE, NVME_IDENTIFY, asked, nvme_admin
from shipworthy.machine.capture.files import Answer, Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

_NAMESPACE = re.compile(r"nvme(\d+)n(\d+)")
HEALTH_LOG = 0x02 | (512 // 4 - 1) << 16  # log id, and how many dwords less one
IDENTIFY_NAMESPACE, IDENTIFY_CONTROLLER = 0, 1
_TIMED_OUT = ("0x371", "ETIMEDOUT", "Errno 110")  # 371h: the kernel aborted the command


def _capture(root: Root, *, health: bool) -> list[Reply]:
    lister = Lister(root)
    names = [name for name in lister.names(BLOCK) if _NAMESPACE.fullmatch(name)]
    for name in names:
        list_wiring(lister, name, lister.target(f"{BLOCK}/{name}"))
    replies = [lister.reply("nvme", BLOCK)]
    controllers = dict.fromkeys(_controller(lister, name) for name in names)
    for device in controllers:
        identity = _asked(root, device, "identify-controller")
        replies.append(identity)
        if health and not _is_silent(identity):
            replies.append(_asked(root, device, "smart-log"))
    replies += [_asked(root, name, "identify-namespace") for name in names]
    return replies


def _is_silent(reply: Reply) -> bool:
    """Whether a controller gave no answer in its time (the kernel aborted the command): ask it no more."""
    return reply.outcome is SourceOutcome.FAILED and any(mark in reply.error for mark in _TIMED_OUT)


def capture(root: Root) -> list[Reply]:
    return _capture(root, health=True)


def capture_identity(root: Root) -> list[Reply]:
    """The same without the health log: what the configuration needs."""
    return _capture(root, health=False)


def _controller(lister: Lister, namespace: str) -> str:
    path = f"{BLOCK}/{namespace}/controller"
    link = next((row.link for row in lister.rows if row.path == path and row.link), None)
    match = _NAMESPACE.fullmatch(namespace)
    assert match is not None
    return link.rsplit("/", 1)[-1] if link else f"nvme{match[1]}"


def _asked(root: Root, device: str, request: str) -> Reply:
    locator, answer = asked(root, device, request, lambda: _live(device, request))
    name = f"nvme.{device}.{request}"
    return Reply(name, locator, answer.outcome, answer.data, answer.error, "bin", answer.by_root)


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
