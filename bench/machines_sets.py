"""Whole machines of the reference data, their witnesses' texts, and readings of them by our own reader."""

from __future__ import annotations

import shutil
import tarfile
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shipworthy.machine.reading import take_reading
from shipworthy.machine.root import Root
from shipworthy.model.reading import Reading
from shipworthy.model.time import PretendClock

SET = "bsd-joined-machines"
SMBIOS, PCI, LOG = "dmidecode.txt", "pciconf.txt", "dmesg.txt"
Files = Mapping[str, bytes]

WITNESSES: Mapping[str, tuple[str, ...]] = {
    "firmware": (SMBIOS,),
    "kernel": (LOG, PCI),
    "all": (SMBIOS, LOG, PCI),
}
"""What an order is drafted from, or what a reading is of."""


@dataclass(frozen=True)
class Machine:
    """One machine: its files' bytes by name, and readings by the name of a witness, made when first asked."""

    name: str
    files: Files
    _made: dict[str, Reading] = field(default_factory=dict, compare=False)

    def reading(self, witness: str) -> Reading:
        if witness not in self._made:
            self._made[witness] = reading_of(self.files, WITNESSES[witness])
        return self._made[witness]

    def text(self, name: str) -> str:
        return self.files[name].decode("utf-8", "replace")

    def altered(self, texts: Mapping[str, str]) -> Machine:
        """Return the machine with other texts in place of some of its own."""
        return Machine(self.name, {**self.files, **{k: v.encode("utf-8") for k, v in texts.items()}})


def machines(data: Path, every: int) -> Iterator[Machine]:
    """Yield every so-manieth machine that has all three witnesses, by name."""
    found: dict[str, dict[str, bytes]] = {}
    with tarfile.open(data / SET / f"{SET}.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() else None
            path = Path(member.name)
            if file is not None and path.name in WITNESSES["all"]:
                found.setdefault(path.parent.name, {})[path.name] = file.read()
    whole = sorted((name, files) for name, files in found.items() if len(files) == len(WITNESSES["all"]))
    yield from (Machine(name, files) for name, files in whole[::every])


def reading_of(files: Files, names: tuple[str, ...]) -> Reading:
    """Return our reader's reading of a folder with these reports, as `shipworthy read --from` takes it."""

    def fill(folder: Path) -> None:
        for name in names:
            (folder / name).write_bytes(files[name])

    return read_folder(fill)


def read_folder(fill: Callable[[Path], None]) -> Reading:
    """Return a reading of what `fill` puts into an empty folder."""
    folder = Path(tempfile.mkdtemp(prefix="machines-"))
    try:
        fill(folder)
        return take_reading(Root(folder), lambda name, data: None, nonce=None, clock=PretendClock())
    finally:
        shutil.rmtree(folder, ignore_errors=True)
