"""The unit's drive, display and network port, as the kernel and the devices themselves show them."""

from __future__ import annotations

from shipworthy.sim import nvme, pci
from shipworthy.sim.edid import Screen, edid
from shipworthy.sim.nvme import Drive, Wear
from shipworthy.sim.parts import MAC_ADDRESS
from shipworthy.sim.tree import Tree, uevent

_CONNECTORS = ("card0-DP-1", "card0-DP-2", "card0-HDMI-A-1")
_SCREEN_AT = "card0-DP-1"
_BLANK_DRIVE_K = 309


def controller_folder() -> str:
    """Return where the drive's controller lies in sysfs."""
    return f"{pci.device_folder(pci.DRIVE)}/nvme/nvme0"


def write_drive(tree: Tree, drive: Drive, wear: Wear, device_number: tuple[int, int]) -> None:
    """Write the drive. device_number: the block device whose files count as lying on it."""
    _write_controller(tree, drive)
    _write_namespace(tree, drive, device_number)
    tree.data("/replies/nvme0/identify-controller.bin", nvme.identify_controller(drive))
    tree.data("/replies/nvme0/smart-log.bin", nvme.smart_log(wear, temperature_k=_BLANK_DRIVE_K))
    tree.data("/replies/nvme0n1/identify-namespace.bin", nvme.identify_namespace(drive))


def _write_controller(tree: Tree, drive: Drive) -> None:
    folder = controller_folder()
    named = {
        "address": pci.DRIVE,
        "cntlid": 0,
        "firmware_rev": f"{drive.firmware_version:<8}",
        "model": f"{drive.model:<40}",
        "numa_node": -1,
        "queue_count": 3,
        "serial": f"{drive.serial:<20}",
        "state": "live",
        "subsysnqn": drive.qualified_name,
        "transport": "pcie",
    }
    tree.attributes(folder, named)
    tree.text(f"{folder}/uevent", uevent({"DEVNAME": "nvme0", "NVME_TRTYPE": "pcie"}))
    tree.link(f"{folder}/device", pci.device_folder(pci.DRIVE))
    tree.link(f"{folder}/subsystem", "/sys/class/nvme")
    tree.link("/sys/class/nvme/nvme0", folder)


def _write_namespace(tree: Tree, drive: Drive, device_number: tuple[int, int]) -> None:
    folder, number = f"{controller_folder()}/nvme0n1", f"{device_number[0]}:{device_number[1]}"
    serial, model = (f"{text:<{size}}".encode() for text, size in ((drive.serial, 20), (drive.model, 40)))
    named = {
        "alignment_offset": 0,
        "capability": 0,
        "dev": number,
        "hidden": 0,
        "nsid": 1,
        "removable": 0,
        "ro": 0,
        "size": drive.blocks,
        "wwid": f"nvme.{drive.vendor:04x}-{serial.hex()}-{model.hex()}-00000001",
    }
    queue = {
        "hw_sector_size": 512,
        "logical_block_size": 512,
        "physical_block_size": 512,
        "nr_requests": 1023,
        "rotational": 0,
        "scheduler": "[none] mq-deadline",
    }
    tree.attributes(folder, named)
    tree.attributes(f"{folder}/queue", queue)
    numbers = {"MAJOR": device_number[0], "MINOR": device_number[1]}
    tree.text(f"{folder}/uevent", uevent(numbers | {"DEVNAME": "nvme0n1", "DEVTYPE": "disk"}))
    tree.link(f"{folder}/device", controller_folder())
    tree.link(f"{folder}/subsystem", "/sys/class/block")
    for place in ("/sys/block/nvme0n1", "/sys/class/block/nvme0n1", f"/sys/dev/block/{number}"):
        tree.link(place, folder)


def write_graphics(tree: Tree, screen: Screen) -> None:
    """Write the graphics card's connectors, with the screen on the first."""
    card = f"{pci.device_folder(pci.GRAPHICS)}/drm/card0"
    tree.attributes(card, {"dev": "226:0"})
    tree.text(
        f"{card}/uevent", uevent({"MAJOR": 226, "MINOR": 0, "DEVNAME": "dri/card0", "DEVTYPE": "drm_minor"})
    )
    tree.link(f"{card}/device", pci.device_folder(pci.GRAPHICS))
    tree.link(f"{card}/subsystem", "/sys/class/drm")
    tree.link("/sys/class/drm/card0", card)
    for number, connector in enumerate(_CONNECTORS, 1):
        folder, used = f"{card}/{connector}", connector == _SCREEN_AT
        mode = f"{screen.timing.width_px}x{screen.timing.height_px}\n"
        named = {
            "connector_id": 80 + number,
            "dpms": "On" if used else "Off",
            "enabled": "enabled" if used else "disabled",
            "status": "connected" if used else "disconnected",
        }
        tree.attributes(folder, named)
        tree.text(f"{folder}/modes", mode if used else "")
        tree.data(f"{folder}/edid", edid(screen) if used else b"")
        tree.link(f"{folder}/device", card)
        tree.link(f"{folder}/subsystem", "/sys/class/drm")
        tree.link(f"/sys/class/drm/{connector}", folder)


def write_network(tree: Tree) -> None:
    """Write the network port, with a cable in it, and the loopback that every Linux has."""
    folder = f"{pci.device_folder(pci.NETWORK)}/net/enp2s0"
    named = {
        "addr_assign_type": 0,
        "address": MAC_ADDRESS,
        "carrier": 1,
        "dev_port": 0,
        "duplex": "full",
        "flags": "0x1003",
        "ifindex": 2,
        "mtu": 1500,
        "operstate": "up",
        "speed": 2500,
        "type": 1,
    }
    _write_interface(tree, folder, "enp2s0", named)
    tree.link(f"{folder}/device", pci.device_folder(pci.NETWORK))
    loopback = {"address": "00:00:00:00:00:00", "carrier": 1, "flags": "0x9", "ifindex": 1, "mtu": 65_536}
    loopback |= {"operstate": "unknown", "type": 772, "addr_assign_type": 0, "dev_port": 0}
    _write_interface(tree, "/sys/devices/virtual/net/lo", "lo", loopback)


def _write_interface(tree: Tree, folder: str, name: str, named: dict[str, object]) -> None:
    tree.attributes(folder, named)
    tree.text(f"{folder}/uevent", uevent({"INTERFACE": name, "IFINDEX": named["ifindex"]}))
    tree.link(f"{folder}/subsystem", "/sys/class/net")
    tree.link(f"/sys/class/net/{name}", folder)
