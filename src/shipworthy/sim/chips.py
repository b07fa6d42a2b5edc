"""The unit's sensor chips and its energy counter (hwmon sysfs interface; powercap sysfs interface).

Temperatures in thousandths of °C, fans in rpm, energy in µJ, power in µW, as the kernel writes them.
What stands here is a unit at rest; the feed moves it.
"""

from __future__ import annotations

from collections.abc import Mapping

from shipworthy.sim.devices import controller_folder
from shipworthy.sim.nvme import Drive
from shipworthy.sim.parts import Processor
from shipworthy.sim.tree import Tree

DRIVE_CHIP = f"{controller_folder()}/hwmon0"
PROCESSOR_CHIP = "/sys/devices/platform/coretemp.0/hwmon/hwmon1"
BOARD_CHIP = "/sys/devices/platform/holloway-ec.0/hwmon/hwmon2"
ENERGY_FILE = "/sys/devices/virtual/powercap/intel-rapl/intel-rapl:0/energy_uj"
ENERGY_RANGE_UJ = 262_143_328_850
PROCESSOR_HIGH_C, PROCESSOR_CRITICAL_C = 90, 95
_ENERGY_AT_REST_UJ = 41_730_000_000


def core_channel(core: int) -> str:
    """Return the channel of a core's temperature, as coretemp numbers them: temp1 is the package."""
    return f"temp{core + 2}"


def write_chips(tree: Tree, drive: Drive, processor: Processor, cores: int) -> None:
    """Write the three chips and the power zone of the package."""
    _write_chip(tree, DRIVE_CHIP, controller_folder(), _drive_chip(drive))
    _write_chip(tree, PROCESSOR_CHIP, "/sys/devices/platform/coretemp.0", _processor_chip(cores))
    _write_chip(tree, BOARD_CHIP, "/sys/devices/platform/holloway-ec.0", _board_chip())
    for device in ("coretemp.0", "holloway-ec.0"):
        tree.link(f"/sys/devices/platform/{device}/subsystem", "/sys/bus/platform")
        tree.link(f"/sys/bus/platform/devices/{device}", f"/sys/devices/platform/{device}")
    _write_power(tree, processor)


def _write_chip(tree: Tree, folder: str, device: str, named: Mapping[str, object]) -> None:
    tree.attributes(folder, named)
    tree.link(f"{folder}/device", device)
    tree.link(f"{folder}/subsystem", "/sys/class/hwmon")
    tree.link(f"/sys/class/hwmon/{folder.rpartition('/')[2]}", folder)


def _drive_chip(drive: Drive) -> dict[str, object]:
    return {
        "name": "nvme",
        "temp1_alarm": 0,
        "temp1_crit": drive.critical_k * 1000 - 273_150,
        "temp1_input": 36_850,
        "temp1_label": "Composite",
        "temp1_max": drive.warning_k * 1000 - 273_150,
    }


def _processor_chip(cores: int) -> dict[str, object]:
    named: dict[str, object] = {"name": "coretemp"}
    labels = {"temp1": "Package id 0"} | {core_channel(core): f"Core {core}" for core in range(cores)}
    for channel, label in labels.items():
        named |= {
            f"{channel}_crit": PROCESSOR_CRITICAL_C * 1000,
            f"{channel}_crit_alarm": 0,
            f"{channel}_input": 38_000,
            f"{channel}_label": label,
            f"{channel}_max": PROCESSOR_HIGH_C * 1000,
        }
    return named


def _board_chip() -> dict[str, object]:
    return {
        "name": "holloway_ec",
        "fan1_input": 600,
        "fan1_label": "CPU fan",
        "fan2_input": 600,
        "fan2_label": "Case fan",
        "temp1_crit": 80_000,
        "temp1_input": 30_000,
        "temp1_label": "Board",
    }


def _write_power(tree: Tree, processor: Processor) -> None:
    folder = ENERGY_FILE.rpartition("/")[0]
    named = {
        "constraint_0_name": "long_term",
        "constraint_0_power_limit_uw": processor.power_limit_w * 1_000_000,
        "constraint_0_time_window_us": 27_983_872,
        "enabled": 1,
        "energy_uj": _ENERGY_AT_REST_UJ,
        "max_energy_range_uj": ENERGY_RANGE_UJ,
        "name": "package-0",
    }
    tree.attributes(folder, named)
    tree.link(f"{folder}/subsystem", "/sys/class/powercap")
    tree.link("/sys/class/powercap/intel-rapl:0", folder)
    control = "/sys/devices/virtual/powercap/intel-rapl"
    tree.attributes(control, {"enabled": 1})
    tree.link("/sys/class/powercap/intel-rapl", control)
