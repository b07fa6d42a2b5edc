"""The kernel that runs."""

from __future__ import annotations

from shipworthy.machine.listing import Listing
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Sighting
from shipworthy.model.words import PartKind

FOLDER = "/proc/sys/kernel"


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `kernel`: release, version, architecture."""
    reply = reply_read(replies, "kernel")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    files = (("release", "osrelease"), ("version", "version"), ("architecture", "arch"))
    fields = tuple(listing.said(name, f"{FOLDER}/{file}", str) for name, file in files)
    return Parsed((Sighting(kind=PartKind.KERNEL, place="kernel", source=reply.id, said=fields),))
