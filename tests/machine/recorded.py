"""A small recorded machine of our own making, as a folder: invented parts, sysfs's paths and links."""

from __future__ import annotations

import os
import struct
from pathlib import Path

from tests.machine.smbios_bytes import array, end, entry_point_64, module, structure

NVME = "sys/devices/pci0000:00/0000:00:01.2/0000:04:00.0"
SATA = "sys/devices/pci0000:00/0000:00:17.0"
GPU = "sys/devices/pci0000:00/0000:00:01.0/0000:01:00.0"
NIC = "sys/devices/pci0000:00/0000:00:1c.0/0000:06:00.0"
SMBUS = "sys/devices/pci0000:00/0000:00:1f.4"


def write(root: Path, path: str, content: str | bytes) -> None:
    file = root / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content.encode() if isinstance(content, str) else content)


def link(root: Path, path: str, target: str) -> None:
    """Make a relative link at `path` to the root's `target`, as sysfs does."""
    file = root / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.symlink_to(os.path.relpath(root / target, file.parent))


def build(root: Path) -> Path:
    """Return the folder filled with the machine."""
    _processor(root)
    _firmware(root)
    _nvme(root)
    _sata(root)
    _bus(root)
    _display(root)
    _sensors(root)
    return root


def _processor(root: Path) -> None:
    block = "processor\t: {n}\nvendor_id\t: AuthenticAMD\nmodel name\t: Tarn  C5 4-Core Processor\n"
    block += "microcode\t: 0xa601203\nphysical id\t: 0\ncore id\t\t: {core}\n"
    write(root, "proc/cpuinfo", "\n".join(block.format(n=n, core=n // 2) for n in range(4)) + "\n")
    write(root, "proc/meminfo", "MemTotal:       32595068 kB\nMemFree:        30000000 kB\n")
    write(
        root, "proc/stat", "cpu  40 0 0 40\n" + "".join(f"cpu{n} 10 0 0 10 0 0 0 0 0 0\n" for n in range(4))
    )
    write(root, "proc/sys/kernel/osrelease", "6.12.1-bench\n")
    cpu = "sys/devices/system/cpu"
    for name in ("online", "present"):
        write(root, f"{cpu}/{name}", "0-3\n")
    write(root, f"{cpu}/offline", "\n")
    for n in range(4):
        folder = f"{cpu}/cpu{n}"
        write(root, f"{folder}/topology/physical_package_id", "0\n")
        write(root, f"{folder}/topology/core_id", f"{n // 2}\n")
        write(root, f"{folder}/topology/thread_siblings_list", f"{n // 2 * 2}-{n // 2 * 2 + 1}\n")
        write(root, f"{folder}/cpufreq/cpuinfo_max_freq", "5400000\n")
        write(root, f"{folder}/cpufreq/scaling_cur_freq", "3600000\n")
        write(root, f"{folder}/thermal_throttle/core_throttle_count", "0\n")
        write(root, f"{folder}/thermal_throttle/package_throttle_count", "7\n")


def smbios_table() -> bytes:
    firmware = structure(
        0,
        0,
        bytes([1, 2, 0, 0, 3, 0xFF]) + bytes(8) + bytes([0, 0, 1, 7, 255, 255, 32, 0]),
        "Holloway",
        "B7",
        "01/15/2026",
    )
    system = structure(
        1,
        1,
        bytes([1, 2, 3, 4]) + bytes(range(16)) + bytes([6, 0, 0]),
        "To be filled by O.E.M.",
        "Default string",
        "-",
        "BENCH-9",
    )
    board = structure(2, 2, bytes([1, 2, 3, 4, 0]), "Holloway", "H1 Quiet", "1.1", "HW-77-1031")
    case = structure(3, 3, bytes([1, 0x83, 0, 2, 0]) + bytes(9), "Osprey Works", "OW-5521")
    processor = structure(
        4,
        4,
        bytes([1, 3, 0x6B, 2])
        + bytes(8)
        + bytes([3, 0x8C])
        + struct.pack("<HHH", 100, 5450, 3600)
        + bytes([0x41, 0])
        + bytes(9)
        + bytes([2, 2, 4])
        + bytes(12),
        "AM5",
        "Advanced Micro Devices, Inc.",
        "Tarn C5 4-Core Processor",
    )
    modules = (
        module(0x11, 0x4000, "DIMM_A2", "BANK 1", "Fennec", "0A0B0C01", "-", "FN5-16-6000", speed=6000)
        + module(0x12, 0, "DIMM_A1", "BANK 0", "-", "-", "-", "-")
        + module(0x13, 0x4000, "DIMM_B2", "BANK 3", "Fennec", "00000000", "-", "FN5-16-6000", speed=6000)
    )
    return firmware + system + board + case + processor + array(slots=4) + modules + end()


def _firmware(root: Path) -> None:
    table = smbios_table()
    write(root, "sys/firmware/dmi/tables/DMI", table)
    write(root, "sys/firmware/dmi/tables/smbios_entry_point", entry_point_64(table))
    (root / "sys/firmware/efi").mkdir()
    for name, text in (("board_vendor", "Holloway"), ("board_name", "H1 Quiet"), ("bios_version", "B6")):
        write(root, f"sys/class/dmi/id/{name}", f"{text}\n")
    write(root, "sys/class/dmi/id/chassis_type", "3\n")


def identify_controller(
    model: str = "Quarrel M2 1TB", serial: str = "QR1TB000451", firmware: str = "2B4QR"
) -> bytes:
    page = bytearray(4096)
    page[4:24] = serial.encode().ljust(20)
    page[24:64] = model.encode().ljust(40)
    page[64:72] = firmware.encode().ljust(8)
    struct.pack_into("<HH", page, 266, 273 + 82, 273 + 85)
    return bytes(page)


def health_log(hours: int = 3, units_written: int = 1_000_000) -> bytes:
    page = bytearray(512)
    page[3:6] = bytes([100, 10, 0])
    struct.pack_into("<H", page, 1, 311)
    for at, value in ((32, 500), (48, units_written), (112, 12), (128, hours), (144, 2), (160, 0)):
        page[at : at + 16] = value.to_bytes(16, "little")
    return bytes(page)


def identify_namespace(blocks: int = 1_953_525_168) -> bytes:
    page = bytearray(4096)
    page[0:8] = blocks.to_bytes(8, "little")
    page[128 + 2] = 9
    return bytes(page)


def _nvme(root: Path) -> None:
    device = f"{NVME}/nvme/nvme0"
    block = f"{device}/nvme0n1"
    for name, text in (("model", "Quarrel M2 1TB"), ("serial", "QR1TB000451"), ("firmware_rev", "2B4QR")):
        write(root, f"{device}/{name}", text.ljust(20) + "\n")
    write(root, f"{block}/size", "1953525168\n")
    write(root, f"{block}/nsid", "1\n")
    write(root, f"{block}/queue/rotational", "0\n")
    write(root, f"{block}/queue/logical_block_size", "512\n")
    write(root, f"{block}/nvme0n1p1/partition", "1\n")
    link(root, f"{block}/device", device)
    link(root, "sys/block/nvme0n1", block)
    link(root, "sys/dev/block/259:1", f"{block}/nvme0n1p1")
    write(root, "replies/nvme0/identify-controller.bin", identify_controller())
    write(root, "replies/nvme0/smart-log.bin", health_log())
    write(root, "replies/nvme0n1/identify-namespace.bin", identify_namespace())


def ata_identify(
    model: str = "Quarrel Archive 4TB Spinner", serial: str = "QA4-0017", rotation: int = 0x1518
) -> bytes:
    words = [0] * 256

    def text(first: int, count: int, value: str) -> None:
        raw = value.encode().ljust(2 * count)
        for index in range(count):
            words[first + index] = raw[2 * index] << 8 | raw[2 * index + 1]

    text(10, 10, serial)
    text(23, 4, "AA03")
    text(27, 20, model)
    words[76], words[77] = 0x008E, 0x0006
    words[83] = 1 << 10
    words[100:104] = list(struct.unpack("<4H", (7_814_037_168).to_bytes(8, "little")))
    words[168], words[217] = 2, rotation
    page = bytearray(struct.pack("<256H", *words))
    page[510] = 0xA5
    page[511] = -sum(page[:511]) % 256
    return bytes(page)


def ata_statistics(hours: int = 5) -> bytes:
    page = bytearray(512)
    page[0:3] = bytes([1, 0, 1])
    for at, value in ((8, 9), (16, hours), (24, 2000), (40, 1000)):
        page[at : at + 8] = (value | 0xC0 << 56).to_bytes(8, "little")
    return bytes(page)


def _sata(root: Path) -> None:
    disk = f"{SATA}/ata5/host4/target4:0:0/4:0:0:0"
    block = f"{disk}/block/sda"
    write(root, f"{disk}/vendor", "ATA     \n")
    write(root, f"{disk}/model", "Quarrel Archive \n")
    write(root, f"{disk}/rev", "AA03\n")
    write(root, f"{disk}/vpd_pg80", b"\0\x80\0\x08QA4-0017")
    write(root, f"{block}/size", "7814037168\n")
    write(root, f"{block}/removable", "0\n")
    write(root, f"{block}/queue/rotational", "1\n")
    write(root, f"{block}/queue/logical_block_size", "512\n")
    write(root, f"{SATA}/ata5/ata_port/ata5/port_no", "2\n")
    link(root, f"{block}/device", disk)
    link(root, "sys/block/sda", block)
    link(root, "sys/dev/block/8:0", block)
    (root / "sys/devices/virtual/block/loop0").mkdir(parents=True)
    link(root, "sys/block/loop0", "sys/devices/virtual/block/loop0")
    write(root, "replies/sda/ata-identify.bin", ata_identify())
    write(root, "replies/sda/ata-device-statistics.bin", ata_statistics())


def _bus(root: Path) -> None:
    functions = (
        (GPU, "0x5ab1", "0x0042", "0x030000", ("16.0 GT/s PCIe", "8", "16.0 GT/s PCIe", "16")),
        (NIC, "0x8086", "0x15f3", "0x020000", ("5.0 GT/s PCIe", "1", "5.0 GT/s PCIe", "1")),
        (NVME, "0x1987", "0x5018", "0x010802", ("16.0 GT/s PCIe", "4", "16.0 GT/s PCIe", "4")),
        (SATA, "0x8086", "0x7ae2", "0x010601", ("Unknown", "0", "Unknown", "255")),
    )
    for path, vendor, device, code, (speed, width, most_speed, most_width) in functions:
        rows = {
            "vendor": vendor,
            "device": device,
            "class": code,
            "subsystem_vendor": vendor,
            "subsystem_device": "0x0001",
            "current_link_speed": speed,
            "current_link_width": width,
            "max_link_speed": most_speed,
            "max_link_width": most_width,
        }
        for name, text in rows.items():
            write(root, f"{path}/{name}", f"{text}\n")
        link(root, f"sys/bus/pci/devices/{path.rsplit('/', 1)[-1]}", path)
    write(
        root,
        "usr/share/misc/pci.ids",
        "# a list\n1987  Quarrel\n\t5018  M2 controller\n"
        "5ab1  Sable\n\t0042  Ember 12G\n\t\t5ab1 0001  A card\n"
        "\t0099  Not fitted\n9999  Nobody\n\t0042  Not Sable's\nC 03  Display controller\n\t00  VGA\n",
    )
    interface = f"{NIC}/net/enp6s0"
    rows = {"address": "02:00:5e:10:00:01", "type": "1", "carrier": "1", "speed": "2500", "duplex": "full"}
    for name, text in rows.items():
        write(root, f"{interface}/{name}", f"{text}\n")
    write(root, "sys/devices/virtual/net/lo/type", "772\n")
    link(root, f"{interface}/device", NIC)
    link(root, "sys/class/net/enp6s0", interface)
    link(root, "sys/class/net/lo", "sys/devices/virtual/net/lo")


def edid() -> bytes:
    from tests.machine.test_machine_edid import built, text_descriptor

    return built(descriptors=text_descriptor(0xFC, "Lindwall 27") + text_descriptor(0xFF, "LW0007731"))


def _display(root: Path) -> None:
    card = f"{GPU}/drm/card0"
    for name, status, enabled, data in (
        ("DP-1", "connected", "enabled", edid()),
        ("HDMI-A-1", "disconnected", "disabled", b""),
        ("Writeback-1", "unknown", "disabled", b""),
    ):
        write(root, f"{card}/card0-{name}/status", f"{status}\n")
        write(root, f"{card}/card0-{name}/enabled", f"{enabled}\n")
        write(root, f"{card}/card0-{name}/edid", data)
        link(root, f"sys/class/drm/card0-{name}", f"{card}/card0-{name}")
    link(root, f"{card}/device", GPU)
    link(root, "sys/class/drm/card0", card)


def chip(root: Path, number: int, device: str, name: str, channels: dict[str, str]) -> None:
    """Add an hwmon chip that hangs on a device."""
    folder = f"{device}/hwmon/hwmon{number}"
    write(root, f"{folder}/name", f"{name}\n")
    for channel, text in channels.items():
        write(root, f"{folder}/{channel}", f"{text}\n")
    link(root, f"{folder}/device", device)
    link(root, f"sys/class/hwmon/hwmon{number}", folder)


def _sensors(root: Path) -> None:
    cpu = {"temp1_input": "41500", "temp1_label": "Tctl", "temp1_max": "65261850", "temp1_crit": "95000"}
    chip(root, 0, "sys/devices/pci0000:00/0000:00:18.3", "k10temp", cpu)
    drive = {"temp1_input": "38850", "temp1_label": "Composite", "temp1_max": "81850", "temp1_crit": "84850"}
    chip(root, 1, f"{NVME}/nvme/nvme0", "nvme", drive)
    board = {
        "fan1_input": "842",
        "fan2_input": "0",
        "fan3_input": "65535",
        "temp1_input": "-128000",
        "temp2_input": "127000",
        "temp3_input": "255000",
        "temp4_input": "36000",
    }
    chip(root, 2, "sys/devices/platform/nct6775.656", "nct6798", board)
    module_chip = {"temp1_input": "33500", "temp1_max": "55000", "temp1_crit": "85000"}
    chip(root, 3, f"{SMBUS}/i2c-0/0-0051", "spd5118", module_chip)
    zone = "sys/class/powercap/intel-rapl:0"
    for name, text in {
        "name": "package-0",
        "energy_uj": "1000000",
        "max_energy_range_uj": "65532610987",
        "constraint_0_power_limit_uw": "88000000",
        "constraint_1_power_limit_uw": "0",
    }.items():
        write(root, f"{zone}/{name}", f"{text}\n")
    for number, kind in enumerate(("acpitz", "nct6798")):
        write(root, f"sys/class/thermal/thermal_zone{number}/type", f"{kind}\n")
        write(root, f"sys/class/thermal/thermal_zone{number}/temp", "27800\n")
    write(root, "sys/class/thermal/thermal_zone0/trip_point_0_type", "critical\n")
    write(root, "sys/class/thermal/thermal_zone0/trip_point_0_temp", "105000\n")
