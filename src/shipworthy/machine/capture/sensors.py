"""Ask which sensors there are, what they are called and what limits the devices name. No values."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.machine.capture.files import Lister, file_reply, names_in
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

HWMON, THERMAL, POWERCAP, CPUS = (
    "/sys/class/hwmon",
    "/sys/class/thermal",
    "/sys/class/powercap",
    "/sys/devices/system/cpu",
)
CHANNEL = re.compile(r"(temp|fan|power|freq)(\d+)_(input|average)")
_ASKED = {
    "temp": ("label", "max", "crit", "emergency", "max_hyst", "crit_hyst"),
    "fan": ("label",),
    "power": ("label", "cap"),
    "freq": ("label",),
}
_CPU = re.compile(r"cpu\d+")


def capture(root: Root) -> list[Reply]:
    return [_hwmon(root), _thermal(root), _powercap(root), _cpus(root), _stat(root)]


def _hwmon(root: Root) -> Reply:
    lister = Lister(root)
    for chip in lister.names(HWMON):
        folder = f"{HWMON}/{chip}"
        lister.target(folder)
        lister.target(f"{folder}/device")
        if not lister.text(f"{folder}/name"):
            lister.text(f"{folder}/device/name")
        names = set(lister.names(folder))
        for match in filter(None, map(CHANNEL.fullmatch, sorted(names))):
            asked = (f"{match[1]}{match[2]}_{rest}" for rest in _ASKED[match[1]])
            lister.texts(folder, tuple(name for name in asked if name in names))
    return lister.reply("sensors.hwmon", HWMON)


def _thermal(root: Root) -> Reply:
    lister = Lister(root)
    for zone in lister.names(THERMAL):
        if not zone.startswith("thermal_zone"):
            continue
        folder = f"{THERMAL}/{zone}"
        lister.text(f"{folder}/type")
        for name in lister.names(folder):
            if re.fullmatch(r"trip_point_\d+_(type|temp)", name):
                lister.text(f"{folder}/{name}")
    return lister.reply("sensors.thermal", THERMAL)


def _powercap(root: Root) -> Reply:
    lister = Lister(root)
    for zone in lister.names(POWERCAP):
        folder = f"{POWERCAP}/{zone}"
        if ":" in zone and "energy_uj" in names_in(root, folder):
            lister.texts(folder, ("name", "max_energy_range_uj"))
    return lister.reply("sensors.powercap", POWERCAP)


def _cpus(root: Root) -> Reply:
    lister = Lister(root)
    for cpu in sorted(name for name in lister.names(CPUS) if _CPU.fullmatch(name)):
        folder = f"{CPUS}/{cpu}"
        lister.text(f"{folder}/topology/physical_package_id")
        lister.names(f"{folder}/cpufreq")
        lister.names(f"{folder}/thermal_throttle")
    return lister.reply("sensors.cpus", CPUS)


def _stat(root: Root) -> Reply:
    """Only the processors' lines: the counts of interrupts are long, and nobody reads them."""
    whole = file_reply(root, "sensors.stat", "/proc/stat")
    lines = [line for line in whole.data.splitlines(keepends=True) if line.startswith(b"cpu")]
    return replace(whole, data=b"".join(lines))
