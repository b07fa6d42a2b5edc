"""What runs inside the virtual PC for the burn-ins: each run is a command, and the host plants its faults.

The unit's folder lies on the disk or on the SSD, which the storage load then works on.
"""

import fcntl
import json
import os
import pathlib
import shutil
import struct
import subprocess
import sys
import time

SHARE = pathlib.Path("/mnt/share")
PACKED, PACKAGES = pathlib.Path("/mnt/packed"), pathlib.Path("/mnt/packages")
DISK, SSD = pathlib.Path("/mnt/disk"), pathlib.Path("/mnt/ssd")
SERIALS = {DISK: "SKG-1007", SSD: "SKG-2008"}
SSD_PLACE = "pci:0000:00:1f.2/ata-2"
READ = "bytes read and compared"
FIEMAP, FIEMAP_BYTES, EXTENT_BYTES = 0xC020660B, 32, 56  # FS_IOC_FIEMAP, <linux/fiemap.h>
FLIPS, FLIPPED_S = 20, 3.0  # a march goes over all of its memory several times a second
SAFE_S = 4.0  # in which what is logged has surely come to the disk: it is brought there each second
PROCESSOR = """
from llvmlite import binding
print(binding.get_host_cpu_name(), binding.get_host_cpu_features().flatten())
"""
sys.path.insert(0, str(SHARE))


def said(**named):
    print("SAID", json.dumps(named))


def ask_host(name):
    """Let the host do its part, and wait until it has."""
    print("READY", name)
    while not (SHARE / f"go-{name}").exists():
        time.sleep(0.05)


def environment():
    own = {"PYTHONPATH": str(PACKAGES), "HOME": "/tmp", "LC_ALL": "C.UTF-8"}
    return own | {"PATH": os.environ["PATH"]}


def start(name, *words):
    """Start the tool; its talk goes to a file of the share."""
    with (SHARE / f"talk-{name}.txt").open("ab") as talk:
        return subprocess.Popen(
            [sys.executable, "-m", "shipworthy", *words], env=environment(), stdout=talk, stderr=talk
        )


def lines(folder):
    """Return the lines of the newest segment so far, with an event's or report's values by name."""
    logs = sorted((folder / "burn-in").glob("log-*.jsonl"))
    if not logs:
        return []
    found = [json.loads(line) for line in logs[-1].read_bytes().split(b"\n")[:-1]]
    for line in found:
        line |= {value["name"]: value["value"] for value in line.get("values", ())}
    return found


def find(folder, /, **named):
    """Return the lines that have these values."""
    return [line for line in lines(folder) if all(line.get(name) == value for name, value in named.items())]


def wait_for(folder, process, /, *, within_s=600.0, **named):
    """Return the first line with these values; None where the run, or the time, ends before it comes."""
    until_s = time.monotonic() + within_s
    while process.poll() is None and time.monotonic() < until_s:
        if seen := find(folder, **named):
            return seen[0]
        time.sleep(0.2)
    return None


def wait_until(folder, process, t_s):
    """Wait for a row of the sensors at that time of the segment, or the run's end."""
    while process.poll() is None and max((row["t_s"] for row in find(folder, kind="row")), default=0) < t_s:
        time.sleep(0.2)


def block_device(serial):
    """Return the device of the drive with a serial: which name it has is another one each time."""
    for disk in pathlib.Path("/sys/block").iterdir():
        for file in ("serial", "device/vpd_pg80"):  # of virtio; of ATA, by SCSI's page of that number
            path = disk / file
            if path.exists() and path.read_bytes().strip().endswith(serial.encode()):
                return f"/dev/{disk.name}"
    raise SystemExit(f"no drive has the serial {serial}")


def mount(*words):
    subprocess.run(["mount", *map(str, words)], check=True)


def mount_packages():
    """Mount the packages so that compiled loops can lie beside their code."""
    for folder in (PACKED, PACKAGES, upper := pathlib.Path("/tmp/upper"), work := pathlib.Path("/tmp/work")):
        folder.mkdir()
    mount("-o", "ro", block_device("packages"), PACKED)
    layers = f"lowerdir={PACKED},upperdir={upper},workdir={work}"
    mount("-t", "overlay", "-o", layers, "packages", PACKAGES)


def mount_drive(at, *, make):
    device = block_device(SERIALS[at])
    at.mkdir()
    if make:
        words = ("mkfs.ext4", "-q", "-E", "lazy_itable_init=0,lazy_journal_init=0,nodiscard")
        subprocess.run([*words, device], check=True)
    mount(device, at)


def name_processor():
    """Say for which processor loops are to be compiled, as numba itself asks for it."""
    words = [sys.executable, "-c", PROCESSOR]
    told = subprocess.run(words, env=environment(), check=True, capture_output=True, text=True)
    processor, features = told.stdout.split()
    said(processor=processor, features=features)


def take_loops():
    """Put the loops that the host has compiled beside their code."""
    if not (SHARE / "loops").exists():
        ask_host("loops")
    beside = PACKAGES / "shipworthy/stress/loads/__pycache__"
    for file in (SHARE / "loops").iterdir():
        shutil.copy2(file, beside)


def locked_map(pid):
    """Return where the largest locked map of a process lies (proc_pid_smaps(5)), and its size."""
    found, ends = [], (0, 0)
    for row in pathlib.Path(f"/proc/{pid}/smaps").read_text().splitlines():
        head = row.split()[0]
        if not head.endswith(":"):
            ends = tuple(int(end, 16) for end in head.split("-"))
        elif head == "Locked:" and int(row.split()[1]):
            found.append((ends[1] - ends[0], ends[0]))
    size, first = max(found)
    return first, size


def physical_address(pid, address):
    """Return the physical address of a page of a process (proc_pid_pagemap(5))."""
    with open(f"/proc/{pid}/pagemap", "rb") as pagemap:
        pagemap.seek(address // 4096 * 8)
        (entry,) = struct.unpack("<Q", pagemap.read(8))
    return (entry & (1 << 55) - 1) * 4096


def place_on_device(pid):
    """Return where the middle of the unnamed file that a process works on lies on its device, in bytes."""
    folder = pathlib.Path(f"/proc/{pid}/fd")
    file = next(one for one in folder.iterdir() if str(one.readlink()).startswith(f"{SSD}/"))
    with file.open("rb") as opened:
        middle = os.fstat(opened.fileno()).st_size // 2
        request = bytearray(FIEMAP_BYTES + EXTENT_BYTES)
        struct.pack_into("<QQIIII", request, 0, middle, 1, 0, 0, 1, 0)
        fcntl.ioctl(opened, FIEMAP, request)
    logical, physical = struct.unpack_from("<2Q", request, FIEMAP_BYTES)
    return physical + middle - logical


def burn(name, drive, during, *more):
    """Run a plan, with the host's part at the right moments; keep what was written, all but raw sources."""
    folder = drive / name
    shutil.copytree(DISK / "read/reading", folder / "reading")
    os.sync()  # the tool's own files are safe by themselves; this copy is not
    began_s = time.monotonic()
    process = start(name, "burn-in", "--into", str(folder), "--plan", str(SHARE / f"{name}.toml"), *more)
    during(folder, process)
    said(run=name, exit=process.wait(), seconds=round(time.monotonic() - began_s, 1))
    keep(folder)


def keep(folder):
    shutil.copytree(folder, SHARE / folder.name, ignore=shutil.ignore_patterns("raw"))


def nothing(folder, process):
    pass


def wear(folder, process):
    """The fan stops and a bit flips under the march; then the disk is slow."""
    pid = wait_for(folder, process, code="load.started", load="march")["pid"]
    wait_for(folder, process, code="step.under-load", step="memory")
    ask_host("stop-fan")
    spoil_memory(folder, process, pid)
    wait_for(folder, process, code="step.under-load", step="storage")
    ask_host("slow")


def spoil_memory(folder, process, pid):
    """A bit flips, in a page chosen at random: again where a march wrote over it before it read it."""
    first, size = locked_map(pid)
    for number in range(FLIPS):
        page = first + int.from_bytes(os.urandom(4), "big") % size
        said(flip=number, address=physical_address(pid, page))
        ask_host(f"flip-{number}")
        if wait_for(folder, process, within_s=FLIPPED_S, code="load.wrong", load="march"):
            break
    said(flips=number + 1)


def fail(folder, process):
    """A bit rots in a file that is written already and read again and again, the NVMe drive warns; then it
    gets hot."""
    pid = wait_for(folder, process, code="load.started", target=SSD_PLACE)["pid"]
    wait_for(folder, process, kind="report", target=SSD_PLACE, unit_of_work=READ)
    said(rotten=place_on_device(pid))
    ask_host("rot")
    wait_for(folder, process, kind="report", load="ciphers")
    ask_host("heat")


def lose_power(folder, process):
    """What was logged some seconds before the plug is pulled must be there afterwards."""
    reported = wait_for(folder, process, kind="report", load="ciphers")
    shutil.copy(folder / "burn-in/log-001.jsonl", SHARE / "logged.jsonl")
    wait_until(folder, process, reported["t_s"] + SAFE_S)
    print("READY power-cut")
    process.wait()


def prepare():
    name_processor()
    mount_drive(DISK, make=True)
    mount_drive(SSD, make=True)
    said(read=start("read", "read", "--into", str(DISK / "read")).wait())
    take_loops()


def sound():
    """A clean run, and one whose power is cut."""
    prepare()
    burn("clean", DISK, nothing, "--work-folder", str(SSD))
    burn("cut", DISK, lose_power)


def faulty():
    """Runs with faults of parts."""
    prepare()
    burn("worn", DISK, wear)
    ask_host("mend")
    burn("failing", SSD, fail, "--whole-drive", "NV1T-55010")
    said(ended=True)


def resumed():
    """The second start, after the power cut."""
    mount_drive(DISK, make=False)
    take_loops()
    shutil.copy(DISK / "cut/burn-in/log-001.jsonl", SHARE / "found.jsonl")
    said(run="resumed", exit=start("resumed", "burn-in", "resume", "--into", str(DISK / "cut")).wait())
    keep(DISK / "cut")
    said(ended=True)


def main():
    from chips import Chips

    mount_packages()
    Chips()
    subprocess.run(["modprobe", "asus_atk0110"], check=True)
    {"sound": sound, "faulty": faulty, "resumed": resumed}[(SHARE / "part").read_text()]()


main()
