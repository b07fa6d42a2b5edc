"""What NVMe drives answered, to sightings: identity of controller and namespace, and health.

Standards and layouts are named where the pages are read, in `pages`.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from shipworthy.machine.listing import Listing, said, why_absent
from shipworthy.machine.parse.block import BLOCK, block_place
from shipworthy.machine.parse.drive_pages import page_remarks
from shipworthy.machine.parse.nvme.pages import (
    CONTROLLER_BYTES,
    CONTROLLER_NAMES,
    HEALTH_BYTES,
    HEALTH_NAMES,
    NAMESPACE_NAMES,
    controller_facts,
    health_facts,
    namespace_facts,
)
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind

_NAMESPACE = re.compile(r"nvme(\d+)n(\d+)")
_REPLIES = (
    ("identify-controller", CONTROLLER_NAMES, controller_facts),
    ("smart-log", HEALTH_NAMES, health_facts),
)


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `nvme` (which namespaces there are), then `nvme.<device>.<request>` of each.

    What a controller says of itself is said of each of its namespaces.
    """
    head = reply_read(replies, "nvme")
    if head is None:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name) if _NAMESPACE.fullmatch(name) else None
        if place is None:
            continue
        controller = _controller_name(listing, name)
        for request, names, facts in _REPLIES:
            found += _of(reply_named(replies, f"nvme.{controller}.{request}"), place, names, facts)
        reply = reply_named(replies, f"nvme.{name}.identify-namespace")
        found += _of(reply, place, NAMESPACE_NAMES, namespace_facts)
    return Parsed(tuple(found), remarks=tuple(one for reply in replies for one in _remarks_on(reply)))


def _of(
    reply: Reply | None, place: str, names: tuple[str, ...], facts: Callable[[bytes], tuple[Said, ...]]
) -> list[Sighting]:
    if reply is None:
        return []
    fields = facts(reply.data) if reply.read else tuple(said(n, why_absent(reply)) for n in names)
    return [Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=fields)]


def _remarks_on(reply: Reply) -> tuple[Remark, ...]:
    """Name what is wrong with a controller's reply: no answer in its time, cut short, or a dead bus."""
    if reply.outcome is SourceOutcome.FAILED:
        return (remark(reply.id, RemarkKind.NOT_ANSWERED, reply.locator, reply.error),)
    size = HEALTH_BYTES if reply.id.endswith("smart-log") else CONTROLLER_BYTES
    return () if not reply.read or reply.id == "nvme" else page_remarks(reply, size, reply.locator)


def _controller_name(listing: Listing, namespace: str) -> str:
    """Return the controller that answers for a namespace: by its device's path, else by the names' rule."""
    match = _NAMESPACE.fullmatch(namespace)
    by_name = f"nvme{match[1]}" if match else ""
    return listing.target_name(f"{BLOCK}/{namespace}/controller") or by_name
