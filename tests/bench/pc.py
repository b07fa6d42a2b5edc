"""Start the virtual PC, follow its console, and do to it what a host can do: commands, faults, unplugging."""

from __future__ import annotations

import json
import queue
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

from tests.bench import parts

WAIT_S = 420.0
ZONE_AT, PROCESSOR_AT, FAN_AT = 0x7FE00000, 0x7FE00004, 0x7FE00008
"""Where the sensors' values lie in the memory (guest/thermal.dsl): a page that the kernel leaves alone."""


_FAST = ("-accel", "tcg,thread=multi", "-smp", "4,sockets=1,cores=2,threads=2")
"""Of two accelerators the one that is always there: a KVM that starts and hangs is worse than none."""
_COUNTED = ("-accel", "tcg,thread=single", "-smp", "1", "-icount", "shift=3")
"""The guest's clock goes by 8 ns an instruction: on a busy host it is late, and none of its own times are."""


class PcEnded(Exception):
    """The virtual PC ended before it said what was waited for; the console's last lines."""


class Pc:
    """One virtual PC, in a folder of its own that holds its images, its memory and the share."""

    def __init__(
        self, image: Path, folder: Path, *, packages: Path | None = None, unreadable_sector: int = 0
    ) -> None:
        """packages: a disk image for the guest, beside its root: then its time is counted in instructions.
        unreadable_sector: of the NVMe drive; 0: none.

        A folder that holds the drives' images already is a machine that is switched on again.
        """
        self.folder, self.share = folder, folder / "share"
        self.console: list[str] = []
        self._lines: queue.Queue[str | None] = queue.Queue()
        self.share.mkdir(exist_ok=True)
        for drive in parts.DRIVES:
            if not (folder / drive.image).exists():
                _sparse(folder / drive.image, drive.size_bytes)
        _sparse(folder / "memory.bin", parts.MEMORY_BYTES)
        self._process = subprocess.Popen(
            _arguments(image, folder, packages, unreadable_sector),
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
        )
        self._reader = threading.Thread(target=self._follow, daemon=True)
        self._reader.start()
        self._socket = self._connected()
        self._monitor = self._socket.makefile("rw")
        self._monitor.readline()
        self.command("qmp_capabilities")

    def __enter__(self) -> Pc:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join()
        self._monitor.close()
        self._socket.close()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def command(self, name: str, /, **arguments: object) -> Any:
        """Send one command of QEMU's machine protocol and return its result."""
        self._monitor.write(json.dumps({"execute": name, "arguments": arguments}) + "\n")
        self._monitor.flush()
        while True:
            answer = json.loads(self._monitor.readline())
            if "error" in answer:
                raise ValueError(f"{name}: {answer['error']}")
            if "return" in answer:
                return answer["return"]

    def wait_for(self, text: str, limit_s: float = WAIT_S) -> str:
        """Return the first console line that holds a text."""
        end_s = time.monotonic() + limit_s
        while (left_s := end_s - time.monotonic()) > 0:
            try:
                line = self._lines.get(timeout=left_s)
            except queue.Empty:
                break
            if line is None:
                raise PcEnded(f"before {text!r}: {self.console[-15:]}")
            if text in line:
                return line
        raise TimeoutError(f"no {text!r} within {limit_s:g} s: {self.console[-15:]}")

    def step(self, name: str, action: Callable[[], object], limit_s: float = WAIT_S) -> None:
        """Wait until the guest is ready for a step, do the host's part, and let the guest go on."""
        self.wait_for(f"READY {name}", limit_s)
        action()
        (self.share / f"go-{name}").touch()

    def cut_power(self) -> None:
        """Switch it off at once, as a pulled plug does: what the guest had not written is lost."""
        self.command("quit")
        self._process.wait()
        self._reader.join()

    def flip_memory(self, physical_address: int, mask: int) -> None:
        """Flip bits of a byte of the memory; above 4 GiB it goes on where the hole below it began."""
        at = physical_address if physical_address < 2 * parts.GIB else physical_address - 2 * parts.GIB
        _flip(self.folder / "memory.bin", at, mask)

    def flip_drive(self, drive: parts.Drive, offset_bytes: int, mask: int) -> None:
        """Flip bits of a byte on a drive's medium, past its interface."""
        _flip(self.folder / drive.image, offset_bytes, mask)

    def heat(self, celsius: float) -> None:
        """Set the thermal zone's temperature."""
        self._write_word(ZONE_AT, round(10 * (celsius + 273.2)))

    def heat_processor(self, celsius: float) -> None:
        """Set the processor's temperature, as the board tells it."""
        self._write_word(PROCESSOR_AT, round(10 * celsius))

    def turn_fan(self, rpm: int) -> None:
        """Set the speed of the processor's fan, as the board tells it; 0: it stands."""
        self._write_word(FAN_AT, rpm + 1)

    def _write_word(self, at: int, value: int) -> None:
        with (self.folder / "memory.bin").open("r+b") as memory:
            memory.seek(at)
            memory.write(value.to_bytes(4, "little"))

    def _connected(self) -> socket.socket:
        path = self.folder / "monitor.sock"
        while self._process.poll() is None:
            door = socket.socket(socket.AF_UNIX)
            try:
                door.connect(str(path))
                return door
            except OSError:
                door.close()
                time.sleep(0.05)
        self._reader.join()
        raise PcEnded(f"QEMU ended at once: {self.console[-15:]}")

    def _follow(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if "warning: TCG" not in line:  # what the emulated processor lacks; of no matter here
                self.console.append(line.rstrip())
                self._lines.put(line)
        self._lines.put(None)


def _sparse(path: Path, size_bytes: int) -> None:
    with path.open("wb") as file:
        file.truncate(size_bytes)


def _flip(path: Path, at: int, mask: int) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        (byte,) = file.read(1)
        file.seek(at)
        file.write(bytes([byte ^ mask]))


def _arguments(image: Path, folder: Path, packages: Path | None, unreadable_sector: int) -> list[str]:
    memory_mib = parts.MEMORY_BYTES // parts.MIB
    kernel = f"console=ttyS0 quiet loglevel=3 panic=-1 memmap=4K${ZONE_AT:#x}"
    return [
        "qemu-system-x86_64",
        *(_COUNTED if packages else _FAST),
        *("-machine", "q35,memory-backend=ram", "-m", str(memory_mib)),
        *("-object", f"memory-backend-file,id=ram,size={memory_mib}M,mem-path=memory.bin,share=on"),
        *("-cpu", f"Skylake-Client,enforce=off,model-id={parts.PROCESSOR}"),
        *("-display", "none", "-nodefaults", "-no-reboot", "-serial", "stdio", "-monitor", "none"),
        *("-qmp", "unix:monitor.sock,server=on,wait=off"),
        *("-kernel", str(image / "vmlinuz"), "-initrd", str(image / "initrd"), "-append", kernel),
        *("-drive", f"if=none,id=root,file={image / 'root.sqfs'},format=raw,readonly=on,file.locking=off"),
        *("-device", "virtio-blk-pci,drive=root"),
        *(_packages(packages) if packages else ()),
        *("-fsdev", "local,id=share,path=share,security_model=none"),
        *("-device", "virtio-9p-pci,fsdev=share,mount_tag=share"),
        *("-acpitable", f"file={image / 'ssdt.aml'}"),
        *parts.smbios_arguments(folder),
        *_devices(unreadable_sector),
    ]


def _packages(image: Path) -> list[str]:
    drive = f"if=none,id=packages,file={image},format=raw,readonly=on,file.locking=off"
    return ["-drive", drive, "-device", "virtio-blk-pci,drive=packages,serial=packages"]


def _nvme(image: str, unreadable_sector: int) -> str:
    """The NVMe drive's image; with a sector that cannot be read, as QEMU's blkdebug makes one."""
    if not unreadable_sector:
        return f"if=none,id=nv0,file={image},format=raw"
    injected = {"event": "read_aio", "errno": 5, "sector": unreadable_sector, "once": "off"}
    return ",".join(
        (
            f"if=none,id=nv0,driver=raw,file.driver=blkdebug,file.image.driver=file,file.image.filename={image}",
            *(f"file.inject-error.0.{key}={value}" for key, value in injected.items()),
            "rerror=report",
        )
    )


def _devices(unreadable_sector: int) -> list[str]:
    nvme, disk, ssd, stick = parts.DRIVES
    width, height = parts.SCREEN
    devices = [
        "pcie-root-port,id=rp0,chassis=1,slot=1,x-speed=8,x-width=4",
        "pcie-root-port,id=rp1,chassis=2,slot=2,x-speed=16,x-width=16",
        "pcie-root-port,id=rp2,chassis=3,slot=3,x-speed=5,x-width=1",
        f"nvme,id=nvme0,bus=rp0,drive=nv0,serial={nvme.serial}",
        f"ide-hd,id=sata0,bus=ide.0,drive=sd0,model={disk.model},serial={disk.serial},"
        f"ver={parts.DISK_FIRMWARE},wwn={parts.DISK_WWN},rotation_rate=7200",
        f"ide-hd,id=sata1,bus=ide.1,drive=sd1,model={ssd.model},serial={ssd.serial},rotation_rate=1",
        "ide-cd,id=cd0,bus=ide.2,serial=OD-7",
        "qemu-xhci,id=xhci,p2=6,p3=6",
        f"usb-storage,id=usb0,bus=xhci.0,port=2,drive=u0,serial={stick.serial},removable=on",
        "usb-kbd,bus=xhci.0,port=3",
        f"e1000e,id=nic0,bus=rp2,netdev=n0,mac={parts.CARD_MAC}",
        "virtio-net-pci,id=nic1,netdev=n1,speed=2500,duplex=full",
        f"VGA,id=vga0,edid=on,xres={width},yres={height}",
        "ich9-intel-hda,id=hda",
        "hda-duplex,audiodev=a0",
    ]
    drives = [
        _nvme(nvme.image, unreadable_sector),
        *(
            f"if=none,id={name},file={drive.image},format=raw"
            for name, drive in zip(("sd0", "sd1", "u0"), (disk, ssd, stick), strict=True)
        ),
    ]
    return [
        *(word for drive in drives for word in ("-drive", drive)),
        *(
            "-netdev",
            "user,id=n0,restrict=on",
            "-netdev",
            "user,id=n1,restrict=on",
            "-audiodev",
            "none,id=a0",
        ),
        *(word for device in devices for word in ("-device", device)),
    ]
