"""Drives in lshw's report."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from shipworthy.machine.listing import said
from shipworthy.machine.parse.lshw_xml.nodes import Node
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_NAMESPACE = re.compile(r"nvme@\d+:(\d+)")
_NODE = re.compile(r"(?:sd[a-z]+|sr\d+|hd[a-z]|vd[a-z]+|mmcblk\d+|nvme\d+n\d+)")


def drive_sightings(source: str, nodes: Sequence[Node]) -> Iterator[Sighting]:
    """Return a sighting for each drive; the medium in a reader is a node of its own, and no drive."""
    for node in nodes:
        if node.kind != "disk" or node.id == "medium":
            continue
        name = next((name for name in node.names() if _NODE.fullmatch(name)), None)
        namespace = _NAMESPACE.fullmatch(node.raw("businfo"))
        controller = next((parent for parent in node.above if parent.function), None)
        if name is None:
            continue
        place = f"node:{name}"
        also: tuple[str, ...] = ()
        identity = node
        if namespace and controller is not None and controller.kind == "storage":
            also = (f"pci:{controller.function}/nvme-ns-{namespace[1]}",)
            identity = controller
        fields = (*_identity(identity), *_own(node, name))
        kind = PartKind.OPTICAL_DRIVE if _is_optical(node, name) else PartKind.STORAGE
        yield Sighting(kind=kind, place=place, source=source, said=fields, also_at=also)


def _identity(node: Node) -> Iterator[Said]:
    """An NVMe drive's name is its controller's."""
    for name, tag in (
        ("maker", "vendor"),
        ("model", "product"),
        ("serial", "serial"),
        ("firmware_version", "version"),
    ):
        yield said(name, node.text(tag))


def _is_optical(node: Node, name: str) -> bool:
    return name.startswith("sr") or node.id == "cdrom"


def _own(node: Node, name: str) -> Iterator[Said]:
    optical = _is_optical(node, name)
    yield said("kernel_name", name)
    interface = _interface(node, name)
    yield said("interface", interface)
    if optical:
        yield said("technology", "optical")
    elif interface in ("NVMe", "virtio"):
        yield said("technology", "NVMe" if interface == "NVMe" else "virtual")
    if not optical:
        yield said("size_bytes", node.number("size", "bytes") or None)
    block = node.setting_number("logicalsectorsize")
    if block:
        yield said("logical_block_bytes", block)
    yield said("removable", "removable" in node.capabilities())


def _interface(node: Node, name: str) -> str | Absent:
    buses = [parent.raw("businfo") for parent in (node, *node.above)]
    if name.startswith("nvme"):
        return "NVMe"
    if name.startswith("mmcblk"):
        return "MMC"
    if any(bus.startswith("usb@") for bus in buses):
        return "USB"
    if name.startswith("vd"):
        return "virtio"
    return "SATA" if node.raw("description").startswith("ATA ") else Absent.NOT_OFFERED
