"""A question to the shop: what an order line leaves open, or says in two ways."""

from __future__ import annotations

from shipworthy.model.base import Record, Value
from shipworthy.model.words import Aspect


class Question(Record):
    """line: id of the order line. aspect: what is open. code: of the sentence that asks. words: what in the
    text gave rise to it, as it stands there; of a contradiction all sides, with ` / ` between."""

    line: str
    aspect: Aspect
    code: str
    words: str = ""
    values: tuple[Value, ...] = ()
