"""A file with one memory module's SPD as a source."""

from __future__ import annotations

from shipworthy.machine.parse.spd.source import decode
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import PartKind


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file: a module, by the file's name, as it does not tell its slot."""
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for reply in replies:
        if reply.read:
            image = decode(reply.data)
            place = f"file:{reply.locator.lstrip('/')}"
            if image.said:
                found.append(
                    Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=reply.id, said=image.said)
                )
            remarks += [f.remark(reply.id) for f in image.faults]
    return Parsed(tuple(found), remarks=tuple(remarks))
