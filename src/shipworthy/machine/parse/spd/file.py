"""A file with one memory module's SPD as a source."""

from __future__ import annotations

from shipworthy.machine.parse.spd.source import decode
from shipworthy.machine.raw import Parsed, Reply, parsed_each
from shipworthy.model.facts import Sighting
from shipworthy.model.words import PartKind


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file: a module, by the file's name, as it does not tell its slot."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    image = decode(reply.data)
    place = f"file:{reply.locator.lstrip('/')}"
    module = Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=reply.id, said=image.said)
    remarks = tuple(fault.remark(reply.id) for fault in image.faults)
    return Parsed((module,) if image.said else (), remarks=remarks)
