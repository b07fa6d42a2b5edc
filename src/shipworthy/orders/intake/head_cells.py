"""A row of a pasted confirmation whose cells each tell something of the order's head, or of nobody's part."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.model.intake import Became
from shipworthy.orders.intake import private
from shipworthy.orders.intake.dates import settled
from shipworthy.orders.intake.page import Page
from shipworthy.orders.intake.persons import personal
from shipworthy.orders.intake.rawrow import RawRow
from shipworthy.orders.intake.surroundings import courtesy, head

_SETS_APART = re.compile(r"\t+|\s{2,}|\s*\|\s*|\s[·•]\s")
# Labels of an order's head: one behind a value, which ends in a figure, begins what may be a cell of its own.
_BEFORE_LABEL = re.compile(
    r"(?<=[\d)\]])\s+(?=(?:(?:order|auftrags?|bestell)?(?:date|datum)|due(?: date)?|delivery(?: date)?|"
    r"dispatch(?: date)?|ready by|liefer(?:termin|datum|tag)|date de livraison|"
    r"(?:customer|client|kunden|kd\.?)[- ]?(?:no|nr|number|nummer|id)|"
    r"(?:order|auftrags?|bestell|commande)[- ]?(?:no|nr|number|nummer|n[°º]))(?![^\W_])\.?\s*:?\s*[^\s:])",
    re.IGNORECASE,
)


def several(row: RawRow, named: str, page: Page) -> RawRow | None:
    """A row whose cells each tell something of the order and none a part: its number, its date, a person.

    named: the row with the kinds of what is private in its place.
    """
    rough = (_BEFORE_LABEL.split(cell) for cell in _SETS_APART.split(named.strip()))
    cells = [cell for inner in rough for cell in inner if any(map(str.isalnum, cell))]
    if len(cells) < 2:
        return None
    trial = page.copy()
    found: list[RawRow] = []
    for cell in cells:
        bare = re.sub(r"\[(?:[a-zA-Z -]+)\]", "  ", cell)
        kinds = tuple(kind for kind in row.left_out if f"[{kind}]" in cell)
        if private.PRICE in kinds:
            return None
        one = _told(RawRow(row.place, cell, left_out=kinds), bare, trial)
        if one is None:
            return None
        trial.private_above = one.became is Became.LEFT_OUT
        found.append(one)
    if "due" in trial.head and "due" not in page.head:
        due, who = trial.head["due"]
        trial.head["due"] = (settled(due, named), who)
    page.take(trial)
    kinds = tuple(dict.fromkeys(kind for one in found for kind in one.left_out))
    words = "  ".join(one.words or f"[{one.left_out[-1]}]" for one in found if one.words or one.left_out)
    ends = {one.became for one in found}
    became = next(b for b in (Became.HEAD, Became.NO_PART, Became.LEFT_OUT) if b in ends)
    return replace(row, words="" if became is Became.LEFT_OUT else words, became=became, left_out=kinds)


def _told(row: RawRow, bare: str, page: Page) -> RawRow | None:
    if not any(map(str.isalnum, bare)):
        return replace(row, became=Became.LEFT_OUT, words="")
    for reader in (personal, head, courtesy):
        if (found := reader(row, bare, page)) is not None and found.became is not None:
            return found
    return None
