"""Reports of `lsblk -J`: drives by the kernel's nicknames.

Source: lsblk(8). With `-b` a size is a number of bytes; without, a text rounded to a tenth of its unit, which
is no size to hold another against: it is `size_about_bytes`. Before 2.33 every value is text (`"rota": "1"`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from shipworthy.machine.listing import said
from shipworthy.machine.parse.opening import opened_json
from shipworthy.machine.parse.units import BYTES_IN
from shipworthy.machine.parse.wiring import MMC_AREA
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, parsed_each, remark
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "lsblk-json"
MOST_BYTES = 1 << 20
MOST_DRIVES = 2048
_SIZE = re.compile(r"(\d{1,6}(?:[.,]\d)?)([BKMGTPE])?")
_INTERFACES = {
    "nvme": "NVMe",
    "sata": "SATA",
    "usb": "USB",
    "virtio": "virtio",
    "mmc": "MMC",
    "sas": "SCSI",
    "spi": "SCSI",
}
_BY_NAME = (("nvme", "NVMe"), ("mmcblk", "MMC"), ("vd", "virtio"))
_OF_SOFTWARE = re.compile(r"(zram|ram|nbd|drbd|rbd|dm-|md|loop|fd)\d")
_NO_MAKER = ("ATA", "NVMe")  # the names of translations to SCSI

Node = Mapping[str, Any]


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report, by its beginning."""
    del name
    return head.lstrip()[:1] == b"{" and b'"blockdevices"' in head


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report. A sighting for each disk and optical drive in it."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    nodes = _nodes(reply.data)
    if nodes is None:
        detail = "no JSON list `blockdevices`"
        return Parsed(remarks=(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", detail),))
    drives: dict[str, Node] = {}
    for node in nodes:
        name = _name(node)
        if _is_drive(node, name) and len(drives) < MOST_DRIVES:
            drives.setdefault(name, node)
    wrong: list[str] = []
    untyped = sum("type" not in node for node in nodes)
    if untyped:
        wrong.append(f"{untyped} devices without `type`: which are drives cannot be told")
    if len(drives) == MOST_DRIVES:
        wrong.append(f"{MOST_DRIVES} drives: any more of them are left out")
    return Parsed(
        tuple(_sighting(node, name, reply.id) for name, node in drives.items()),
        remarks=tuple(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "blockdevices", one) for one in wrong),
    )


def _sighting(node: Node, name: str, source: str) -> Sighting:
    kind = PartKind.OPTICAL_DRIVE if node.get("type") == "rom" else PartKind.STORAGE
    return Sighting(kind=kind, place=f"node:{name}", source=source, said=tuple(_fields(node, name)))


def _nodes(data: bytes) -> list[Node] | None:
    """Return all devices, those below others too (with `-s` the disks are the innermost)."""
    whole = opened_json(data, MOST_BYTES, object)
    top = whole.get("blockdevices") if isinstance(whole, dict) else None
    return list(_walk(top)) if isinstance(top, list) else None


def _walk(top: list[Any]) -> Iterator[Node]:
    waiting = top[::-1]
    while waiting:
        node = waiting.pop()
        if isinstance(node, dict):
            yield node
            below = node.get("children")
            waiting += below[::-1] if isinstance(below, list) else []


def _text(node: Node, key: str) -> str:
    value = node.get(key)
    return " ".join(value.split()) if isinstance(value, str) else ""


def _name(node: Node) -> str:
    """The kernel's name; `name` may be a path."""
    return (_text(node, "kname") or _text(node, "name") or _text(node, "path")).rsplit("/", 1)[-1]


def _is_drive(node: Node, name: str) -> bool:
    if node.get("type") not in ("disk", "rom") or not name:
        return False
    return _OF_SOFTWARE.match(name) is None and MMC_AREA.fullmatch(name) is None


def _flag(node: Node, key: str) -> bool | None:
    value = node.get(key)
    return (
        {"1": True, "0": False, True: True, False: False}.get(value)
        if isinstance(value, str | bool)
        else None
    )


def _fields(node: Node, name: str) -> Iterator[Said]:
    optical = node.get("type") == "rom"
    interface = _interface(node, name)
    yield said("kernel_name", name)
    yield said("interface", interface)
    if "vendor" in node:
        maker = _text(node, "vendor")
        yield said("maker", None if maker in _NO_MAKER or maker.startswith("0x") else _meant(maker))
    if "model" in node:
        yield said("model", _meant(_text(node, "model")))
    if "serial" in node:
        yield said("serial", _meant(_text(node, "serial")))
    if "rev" in node:
        yield said("firmware_version", _meant(_text(node, "rev")))
    if not optical:
        yield from _size(node)
    if isinstance(node.get("log-sec"), int | str):
        yield said("logical_block_bytes", _whole(node["log-sec"]))
    yield said("technology", "optical" if optical else _technology(node, interface))
    if _flag(node, "rm") is not None:
        yield said("removable", _flag(node, "rm"))


def _meant(text: str) -> str | None:
    return None if is_placeholder(text) else text


def _whole(value: int | str) -> Scalar | Absent:
    if isinstance(value, bool):
        return Absent.IMPLAUSIBLE
    if isinstance(value, str):
        value = int(value) if re.fullmatch(r"\d{1,20}", value) else -1
    return value if 0 < value < 1 << 63 else Absent.NOT_OFFERED if value == 0 else Absent.IMPLAUSIBLE


def _size(node: Node) -> Iterator[Said]:
    """A drive of no size has no medium in it, or does not answer."""
    value = node.get("size")
    if isinstance(value, int) or (isinstance(value, str) and re.fullmatch(r"\d{4,20}", value)):
        yield said("size_bytes", _whole(value))
        return
    match = _SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match:
        about = round(float(match[1].replace(",", ".")) * BYTES_IN[match[2] or ""])
        yield said("size_bytes", Absent.NOT_OFFERED)
        yield said("size_about_bytes", about or Absent.NOT_OFFERED)
    elif value is not None:
        yield said("size_bytes", Absent.IMPLAUSIBLE)


def _interface(node: Node, name: str) -> str | None:
    transport = _text(node, "tran").lower()
    if transport:
        return _INTERFACES.get(transport, "other")
    return next((word for start, word in _BY_NAME if name.startswith(start)), None)


def _technology(node: Node, interface: str | None) -> str | None:
    if interface in ("NVMe", "virtio"):
        return "NVMe" if interface == "NVMe" else "virtual"
    return {False: "solid state", True: "spinning", None: None}[_flag(node, "rota")]
