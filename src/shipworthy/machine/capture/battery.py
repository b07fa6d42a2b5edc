"""Ask for batteries and for the adapters that the kernel knows of."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/power_supply"
ATTRIBUTES = (
    "scope",
    "online",
    "present",
    "status",
    "technology",
    "manufacturer",
    "model_name",
    "serial_number",
    "capacity",
    "cycle_count",
    "energy_now",
    "energy_full",
    "energy_full_design",
    "charge_now",
    "charge_full",
    "charge_full_design",
    "voltage_now",
    "voltage_min_design",
)


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        lister.target(folder)
        lister.target(f"{folder}/device")
        battery = lister.text(f"{folder}/type") in ("Battery", "UPS")
        lister.texts(folder, ATTRIBUTES if battery else ("scope", "online"))
    return [lister.reply("battery", FOLDER)]
