"""What a bench knows beside an order and a reading: its own gear, restocked parts, and the serials of parts
that stand in the sealed records of other units (ADR 0029).

The records are the truth: which serials stand where is looked up each time, and no index is kept that could
be lost or disagree.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path
from typing import TypeVar

from shipworthy.compare.elsewhere import serial_of, telling_parts
from shipworthy.jobs.ledger import reading_with
from shipworthy.jobs.own_work import own_work
from shipworthy.model.base import Record, decode_toml, read_bytes
from shipworthy.model.known import Gear, Known, Restocking, Seen
from shipworthy.model.reading import Reading
from shipworthy.record.layout import PAYLOAD, TAG_MANIFEST, number_of

GEAR_FILE = "bench-gear.toml"
RESTOCKED_FILE = "restocked.toml"
"""In the shop's home."""
KNOWN_FILE = "known.json"
"""In the attempt's folder, as the comparison was given it."""
READINGS = ("reading/reading.json", "reading-after/reading.json")

F = TypeVar("F", bound=Record)


class GearList(Record):
    """The file of the bench's own gear."""

    gear: tuple[Gear, ...] = ()


class RestockedList(Record):
    """The file of restocked parts."""

    restocked: tuple[Restocking, ...] = ()


def known_to(shop: Path | None, records: Path | None, reading: Reading, unit_id: str) -> Known:
    """Return what is known of a reading's parts. unit_id: the unit that is read; its own records are no other
    unit's. shop: the folder of the shop's settings. Raises Trouble for a file of the shop that is not valid.
    """
    gear = _listed(shop, GEAR_FILE, GearList).gear
    serials = set(telling_parts(reading))
    seen = tuple(seen_elsewhere(records, serials, unit_id)) if records is not None and serials else ()
    restocked = _listed(shop, RESTOCKED_FILE, RestockedList).restocked
    wanted = {one.serial for one in seen}
    return Known(
        gear=gear,
        seen=seen,
        restocked=tuple(one for one in restocked if one.serial.strip() in wanted),
        own_work=() if records is None else own_work(records, reading),
    )


def seen_elsewhere(records: Path, serials: Collection[str], unit_id: str) -> Iterator[Seen]:
    """Yield where these serials stand in the sealed records of other units, in order of unit and attempt.

    A record that cannot be read tells nothing here; `verify` names what is wrong with it. The parts of a
    simulated unit are nobody's.
    """
    for folder in _sealed_folders(records, unit_id):
        found: dict[str, Seen] = {}
        for name in READINGS:
            reading = reading_with(folder / PAYLOAD / name, serials)
            if reading is not None and not reading.simulated:
                found |= {one.serial: one for one in _seen_in(reading, serials, folder)}
        yield from (found[serial] for serial in sorted(found))


def _seen_in(reading: Reading, serials: Collection[str], folder: Path) -> Iterator[Seen]:
    for part in telling_parts(reading).values():
        if (serial := serial_of(part)) in serials:
            yield Seen(
                serial=serial,
                kind=part.kind,
                model=part.text("model") or part.text("part_number"),
                unit_id=folder.parent.name,
                attempt=number_of(folder.name) or 1,
                on=reading.taken.utc.date(),
            )


def _sealed_folders(records: Path, unit_id: str) -> Iterator[Path]:
    """Yield the sealed attempts of all units but one. An id that differs by case alone is the same unit's:
    records never hold both."""
    for unit in _folders_in(records):
        if unit.name.startswith(".") or unit.name.casefold() == unit_id.casefold():
            continue
        for attempt in _folders_in(unit):
            if number_of(attempt.name) and (attempt / TAG_MANIFEST).is_file():
                yield attempt


def _folders_in(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_dir())
    except OSError:
        return []


def _listed(shop: Path | None, name: str, kind: type[F]) -> F:
    path = None if shop is None else shop / name
    if path is None or not path.is_file():
        return kind()
    mend = "Compare it with docs/how-to/restock-a-part.md."
    return decode_toml(read_bytes(path), kind, path, called="a valid list", mend=mend)
