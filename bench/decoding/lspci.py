"""lspci's report of a server, and trees of real machines against hwloc's and lspci's own account of them."""

from __future__ import annotations

import re
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.capture import pci as capture_pci
from shipworthy.machine.parse.lspci_text import source as lspci_text
from shipworthy.machine.parse.pci import source as pci
from shipworthy.machine.parse.pci.links import gbit_s
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome

_ROW = re.compile(
    r"^(\S+) (.*) \[([0-9a-f]{4})\]: (.*) \[([0-9a-f]{4}):([0-9a-f]{4})\](?: \(rev (..)\))?$", re.M
)


def measure(folder: Path) -> Tally:
    """`folder` is the set `lshw-lspci`: every row of its one lspci report."""
    tally = Tally("lshw-lspci (lspci)")
    for file in sorted(folder.rglob("lspci*.txt")):
        text = file.read_text("utf-8")
        tally.items += 1
        try:
            parsed = lspci_text.parse((Reply("lspci-text.1", "/x", SourceOutcome.READ, file.read_bytes()),))
        except Exception as error:
            tally.crash(file.name, error)
            continue
        tally.unsupported += len(parsed.remarks)
        found = {s.place: {f.name: f.value for f in s.said} for s in parsed.sightings}
        rows = _ROW.findall(text)
        tally.hold(file.name, "functions", len([line for line in text.splitlines() if line]), len(found))
        tally.hold(file.name, "places", [f"pci:{row[0]}" for row in rows], list(found))
        for address, _, code, name, vendor, device, revision in rows:
            got = found.get(f"pci:{address}", {})
            tally.hold(
                address, "ids", (f"0x{vendor}", f"0x{device}"), (got.get("vendor_id"), got.get("device_id"))
            )
            tally.hold(address, "class", f"0x{code}", got.get("class"))
            tally.hold(address, "revision", f"0x{revision}" if revision else None, got.get("revision_id"))
            product = re.search(r"\[([^\[\]/]+)\]$", name) if code.startswith("03") else None
            if product:
                tally.hold(address, "model", product[1], got.get("model"))
    return tally


def measure_trees(folder: Path) -> Tally:
    """`folder` is the set `linux-sysfs`: its trees with PCI, against hwloc's listings and lspci."""
    tally = Tally("linux-sysfs (PCI)")
    for stem in ("32intel64-2p8co2t+8ve", "40intel64-2g2n4c+pcilocality"):
        archive = folder / "hwloc" / "linux" / f"{stem}.tar.bz2"
        if not archive.is_file():  # a sample need not have it
            continue
        with unpacked(archive) as tree:
            found = _read(tally, stem, tree)
            listing = next(folder.glob(f"hwloc/linux/{stem}.[cx]*")).read_text("utf-8")
            _hwloc(tally, stem, found, listing)
            _lspci(tally, stem, found, tree)
    for archive in sorted((folder / "ghw").glob("*.tar.gz")):
        with unpacked(archive) as tree:
            found = _read(tally, archive.name, tree)
            devices = tree / "sys/bus/pci/devices"
            names = sorted(f"pci:{entry.name}" for entry in devices.iterdir()) if devices.is_dir() else []
            tally.hold(archive.name, "functions", names, sorted(found))
            for place, said in found.items():
                attributes = devices / place.removeprefix("pci:")
                for name, file in (("vendor_id", "vendor"), ("device_id", "device"), ("class", "class")):
                    tally.hold(
                        f"{archive.name} {place}", name, (attributes / file).read_text().strip(), said[name]
                    )
    return tally


@contextmanager
def unpacked(archive: Path) -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder, tarfile.open(archive) as tar:
        members = [m for m in tar if "/cpu/" not in m.name and "sys/bus/cpu" not in m.name]
        tar.extractall(folder, members, filter="fully_trusted")
        inner = [entry for entry in Path(folder).iterdir() if entry.is_dir()]
        yield inner[0] if len(inner) == 1 and inner[0].name not in ("sys", "proc") else Path(folder)


def _read(tally: Tally, item: str, tree: Path) -> dict[str, dict[str, object]]:
    tally.items += 1
    try:
        parsed = pci.parse(tuple(capture_pci.capture(Root(tree))))
    except Exception as error:
        tally.crash(item, error)
        return {}
    tally.unsupported += len(parsed.remarks)
    return _by_place(parsed.sightings)


def _by_place(sightings: tuple[Sighting, ...]) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {}
    for sighting in sightings:
        found.setdefault(sighting.place, {}).update({f.name: f.value for f in sighting.said})
    return found


def _hwloc(tally: Tally, stem: str, found: dict[str, dict[str, object]], listing: str) -> None:
    """hwloc prints the rate of a link in GB/s; 0 where it knows of none."""
    text = re.findall(r"busid=(\S+) id=(\w{4}):(\w{4}) class=(\w{4})\(\S+(?: link=([\d.]+)GB/s)?", listing)
    rows = [(a, f"0x{v}", f"0x{d}", c, rate) for a, v, d, c, rate in text]
    for address, code, vendor, device, rate in re.findall(
        r'pci_busid="(\S+)" pci_type="(\w{4}) \[(\w{4}):(\w{4})\][^"]*" pci_link_speed="([\d.]+)"', listing
    ):
        rows.append((address, f"0x{vendor}", f"0x{device}", code, rate if float(rate) else ""))
    tally.notes[f"{stem}: hwloc rows"] = len(rows)
    for address, vendor, device, code, rate in rows:
        got = found.get(f"pci:{address}", {})
        item = f"{stem} {address}"
        tally.hold(item, "ids", (vendor, device), (got.get("vendor_id"), got.get("device_id")))
        tally.hold(item, "class", f"0x{code}", str(got.get("class"))[:6])
        if rate:
            speed, width = got.get("link_speed_gt_s"), got.get("link_width")
            known = isinstance(speed, float) and isinstance(width, int)
            ours = gbit_s(speed, width) / 8 if known else None  # type: ignore[arg-type]
            tally.hold(item, "link GB/s", round(float(rate), 1), None if ours is None else round(ours, 1))


def _lspci(tally: Tally, stem: str, found: dict[str, dict[str, object]], tree: Path) -> None:
    if shutil.which("lspci") is None:
        tally.notes["lspci"] = "not installed"
        return
    command = ["lspci", "-A", "linux-sysfs", "-O", f"sysfs.path={tree}/sys/bus/pci", "-vvnn", "-D"]
    told = subprocess.run(command, capture_output=True, check=True).stdout
    theirs = _by_place(lspci_text.parse((Reply("lspci-text.1", "/x", SourceOutcome.READ, told),)).sightings)
    tally.hold(stem, "functions by lspci", sorted(theirs), sorted(found))
    for place, want in theirs.items():
        for name in ("vendor_id", "device_id", "class", "revision_id", "subsystem_vendor_id"):
            if want.get(name) is not None:
                got = found[place].get(name)
                if name == "revision_id" and got is None:
                    continue  # kernels before 4.10 have no such attribute
                tally.hold(f"{stem} {place}", f"lspci {name}", want[name], got)
