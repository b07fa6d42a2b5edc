"""Values of an open part record: typed, with units, and what of them cannot be used, with the reason.

In that data a zero stands for what nobody filled in, and so does an empty list (SOURCE.md of the set: *zeros
for unknown*). A number outside of what a thing of its kind can have is a slip, and no fact.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from shipworthy.model.words import Category

ZERO = "a zero, which stands for not known"
ALL_ZERO = "all connectors of the record are zero, which stands for not known"
NO_NUMBER = "no number"
IMPLAUSIBLE = "cannot be so"
TYPE_A = re.compile(r"(?:type|USB)[ -]{0,2}A\b", re.IGNORECASE)
"""Words for sockets of USB that are of type A."""


@dataclass
class Notes:
    """What was not understood: by category, key and reason, how often, and the first example."""

    counts: Counter[tuple[Category, str, str]] = field(default_factory=Counter)
    examples: dict[tuple[Category, str, str], str] = field(default_factory=dict)

    def add(self, category: Category, name: str, why: str, example: object = "") -> None:
        key = (category, name, why)
        self.counts[key] += 1
        self.examples.setdefault(key, str(example)[:120])


@dataclass(frozen=True)
class OpenRecord:
    """One record of the open part lists, and where to note what is not understood. Keys are dotted."""

    tree: dict[str, Any]
    category: Category
    notes: Notes

    @property
    def name(self) -> str:
        return self.text("metadata.name")

    @property
    def by_hand(self) -> bool:
        """Whether somebody says to have verified this record by hand."""
        return bool(self.raw("metadata.last_manually_spec_verified_at"))

    def raw(self, key: str) -> Any:
        """Return the value under a dotted key; None where there is none."""
        found: Any = self.tree
        for step in key.split("."):
            found = found.get(step) if isinstance(found, dict) else None
        return found

    def note(self, key: str, why: str, example: object = "") -> None:
        self.notes.add(self.category, key, why, example)

    def text(self, key: str) -> str:
        """Return a text without spaces around it; empty for any other value."""
        found = self.raw(key)
        return " ".join(found.split()) if isinstance(found, str) else ""

    def texts(self, key: str) -> tuple[str, ...]:
        """Return the texts of a list, each once, in their order."""
        found = self.raw(key)
        texts = (
            [" ".join(one.split()) for one in found if isinstance(one, str)]
            if isinstance(found, list)
            else []
        )
        return tuple(dict.fromkeys(filter(None, texts)))

    def number(self, key: str, least: float, most: float) -> float | None:
        """Return a number from `least` to `most`; None, with a note, for any other but a null."""
        found = self.raw(key)
        if found is None:
            return None
        if isinstance(found, bool) or not isinstance(found, int | float):
            self.note(key, NO_NUMBER, found)
        elif found == 0:
            self.note(key, ZERO)
        elif least <= found <= most:
            return float(found)
        else:
            self.note(key, IMPLAUSIBLE, f"{found} ({self.name})")
        return None

    def count(self, key: str, most: int = 10_000) -> int | None:
        """Return a whole number from 1; None, with a note, for any other but a null."""
        found = self.number(key, 1, most)
        if found is not None and not found.is_integer():
            self.note(key, IMPLAUSIBLE, f"{found} ({self.name})")
            return None
        return None if found is None else int(found)

    def scaled(self, key: str, unit: int, most: float) -> int | None:
        """Return a number of units as a whole number of bytes."""
        found = self.number(key, 0.001, most)
        return None if found is None else round(found * unit)

    def flag(self, key: str) -> bool | None:
        """Return a yes; a no only of a record that was verified by hand, as it is what nobody filled in."""
        found = self.raw(key)
        if found is True or (found is False and self.by_hand):
            return bool(found)
        return None

    def counts(self, group: str, *names: str) -> dict[str, int] | None:
        """Return the counts of a group of connectors, by those of the names that it has; None, with a note,
        where none of them is above zero."""
        found = self.raw(group)
        if not isinstance(found, dict):
            return None
        counted = {name: found.get(name) for name in names}
        whole = {
            n: c
            for n, c in counted.items()
            if isinstance(c, int) and not isinstance(c, bool) and 0 <= c < 100
        }
        if not any(whole.values()):
            self.note(group, ALL_ZERO)
            return None
        return whole


def texts_in(found: object) -> list[str]:
    """Return the texts of a list, as they stand there."""
    return [text for text in found if isinstance(text, str)] if isinstance(found, list) else []
