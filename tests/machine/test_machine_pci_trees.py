"""PCI functions of recorded real machines, against hwloc's listing, lspci, and the trees' own files."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.capture import pci as capture
from shipworthy.machine.parse.lspci_text import source as lspci_text
from shipworthy.machine.parse.pci import source as pci
from shipworthy.machine.parse.pci.links import gbit_s
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.base import Scalar
from shipworthy.model.reading import SourceOutcome
from tests.machine.recorded import link, write

Unpack = Callable[[str], Path]
HWLOC = "linux-sysfs/hwloc/linux"


def by_place(parsed: Parsed) -> dict[str, dict[str, Scalar | None]]:
    found: dict[str, dict[str, Scalar | None]] = {}
    for sighting in parsed.sightings:
        found.setdefault(sighting.place, {}).update({f.name: f.value for f in sighting.said})
    return found


def read(folder: Path) -> dict[str, dict[str, Scalar | None]]:
    return by_place(pci.parse(tuple(capture.capture(Root(folder)))))


def test_links_behind_switches_carry_what_hwloc_prints(unpacked: Unpack, reference: Path) -> None:
    """hwloc prints GB/s after the encoding's overhead; two servers' halves hang behind switches."""
    found = read(unpacked(f"{HWLOC}/32intel64-2p8co2t+8ve.tar.bz2"))
    listing = (reference / HWLOC / "32intel64-2p8co2t+8ve.console").read_text()
    rows = re.findall(r"busid=(\S+) id=(\w+):(\w+) class=(\w+)\(\S+ link=([\d.]+)GB/s", listing)
    assert len(rows) > 20
    for address, vendor, device, code, rate in rows:
        said = found[f"pci:{address}"]
        assert (said["vendor_id"], said["device_id"]) == (f"0x{vendor}", f"0x{device}")
        assert str(said["class"]).startswith(f"0x{code}")
        speed, width = said["link_speed_gt_s"], said["link_width"]
        assert isinstance(speed, float) and isinstance(width, int)
        assert gbit_s(speed, width) / 8 == pytest.approx(float(rate), abs=0.01)
    for address, _, _, _, rate in rows:
        said = found[f"pci:{address}"]
        if "path_width" in said:  # all of it runs at one rate, so no way is narrower than its end
            speed, width = said["path_speed_gt_s"], said["path_width"]
            assert isinstance(speed, float) and isinstance(width, int)
            assert gbit_s(speed, width) / 8 <= float(rate) + 0.01


@pytest.mark.parametrize("stem", ["32intel64-2p8co2t+8ve", "40intel64-2g2n4c+pcilocality"])
def test_a_tree_reads_as_lspci_reads_it(unpacked: Unpack, stem: str) -> None:
    if shutil.which("lspci") is None:
        pytest.skip("lspci is not installed")
    folder = unpacked(f"{HWLOC}/{stem}.tar.bz2")
    command = ["lspci", "-A", "linux-sysfs", "-O", f"sysfs.path={folder}/sys/bus/pci", "-vvnn"]
    told = subprocess.run(command, capture_output=True, check=True).stdout
    theirs = by_place(lspci_text.parse((Reply("lspci-text.1", "/x", SourceOutcome.READ, told),)))
    ours = read(folder)
    assert set(theirs) == set(ours) and len(ours) > 25
    for place, want in theirs.items():
        for name in ("vendor_id", "device_id", "class", "subsystem_vendor_id"):
            if want.get(name) is not None:
                assert ours[place][name] == want[name], (place, name)


@pytest.fixture(scope="module")
def laptop_and_router(reference: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The PCI part of node_exporter's sysfs fixture, a text archive (`.ttar`)."""
    folder = tmp_path_factory.mktemp("ttar")
    text = (reference / "linux-sysfs/node_exporter/sys.ttar").read_bytes().decode("utf-8", "replace")
    for entry in re.split(r"^# ttar.*\n", text, flags=re.MULTILINE):
        path = re.search(r"^Path: (\S+)$", entry, re.MULTILINE)
        if path is None or not re.search(r"pci", path[1]) or path[1].endswith("/config"):
            continue  # the bytes of `config` were spoiled when the archive was made
        target = re.search(r"^SymlinkTo: (\S+)$", entry, re.MULTILINE)
        lines = re.search(r"^Lines: (\d+)\n", entry, re.MULTILINE)
        if target is not None and path[1].startswith("sys/bus/pci/devices/"):
            link(folder, path[1], target[1].removeprefix("../../../").join(("sys/", "")))
        elif lines is not None:
            content = entry[lines.end() :].splitlines()[: int(lines[1])]
            write(folder, path[1], "\n".join(content).replace("EOF", "") + "\n")
    return folder


def test_a_fast_drive_in_a_slower_port_is_not_narrowed(laptop_and_router: Path) -> None:
    """The drive could do 16 GT/s, its port 8 GT/s on eight lanes: 8 GT/s on four is all there is."""
    said = read(laptop_and_router)["pci:0000:01:00.0"]
    assert (said["link_speed_gt_s"], said["link_max_speed_gt_s"], said["link_width"]) == (8.0, 16.0, 4)
    assert (said["path_speed_gt_s"], said["path_speed_max_gt_s"]) == (8.0, 8.0)
    assert (said["path_width"], said["path_width_max"]) == (4, 4)
    assert said["path_narrowed_at"] == "none"
    assert (said["aer_correctable"], said["aer_nonfatal"], said["aer_fatal"]) == (0, 0, 0)
    assert said["power_state"] == "D0"


def test_errors_and_links_of_the_network_card(laptop_and_router: Path) -> None:
    said = read(laptop_and_router)["pci:0000:45:00.0"]
    assert (said["link_speed_gt_s"], said["link_width"]) == (5.0, 4)
    assert said["aer_correctable"] == 0 and "aer_correctable_kinds" not in said


def test_every_vendors_devices_are_found_past_remarks_in_the_list(reference: Path, tmp_path: Path) -> None:
    """124 vendors have remark lines between their devices; what follows one is still theirs."""
    import lzma

    text = lzma.decompress((reference / "names" / "pci.ids.xz").read_bytes())
    write(tmp_path, "usr/share/misc/pci.ids", text)
    fitted = {
        "0000:01:00.0": ("10de", "2684"),
        "0000:02:00.0": ("1002", "744c"),
        "0000:03:00.0": ("8086", "15f3"),
    }
    for address, (vendor, device) in fitted.items():
        folder = f"sys/devices/pci0000:00/{address}"
        for name, value in (("vendor", vendor), ("device", device), ("class", "020000")):
            write(tmp_path, f"{folder}/{name}", f"0x{value}\n")
        link(tmp_path, f"sys/bus/pci/devices/{address}", folder)
    found = read(tmp_path)
    for address, (vendor, device) in fitted.items():
        block = re.split(rb"^(?=[0-9a-f]{4}  )", text.split(b"\nC 00")[0], flags=re.MULTILINE)
        (mine,) = [piece for piece in block if piece.startswith(vendor.encode())]
        name = re.search(rb"^\t" + device.encode() + rb"  (.*)$", mine, re.MULTILINE)
        assert name is not None and found[f"pci:{address}"]["model"] == name[1].decode()
