"""What a bench knows besides an order and a reading: its own gear, serials of parts of other
units, and what its own burn-ins did to the drives of this one.

It is data of the comparison and kept beside it (ADR 0029).
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Record
from shipworthy.model.words import PartKind

_Words = Annotated[str, msgspec.Meta(min_length=1, max_length=200, pattern=r"\S")]


class Gear(Record):
    """One thing of the bench's own that is plugged into the units that are built there."""

    serial: _Words
    what: _Words


class Restocking(Record):
    """A person's word that a part came back into stock, and that it may be built in again.

    It speaks of what was seen of that serial up to that day, and of nothing later. on: a date without a time,
    by the shop's own calendar.
    """

    serial: _Words
    by: _Words
    on: date
    why: _Words


class Seen(Record):
    """Where a serial stands in the sealed record of another unit. model: what the part called itself there;
    empty if it did not. on: the day of the reading, UTC."""

    serial: str
    kind: PartKind
    model: str
    unit_id: str
    attempt: Annotated[int, msgspec.Meta(ge=1)]
    on: date


class OwnWork(Record):
    """What the bench's own burn-ins have done with a drive before it was read: by serial, from their logs.

    written_bytes: what was written to it. hours: how long they ran. starts: of the machine, meanwhile.
    """

    serial: _Words
    written_bytes: Annotated[int, msgspec.Meta(ge=0)] = 0
    hours: Annotated[float, msgspec.Meta(ge=0)] = 0.0
    starts: Annotated[int, msgspec.Meta(ge=0)] = 0


class Known(Record):
    """All of it, as one comparison was given it."""

    schema: Literal[1] = 1
    gear: tuple[Gear, ...] = ()
    seen: tuple[Seen, ...] = ()
    restocked: tuple[Restocking, ...] = ()
    own_work: tuple[OwnWork, ...] = ()


NOTHING_KNOWN = Known()
