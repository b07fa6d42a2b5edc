"""What lshw finds on the PCI bus: graphics, network, sound and all other functions."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from shipworthy.machine.listing import said
from shipworthy.machine.parse.lshw_xml.nodes import Node
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_NUMBERED = re.compile(r"(.*\S) \[([0-9A-F]{4})(?::([0-9A-F]{4}))?\]")
_MAC = re.compile(r"[0-9a-f]{2}(:[0-9a-f]{2}){5}")


def bus_sightings(source: str, nodes: Sequence[Node]) -> Iterator[Sighting]:
    """Return a sighting for each PCI function. An interface that is a node of its own below its function
    (virtio, some wireless cards) is joined to it by its place."""
    for node in nodes:
        address = node.function
        above = next((parent.function for parent in node.above if parent.function), None)
        if address is not None:
            interface = _interface(node) if node.kind == "network" else ()
            fields = (*_identity(node), *interface)
            yield Sighting(kind=_kind(node), place=f"pci:{address}", source=source, said=fields)
        elif node.kind == "network" and above is not None and not node.raw("businfo").startswith("usb@"):
            yield Sighting(
                kind=PartKind.NETWORK, place=f"pci:{above}", source=source, said=tuple(_interface(node))
            )


def _kind(node: Node) -> PartKind:
    if node.kind == "multimedia":
        return PartKind.SOUND if node.raw("description").startswith("Audio") else PartKind.PCI_DEVICE
    return {"display": PartKind.GRAPHICS, "network": PartKind.NETWORK}.get(node.kind, PartKind.PCI_DEVICE)


def _identity(node: Node) -> Iterator[Said]:
    """Names; with `-numeric` the ids stand behind them in brackets: the product's are vendor and device."""
    ids: tuple[str, str] | None = None
    for name, tag in (("maker", "vendor"), ("model", "product")):
        text = node.text(tag)
        match = _NUMBERED.fullmatch(text) if isinstance(text, str) and not isinstance(text, Absent) else None
        if match and match[3]:
            ids = (match[2], match[3])
        yield said(name, match[1] if match else text)
    if ids is not None:
        yield said("vendor_id", f"0x{ids[0].lower()}")
        yield said("device_id", f"0x{ids[1].lower()}")
    driver = node.setting("driver")
    if not isinstance(driver, Absent):
        yield said("driver", driver)


def _interface(node: Node) -> Iterator[Said]:
    names = node.names()
    if names:
        yield said("kernel_name", names[0])
    mac = node.raw("serial").lower()
    if mac:
        yield said("mac", mac if _MAC.fullmatch(mac) else Absent.IMPLAUSIBLE)
    speed = node.number("size", "bit/s")
    if speed:
        yield said("speed_mbit_s", speed // 1_000_000)
    duplex = node.setting("duplex")
    if not isinstance(duplex, Absent):
        yield said("duplex", duplex)
