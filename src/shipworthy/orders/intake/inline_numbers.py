"""Numbers in brackets behind a part's name: the maker's goes into its field, the shop's own is left out."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.orders.intake import columns
from shipworthy.orders.intake.rawrow import RawRow, with_kind

_INLINE = re.compile(
    r"\s*[(\[]\s*(?:(?P<hash>#)|(?P<label>[^\W\d][\w./ -]{0,20}?)\s*[.:#]\s*)"
    r"(?P<value>(?=[^)\]]*\d)[\w./ -]{2,30}?)\s*[)\]]"
)


def without_inline_numbers(row: RawRow, text: str) -> tuple[RawRow, str]:
    """Return the row with the numbers that stand in brackets behind known labels, and the text without them.

    `(#88213)` and `(SKU: 88213)` are the shop's own, `[MPN: F5-32X]` the maker's; other brackets stay.
    """
    for match in reversed(list(_INLINE.finditer(text))):
        label = columns.heading_key(match["label"] or "")
        meaning = columns.SHOPS_OWN if match["hash"] else columns.meaning_of(label)
        if meaning == columns.SHOPS_OWN:
            row = with_kind(row, meaning)
        elif meaning == columns.PART_NUMBER and not row.part_number:
            row = replace(row, part_number=match["value"])
        elif meaning == columns.GTIN and not row.gtin:
            row = replace(row, gtin=match["value"])
        else:
            continue
        text = text[: match.start()] + " " + text[match.end() :]
    return row, text.strip()
