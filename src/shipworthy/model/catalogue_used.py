"""What of a shop's part list was used for an order, and what it leaves to be asked. Kept with the order."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from shipworthy.model.base import Digest, Record, Value
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.orders import Expectation


class Decided(StrEnum):
    """What a look-up says. ONE: there is no doubt. SEVERAL: it may be these, or this: that is to be asked."""

    ONE = "one"
    SEVERAL = "several"
    NONE = "none"


class LookedUpBy(StrEnum):
    """What of an order line a part was looked up by."""

    PART_NUMBER = "part number"
    GTIN = "GTIN"
    ALIAS = "alias"
    NAME = "name"


class CatalogueQuestion(Record):
    """Something that the shop has to answer. code: of its sentence, with its values. line: the order line."""

    code: str
    line: str
    values: tuple[Value, ...] = ()


class LineUsed(Record):
    """One order line. part: the record as it stood in the list; None where none was found beyond doubt.

    may_be: ids of the parts that it may be. added: the expectations that come from the part.
    """

    line: str
    decided: Decided
    by: LookedUpBy | None = None
    part: CataloguePart | None = None
    may_be: tuple[str, ...] = ()
    added: tuple[Expectation, ...] = ()


class CatalogueUsed(Record):
    """`order/catalogue-used.json`. list_name, list_digest: the file, without its folder. credits: what the
    licences of its sources ask to be said."""

    schema: Literal[1] = 1
    list_name: str
    list_digest: Digest
    parts: int
    lines: tuple[LineUsed, ...]
    questions: tuple[CatalogueQuestion, ...] = ()
    credits: tuple[str, ...] = ()
