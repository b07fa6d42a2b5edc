"""Where a device is wired, told from its place in sysfs. Nicknames (`sda`, `hwmon3`) move between starts.

A place begins with the bus function that the device hangs on. What follows is what tells it from others on
that function: `/ata-2` (the controller's own port), `/usb-1-4` (bus and hub ports), `/nvme-ns-1`.
"""

from __future__ import annotations

import re

PCI_FUNCTION = re.compile(r"[0-9a-f]{4,8}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]")
_VIRTIO = re.compile(r"virtio\d+")
_USB_BUS = re.compile(r"usb\d+")
_USB_DEVICE = re.compile(r"\d+-\d+(\.\d+)*")
_ATA = re.compile(r"ata(\d+)")
_SCSI_DEVICE = re.compile(r"\d+:(\d+):(\d+):(\d+)")
_SAS_END = re.compile(r"end_device-\d+(:\d+)+")
NVME_CONTROLLER = re.compile(r"nvme\d+")
_NVME_NAMESPACE = re.compile(r"nvme\d+(?:c\d+)?n(\d+)")
MMC_AREA = re.compile(r"mmcblk\d+(?:boot\d+|rpmb|gp\d+)")
"""An area of an eMMC that the kernel shows as a device of its own (JESD84-B51, 6.2, from memory)."""
_I2C_DEVICE = re.compile(r"\d+-[0-9a-f]{4}")


def _steps(path: str) -> list[str]:
    return [step for step in path.removeprefix("/sys/devices/").split("/") if step]


def pci_function_of(path: str) -> str | None:
    """Return the address of the PCI function that a device in sysfs is, or hangs on; None if none."""
    return next((step for step in reversed(_steps(path)) if PCI_FUNCTION.fullmatch(step)), None)


def is_virtual(path: str) -> bool:
    """Return whether a device is one that the kernel makes up: nothing is wired there."""
    return path.startswith("/sys/devices/virtual/")


def device_place(path: str) -> str:
    """Return the place of a device by its path in sysfs, such as `/sys/devices/pci0000:00/0000:00:18.3`."""
    steps = _steps(path)
    at = next((i for i in reversed(range(len(steps))) if PCI_FUNCTION.fullmatch(steps[i])), None)
    if at is not None:
        return f"pci:{steps[at]}" + _below(steps[at + 1 :])
    virtio = next((i for i, step in enumerate(steps) if i and _VIRTIO.fullmatch(step)), None)
    if virtio is not None:
        return f"virtio:{steps[virtio - 1]}" + _below(steps[virtio + 1 :])
    if steps[:1] == ["platform"]:
        return f"platform:{steps[1]}" + _below(steps[2:]) if len(steps) > 1 else "platform"
    return "/".join(steps) or "unknown"


def _below(steps: list[str]) -> str:
    """Return what tells a device from others below the same bus function; empty if it is all there is."""
    usb = _usb_device(steps)
    if usb is not None:
        return f"/usb-{usb}"
    ata = next((match[1] for step in steps if (match := _ATA.fullmatch(step))), None)
    if ata is not None:
        return f"/ata-{ata}" + _scsi_rest(steps)
    i2c = next((step for step in steps if _I2C_DEVICE.fullmatch(step)), None)
    return f"/i2c-{i2c}" if i2c is not None else ""


def _usb_device(steps: list[str]) -> str | None:
    """Return a USB device's bus and ports; an I2C address such as `0-0051` looks like one, without a bus."""
    if not any(_USB_BUS.fullmatch(step) for step in steps):
        return None
    return next((step for step in reversed(steps) if _USB_DEVICE.fullmatch(step)), None)


def usb_device_folder(path: str) -> str | None:
    """Return the folder in sysfs of the USB device that something hangs on; None if it is not on USB."""
    name = _usb_device(_steps(path))
    if name is None:
        return None
    head, _, _ = path.partition(f"/{name}/")
    return f"{head}/{name}" if head != path else path


def _scsi_rest(steps: list[str]) -> str:
    """Return `.1` and the like for what is not the first device of a port; empty for the first."""
    found = next((match for step in reversed(steps) if (match := _SCSI_DEVICE.fullmatch(step))), None)
    if found is None:
        return ""
    return "".join(f".{number}" for number in found.groups() if number != "0")


def ata_port_folder(path: str) -> str | None:
    """Return the folder in sysfs that holds an ATA device's port attributes; None if it is no ATA device."""
    head, found, _ = _split_at(path, _ATA)
    return None if found is None else f"{head}/{found}/ata_port/{found}"


def _split_at(path: str, pattern: re.Pattern[str]) -> tuple[str, str | None, str]:
    steps = path.split("/")
    for index, step in enumerate(steps):
        if pattern.fullmatch(step):
            return "/".join(steps[:index]), step, "/".join(steps[index + 1 :])
    return path, None, ""


def storage_place(
    path: str, *, namespace: int | None = None, ata_port: int | None = None, controller: str | None = None
) -> str | None:
    """Return the place of a block device by its path in sysfs; None for one that is no hardware.

    namespace: its NVMe namespace id, if the kernel gives it. ata_port: the controller's own number of
    the port; the kernel's `ata5` counts over all controllers. controller: path of the NVMe controller
    where the kernel keeps the namespace apart from it (multipath).
    """
    name = path.rsplit("/", 1)[-1]
    nvme = _NVME_NAMESPACE.fullmatch(name)
    if nvme is not None:
        function = pci_function_of(controller or path)
        number = namespace if namespace is not None else int(nvme[1])
        return f"pci:{function}/nvme-ns-{number}" if function else None
    steps = _steps(path)
    if steps[:1] == ["virtual"] or MMC_AREA.fullmatch(name):
        return None
    device = "/".join(steps[:-2] if steps[-2:-1] == ["block"] else steps[:-1])
    if any(_VIRTIO.fullmatch(step) for step in steps):
        function = pci_function_of(path)
        return f"pci:{function}/virtio" if function else device_place(device)
    if any(_ATA.fullmatch(step) for step in steps) and pci_function_of(path):
        port = str(ata_port) if ata_port is not None else _ata_number(steps)
        return f"pci:{pci_function_of(path)}/ata-{port}{_scsi_rest(steps)}"
    if _usb_device(steps) is not None:
        lun = next((m[3] for step in reversed(steps) if (m := _SCSI_DEVICE.fullmatch(step))), "0")
        return device_place(device) + (f"/lun-{lun}" if lun != "0" else "")
    return _scsi_place(path, steps) or device or None


def _scsi_place(path: str, steps: list[str]) -> str | None:
    """Return the place on a SAS or RAID controller: by the port, else by channel, target and unit. The
    number of the host stands first in both and moves between starts."""
    function = pci_function_of(path)
    unit = next((step for step in reversed(steps) if _SCSI_DEVICE.fullmatch(step)), None)
    if function is None or unit is None:
        return None
    end = next((step for step in reversed(steps) if _SAS_END.fullmatch(step)), None)
    lun = unit.rsplit(":", 1)[1]
    if end is not None:
        return f"pci:{function}/sas-{end.partition(':')[2]}" + (f"/lun-{lun}" if lun != "0" else "")
    return f"pci:{function}/scsi-{unit.partition(':')[2]}"


def _ata_number(steps: list[str]) -> str:
    return next(match[1] for step in steps if (match := _ATA.fullmatch(step)))


def interface_of(path: str) -> str:
    """Return what a block device is attached by: `NVMe`, `SATA`, `USB`, `virtio`, `MMC`, `SAS`, `SCSI` …"""
    steps = _steps(path)
    if _NVME_NAMESPACE.fullmatch(steps[-1] if steps else ""):
        return "NVMe"
    if any(_VIRTIO.fullmatch(step) for step in steps):
        return "virtio"
    if _usb_device(steps) is not None:
        return "USB"
    if any(_ATA.fullmatch(step) for step in steps):
        return "SATA"
    if any(step.startswith("mmc") for step in steps):
        return "MMC"
    if any(_SAS_END.fullmatch(step) for step in steps):
        return "SAS"
    return "SCSI" if any(_SCSI_DEVICE.fullmatch(step) for step in steps) else "other"
