"""The PCI functions of the unit, as the kernel shows them (sysfs-bus-pci; link state in sysfs-bus-pci)."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from shipworthy.sim.tree import Tree, uevent


@dataclass(frozen=True)
class Link:
    """A PCI Express link. Speeds in GT/s."""

    speed_gt_s: float
    width: int


@dataclass(frozen=True)
class Function:
    """One PCI function. under: address of the port it hangs on; empty on the root bus."""

    address: str
    class_code: int
    vendor: int
    device: int
    subsystem_vendor: int
    subsystem_device: int
    driver: str = ""
    under: str = ""
    revision: int = 1
    link: Link | None = None


TARN, SABLE, DRAKELINE, QUARREL, HOLLOWAY = 0x7A52, 0x5AB1, 0x4B44, 0x70DE, 0x7E5A
HOST_BRIDGE, GRAPHICS_PORT, NETWORK_PORT, DRIVE_PORT = (
    "0000:00:00.0",
    "0000:00:01.0",
    "0000:00:1c.0",
    "0000:00:1d.0",
)
GRAPHICS, NETWORK, DRIVE, SOUND, USB = (
    "0000:01:00.0",
    "0000:02:00.0",
    "0000:03:00.0",
    "0000:00:1f.3",
    "0000:00:14.0",
)

FUNCTIONS = (
    Function(HOST_BRIDGE, 0x060000, TARN, 0x0C70, HOLLOWAY, 0xB601),
    Function(GRAPHICS_PORT, 0x060400, TARN, 0x0C71, HOLLOWAY, 0xB601, "pcieport", link=Link(16.0, 16)),
    Function(USB, 0x0C0330, TARN, 0x0C76, HOLLOWAY, 0xB601, "xhci_hcd"),
    Function(NETWORK_PORT, 0x060400, TARN, 0x0C72, HOLLOWAY, 0xB601, "pcieport", link=Link(8.0, 1)),
    Function(DRIVE_PORT, 0x060400, TARN, 0x0C73, HOLLOWAY, 0xB601, "pcieport", link=Link(16.0, 4)),
    Function("0000:00:1f.0", 0x060100, TARN, 0x0C74, HOLLOWAY, 0xB601),
    Function(SOUND, 0x040300, TARN, 0x0C75, HOLLOWAY, 0xB602, "snd_hda_intel"),
    Function(GRAPHICS, 0x030000, SABLE, 0x0210, SABLE, 0x2101, "sable", GRAPHICS_PORT, link=Link(16.0, 16)),
    Function(
        NETWORK, 0x020000, DRAKELINE, 0x2500, HOLLOWAY, 0xB603, "drakeline", NETWORK_PORT, link=Link(8.0, 1)
    ),
    Function(DRIVE, 0x010802, QUARREL, 0x2004, QUARREL, 0x1000, "nvme", DRIVE_PORT, link=Link(16.0, 4)),
)


def device_folder(address: str) -> str:
    """Return where a function's files lie: below the ports that it hangs on."""
    function = next(f for f in FUNCTIONS if f.address == address)
    parent = device_folder(function.under) if function.under else "/sys/devices/pci0000:00"
    return f"{parent}/{address}"


def drive_link_texts(*, whole: bool) -> dict[str, str]:
    """Return the speed that both ends of the drive's link show. whole: all that they can do, else half."""
    link = next(f.link for f in FUNCTIONS if f.address == DRIVE)
    assert link is not None
    text = _speed_text(link.speed_gt_s if whole else link.speed_gt_s / 2)
    folders = (device_folder(DRIVE_PORT), device_folder(DRIVE))
    return {f"{folder}/current_link_speed": f"{text}\n" for folder in folders}


def _speed_text(speed_gt_s: float) -> str:
    return f"{speed_gt_s:.1f} GT/s PCIe"


def write_functions(tree: Tree) -> None:
    """Write all functions, the bus's list of them, and their drivers."""
    for function in FUNCTIONS:
        folder = device_folder(function.address)
        tree.attributes(folder, _attributes(function))
        tree.text(f"{folder}/uevent", _uevent(function))
        tree.data(f"{folder}/config", config_space(function))
        tree.link(f"{folder}/subsystem", "/sys/bus/pci")
        tree.link(f"/sys/bus/pci/devices/{function.address}", folder)
        if function.driver:
            tree.link(f"{folder}/driver", f"/sys/bus/pci/drivers/{function.driver}")
            tree.link(f"/sys/bus/pci/drivers/{function.driver}/{function.address}", folder)


def config_space(function: Function) -> bytes:
    """Return the 64 bytes of the configuration header that any account may read (PCI 3.0, 6.1)."""
    bridge = function.class_code >> 8 == 0x0604
    data = bytearray(64)
    struct.pack_into("<HHHH", data, 0, function.vendor, function.device, 0x0406, 0x0010)
    data[8:12] = bytes([function.revision]) + function.class_code.to_bytes(3, "little")
    data[14] = 1 if bridge else 0
    if bridge:
        below = next(f for f in FUNCTIONS if f.under == function.address)
        data[25] = data[26] = int(below.address[5:7], 16)
    else:
        struct.pack_into("<HH", data, 0x2C, function.subsystem_vendor, function.subsystem_device)
    return bytes(data)


def _attributes(function: Function) -> dict[str, object]:
    named: dict[str, object] = {
        "vendor": f"0x{function.vendor:04x}",
        "device": f"0x{function.device:04x}",
        "subsystem_vendor": f"0x{function.subsystem_vendor:04x}",
        "subsystem_device": f"0x{function.subsystem_device:04x}",
        "class": f"0x{function.class_code:06x}",
        "revision": f"0x{function.revision:02x}",
        "enable": 1,
        "numa_node": -1,
    }
    if function.class_code == 0x030000:
        named["boot_vga"] = 1
    if function.link:
        speed = _speed_text(function.link.speed_gt_s)
        named |= {"current_link_speed": speed, "max_link_speed": speed}
        named |= {"current_link_width": function.link.width, "max_link_width": function.link.width}
    return named


def _uevent(function: Function) -> str:
    ids = f"{function.vendor:04X}:{function.device:04X}"
    subsystem = f"{function.subsystem_vendor:04X}:{function.subsystem_device:04X}"
    code = function.class_code
    alias = (
        f"pci:v{function.vendor:08X}d{function.device:08X}sv{function.subsystem_vendor:08X}"
        f"sd{function.subsystem_device:08X}bc{code >> 16:02X}sc{code >> 8 & 0xFF:02X}i{code & 0xFF:02X}"
    )
    named = {"DRIVER": function.driver} if function.driver else {}
    return uevent(
        named
        | {
            "PCI_CLASS": f"{code:X}",
            "PCI_ID": ids,
            "PCI_SUBSYS_ID": subsystem,
            "PCI_SLOT_NAME": function.address,
            "MODALIAS": alias,
        }
    )
