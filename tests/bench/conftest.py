"""Virtual PCs for all tests of the bench: one is started once and read in several ways, two are burnt in."""

from __future__ import annotations

import importlib.util
import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from shipworthy.machine.reading import reread
from shipworthy.model.base import read_record
from shipworthy.model.reading import Reading
from tests.bench import burning, monitor, parts
from tests.bench.image import GUEST, CannotBuild, ready
from tests.bench.pc import Pc

NEEDED = ("shipworthy", "msgspec", "click", "platformdirs", "defusedxml")
"""Packages that `read` imports; the guest gets this environment's own copies."""


@dataclass
class Bench:
    """What the virtual PC left: readings by name, reports of other tools, and what the guest said."""

    share: Path
    said: list[dict[str, Any]] = field(default_factory=list)

    def folder(self, name: str) -> Path:
        return self.share / name / ("specimen" if name == "specimen" else "reading")

    def reading(self, name: str) -> Reading:
        return read_record(self.folder(name) / "reading.json", Reading)

    def sample(self, name: str) -> dict[str, float | None]:
        """Return one row of the sensors, by place and channel."""
        return next(said["row"] for said in self.said if said.get("sample") == name)

    def again(self, name: str) -> Reading:
        return reread(self.folder(name))


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """Return the bench after one whole run: about 40 s, and 30 s more where the image must be built."""
    try:
        image = ready()
    except CannotBuild as reason:
        pytest.skip(str(reason))
    folder = tmp_path_factory.mktemp("pc")
    with Pc(image, folder) as pc:
        _fill(pc.share)
        found = Bench(pc.share)
        pc.step("change", lambda: _change(pc))
        pc.wait_for("READY vanish")
        pc.command("device_del", id="usb0")
        pc.command("device_del", id="nvme0")
        pc.wait_for('"ended": true')
        found.said += [json.loads(line.split(" ", 1)[1]) for line in pc.console if line.startswith("SAID ")]
    yield found
    for image_file in folder.iterdir():
        if image_file.suffix in (".img", ".bin"):
            image_file.unlink()


@pytest.fixture(scope="session")
def burnt(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[burning.Burnt, burning.Burnt]]:
    """Return what the burn-ins left, of a sound machine and of a faulty one: about 3 min of two cores."""
    try:
        image = ready()
    except CannotBuild as reason:
        pytest.skip(str(reason))
    folder = tmp_path_factory.mktemp("burn-in")
    yield burning.burn(image, folder)
    for file in folder.rglob("*"):
        if file.suffix in (".img", ".bin", ".sqfs"):
            file.unlink()
    shutil.rmtree(folder / "staged")


def _fill(share: Path) -> None:
    """Put in the share what the guest runs, then its script: the guest waits for nothing else."""
    code = share / "code"
    for name in NEEDED:
        spec = importlib.util.find_spec(name)
        assert spec is not None and spec.submodule_search_locations
        origin = Path(next(iter(spec.submodule_search_locations)))
        shutil.copytree(origin, code / name, ignore=shutil.ignore_patterns("__pycache__"))
    (share / "monitor.bin").write_bytes(monitor.edid())
    for number, serial in enumerate(parts.SPD_SERIALS):
        (share / f"spd-{number}.bin").write_bytes(parts.spd(serial))
    for name in ("chips.py", "guest.py"):
        shutil.copy(GUEST / name, share)


def _change(pc: Pc) -> None:
    """The host's part of the change: a hot board, a drive that warns, a cable pulled."""
    pc.heat(90.0)
    pc.command("qom-set", path="/machine/peripheral/nvme0", property="smart_critical_warning", value=4)
    pc.command("set_link", name="nic1", up=False)


__all__ = ["Bench", "bench", "parts"]
