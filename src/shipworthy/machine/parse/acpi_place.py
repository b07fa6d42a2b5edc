"""Places of devices that only the firmware's ACPI tables know of: batteries, adapters, security modules."""

from __future__ import annotations

import re

from shipworthy.machine.parse.wiring import device_place, pci_function_of

_ACPI_DEVICE = re.compile(r"[A-Z0-9]{4,8}:[0-9a-f]{2,}")


def acpi_place(path: str) -> str:
    """Return `acpi:PNP0C0A:00` for a device by its path in sysfs; the bus's place where it has one.

    The firmware numbers devices of one kind in its own order, which stays. Below PCI (a controller on the
    LPC bus) and below platform the same device has the same name.
    """
    steps = [step for step in path.removeprefix("/sys/devices/").split("/") if step]
    found = next((step for step in reversed(steps) if _ACPI_DEVICE.fullmatch(step)), None)
    if found is not None and not any(step.startswith("usb") for step in steps):
        return f"acpi:{found}"
    return device_place(path) if pci_function_of(path) or steps[:1] == ["platform"] else ""
