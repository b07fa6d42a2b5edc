"""Order lines that find their part numbers in a catalogue made of the open records. For `bench/matching.py`.

A record whose text is that of several (open records have duplicates, and siblings told apart by their numbers
alone) finds the numbers of none: a catalogue that cannot choose asks the shop.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

from matching_tables import CATEGORIES, Retail, table_of
from matching_truth import same_part


class Found:
    """Part numbers by the text of the line, where it is that of one part."""

    title = "found in a catalogue"

    def __init__(self, folder: Path) -> None:
        by_name: dict[str, list[Retail]] = defaultdict(list)
        for title in CATEGORIES:
            for record in table_of(folder, title).records:
                by_name[record.name.casefold()].append(record)
        self._by_name = by_name

    def of(self, retail: Retail) -> tuple[str, ...]:
        found = self._by_name.get(retail.name.casefold(), [])
        if not found or any(not same_part(found[0], other) for other in found[1:]):
            return ()
        return tuple(dict.fromkeys(number for record in found for number in record.numbers))
