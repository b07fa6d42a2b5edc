"""Ask for the PCI functions, and for the lines of the system's pci.ids that name what is fitted."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.machine.capture.files import Lister, read_file
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

DEVICES = "/sys/bus/pci/devices"
NVIDIA = "/proc/driver/nvidia/gpus"
ATTRIBUTES = (
    "vendor",
    "device",
    "subsystem_vendor",
    "subsystem_device",
    "class",
    "revision",
    "current_link_speed",
    "current_link_width",
    "max_link_speed",
    "max_link_width",
)
NAME_FILES = ("/usr/share/misc/pci.ids", "/usr/share/hwdata/pci.ids", "/usr/share/pci.ids")


def capture(root: Root) -> list[Reply]:
    lister = _devices(root)
    return [lister.reply("pci", DEVICES), _names(root, lister)]


def capture_devices(root: Root) -> list[Reply]:
    """The same without the names: what the configuration needs."""
    return [_devices(root).reply("pci", DEVICES)]


def _devices(root: Root) -> Lister:
    lister = Lister(root)
    for address in lister.names(DEVICES):
        folder = f"{DEVICES}/{address}"
        lister.target(folder)
        lister.texts(folder, ATTRIBUTES)
        lister.target(f"{folder}/driver")
        if (lister.text(f"{folder}/class") or "").startswith("0x03"):
            lister.texts(folder, ("mem_info_vram_total", "product_name", "boot_vga"))
            lister.text(f"{NVIDIA}/{address}/information")
    return lister


def _names(root: Root, lister: Lister) -> Reply:
    """The 1.4 MB file is read, and only the lines about fitted vendors and devices are kept."""
    texts = {row.path: (row.text or "").strip().removeprefix("0x") for row in lister.rows}
    folders = [
        row.path
        for row in lister.rows
        if row.path.startswith(f"{DEVICES}/") and row.link and "driver" not in row.path
    ]
    devices = {(texts.get(f"{f}/vendor", ""), texts.get(f"{f}/device", "")) for f in folders}
    makers = {vendor for vendor, _ in devices} | {texts.get(f"{f}/subsystem_vendor", "") for f in folders}
    for locator in NAME_FILES:
        answer = read_file(root, locator)
        if answer.outcome is not SourceOutcome.ABSENT:
            break
    if answer.outcome is not SourceOutcome.READ:
        return Reply("pci.names", locator, answer.outcome, b"", answer.error)
    lines = b"".join(_lines_about(answer.data, devices, makers))
    outcome = SourceOutcome.READ if lines else SourceOutcome.EMPTY
    return Reply("pci.names", locator, outcome, lines)


def _lines_about(data: bytes, devices: set[tuple[str, str]], makers: set[str]) -> Iterator[bytes]:
    """Yield the lines of vendors and of their devices, sorted by vendor.

    A vendor's line begins with its number, its devices follow after one tab; cards, after two, are left out.
    """
    data = b"\n" + data
    for maker in sorted(makers - {""}):
        begin = data.find(b"\n" + maker.encode() + b"  ") + 1
        if not begin:
            continue
        first, *rest = data[begin : _block_end(data, begin)].splitlines(keepends=True)
        yield first
        wanted = {device.encode() for vendor, device in devices if vendor == maker}
        yield from (line for line in rest if line[1:2] != b"\t" and line[1:5] in wanted)


def _block_end(data: bytes, begin: int) -> int:
    """Return where the next line begins that does not belong to the vendor whose line begins at `begin`."""
    end = data.find(b"\n", begin)
    while end >= 0 and data[end + 1 : end + 2] == b"\t":
        end = data.find(b"\n", end + 1)
    return len(data) if end < 0 else end + 1
