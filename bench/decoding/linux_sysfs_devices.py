"""Recorded trees: network, batteries, optical drives and memory error counts against independent readings.

Three references: a plain read of the same files here, which shares no code with the sources; what hwloc wrote
of two of the machines (name, address and place of each network interface, and the optical drive); and the
links in the trees themselves, of which each must be a part or be named.
"""

from __future__ import annotations

import importlib.util
import re
import tarfile
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import ModuleType

from defusedxml import ElementTree

from decoding.tally import Tally
from shipworthy.machine.capture import battery as capture_battery
from shipworthy.machine.capture import bluetooth as capture_bluetooth
from shipworthy.machine.capture import edac as capture_edac
from shipworthy.machine.capture import firmware as capture_firmware
from shipworthy.machine.capture import network as capture_network
from shipworthy.machine.capture import optical as capture_optical
from shipworthy.machine.capture import security as capture_security
from shipworthy.machine.capture import sound as capture_sound
from shipworthy.machine.capture import usb as capture_usb
from shipworthy.machine.capture import wireless as capture_wireless
from shipworthy.machine.listing import Listing
from shipworthy.machine.parse import battery, bluetooth, edac, firmware, security, sound, wireless
from shipworthy.machine.parse.network import source as network
from shipworthy.machine.parse.optical import source as optical
from shipworthy.machine.parse.usb import source as usb
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.base import Scalar

Told = dict[str, dict[str, Scalar | None]]

SOURCES: dict[str, tuple[Callable[[Root], Sequence[Reply]], Callable[[tuple[Reply, ...]], Parsed]]] = {
    "usb": (capture_usb.capture, usb.parse),
    "network": (capture_network.capture, network.parse),
    "wireless": (capture_wireless.capture, wireless.parse),
    "bluetooth": (capture_bluetooth.capture, bluetooth.parse),
    "sound": (capture_sound.capture, sound.parse),
    "security": (capture_security.capture, security.parse),
    "battery": (capture_battery.capture, battery.parse),
    "optical": (capture_optical.capture, optical.parse),
    "edac": (capture_edac.capture, edac.parse),
    "boot": (capture_firmware.capture_boot, firmware.parse_boot),
}
WANTED = re.compile(
    r"(^|/)(sys/(class|block|bus|firmware|devices/(pci|platform|virtual|system/edac))|proc/(asound|sys))"
)
FUNCTION = re.compile(r"[0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]")


def measure(folder: Path) -> Tally:
    tally = Tally("linux-sysfs-devices")
    with tempfile.TemporaryDirectory() as name:
        for machine, root in _machines(folder, Path(name)):
            tally.items += 1
            told = {source: _read(tally, machine, source, root) for source in SOURCES}
            _hold_network(tally, machine, root, told["network"])
            _hold_batteries(tally, machine, root, told["battery"])
            _hold_counts(tally, machine, root, told["edac"])
            _hold_optical(tally, machine, root, told["optical"])
            _hold_to_hwloc(tally, machine, folder, told)
            for source in ("usb", "wireless", "bluetooth", "sound", "security"):
                tally.hold(machine, f"{source}: parts of what is not there", 0, len(told[source]))
    return tally


def _machines(folder: Path, work: Path) -> Iterator[tuple[str, Path]]:
    """Unpack each archive, and yield its name and the folder that holds `sys`."""
    archives = sorted(path for path in folder.rglob("*.tar.*") if "x86-cpuid" not in path.parts)
    for number, archive in enumerate(archives):
        inner = work / str(number)
        with tarfile.open(archive) as tar:
            members = [member for member in tar if WANTED.search(member.name)]
            tar.extractall(inner, members, filter="fully_trusted")  # links are kept as they are
        yield from (
            (archive.name.partition(".tar")[0], found.parent)
            for found in sorted(inner.rglob("sys"))
            if found.is_dir() and len(found.relative_to(inner).parts) <= 3
        )
    for archive in sorted(folder.rglob("sys.ttar")):
        yield archive.parent.name, _ttar().unpack(archive, work / "ttar")


def _ttar() -> ModuleType:
    """Return the reader of plain text archives, which is the tests'."""
    file = Path(__file__).resolve().parents[2] / "tests/machine/ttar.py"
    spec = importlib.util.spec_from_file_location("ttar", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _read(tally: Tally, machine: str, name: str, root: Path) -> Told:
    """Return what a source says by place, all its replies together; counts what it asked for and left."""
    capture, parse = SOURCES[name]
    told: Told = {}
    try:
        replies = tuple(capture(Root(root)))
        parsed = parse(replies)
    except Exception as error:
        tally.crash(f"{machine} {name}", error)
        return told
    for sighting in parsed.sightings:
        fields = told.setdefault(sighting.place, {})
        fields.update({word.name: word.value for word in sighting.said})
    for remark in parsed.remarks:
        tally.notes[f"remark: {remark.kind.value}"] = (
            int(tally.notes.get(f"remark: {remark.kind.value}", 0)) + 1
        )
    if name in ("battery", "edac"):
        tally.unsupported += _left(root, replies)
    return told


def _left(root: Path, replies: Sequence[Reply]) -> int:
    """Return how many files of a device lie beside those that were asked for."""
    left = 0
    for reply in replies:
        if reply.read:
            listing = Listing(reply.data)
            for file in (root / reply.locator.lstrip("/")).glob("*/*"):
                left += file.is_file() and listing.row("/" + file.relative_to(root).as_posix()) is None
    return left


def _plain(path: Path) -> str | None:
    """Return a file's ASCII text, or None: the plain reading that the sources are held to."""
    try:
        return path.read_bytes().decode("ascii", "ignore").strip()
    except OSError:
        return None


def _number(path: Path) -> int | None:
    text = _plain(path)
    return int(text) if text is not None and re.fullmatch(r"-?\d+", text) else None


def _hold_network(tally: Tally, machine: str, root: Path, told: Told) -> None:
    by_name = {fields["kernel_name"]: (place, fields) for place, fields in told.items()}
    expected = 0
    for entry in sorted((root / "sys/class/net").glob("*")):
        real = entry.resolve()
        functions = FUNCTION.findall(real.as_posix())
        if not real.is_dir() or not functions:
            continue
        expected += 1
        place, fields = by_name.get(entry.name, ("", {}))
        speed, flags = _number(real / "speed"), _plain(real / "flags")
        up = speed is not None and speed > 0
        carrier = _plain(real / "carrier") or None  # empty where whoever recorded it could not read it
        item = f"{machine} {entry.name}"
        tally.hold(item, "place", f"pci:{functions[-1]}", place)
        tally.hold(item, "mac", _plain(real / "address"), fields.get("mac"))
        tally.hold(item, "speed_mbit_s", speed if up else None, fields.get("speed_mbit_s"))
        tally.hold(item, "duplex", _duplex(_plain(real / "duplex")), fields.get("duplex"))
        tally.hold(item, "carrier", None if carrier is None else carrier == "1", fields.get("carrier"))
        tally.hold(item, "enabled", None if not flags else int(flags, 16) % 2 == 1, fields.get("enabled"))
        own = _plain(real / "addr_assign_type") == "0" and _plain(real / "type") in ("1", None)
        tally.hold(
            item, "permanent_mac", _plain(real / "address") if own else None, fields.get("permanent_mac")
        )
    tally.hold(machine, "network interfaces", expected, len(told))


def _duplex(text: str | None) -> str | None:
    return text if text in ("full", "half") else None


def _hold_batteries(tally: Tally, machine: str, root: Path, told: Told) -> None:
    folder = root / "sys/class/power_supply"
    entries = [entry for entry in sorted(folder.glob("*")) if (entry / "type").is_file()]
    tally.hold(machine, "batteries and adapters", len(entries), len(told))
    for entry in entries:
        fields = told.get(f"power:{entry.name}", {})
        item = f"{machine} {entry.name}"
        if _plain(entry / "type") != "Battery":
            online = _plain(entry / "online")
            tally.hold(item, "online", None if online is None else online != "0", fields.get("online"))
            continue
        full, design = _number(entry / "energy_full"), _number(entry / "energy_full_design")
        assert full is not None
        assert design is not None
        wanted: dict[str, object] = {
            "maker": _plain(entry / "manufacturer"),
            "model": _plain(entry / "model_name"),
            "serial": _plain(entry / "serial_number"),
            "status": _plain(entry / "status"),
            "technology": _plain(entry / "technology"),
            "capacity_percent": _number(entry / "capacity"),
            "energy_full_wh": full / 1e6,
            "energy_design_wh": design / 1e6,
            "energy_now_wh": (_number(entry / "energy_now") or 0) / 1e6,
            "health_ratio": round(full / design, 4),
            "voltage_mv": (_number(entry / "voltage_now") or 0) // 1000,
            "voltage_design_mv": (_number(entry / "voltage_min_design") or 0) // 1000,
            "cycles": _number(entry / "cycle_count") or None,
        }
        for name, value in wanted.items():
            tally.hold(item, name, value, fields.get(name))


def _hold_counts(tally: Tally, machine: str, root: Path, told: Told) -> None:
    for controller in sorted((root / "sys/devices/system/edac/mc").glob("mc[0-9]*")):
        fields = told.get(f"edac:{controller.name}", {})
        for file, name in (("ce", "corrected_errors"), ("ue", "uncorrected_errors")):
            item = f"{machine} {controller.name}"
            tally.hold(item, name, _number(controller / f"{file}_count"), fields.get(name))
            unplaced = _number(controller / f"{file}_noinfo_count")
            tally.hold(item, f"{name}_unplaced", unplaced, fields.get(f"{name}_unplaced"))
            for count in sorted(controller.glob(f"csrow*/ch*_{file}_count")):
                row, channel = count.parent.name[5:], count.name[2:].partition("_")[0]
                place = f"edac:{controller.name}/csrow-{row}-channel-{channel}"
                tally.hold(f"{item} {row}.{channel}", name, _number(count), told.get(place, {}).get(name))


def _hold_optical(tally: Tally, machine: str, root: Path, told: Told) -> None:
    names = {entry.name for entry in (root / "sys/block").glob("sr*") if entry.resolve().is_dir()}
    tally.hold(machine, "optical drives", names, {fields["kernel_name"] for fields in told.values()})
    for fields in told.values():
        device = root / "sys/block" / str(fields["kernel_name"]) / "device"
        for name, file in (("maker", "vendor"), ("model", "model"), ("firmware_version", "rev")):
            tally.hold(f"{machine} {fields['kernel_name']}", name, _plain(device / file), fields[name])


def _hold_to_hwloc(tally: Tally, machine: str, folder: Path, told: dict[str, Told]) -> None:
    """What hwloc wrote of the same tree: network interfaces with address and function, and the drive."""
    by_name = {fields["kernel_name"]: (place, fields) for place, fields in told["network"].items()}
    for name, address, function in _hwloc_networks(folder / "hwloc/linux", machine):
        place, fields = by_name.get(name, ("", {}))
        tally.hold(f"{machine} {name}", "mac, by hwloc", address, fields.get("mac"))
        tally.hold(f"{machine} {name}", "place, by hwloc", f"pci:{function}", place)
        tally.notes["interfaces by hwloc"] = int(tally.notes.get("interfaces by hwloc", 0)) + 1


def _hwloc_networks(folder: Path, machine: str) -> Iterator[tuple[str, str, str]]:
    """Yield name, address and PCI function, from hwloc's XML or from its text for the console."""
    xml, console = folder / f"{machine}.xml", folder / f"{machine}.console"
    if xml.is_file():
        for function in ElementTree.parse(xml).iter("object"):
            for child in function.findall("object[@type='OSDev']"):
                address = child.find("info[@name='Address']")
                if address is not None:
                    yield child.get("name"), address.get("value"), function.get("pci_busid")
    elif console.is_file():
        function = ""
        for line in console.read_text("utf-8").splitlines():
            bus = re.search(r"busid=([0-9a-f:.]+)", line)
            function = bus[1] if bus else function
            found = re.search(r'OSDev\[Network\].*Address=([0-9a-f:]+)\) "(\S+)"', line)
            if found:
                yield found[2], found[1], function
