"""Burn-ins on the virtual PC, with faults that the host plants while they run."""

from __future__ import annotations

import json
import shutil
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shipworthy.analysis import Segment
from shipworthy.jobs.first_look import first_look
from shipworthy.jobs.unit import read_segments
from shipworthy.model.base import read_record
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Event
from shipworthy.model.words import Outcome
from tests.bench import packages, parts
from tests.bench.image import GUEST
from tests.bench.pc import Pc

UNREADABLE_SECTOR = 400_000  # of 512 bytes, on the NVMe drive
WARM_C, HOT_C, COOL_C = 68.0, 97.0, 42.0
SLOW_BYTES_S = 4 * parts.MIB
FLIPPED_BYTE, FLIPPED_BIT = 0x5D3, 4  # within the page, and within the byte
ROTTEN_BYTE, ROTTEN_BIT = 0x2A5, 6
WAIT_S = 1800.0  # an emulated processor that may share its host with much else
PLANS = Path(__file__).parent / "plans"


@dataclass
class Burnt:
    """What the virtual PC left of its burn-ins, by name of the run, and what was planted where."""

    share: Path
    said: list[dict[str, Any]] = field(default_factory=list)
    flipped: list[int] = field(default_factory=list)
    """Physical addresses of the bytes in which a bit was flipped, in order."""
    rotten: int = 0
    """The byte of the SSD in which a bit was flipped."""

    def reading(self, run: str) -> Reading:
        return read_record(self.share / run / "reading/reading.json", Reading)

    def segments(self, run: str) -> tuple[Segment, ...]:
        return read_segments(self.share / run)

    def events(self, run: str, code: str) -> list[dict[str, Any]]:
        return [
            {v.name: v.value for v in event.values}
            for segment in self.segments(run)
            for event in segment.of(Event)
            if event.code == code
        ]

    def exit_code(self, run: str) -> int:
        return next(int(said["exit"]) for said in self.said if said.get("run") == run)

    def findings(self, run: str) -> tuple[Finding, ...]:
        """Return what the run showed, with the parts that were read in place of an order's lines."""
        return first_look(self.share / run)

    def differing(self, run: str) -> list[Finding]:
        return [finding for finding in self.findings(run) if finding.outcome is Outcome.DIFFERS]


def told(finding: Finding) -> dict[str, Any]:
    return {value.name: value.value for value in finding.values}


def burn(image: Path, folder: Path) -> tuple[Burnt, Burnt]:
    """Run all burn-ins, some minutes on emulated processors: of a sound machine, and a faulty one beside it.

    Returns what is left of the runs clean and cut, and of worn and failing.
    """
    staged, disk = folder / "staged", folder / "packages.sqfs"
    packages.stage(staged)
    packages.pack(staged, disk)
    shelf = Shelf(image, disk, Loops(staged, folder / "loops"))
    for name in ("sound", "faulty"):
        (folder / name).mkdir()
    with ThreadPoolExecutor(2) as pool:
        one = pool.submit(_sound, shelf, folder / "sound")
        other = pool.submit(_faulty, shelf, folder / "faulty")
        return one.result(), other.result()


class Loops:
    """The compiled loops, made once for both machines: they have the same processor."""

    def __init__(self, staged: Path, folder: Path) -> None:
        self._staged, self._folder, self._lock = staged, folder, threading.Lock()

    def put(self, pc: Pc) -> None:
        """Compile while the guest goes on, and hand over the loops when it asks for them."""
        pc.wait_for('"processor"', WAIT_S)
        said = _last_said(pc, "processor")
        with self._lock:
            if not self._folder.exists():
                packages.compile_loops(self._staged, said["processor"], said["features"], self._folder)
        pc.step("loops", lambda: shutil.copytree(self._folder, pc.share / "loops"), WAIT_S)


@dataclass(frozen=True)
class Shelf:
    """What the machines are made of."""

    image: Path
    packages: Path
    loops: Loops


def _sound(shelf: Shelf, folder: Path) -> Burnt:
    with Pc(shelf.image, folder, packages=shelf.packages) as pc:
        _fill(pc.share, "sound")
        shelf.loops.put(pc)
        pc.wait_for("READY power-cut", WAIT_S)
        pc.cut_power()
        found = Burnt(pc.share, _all_said(pc))
    (pc.share / "part").write_text("resumed")
    with Pc(shelf.image, folder, packages=shelf.packages) as pc:
        pc.wait_for('"ended": true', WAIT_S)
        found.said += _all_said(pc)
    return found


def _faulty(shelf: Shelf, folder: Path) -> Burnt:
    with Pc(shelf.image, folder, packages=shelf.packages, unreadable_sector=UNREADABLE_SECTOR) as pc:
        _fill(pc.share, "faulty")
        found = Burnt(pc.share)
        shelf.loops.put(pc)
        pc.step("stop-fan", lambda: _stop_fan(pc), WAIT_S)
        _flip_until_found(pc, found)
        pc.step("slow", lambda: _read_slowly(pc, SLOW_BYTES_S), WAIT_S)
        pc.step("mend", lambda: _mend(pc), WAIT_S)
        pc.step("rot", lambda: _rot_and_warn(pc, found), WAIT_S)
        pc.step("heat", lambda: pc.heat_processor(HOT_C), WAIT_S)
        pc.wait_for('"ended": true', WAIT_S)
        found.said += _all_said(pc)
    return found


def _stop_fan(pc: Pc) -> None:
    pc.heat_processor(WARM_C)
    pc.turn_fan(0)


def _flip_until_found(pc: Pc, found: Burnt) -> None:
    """Flip a bit whenever the guest has chosen a page, until its march has found one."""
    while '"flips"' not in (line := pc.wait_for('"flip', WAIT_S)):
        said = json.loads(line.split(" ", 1)[1])
        found.flipped.append(said["address"] + FLIPPED_BYTE)
        pc.step(f"flip-{said['flip']}", lambda: pc.flip_memory(found.flipped[-1], 1 << FLIPPED_BIT))


def _read_slowly(pc: Pc, bytes_s: int) -> None:
    """The disk reads slowly, as one that repairs itself or is worn out; 0: as fast as it can."""
    bounds = dict.fromkeys(("bps", "bps_wr", "iops", "iops_rd", "iops_wr"), 0)
    pc.command("block_set_io_throttle", id="sata0", bps_rd=bytes_s, **bounds)


def _mend(pc: Pc) -> None:
    _read_slowly(pc, 0)
    pc.heat_processor(COOL_C)
    pc.turn_fan(1350)


def _rot_and_warn(pc: Pc, found: Burnt) -> None:
    found.rotten = _last_said(pc, "rotten")["rotten"] + ROTTEN_BYTE
    pc.flip_drive(parts.SSD, found.rotten, 1 << ROTTEN_BIT)
    pc.command("qom-set", path="/machine/peripheral/nvme0", property="smart_critical_warning", value=4)


def _fill(share: Path, part: str) -> None:
    (share / "part").write_text(part)
    shutil.copy(GUEST / "chips.py", share)
    for plan in PLANS.glob("*.toml"):
        shutil.copy(plan, share)
    shutil.copy(GUEST / "burn_in.py", share / "guest.py")  # last: the guest waits for nothing else


def _all_said(pc: Pc) -> list[dict[str, Any]]:
    return [json.loads(line.split(" ", 1)[1]) for line in pc.console if line.startswith("SAID ")]


def _last_said(pc: Pc, name: str) -> dict[str, Any]:
    return next(said for said in reversed(_all_said(pc)) if name in said)
