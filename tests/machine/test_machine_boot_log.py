"""Kernel logs: what lines are errors and what only sounds so, status words, parts, and real logs."""

from __future__ import annotations

import random
import re
import tarfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.machine.parse.boot_log import source as boot_log
from shipworthy.machine.parse.boot_log.errors import ErrorKind, bare, classify
from shipworthy.machine.parse.boot_log.mca import decode_status
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind
from tests.machine.facts_of import Facts, facts_of

CORRECTED, UNCORRECTED = ErrorKind.MACHINE_CHECK_CORRECTED, ErrorKind.MACHINE_CHECK_UNCORRECTED

ERRORS = [
    (CORRECTED, "MCA: Bank 8, Status 0xcc0000800001009f"),
    (UNCORRECTED, "MCA: Bank 4, Status 0xbe00000000800400"),
    (CORRECTED, "[ 1234.5] mce: [Hardware Error]: CPU 2: Machine Check: 0 Bank 4: 9c00000000000e0b"),
    (UNCORRECTED, "mce: [Hardware Error]: CPU 3: Machine Check Exception: 5 Bank 0: be00000000800400"),
    (CORRECTED, "[   12.000001] EDAC MC0: 1 CE memory read error on DIMM_A1 (channel:0 slot:0 page:0x1)"),
    (UNCORRECTED, "EDAC MC0: 1 UE memory read error on unknown memory"),
    (CORRECTED, "mce: [Hardware Error]: Machine check events logged"),
    (UNCORRECTED, "{1}[Hardware Error]: event severity: fatal"),
    (ErrorKind.DISK, "(ada0:ahcich0:0:0:0): ATA status: 41 (DRDY ERR), error: 40 (UNC )"),
    (ErrorKind.DISK, "(da0:mps0:0:4:0): SCSI sense: MEDIUM ERROR asc:11,0 (Unrecovered read error)"),
    (ErrorKind.DISK, "(ada1:ahcich1:0:0:0): CAM status: Command timeout"),
    (ErrorKind.DISK, "nvme0: Resetting controller due to a timeout."),
    (ErrorKind.DISK, "g_vfs_done():ada0p2[READ(offset=65536, length=32768)]error = 5"),
    (ErrorKind.DISK, "<3>[  99.100000] blk_update_request: I/O error, dev sda, sector 2048 op 0x0:(READ)"),
    (ErrorKind.DISK, "critical medium error, dev nvme0n1, sector 12345"),
    (ErrorKind.DISK, "[ 1.0] ata1.00: error: { UNC }"),
    (ErrorKind.DISK, "sd 0:0:0:0: [sdb] tag#3 Sense Key : Medium Error [current]"),
    (ErrorKind.DISK, "nvme nvme0: I/O 33 QID 5 timeout, aborting"),
    (ErrorKind.DISK, "nvme nvme1: controller is down; will reset: CSTS=0xffffffff, PCI_STATUS=0x10"),
    (ErrorKind.LINK, "(ada0:ahcich0:0:0:0): CAM status: Uncorrectable parity/CRC error"),
    (ErrorKind.LINK, "(ada0:ata3:0:0:0): ATA status: 51 (DRDY SERV ERR), error: 84 (ICRC ABRT )"),
    (ErrorKind.LINK, "ata3.00: error: { ICRC ABRT }"),
    (ErrorKind.LINK, "ata3: limiting SATA link speed to 3.0 Gbps"),
    (ErrorKind.LINK, "nvme0: Correctable PCIe error reported by APEI"),
    (ErrorKind.LINK, "pcieport 0000:00:1c.5: PCIe Bus Error: severity=Corrected, type=Physical Layer"),
    (ErrorKind.GRAPHICS, "NVRM: Xid (PCI:0000:9b:00): 119, pid=1, name=x, Timeout after 6s of waiting"),
    (
        ErrorKind.GRAPHICS,
        "[Sun Feb 23 16:24:18 2025] NVRM: Xid (PCI:0000:01:00): 79, GPU has fallen off the bus.",
    ),
    (ErrorKind.GRAPHICS, "[drm:amdgpu_job_timedout [amdgpu]] *ERROR* ring gfx_0 timeout, signaled seq=1"),
    (
        ErrorKind.THERMAL,
        "mce: CPU1: Core temperature above threshold, cpu clock throttled (total events = 7)",
    ),
    (ErrorKind.THERMAL, "coretemp0: critical temperature detected, suggest system shutdown"),
    (ErrorKind.THERMAL, "2,100,2279,-;thermal thermal_zone0: critical temperature reached, shutting down"),
    (ErrorKind.PANIC, "Feb 23 16:24:18 bench kernel: [   99.1] Kernel panic - not syncing: Fatal exception"),
    (ErrorKind.PANIC, "[123] panic: page fault"),
    (ErrorKind.PANIC, "Fatal trap 12: page fault while in kernel mode"),
    (ErrorKind.PANIC, "<1>[  201.6] BUG: unable to handle kernel NULL pointer dereference at (null)"),
]

NO_ERRORS = [
    "",
    "igb 0000:02:00.0: PCIe error reporting enabled",
    "pcieport 0000:00:1c.0: AER: enabled with IRQ 122",
    "acpi PNP0A08:00: _OSC: OS now controls [PCIeHotplug SHPCHotplug PME AER PCIeCapability LTR]",
    "ERST: Error Record Serialization Table (ERST) support is initialized.",
    "mce: CPU supports 10 MCE banks",
    "mce: CPU0: Thermal monitoring enabled (TM1)",
    "lapic3: MCE Thresholding ELVT unmasked",
    "EDAC MC: Ver: 3.0.0",
    "ACPI BIOS Error (bug): Could not resolve symbol [\\_SB.PCI0.XHC], AE_NOT_FOUND (20210730/psargs-330)",
    "ACPI Error: Aborting method \\_SB._OSC due to previous error (AE_NOT_FOUND)",
    "usb 1-4: device descriptor read/64, error -71",
    "usbd_setup_device_desc: getting device descriptor at addr 3 failed, USB_ERR_TIMEOUT",
    "da0: Attempt to query device size failed: NOT READY, Medium not present",
    "(probe0:umass-sim0:0:0:0): SCSI sense: NOT READY asc:3a,0 (Medium not present)",
    "(da0:umass-sim0:0:0:0): CAM status: SCSI Status Error",
    "(cd0:ahcich2:0:0:0): SCSI sense: MEDIUM ERROR asc:11,0 (Unrecovered read error)",
    "(aprobe0:ata2:0:0:0): ATA status: 51 (DRDY SERV ERR), error: 04 (ABRT )",
    "(aprobe0:ahcich7:0:15:0): CAM status: Command timeout",
    "I/O error, dev sda, sector 2048 op 0x3:(DISCARD) flags 0x800 phys_seg 1 prio class 2",
    "I/O error, dev nvme0n1, sector 8 op 0x9:(WRITE_ZEROES) flags 0x8000000 phys_seg 0 prio class 2",
    "blk_update_request: I/O error, dev fd0, sector 0 op 0x0:(READ) flags 0x0",
    "sr 1:0:0:0: [sr0] tag#8 Sense Key : Medium Error [current]",
    "Buffer I/O error on dev sr0, logical block 0, async page read",
    "Buffer I/O error on dev loop3, logical block 0",
    "ata2: SATA link down (SStatus 0 SControl 300)",
    "g_vfs_done():da0s1[WRITE(offset=1, length=512)]error = 6",
    "hdac0: Command timeout on address 0",
    "re0: watchdog timeout",
    "Core temperature/speed normal",
    "acpitz0 at acpi0: critical temperature is 120 degC",
    "[drm] ECC is not present.",
    "nvidia-peermem nv_get_p2p_free_callback:127 ERROR detected invalid context, skipping",
    "db_panic: 1",
    "MCA: Bank 4, Status 0x0000000000000000",
    "<BUG> Oops, said the user",
]


@pytest.mark.parametrize(("kind", "line"), ERRORS)
def test_lines_that_are_errors(kind: ErrorKind, line: str) -> None:
    assert classify(line) is kind


@pytest.mark.parametrize("line", NO_ERRORS)
def test_lines_that_only_sound_so(line: str) -> None:
    assert classify(line) is None


@pytest.mark.parametrize(
    "stamp",
    [
        "[  201.650687] ",
        "<6>[  201.650687] ",
        "[13161026] ",
        "6,3973,227996636,-;",
        "[Sun Feb 23 16:24:18 2025] ",
        "Feb 23 16:24:18 bench kernel: [   12.5] ",
        "2025-02-23T16:24:18.123456+00:00 bench kernel: ",
    ],
)
def test_stamps_are_taken_off(stamp: str) -> None:
    assert bare(stamp + "ata1.00: error: { UNC }") == "ata1.00: error: { UNC }"


@pytest.mark.parametrize(
    ("status", "meaning"),
    [
        (0x8800000000000080, "memory controller: generic, channel 0"),
        (0xCC0000800001009F, "memory controller: read, channel not told"),
        (0x8C20004000041152, "instruction cache: instruction fetch, level 2"),
        (0x9C00000000000E0B, "I/O"),
        (0x8000000000000005, "internal parity"),
        (0x8000000000000400, "internal timer"),
        (0x8000000000000014, "data translation buffer: level 0"),
        (0x8000000000000F0F, "bus and interconnect: other, generic, generic, generic level, timed out"),
    ],
)
def test_error_codes(status: int, meaning: str) -> None:
    assert decode_status(status).meaning == meaning


def test_status_bits() -> None:
    check = decode_status(0xCC0000800001009F)
    assert (check.valid, check.overflow, check.uncorrected, check.enabled) == (True, True, False, False)
    assert (check.misc_valid, check.address_valid, check.context_corrupt) == (True, True, False)
    assert (check.corrected_count, check.model_code) == (2, 1)
    fatal = decode_status(0xBE00000000800400)
    assert (fatal.uncorrected, fatal.enabled, fatal.context_corrupt) == (True, True, True)


FREEBSD = """---<<BOOT>>---
Copyright (c) 1992-2021 The FreeBSD Project.
FreeBSD 13.0-RELEASE #0 releng/13.0-n244733: Fri Apr  9 04:24:09 UTC 2021
    root@bench:/usr/obj/usr/src/amd64.amd64/sys/GENERIC amd64
CPU: Skogdata  Nine 9900        (3700.08-MHz K8-class CPU)
  Origin="AuthenticAMD"  Id=0x806ea  Family=0x19  Model=0x8e  Stepping=10
real memory  = 34359738368 (32768 MB)
avail memory = 33280000000 (31738 MB)
FreeBSD/SMP: Multiprocessor System Detected: 24 CPUs
FreeBSD/SMP: 1 package(s) x 2 cache groups x 6 core(s) x 2 hardware threads
ahci0: <Norvik AHCI SATA controller> port 0xe050-0xe057 mem 0xdf59-0xdf60 irq 19 at device 23.0 on pci0
ahcich1: <AHCI channel> at channel 1 on ahci0
nvme0: <Generic NVMe Device> mem 0xfcf00000-0xfcf03fff at device 0.0 on pci1
igb0: <Norvik Gigabit> port 0xd060-0xd07f at device 31.6 on pci0
igb0: Ethernet address: 02:00:5E:10:00:01
ugen0.1: <Norvik XHCI root HUB> at usbus0
ugen0.2: <Tarn Keyboard> at usbus0
ugen0.3: <Tarn Stick> at usbus0
ada0 at ahcich1 bus 0 scbus1 target 0 lun 0
ada0: <NORVIK SSD 870 500GB SVT01B6Q> ACS-4 ATA SATA 3.x device
ada0: Serial Number S123456
ada0: 600.000MB/s transfers (SATA 3.x, UDMA6, PIO 512bytes)
ada0: 476940MB (976773168 512 byte sectors)
nvd0: <TARN NVMe 1TB> NVMe namespace
nvd0: 953869MB (1953525168 512 byte sectors)
da0 at umass-sim0 bus 0 scbus3 target 0 lun 0
da0: <Tarn Stick 1.00> Removable Direct Access SPC-4 SCSI device
da0: Serial Number...
cd0 at ahcich1 bus 0 scbus1 target 0 lun 0
cd0: <HOLL DVD-RW 1.02> Removable CD-ROM SCSI device
cd0: 700MB (358400 2048 byte sectors)
ugen0.3: <Tarn Stick> at usbus0 (disconnected)
"""

OPENBSD = """OpenBSD 7.2 (GENERIC.MP) #758: Tue Sep 27 11:57:54 MDT 2022
real mem = 17040351232 (16251MB)
avail mem = 16506368000 (15741MB)
cpu0 at mainbus0: apid 0 (boot processor)
cpu0: Intel(R) Invented(TM) i5-9999 CPU @ 3.00GHz, 3000.00 MHz, 06-9e-0a
cpu0: smt 0, core 0, package 0
cpu1: smt 0, core 1, package 0
sd0 at scsibus1 targ 0 lun 0: <ATA, NORVIK SSD 870, SVT0> naa.5002538000000000
sd0: 476940MB, 512 bytes/sector, 976773168 sectors, thin
cd0 at scsibus1 targ 1 lun 0: <HOLL, DVD-RW, 1.02> removable
"""

LINUX = """[    0.000000] Linux version 6.1.0-13-amd64 (builder@bench) #1 SMP PREEMPT_DYNAMIC 6.1.55-1
[    0.000000] Command line: BOOT_IMAGE=/vmlinuz
[    0.000000] efi: EFI v2.70 by Norvik Firmware
[    0.000000] DMI: Tarn Works T1/H-77, BIOS F7 01/15/2025
[    0.100000] Memory: 32000000K/33472172K available (14342K kernel code)
[    0.200000] smpboot: CPU0: AMD Invented 9 9900 12-Core Processor (family: 0x19, model: 0x61, stepping: 0x2)
[    0.210000] smpboot: Max logical packages: 1
[    0.300000] smp: Brought up 1 node, 24 CPUs
[    0.310000] microcode: CPU0: patch_level=0x0a601203
[    1.000000] ahci 0000:00:17.0: AHCI 0001.0301 32 slots 4 ports 6 Gbps 0xf impl SATA mode
[    1.010000] ata1: SATA max UDMA/133 abar m2048@0xf7e36000 port 0xf7e36100 irq 27
[    1.010001] ata2: SATA max UDMA/133 abar m2048@0xf7e36000 port 0xf7e36280 irq 27
[    1.300000] ata2: SATA link up 6.0 Gbps (SStatus 133 SControl 300)
[    1.310000] ata2.00: ATA-11: NORVIK SSD 870 500GB, SVT01B6Q, max UDMA/133
[    1.310001] ata2.00: 976773168 sectors, multi 1: LBA48 NCQ (depth 32), AA
[    1.320000] scsi 1:0:0:0: Direct-Access     ATA      NORVIK SSD 870 5 1B6Q PQ: 0 ANSI: 5
[    1.330000] sd 1:0:0:0: [sda] 976773168 512-byte logical blocks: (500 GB/466 GiB)
[    1.400000] nvme nvme0: pci function 0000:04:00.0
[    1.450000]  nvme0n1: p1 p2
[    1.500000] xhci_hcd 0000:00:14.0: new USB bus registered, assigned bus number 1
[    1.600000] usb 1-4: New USB device found, idVendor=1234, idProduct=c52b, bcdDevice=24.11
[    1.600001] usb 1-4: Product: Keyboard
[    1.600002] usb 1-4: Manufacturer: Tarn
[    2.000000] r8169 0000:03:00.0 eth0: RTL8168h/8111h, 02:00:5e:10:00:02, XID 541, IRQ 136
[    2.100000] r8169 0000:03:00.0 enp3s0: renamed from eth0
[    9.000000] scsi 6:0:0:0: Direct-Access     Tarn     Stick            1.00 PQ: 0 ANSI: 6
[    9.100000] sd 6:0:0:0: [sdb] 30031872 512-byte logical blocks: (15.4 GB/14.3 GiB)
[   99.000000] blk_update_request: I/O error, dev sda, sector 2048 op 0x0:(READ) flags 0x0
"""


def parse(data: str | bytes) -> Parsed:
    raw = data.encode() if isinstance(data, str) else data
    return boot_log.parse((Reply(id="dmesg.1", locator="dmesg", outcome=SourceOutcome.READ, data=raw),))


def facts(parsed: Parsed, kind: PartKind, place: str) -> Facts:
    found = [s for s in parsed.sightings if s.kind is kind and s.place == place]
    return facts_of(field for one in found for field in one.said)


def sighting(parsed: Parsed, place: str) -> Sighting:
    return next(s for s in parsed.sightings if s.place == place)


def test_freebsd() -> None:
    parsed = parse(FREEBSD)
    assert facts(parsed, PartKind.PROCESSOR, "socket:0") == {
        "maker": "AMD",
        "model": "Skogdata Nine 9900",
        "cores": 12,
        "threads": 24,
    }
    assert facts(parsed, PartKind.MEMORY, "memory") == {
        "real_bytes": 32 << 30,
        "usable_bytes": 33280000000,
    }
    kernel = facts(parsed, PartKind.KERNEL, "kernel")
    assert (kernel["release"], kernel["architecture"]) == ("13.0-RELEASE", "amd64")
    disk = facts(parsed, PartKind.STORAGE, "node:ada0")
    assert (disk["model"], disk["firmware_version"]) == ("NORVIK SSD 870 500GB", "SVT01B6Q")
    assert (disk["serial"], disk["size_bytes"]) == ("S123456", 976773168 * 512)
    assert (disk["interface"], disk["sata_now_gbit_s"]) == ("SATA", 6.0)
    assert sighting(parsed, "node:ada0").also_at == ("pci:0000:00:17.0/ata-2",)
    nvme = facts(parsed, PartKind.STORAGE, "node:nvd0")
    assert (nvme["model"], nvme["interface"]) == ("TARN NVMe 1TB", "NVMe")
    stick = facts(parsed, PartKind.STORAGE, "node:da0")
    assert (stick["interface"], stick["serial"]) == ("USB", Absent.NOT_READABLE)
    optical = facts(parsed, PartKind.OPTICAL_DRIVE, "node:cd0")
    assert "size_bytes" not in optical
    network = facts(parsed, PartKind.NETWORK, "node:igb0")
    assert (network["mac"], network["description"]) == ("02:00:5e:10:00:01", "Norvik Gigabit")
    assert sighting(parsed, "node:igb0").also_at == ("pci:0000:00:1f.6",)
    usb = [s.place for s in parsed.sightings if s.kind is PartKind.USB_DEVICE]
    assert usb == ["node:ugen0.2"]


def test_a_log_of_several_starts_tells_of_the_last() -> None:
    parsed = parse(FREEBSD + FREEBSD.replace("Nine 9900", "Ten 100").replace("34359738368", "17179869184"))
    assert facts(parsed, PartKind.PROCESSOR, "socket:0")["model"] == "Skogdata Ten 100"
    assert facts(parsed, PartKind.MEMORY, "memory")["real_bytes"] == 16 << 30


def test_openbsd() -> None:
    parsed = parse(OPENBSD)
    processor = facts(parsed, PartKind.PROCESSOR, "socket:0")
    assert processor == {"maker": "Intel", "model": "Intel(R) Invented(TM) i5-9999 CPU @ 3.00GHz", "cores": 2}
    assert facts(parsed, PartKind.MEMORY, "memory")["real_bytes"] == 17040351232
    disk = facts(parsed, PartKind.STORAGE, "node:sd0")
    assert (disk["model"], disk["firmware_version"]) == ("NORVIK SSD 870", "SVT0")
    assert (disk["size_bytes"], disk["interface"]) == (976773168 * 512, "SATA")
    assert facts(parsed, PartKind.OPTICAL_DRIVE, "node:cd0")["maker"] == "HOLL"


def test_linux() -> None:
    parsed = parse(LINUX)
    processor = facts(parsed, PartKind.PROCESSOR, "socket:0")
    assert processor["model"] == "AMD Invented 9 9900 12-Core Processor"
    assert (processor["microcode"], processor["online_threads"]) == ("0xa601203", 24)
    assert facts(parsed, PartKind.MEMORY, "memory") == {"real_bytes": 33472172 << 10}
    assert facts(parsed, PartKind.BOARD, "board") == {"model": "H-77"}
    assert facts(parsed, PartKind.FIRMWARE, "firmware") == {
        "version": "F7",
        "date": "01/15/2025",
        "mode": "UEFI",
    }
    disk = facts(parsed, PartKind.STORAGE, "node:ata2.00")
    assert (disk["model"], disk["firmware_version"]) == ("NORVIK SSD 870 500GB", "SVT01B6Q")
    assert (disk["size_bytes"], disk["sata_now_gbit_s"]) == (976773168 * 512, 6.0)
    assert sighting(parsed, "node:ata2.00").also_at == ("pci:0000:00:17.0/ata-4",)
    storage = [s.place for s in parsed.sightings if s.kind is PartKind.STORAGE]
    assert storage == ["node:ata2.00", "pci:0000:04:00.0/nvme-ns-1", "node:sdb"]
    network = facts(parsed, PartKind.NETWORK, "pci:0000:03:00.0")
    assert (network["mac"], network["kernel_name"]) == ("02:00:5e:10:00:02", "enp3s0")
    usb = facts(parsed, PartKind.USB_DEVICE, "pci:0000:00:14.0/usb-1-4")
    assert (usb["vendor_id"], usb["model"], usb["maker"]) == ("0x1234", "Keyboard", "Tarn")
    kernel = facts(parsed, PartKind.KERNEL, "kernel")
    assert (kernel["disk_error_lines"], kernel["panic_lines"]) == (1, 0)
    assert (
        kernel["first_disk_error"]
        == "blk_update_request: I/O error, dev sda, sector 2048 op 0x0:(READ) flags 0x0"
    )
    assert "first_panic" not in kernel


def test_with_two_controllers_the_port_is_not_guessed() -> None:
    second = "[    1.005000] ahci 0000:0a:00.0: AHCI 0001.0301 32 slots 2 ports 6 Gbps 0x3 impl SATA mode\n"
    parsed = parse(LINUX.replace("[    1.010000]", second + "[    1.010000]", 1))
    assert sighting(parsed, "node:ata2.00").also_at == ()


def test_an_xid_is_of_the_card_that_it_names() -> None:
    parsed = parse("NVRM: Xid (PCI:0000:9b:00): 119, pid=1\nNVRM: Xid (PCI:0000:9b:00): 79, pid=1\n")
    assert facts(parsed, PartKind.GRAPHICS, "pci:0000:9b:00.0") == {"xid_codes": "119,79"}


def test_recognised_by_content() -> None:
    for text in (FREEBSD, OPENBSD, LINUX):
        assert boot_log.recognises("x", text.encode()[:4096])
    assert not boot_log.recognises("dmesg.bin", b"\x7fELF\0\0")
    assert not boot_log.recognises("x", b"Architecture: x86_64\nCPU(s): 24\n")


def test_spoiled_logs_raise_nothing() -> None:
    source = random.Random(22)
    whole = (FREEBSD + OPENBSD + LINUX).encode()
    for _ in range(300):
        data = bytearray(whole)
        for _ in range(source.randrange(1, 60)):
            data[source.randrange(len(data))] = source.randrange(256)
        parse(bytes(data[: source.randrange(len(data))]))


def test_a_line_without_end_takes_no_time() -> None:
    for sign in ("[", "a", "(", " ", "error ", "usb 1-", "microcode: "):
        parse((sign * 2_000_000)[:2_000_000])


# real logs


def logs(reference: Path, most: int) -> Iterator[tuple[str, str]]:
    with tarfile.open(reference / "kernel-logs" / "freebsd-dmesg.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() and most else None
            if file is not None:
                most -= 1
                yield Path(member.name).stem, file.read().decode("utf-8", "replace")


def test_quiet_logs_stay_quiet_and_loud_ones_are_heard(reference: Path) -> None:
    rows = (reference / "kernel-logs" / "freebsd-dmesg-index.tsv").read_text("utf-8").splitlines()[1:]
    patterns = {row.split("\t")[0]: row.split("\t")[5] if row.count("\t") > 4 else "" for row in rows}
    quiet = 0
    for name, text in logs(reference, 1000):
        kinds = {kind for line in text.splitlines() if (kind := classify(line))}
        if not patterns[name]:
            assert not kinds, name
            quiet += 1
        assert ("mca=" in patterns[name]) == (CORRECTED in kinds), name
        assert ("panic=" not in patterns[name]) or ErrorKind.PANIC in kinds, name
    assert quiet > 50


def test_status_words_as_the_kernel_itself_read_them(reference: Path) -> None:
    record = re.compile(
        r"MCA: Bank \d+, Status (0x[0-9a-f]{16})\n(?:MCA: (?:Global|Vendor).*\n)*"
        r"MCA: CPU \d+ (COR|UNCOR) \((\d+)\)(.*)"
    )
    looked = 0
    for _, text in logs(reference, 1000):
        for match in record.finditer(text):
            check = decode_status(int(match[1], 16))
            assert check.uncorrected == (match[2] == "UNCOR")
            assert check.corrected_count == int(match[3])
            assert check.overflow == (" OVER " in match[4])
            looked += 1
    assert looked > 400
