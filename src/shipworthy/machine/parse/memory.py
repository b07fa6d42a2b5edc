"""Memory that the kernel uses."""

from __future__ import annotations

import re

from shipworthy.machine.listing import WHY_ABSENT, said
from shipworthy.machine.parse.units import KIB
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.facts import Sighting
from shipworthy.model.words import Absent, PartKind

_TOTAL = re.compile(rb"^MemTotal:\s+(\d{1,15}) kB$", re.MULTILINE)


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `meminfo`: usable_bytes, less than what is fitted (firmware and the kernel's image take some).

    Source: proc_meminfo(5), `MemTotal`, printed in units of 1024 bytes.
    """
    reply = reply_named(replies, "meminfo")
    if reply is None:
        return Parsed()
    if not reply.read:
        usable: int | Absent = WHY_ABSENT[reply.outcome]
    else:
        match = _TOTAL.search(reply.data)
        usable = int(match[1]) * KIB if match else Absent.IMPLAUSIBLE
    fields = (said("usable_bytes", usable),)
    return Parsed((Sighting(kind=PartKind.MEMORY, place="memory", source=reply.id, said=fields),))
