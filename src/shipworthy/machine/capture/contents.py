"""Ask what lies on the drives, and which system runs from which of them."""

from __future__ import annotations

from pathlib import Path

from shipworthy.machine.capture.block import BLOCK, is_hardware, list_wiring
from shipworthy.machine.capture.files import MOST_ATTRIBUTE_BYTES, Lister, read_file
from shipworthy.machine.listing import ListingRow
from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.parse.contents import (
    LOOKED_AT,
    OS_RELEASE,
    RUNS_FROM,
    UDEV,
    UDEV_KEYS,
    WANTED_OF_SYSTEM,
)
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

MOST_PARTITIONS = 256


def capture(root: Root) -> list[Reply]:
    """No drive is opened: the partitions are the kernel's, the signatures what udev found on them.

    Of both udev's record and the system's own description only what is asked for is kept: no label, no
    identifier, no address.
    """
    lister = Lister(root)
    for name in lister.names(BLOCK):
        if is_hardware(name) and not name.startswith("sr"):
            _list_drive(lister, name)
    for file in OS_RELEASE:
        _kept_lines(lister, file, WANTED_OF_SYSTEM, {})
    if root.live:
        lister.rows.append(ListingRow(path=RUNS_FROM, names=drives_holding(root, Path("/"))))
    return [lister.reply("contents", BLOCK)]


def _list_drive(lister: Lister, name: str) -> None:
    folder = f"{BLOCK}/{name}"
    list_wiring(lister, name, lister.target(folder))
    within = [entry for entry in lister.names(folder) if entry.startswith(name)]
    parts = [e for e in within[:MOST_PARTITIONS] if lister.text(f"{folder}/{e}/partition") is not None]
    for node in (folder, *(f"{folder}/{entry}" for entry in parts)):
        number = lister.text(f"{node}/dev")
        if number is not None:
            _kept_lines(lister, f"{UDEV}/b{number}", UDEV_KEYS, LOOKED_AT)


def _kept_lines(lister: Lister, path: str, wanted: tuple[str, ...], stands_for: dict[str, str]) -> None:
    """Keep a file's row with those of its lines that begin as wanted. stands_for: what is kept instead of
    lines that begin so, as the rest of them names the drive."""
    answer = read_file(lister.root, path, MOST_ATTRIBUTE_BYTES)
    text: str | None = None
    if answer.outcome is SourceOutcome.READ:
        lines = answer.data.decode("utf-8", "replace").splitlines()
        kept = [line for line in lines if line.startswith(wanted)]
        kept += [word for begin, word in stands_for.items() if any(line.startswith(begin) for line in lines)]
        text = "\n".join(kept)
    lister.rows.append(ListingRow(path=path, outcome=answer.outcome, text=text, error=answer.error))
