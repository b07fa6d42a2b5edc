"""What lies on the drives: partitions and the signatures of what is in them; and the system that runs.

Sources: sysfs (`partition` in the folder of each partition: ABI/stable/sysfs-block); udev's record of each
device, where its rules for storage keep what libblkid found (`ID_PART_TABLE_TYPE`, `ID_FS_TYPE`; from memory
of 60-persistent-storage.rules, which make the links below `/dev/disk/` in the same pass: a record without
such a link was never looked into); os-release(5).
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind

BLOCK = "/sys/block"
UDEV = "/run/udev/data"
UDEV_KEYS = ("E:ID_PART_TABLE_TYPE=", "E:ID_FS_TYPE=")
LOOKED_AT = {"S:disk/by-": "looked at"}
OS_RELEASE = ("/etc/os-release", "/usr/lib/os-release")
WANTED_OF_SYSTEM = ("ID=", "NAME=", "VERSION_ID=", "VARIANT=", "PRETTY_NAME=")
RUNS_FROM = "drives below the root of the system that runs"
_NONE = "none"
_UNANSWERED = (SourceOutcome.REFUSED, SourceOutcome.FAILED)
_SYSTEM = (
    ("system_id", "ID"),
    ("system_name", "NAME"),
    ("system_version", "VERSION_ID"),
    ("system_edition", "VARIANT"),
    ("system_text", "PRETTY_NAME"),
)
_WORD = re.compile(r"[A-Za-z0-9_.+ -]{1,40}")


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `contents`: one sighting for each drive, and one of the system that runs."""
    reply = reply_read(replies, "contents")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name)
        if place is not None:
            fields = tuple(_of_drive(listing, name))
            found.append(Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=fields))
    system = tuple(_of_system(listing))
    if system:
        found.append(Sighting(kind=PartKind.KERNEL, place="kernel", source=reply.id, said=system))
    return Parsed(tuple(found))


def _of_drive(listing: Listing, name: str) -> Iterator[Said]:
    folder = f"{BLOCK}/{name}"
    within = [f"{folder}/{entry}" for entry in listing.names(folder) if entry.startswith(name)]
    partitions = [node for node in within if listing.number(f"{node}/partition") is not None]
    asked = (listing.row(f"{node}/partition") for node in within)
    failed = any(row is not None and row.outcome in _UNANSWERED for row in asked)
    count = Absent.NOT_READABLE if failed else len(partitions)
    # A drive without its own number is none that the kernel has taken up.
    yield listing.said("partitions", f"{folder}/dev", lambda number: count)
    records = [_record(listing, node) for node in (folder, *partitions)]
    yield said("partition_table", _table(records[0]))
    yield said("file_systems", _file_systems(records))


def _record(listing: Listing, node: str) -> dict[str, str] | Absent:
    """Return what udev keeps of a device: its signatures. Absent where nobody looked for any."""
    row = listing.row(f"{UDEV}/b{listing.text(f'{node}/dev') or '-'}")
    if row is None or row.outcome in (SourceOutcome.ABSENT, SourceOutcome.EMPTY):
        return Absent.NOT_OFFERED
    if row.outcome is not SourceOutcome.READ or row.text is None:
        return Absent.NOT_READABLE
    lines = row.text.splitlines()
    if not set(LOOKED_AT.values()) & set(lines):
        return Absent.NOT_OFFERED
    pairs = (line.removeprefix("E:").partition("=") for line in lines if line.startswith("E:"))
    return {key: value for key, _, value in pairs if _WORD.fullmatch(value)}


def _table(record: dict[str, str] | Absent) -> str | Absent:
    return record if isinstance(record, Absent) else record.get("ID_PART_TABLE_TYPE", _NONE)


def _file_systems(records: list[dict[str, str] | Absent]) -> str | Absent:
    """Return the signatures in all of the drive, in order; one that nobody looked for leaves them open."""
    unknown = next((record for record in records if isinstance(record, Absent)), None)
    if unknown is not None:
        return unknown
    kinds = [
        record["ID_FS_TYPE"] for record in records if isinstance(record, dict) and "ID_FS_TYPE" in record
    ]
    return ", ".join(dict.fromkeys(kinds)) or _NONE


def _of_system(listing: Listing) -> Iterator[Said]:
    told = next((pairs for file in OS_RELEASE if (pairs := _pairs(listing.text(file) or ""))), {})
    for fact, key in _SYSTEM:
        if key in told:
            yield said(fact, told[key])
    places = listing.names(RUNS_FROM)
    if places:
        yield said("system_on", ", ".join(places))


def _pairs(text: str) -> dict[str, str]:
    """Return the assignments of os-release(5): the quoting of a shell. A line that is none is left out."""
    found: dict[str, str] = {}
    for line in text.splitlines():
        name, equals, value = line.partition("=")
        try:
            words = shlex.split(value)
        except ValueError:
            continue
        if equals and len(words) == 1:
            found[name] = " ".join(words[0].split())[:200]
    return found
