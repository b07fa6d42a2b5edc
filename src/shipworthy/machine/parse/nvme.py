"""NVMe Identify and the health log to facts.

Standard: NVM Express Base Specification, Identify Controller, Identify Namespace and log page 02h
(SMART / Health Information). Offsets as in libnvme's packed structures (check values, storage.md).
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said, why_absent
from shipworthy.machine.parse.wiring import storage_place
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

CONTROLLER_BYTES, NAMESPACE_BYTES, HEALTH_BYTES = 4096, 4096, 512
DATA_UNIT_BYTES = 512_000  # thousands of 512-byte units, rounded up
_NAMESPACE = re.compile(r"nvme(\d+)n(\d+)")

CONTROLLER_NAMES = ("model", "serial", "firmware_version", "temperature_warning_c", "temperature_critical_c")
NAMESPACE_NAMES = ("size_bytes", "logical_block_bytes")
HEALTH_NAMES = (
    "critical_warning",
    "available_spare_percent",
    "percentage_used",
    "read_bytes",
    "written_bytes",
    "power_cycles",
    "power_on_hours",
    "unsafe_shutdowns",
    "media_errors",
)


def _says_nothing(data: bytes, size: int) -> Absent | None:
    """A reply cut short or of one byte repeated is none: all 0 is silence, all FF a dead bus."""
    if len(data) < size:
        return Absent.IMPLAUSIBLE
    if not any(data[:size]):
        return Absent.NOT_OFFERED
    return Absent.IMPLAUSIBLE if data[:size] == b"\xff" * size else None


def ascii_text(data: bytes) -> str | Absent:
    """Return a padded ASCII field without its padding; not offered if nothing or a placeholder is in it."""
    text = data.decode("ascii", "replace").strip(" \0")
    return Absent.NOT_OFFERED if not text or is_placeholder(text) else text


def kelvin_limit_c(kelvin: int) -> int | Absent:
    """Return a limit in whole °C (kelvin - 273, the usual integer practice). 0 and all ones: no limit."""
    return Absent.NOT_OFFERED if kelvin in (0, 0xFFFF) else kelvin - 273


def controller_facts(data: bytes) -> tuple[Said, ...]:
    """Identify Controller, 4096 bytes: serial at 4 (20), model at 24 (40), firmware at 64 (8) …"""
    nothing = _says_nothing(data, CONTROLLER_BYTES)
    if nothing is not None:
        return tuple(said(name, nothing) for name in CONTROLLER_NAMES)
    values = (
        ascii_text(data[24:64]),
        ascii_text(data[4:24]),
        ascii_text(data[64:72]),
        kelvin_limit_c(int.from_bytes(data[266:268], "little")),
        kelvin_limit_c(int.from_bytes(data[268:270], "little")),
    )
    return tuple(said(name, value) for name, value in zip(CONTROLLER_NAMES, values, strict=True))


def namespace_facts(data: bytes) -> tuple[Said, ...]:
    """Identify Namespace, 4096 bytes: blocks at 0 (8), format in use at 26, formats from 128, 4 each.

    The size of a block is 2 to the power of byte 2 of the format in use.
    """
    nothing = _says_nothing(data, NAMESPACE_BYTES)
    if nothing is not None:
        return tuple(said(name, nothing) for name in NAMESPACE_NAMES)
    in_use = data[26] & 0x0F | (data[26] & 0x60) >> 1
    power = data[128 + 4 * in_use + 2]
    blocks = int.from_bytes(data[0:8], "little")
    if not 9 <= power <= 16 or not blocks:
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in NAMESPACE_NAMES)
    return (said("size_bytes", blocks << power), said("logical_block_bytes", 1 << power))


def health_facts(data: bytes) -> tuple[Said, ...]:
    """Log page 02h, 512 bytes. Data units of 0 mean that the drive does not report them."""
    nothing = _says_nothing(data, HEALTH_BYTES)
    if nothing is not None:
        return tuple(said(name, nothing) for name in HEALTH_NAMES)

    def count(at: int) -> int:
        return int.from_bytes(data[at : at + 16], "little")

    values = (
        data[0],
        data[3],
        data[5],
        count(32) * DATA_UNIT_BYTES or Absent.NOT_OFFERED,
        count(48) * DATA_UNIT_BYTES or Absent.NOT_OFFERED,
        count(112),
        count(128),
        count(144),
        count(160),
    )
    return tuple(said(name, _fits(value)) for name, value in zip(HEALTH_NAMES, values, strict=True))


def _fits(value: int | Absent) -> int | Absent:
    """A counter of 128 bits that passes 63 bits is no count of anything that a drive has done."""
    return Absent.IMPLAUSIBLE if not isinstance(value, Absent) and value >> 63 else value


_REPLIES = (
    ("identify-controller", CONTROLLER_NAMES, controller_facts),
    ("smart-log", HEALTH_NAMES, health_facts),
)


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `nvme` (which namespaces there are), then `nvme.<device>.<request>` of each.

    What a controller says of itself is said of each of its namespaces.
    """
    head = reply_named(replies, "nvme")
    if head is None or not head.read:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    for name in listing.names("/sys/block"):
        place = namespace_place(listing, name)
        if place is None:
            continue
        controller = controller_name(listing, name)
        for request, names, facts in _REPLIES:
            found += _of(reply_named(replies, f"nvme.{controller}.{request}"), place, names, facts)
        reply = reply_named(replies, f"nvme.{name}.identify-namespace")
        found += _of(reply, place, NAMESPACE_NAMES, namespace_facts)
    return Parsed(tuple(found))


def _of(reply: Reply | None, place: str, names: tuple[str, ...], facts: object) -> list[Sighting]:
    if reply is None:
        return []
    assert callable(facts)
    fields = facts(reply.data) if reply.read else tuple(said(n, why_absent(reply)) for n in names)
    return [Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=fields)]


def controller_name(listing: Listing, namespace: str) -> str:
    """Return the controller that answers for a namespace: by its device's path, else by the names' rule."""
    path = listing.target(f"/sys/block/{namespace}/controller")
    match = _NAMESPACE.fullmatch(namespace)
    return path.rsplit("/", 1)[-1] if path else f"nvme{match[1]}" if match else ""


def namespace_place(listing: Listing, namespace: str) -> str | None:
    """Return the place of a namespace, told as the block source tells it."""
    path = listing.target(f"/sys/block/{namespace}")
    if path is None or not _NAMESPACE.fullmatch(namespace):
        return None
    return storage_place(
        path,
        namespace=listing.number(f"/sys/block/{namespace}/nsid"),
        controller=listing.target(f"/sys/block/{namespace}/controller"),
    )
