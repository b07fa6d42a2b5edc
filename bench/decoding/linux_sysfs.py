"""Recorded trees of sysfs against what lscpu, lsblk, hwloc and the files themselves say of them."""

from __future__ import annotations

import re
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from decoding.cpu import Facts, facts, reply
from decoding.tally import Tally
from shipworthy.machine.capture import block as capture_block
from shipworthy.machine.capture import cpu as capture_cpu
from shipworthy.machine.parse import block
from shipworthy.machine.parse.cpu import cpuid
from shipworthy.machine.parse.cpu import source as cpu
from shipworthy.machine.parse.cpu.id_forms import MOST_BYTES
from shipworthy.machine.root import Root
from shipworthy.machine.sensors import Sampler, list_columns
from shipworthy.model.time import PretendClock

UNREAD = re.compile(r"/(power|mq|trace|iosched|memory\d+|integrity|cpuidle|microcode|hotplug)(/|$)")
CACHES = (("L1dCache", "l1d_bytes"), ("L2Cache", "l2_bytes"), ("L3Cache", "l3_bytes"))
UNITS = {"KiB": 1 << 10, "MiB": 1 << 20, "KB": 1 << 10, "MB": 1 << 20}


def measure(folder: Path) -> Tally:
    tally = Tally(folder.name)
    for part in (_lscpu_trees, _lsblk_trees, _ghw_trees, _hwloc_trees, _cpuid_dumps, _hwmon_trees):
        part(tally, folder)
    return tally


@contextmanager
def tree(archive: Path) -> Iterator[Path]:
    """A tree unpacked, from its folder that holds `sys`. Links are kept as they are."""
    with tempfile.TemporaryDirectory() as name, tarfile.open(archive) as whole:
        wanted = [member for member in whole if not UNREAD.search(member.name)]
        whole.extractall(name, wanted, filter="fully_trusted")
        yield next(path for path in (Path(name), *Path(name).iterdir()) if (path / "sys").is_dir())


def _tried(tally: Tally, item: str, look: Callable[[], None]) -> None:
    tally.items += 1
    try:
        look()
    except Exception as error:
        tally.crash(item, error)


def processors(root: Root) -> list[Facts]:
    """The facts of each socket, from all sources of processors together."""
    parsed = (
        cpu.parse_cpuinfo(tuple(capture_cpu.capture_cpuinfo(root))),
        cpu.parse_topology(tuple(capture_cpu.capture_topology(root))),
    )
    places: dict[str, Facts] = {}
    for one in parsed:
        for sighting in one.sightings:
            places.setdefault(sighting.place, {}).update({s.name: s.value for s in sighting.said})
    return [places[place] for place in sorted(places)]


def summed(sockets: list[Facts], name: str) -> int:
    return sum(int(socket.get(name) or 0) for socket in sockets)


def _lscpu_trees(tally: Tally, folder: Path) -> None:
    for archive in sorted((folder / "util-linux/dumps").glob("*.tar.gz")):
        item = archive.name.removesuffix(".tar.gz")
        text = (folder / f"util-linux/expected/lscpu-{item}").read_text("utf-8")
        said = dict(re.findall(r"^(.+?):\s+(.*)$", text, re.MULTILINE))

        def look(archive: Path = archive, item: str = item, said: dict[str, str] = said) -> None:
            with tree(archive) as root:
                sockets = processors(Root(root))
            cores, each = int(said["Core(s) per socket"]), int(said["Thread(s) per core"])
            tally.hold(item, "sockets", int(said["Socket(s)"]), len(sockets))
            tally.hold(item, "cores", [cores] * len(sockets), [s["cores"] for s in sockets])
            tally.hold(item, "threads", [cores * each] * len(sockets), [s["threads"] for s in sockets])
            tally.hold(item, "name", " ".join(said["Model name"].split()), sockets[0]["model"])
            tally.hold(item, "family", int(said["CPU family"]), sockets[0]["family"])
            tally.hold(item, "model", int(said["Model"]), sockets[0]["model_number"])
            tally.hold(item, "stepping", int(said["Stepping"]), sockets[0]["stepping"])
            if "CPU max MHz" in said:
                tally.hold(item, "clock", int(float(said["CPU max MHz"])), sockets[0]["max_mhz"])
            for line, field in (
                ("L1d cache", "l1d_bytes"),
                ("L2 cache", "l2_bytes"),
                ("L3 cache", "l3_bytes"),
            ):
                match = re.match(r"(\d+) (KiB|MiB)", said.get(line, ""))
                if match:
                    tally.hold(item, line, int(match[1]) * UNITS[match[2]], summed(sockets, field))

        _tried(tally, item, look)


def _lsblk_trees(tally: Tally, folder: Path) -> None:
    for archive in sorted((folder / "util-linux/dumps").glob("simple-*.tar.xz")):
        item = archive.name.removesuffix(".tar.xz")
        expected = folder / "util-linux/expected"
        sizes = re.findall(
            r"^(\w+) +\w+ +\d+:\d+ +\d +([\d.]+)G disk",
            (expected / f"lsblk-{item}-basic").read_text("utf-8"),
            re.MULTILINE,
        )
        models = (expected / f"lsblk-{item}-vendor").read_text("utf-8")

        def look(
            archive: Path = archive,
            item: str = item,
            sizes: list[tuple[str, str]] = sizes,
            models: str = models,
        ) -> None:
            with tree(archive) as root:
                found = facts(block.parse(tuple(capture_block.capture(Root(root)))))
            drives = {str(drive["kernel_name"]): drive for drive in found}
            tally.hold(item, "disks", sorted(name for name, _ in sizes), sorted(drives))
            for name, size in sizes:
                drive = drives.get(name, {})
                gib = float(drive.get("size_bytes") or 0) / (1 << 30)
                tally.hold(f"{item} {name}", "size within a tenth", True, abs(gib - float(size)) <= 0.05)
                line = next((line for line in models.splitlines() if line.startswith(name + " ")), "")
                tally.hold(f"{item} {name}", "model", True, str(drive.get("model")) in line)

        _tried(tally, item, look)


def _ghw_trees(tally: Tally, folder: Path) -> None:
    """Against a count of our own in /proc/cpuinfo, and the kernel's list of those online."""
    for archive in sorted((folder / "ghw").glob("*.tar.gz")):
        item = archive.name.removesuffix(".tar.gz")

        def look(archive: Path = archive, item: str = item) -> None:
            with tree(archive) as root:
                sockets = processors(Root(root))
                text = (root / "proc/cpuinfo").read_text("utf-8")
                listed = root / "sys/devices/system/cpu/online"
                online = listed.read_text("ascii").strip() if listed.is_file() else ""
            ids = re.findall(r"^physical id\s*: (\d+)", text, re.MULTILINE)
            tally.hold(item, "sockets", max(len(set(ids)), 1), len(sockets))
            names = {" ".join(n.split()) for n in re.findall(r"^model name\s*: (.*)$", text, re.MULTILINE)}
            tally.hold(item, "names", names, {socket.get("model") for socket in sockets})
            count = len(re.findall(r"^processor\s*:", text, re.MULTILINE))
            tally.hold(item, "threads online", count, summed(sockets, "online_threads"))
            if online and count == len(sockets):
                mine = ",".join(str(socket.get("online_cpus")) for socket in sockets)
                tally.hold(item, "those online", online.replace("-", ","), mine)

        _tried(tally, item, look)


def _hwloc_said(stem: Path) -> tuple[dict[str, int], dict[str, int], dict[str, int], str]:
    """Return counts of things, bytes of caches, cores of each kind, and the text."""
    counts: dict[str, int] = {}
    sizes: dict[str, int] = {}
    kinds: dict[str, int] = {}
    xml = stem.with_name(stem.name + ".xml")
    if xml.is_file():
        text = xml.read_text("utf-8")
        rows = re.findall(r'<object type="(\w+)"([^>]*)', text)
        for kind, rest in rows:
            size = re.search(r'cache_size="(\d+)"', rest)
            data = re.search(r'cache_type="2"', rest) is None
            kind = "L1dCache" if kind == "L1Cache" and data else kind
            counts[kind] = counts.get(kind, 0) + 1
            if size and data:
                sizes[kind] = sizes.get(kind, 0) + int(size[1])
    else:
        text = stem.with_name(stem.name + ".console").read_text("utf-8")
        for kind, rest in re.findall(r"^ *(\w+) L#\d+ ?(.*)$", text, re.MULTILINE):
            counts[kind] = counts.get(kind, 0) + 1
            size = re.search(r"size=(\d+)(KiB|KB|MiB|MB)", rest)
            if size:
                sizes[kind] = sizes.get(kind, 0) + int(size[1]) * UNITS[size[2]]
            if of := re.search(r"cpukind=(\d)", rest):
                kinds[of[1]] = kinds.get(of[1], 0) + (kind == "Core")
    return counts, sizes, kinds, text


def _hold_hwloc(tally: Tally, item: str, stem: Path, sockets: list[Facts]) -> None:
    counts, sizes, kinds, text = _hwloc_said(stem)
    tally.hold(item, "sockets", counts["Package"], len(sockets))
    tally.hold(item, "cores", counts["Core"], summed(sockets, "cores"))
    tally.hold(item, "threads", counts["PU"], summed(sockets, "threads"))
    for kind, field in CACHES:
        if any(field in socket for socket in sockets):
            tally.hold(item, field, sizes.get(kind), summed(sockets, field))
        elif kind in sizes:
            tally.unsupported += 1  # who shares it is not told by the leaves that are decoded
    if len(kinds) > 1:
        names = ("efficiency_cores", "performance_cores")
        tally.hold(item, "kinds", [kinds["0"], kinds["1"]], [sockets[0].get(n) for n in names])
    name = re.search(r'(?:name="CPUModel" value=|CPUModel=)"([^"]*)"', text)
    if name:
        tally.hold(item, "name", " ".join(name[1].split()) or None, sockets[0].get("model"))


def _hwloc_trees(tally: Tally, folder: Path) -> None:
    for archive in sorted((folder / "hwloc/linux").glob("*.tar.bz2")):
        stem = archive.with_name(archive.name.removesuffix(".tar.bz2"))

        def look(archive: Path = archive, stem: Path = stem) -> None:
            with tree(archive) as root:
                sockets = processors(Root(root))
            _hold_hwloc(tally, stem.name, stem, sockets)

        _tried(tally, stem.name, look)


def _cpuid_dumps(tally: Tally, folder: Path) -> None:
    """A file for each processor; put together as a tool that writes one file would."""
    for archive in sorted((folder / "hwloc/x86-cpuid").glob("*.tar.bz2")):
        stem = archive.with_name(archive.name.removesuffix(".tar.bz2"))

        def look(archive: Path = archive, stem: Path = stem) -> None:
            files: dict[int, bytes] = {}
            with tarfile.open(archive) as whole:
                for member in whole:
                    match = re.search(r"/pu(\d+)$", member.name)
                    file = whole.extractfile(member) if match else None
                    if match and file is not None:
                        files[int(match[1])] = file.read()
            data = b"".join(b"CPU %d:\n%s" % (number, files[number]) for number in sorted(files))
            if len(data) > MOST_BYTES:
                tally.unsupported += 1
                return
            _hold_hwloc(tally, stem.name, stem, facts(cpuid.parse(reply("cpuid", data))))

        _tried(tally, stem.name, look)


def _hwmon_trees(tally: Tally, folder: Path) -> None:
    """Every channel of the kinds that are read, with the number that its file has and its own label."""
    with tempfile.TemporaryDirectory() as name:
        with tarfile.open(folder / "telegraf-hwmon-sysfs.tar.xz") as whole:
            whole.extractall(name, filter="fully_trusted")
        trees = sorted(path.parent.parent.parent for path in Path(name).rglob("sys/class/hwmon"))
        for root in trees:
            _tried(tally, root.name, lambda root=root: _hold_hwmon(tally, root))
    with tempfile.TemporaryDirectory() as name:
        unpack_ttar((folder / "node_exporter/sys.ttar").read_bytes(), Path(name))
        _tried(tally, "node_exporter", lambda: _hold_hwmon(tally, Path(name)))


def _hold_hwmon(tally: Tally, root: Path) -> None:
    columns = list_columns(Root(root))
    values = dict(
        zip((c.source for c in columns), Sampler(Root(root), columns, PretendClock()).sample(), strict=True)
    )
    labels = {column.source: column.label for column in columns}
    wanted = re.compile(r"(temp|fan|freq|power)\d+_input")
    divisors = {"temp": 1000, "fan": 1, "freq": 1_000_000, "power": 1_000_000}
    for chip in sorted((root / "sys/class/hwmon").iterdir()):
        for file in sorted(chip.iterdir()) if chip.is_dir() else ():
            match = wanted.fullmatch(file.name)
            if match is None:
                continue
            source = f"/sys/class/hwmon/{chip.name}/{file.name}"
            number = int(file.read_text("ascii")) / divisors[match[1]]
            tally.hold(f"{root.name} {source}", "value", number, values.get(source))
            label = file.with_name(file.name.replace("_input", "_label"))
            if label.is_file():
                tally.hold(source, "label", label.read_text("utf-8").strip(), labels.get(source))


def unpack_ttar(data: bytes, folder: Path) -> None:
    """A plain archive: `Path:`, then `Lines:` and so many lines, or `SymlinkTo:`."""
    lines = data.decode("utf-8", "replace").split("\n")
    path, at = "", 0
    while at < len(lines):
        word, _, rest = lines[at].partition(": ")
        at += 1
        if word == "Directory":
            (folder / rest).mkdir(parents=True, exist_ok=True)
        elif word == "Path":
            path = rest
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
        elif word == "SymlinkTo":
            (folder / path).symlink_to(rest)
        elif word == "Lines":
            body = "\n".join(lines[at : at + int(rest)]).removesuffix("EOF")
            (folder / path).write_text(body.replace("NULLBYTE", "\0"), "utf-8")
            at += int(rest)
