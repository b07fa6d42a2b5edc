"""Build the invented unit: a folder that the rooms read as they read a live machine.

Faults are planted in what the parts say (SMBIOS bytes, drive replies, files of the kernel), never in a
reading or a finding. See docs/explanation/simulated-unit.md.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from shipworthy.machine.root import SIMULATED_MARK, Root
from shipworthy.model.base import Record, Trouble, encode_pretty
from shipworthy.sim import parts, pci, smbios
from shipworthy.sim.chips import write_chips
from shipworthy.sim.cpu import write_processor
from shipworthy.sim.devices import write_drive, write_graphics, write_network
from shipworthy.sim.parts import Fault, Parts
from shipworthy.sim.tree import Tree

FITTED_BYTES = 16 * 2**30
USABLE_KIB = 16_259_428  # what a kernel of this kind leaves of 16 GiB; about 3 % go to it and the firmware
KERNEL = "6.12.41-bench-amd64"
_ABOUT = "An invented unit for demonstration and tests. No such machine exists."


class Mark(Record):
    """The file that says that a folder is a pretend unit's, and what the feed has to know of it.

    cpus: numbers of the host's CPUs whose real use heats it. device: the host's block device that counts
    as its drive, as `major:minor`.
    """

    schema: Literal[1] = 1
    about: str
    faults: tuple[Fault, ...]
    cpus: tuple[int, ...]
    device: str


def build(
    folder: Path,
    faults: frozenset[Fault] = frozenset(),
    *,
    cpus: tuple[int, ...],
    device_number: tuple[int, int],
) -> Root:
    """Write the unit into a new or empty folder and return it as a machine's root.

    cpus: the host's CPUs that it has, at least one, each once. device_number: major and minor number of
    the file system where its burn-in will write (`os.stat`), so that this file lies on its drive.
    Raises Trouble if the folder holds something or cannot be written.
    """
    if not cpus or len(set(cpus)) != len(cpus) or min(cpus) < 0:
        raise ValueError("a unit has at least one CPU, and each number once")
    _claim(folder)
    tree, fitted = Tree(folder), parts.fitted(faults)
    _write_firmware(tree, fitted, len(cpus))
    write_processor(tree, fitted.processor, cpus)
    tree.text("/proc/meminfo", memory_text(available_kib=USABLE_KIB - 700_000))
    pci.write_functions(tree)
    write_drive(tree, fitted.drive, fitted.wear, device_number)
    write_graphics(tree, fitted.screen)
    write_network(tree)
    write_chips(tree, fitted.drive, fitted.processor, len(cpus))
    _write_kernel(tree)
    mark = Mark(
        about=_ABOUT,
        faults=tuple(sorted(faults)),
        cpus=cpus,
        device=f"{device_number[0]}:{device_number[1]}",
    )
    tree.data(f"/{SIMULATED_MARK}", encode_pretty(mark))
    return Root(folder)


def memory_text(*, available_kib: int) -> str:
    """Return /proc/meminfo with that much available, in KiB (proc_meminfo(5))."""
    cached = 410_000
    rows = {
        "MemTotal": USABLE_KIB,
        "MemFree": max(available_kib - cached, 0),
        "MemAvailable": available_kib,
        "Buffers": 18_000,
        "Cached": cached,
        "SwapTotal": 0,
        "SwapFree": 0,
        "Hugepagesize": 2048,
    }
    return "".join(f"{name + ':':<16}{kib:>8} kB\n" for name, kib in rows.items())


def _claim(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        occupied = any(folder.iterdir())
    except OSError as error:
        raise Trouble(
            f"the simulated unit cannot be written: {error.strerror}", folder, "Choose another folder."
        ) from error
    if occupied:
        raise Trouble("the folder for the simulated unit is not empty", folder, "Choose a new folder.")


def _write_firmware(tree: Tree, fitted: Parts, cores: int) -> None:
    table = smbios_table(fitted, cores)
    tree.data("/sys/firmware/dmi/tables/DMI", table)
    tree.data("/sys/firmware/dmi/tables/smbios_entry_point", smbios.entry_point(table))
    tree.attributes("/sys/firmware/efi", {"fw_platform_size": 64})
    folder = "/sys/devices/virtual/dmi/id"
    tree.attributes(folder, _dmi_id())
    tree.link(f"{folder}/subsystem", "/sys/class/dmi")
    tree.link("/sys/class/dmi/id", folder)


def smbios_table(fitted: Parts, cores: int) -> bytes:
    """Return the unit's SMBIOS table, of version 3.6."""
    system, board, chassis, chip = parts.SYSTEM, parts.BOARD, parts.CHASSIS, fitted.processor
    return smbios.table(
        smbios.firmware(
            0x00,
            maker=parts.FIRMWARE.maker,
            version=parts.FIRMWARE.version,
            date=parts.FIRMWARE_DATE,
            rom_mib=32,
        ),
        smbios.system(
            0x01,
            maker=system.maker,
            product=system.model,
            version=system.version,
            serial=system.serial,
            uuid=parts.SYSTEM_UUID,
            sku="KD-Q4",
            family="Quiet Desk",
        ),
        smbios.board(
            0x02,
            maker=board.maker,
            product=board.model,
            version=board.version,
            serial=board.serial,
            asset=board.asset,
            chassis=0x03,
        ),
        smbios.chassis(
            0x03,
            maker=chassis.maker,
            kind=smbios.CHASSIS_TOWER,
            version=chassis.version,
            serial=chassis.serial,
            asset=chassis.asset,
            sku="",
        ),
        smbios.processor(
            0x04,
            socket=chip.socket,
            maker=chip.maker,
            version=chip.model,
            cores=cores,
            threads=cores,
            max_mhz=chip.max_mhz,
            current_mhz=chip.base_mhz,
        ),
        *_connectors(),
        *_memory(fitted),
    )


def _connectors() -> tuple[bytes, ...]:
    usb, network = smbios.PORT_USB, smbios.PORT_NETWORK
    return (
        smbios.port(0x08, internal="J_USB1", external="Rear USB", connector=smbios.CONNECTOR_USB, kind=usb),
        smbios.port(0x09, internal="J_LAN", external="LAN", connector=smbios.CONNECTOR_RJ45, kind=network),
        smbios.slot(0x0A, designation="PCIEX16", kind=smbios.SLOT_PCIE4_X16, lanes=16, number=1, bus=1),
        smbios.slot(0x0B, designation="M2_1", kind=smbios.SLOT_M2_SOCKET_3, lanes=4, number=2, bus=3),
        smbios.onboard_device(
            0x29, designation="Onboard LAN", kind=smbios.ONBOARD_ETHERNET, bus=2, function=0
        ),
        smbios.onboard_device(
            0x2A, designation="Onboard sound", kind=smbios.ONBOARD_SOUND, bus=0, function=0x1F << 3 | 3
        ),
    )


def _memory(fitted: Parts) -> tuple[bytes, ...]:
    array = 0x10
    devices = (
        smbios.memory_device(array + number, array, locator=slot.locator, bank=slot.bank, module=slot.module)
        for number, slot in enumerate(fitted.slots, 1)
    )
    return (
        smbios.memory_array(array, max_gib=192, slots=len(fitted.slots)),
        *devices,
        smbios.memory_mapping(0x20, array, size_bytes=FITTED_BYTES, partition_width=2),
    )


def _dmi_id() -> dict[str, object]:
    system, board, chassis = parts.SYSTEM, parts.BOARD, parts.CHASSIS
    return {
        "bios_vendor": parts.FIRMWARE.maker,
        "bios_version": parts.FIRMWARE.version,
        "bios_date": parts.FIRMWARE_DATE,
        "bios_release": "1.12",
        "board_vendor": board.maker,
        "board_name": board.model,
        "board_version": board.version,
        "board_serial": board.serial,
        "board_asset_tag": board.asset,
        "chassis_vendor": chassis.maker,
        "chassis_type": smbios.CHASSIS_TOWER,
        "chassis_version": chassis.version,
        "chassis_serial": chassis.serial,
        "chassis_asset_tag": chassis.asset,
        "sys_vendor": system.maker,
        "product_name": system.model,
        "product_version": system.version,
        "product_serial": system.serial,
        "product_uuid": parts.SYSTEM_UUID,
        "product_sku": "KD-Q4",
        "product_family": "Quiet Desk",
    }


def _write_kernel(tree: Tree) -> None:
    built = "#1 SMP PREEMPT_DYNAMIC Fri Feb 20 09:12:44 UTC 2026"
    tree.text("/proc/version", f"Linux version {KERNEL} (bench@kestrel-desk) (gcc 14.2.0) {built}\n")
    names = {"osrelease": KERNEL, "ostype": "Linux", "version": built, "arch": "x86_64"}
    tree.attributes("/proc/sys/kernel", names)
