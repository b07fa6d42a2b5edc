"""One item for each place of a fan. A hub reports one of its fans and some headers none, so that no count of
tachometers is a count of fans: somebody looks at each, and says where it sits.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from shipworthy.model.base import Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.words.cooling import find_packs, find_radiators, says_liquid

MOST_PLACES = 32
_NUMERALS = {
    "single": 1,
    "one": 1,
    "dual": 2,
    "twin": 2,
    "double": 2,
    "two": 2,
    "triple": 3,
    "three": 3,
    "four": 4,
}
_SOLD_WITH = re.compile(
    rf"(?<![\w.,-])(?P<count>\d{{1,2}}|{'|'.join(_NUMERALS)})[\s-]?(?:x\s)?"
    r"(?:(?:pre-?(?:installed|fitted)|built-?in|included|[A-Z]?RGB|PWM|quiet|\d{2,3}\s?mm)\s){0,3}fans?\b",
    re.IGNORECASE,
)
_ROOM = re.compile(
    r"\b(?:room|space|places?|mounts?|support(?:s|ing|ed)?|fits|accepts|accommodates|takes|up\sto|max(?:imum|\.)?)\b"
    r"[^.;,()|/]*"
    r"|(?<![\w.,-])\d{1,2}[\s-]?(?:x\s)?(?:\d{2,3}\s?mm\s)?fan[\s-](?:mounts?|positions?|places?|slots?|bays?)\b",
    re.IGNORECASE,
)
"""What a case has room for is not in it."""
_FANS_OF_RADIATORS = {120: 1, 140: 1, 240: 2, 280: 2, 360: 3, 420: 3, 480: 4, 560: 4}
"""By the length in mm: fans of 120 or 140 in a row (common practice)."""


def places_of(line: OrderLine) -> int:
    """Return how many places of fans an order line sells; 0 where it sells none, or does not tell how many.

    The fans of a fan line are all of its packs. A cooler and a case tell theirs, a radiator by its length.
    """
    if line.category is Category.FAN:
        count = line.wanted(Aspect.COUNT)
        if count is not None and isinstance(count.want, int):
            return count.want
        packs = {pack.count for pack in find_packs(line.text)}
        return line.quantity * (packs.pop() if len(packs) == 1 else 1)
    if line.category in (Category.COOLER, Category.CASE):
        return line.quantity * (_sold_with(line.text) or _of_radiator(line))
    return 0


def _sold_with(text: str) -> int:
    text = _ROOM.sub(" ", text)
    found = {match["count"].casefold() for match in _SOLD_WITH.finditer(text)}
    counts = {_NUMERALS.get(word) or int(word) for word in found}
    counts |= {pack.count for pack in find_packs(text)}
    return counts.pop() if len(counts) == 1 else 0


def _of_radiator(line: OrderLine) -> int:
    sizes = {int(one.mm) for one in find_radiators(line.text)} if line.category is Category.COOLER else set()
    long = sizes and (says_liquid(line.text) or min(sizes) >= 240)
    return _FANS_OF_RADIATORS.get(sizes.pop(), 0) if long and len(sizes) == 1 else 0


def shown_by_sensors(findings: Sequence[Finding]) -> tuple[Value, ...]:
    """Return how many fans were seen turning under load, as the value `turning`; nothing where none was."""
    for finding in findings:
        if finding.code == "fans.turn" and finding.outcome is Outcome.CONFORMS:
            count = finding.value("count")
            return values(turning=count) if count is not None else ()
    return ()
