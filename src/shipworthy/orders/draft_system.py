"""The system that a machine has on its drives, for an order drafted from what is fitted."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.facts import Part
from shipworthy.model.orders import OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import CARRIED, Category, PartKind

_ANY = "System as it is on the drive"


def systems(reading: Reading) -> Iterator[OrderLine]:
    """Yield a line for the system that runs from the fitted drives, else for whatever is on one of them.

    A drafted order that sold no system would ask for blank drives.
    """
    inside = [drive for drive in reading.of_kind(PartKind.STORAGE) if drive.text("interface") not in CARRIED]
    kernel = next(iter(reading.of_kind(PartKind.KERNEL)), None)
    runs_from = set(kernel.text("system_on").split(", ")) - {""} if kernel is not None else set()
    fitted = {place for drive in inside for place in (drive.place, *drive.also_at)}
    name = kernel.text("system_text") or kernel.text("system_name") if kernel is not None else ""
    if runs_from and runs_from <= fitted:
        yield _line(name or _ANY)
    elif any(map(_holds_something, inside)) or runs_from & fitted:
        yield _line(_ANY)


def _holds_something(drive: Part) -> bool:
    told = (drive.text("partition_table"), drive.text("file_systems"))
    return bool(drive.number("partitions")) or any(word not in ("", "none") for word in told)


def _line(text: str) -> OrderLine:
    shown = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return OrderLine(line_id="draft", category=Category.SYSTEM_SOFTWARE, text=shown[:200] or _ANY)
