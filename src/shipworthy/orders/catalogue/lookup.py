"""Looking up: by part number, by GTIN, by alias, by name. Ambiguity is an answer, never a guess."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.catalogue_used import Decided, LookedUpBy
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import Index, rarity, spelling_key
from shipworthy.orders.catalogue.likeness import Fit, Query, fit_of
from shipworthy.orders.catalogue.numbers import gtin_key, number_key

MOST_LOOKED_AT = 8
MOST_TOLD = 5
LEAST_SCORE = 0.2
"""Share of the weight of all atoms of both names that they have in common; below it nothing is told (the
tool's own rule)."""

_DECODER = msgspec.msgpack.Decoder(CataloguePart)


@dataclass(frozen=True, slots=True)
class Candidate:
    """likeness: 0 to 1, to rank by; it decides nothing."""

    part: CataloguePart
    likeness: float
    fit: Fit


@dataclass(frozen=True, slots=True)
class Found:
    """What a look-up says. candidates: the part, or those that it may be, or (NONE) the nearest others."""

    decided: Decided
    by: LookedUpBy
    candidates: tuple[Candidate, ...] = ()

    @property
    def part(self) -> CataloguePart | None:
        return self.candidates[0].part if self.decided is Decided.ONE else None


class Catalogue:
    """A part list that is ready for looking up. aliases: only those that hold are used."""

    def __init__(self, index: Index, list_name: str = "", aliases: Iterable[Alias] = ()) -> None:
        self.index, self.list_name = index, list_name
        self._ends = np.frombuffer(index.ends, np.uint32)
        self._part_of = np.frombuffer(index.part_of_entry, np.uint32)
        self._must = np.frombuffer(index.must, np.uint16)
        self._must_weight = np.frombuffer(index.must_weight, np.float32)
        self._category_of = np.frombuffer(index.category_of_part, np.uint8)[self._part_of]
        self._aliases = {
            spelling_key(alias.said, alias.category.value): alias.part_id
            for alias in aliases
            if alias.holds and alias.part_id in index.ids
        }

    def __len__(self) -> int:
        return len(self._ends)

    def part(self, part_id: str) -> CataloguePart | None:
        """Return the part with that id of the list's own."""
        place = self.index.ids.get(part_id)
        return None if place is None else self._at(place)

    def by_number(self, number: str, category: Category | None = None) -> Found:
        """Look a part number up; spaces, hyphens and case do not count."""
        return self._exactly(
            LookedUpBy.PART_NUMBER, _places(self.index.numbers, number_key(number)), category
        )

    def by_gtin(self, gtin: str, category: Category | None = None) -> Found:
        """Look a GTIN up, in any of its lengths. One with a wrong check digit finds nothing."""
        return self._exactly(LookedUpBy.GTIN, _places(self.index.gtins, gtin_key(gtin)), category)

    def by_name(self, text: str, category: Category | None = None) -> Found:
        """Look up what a text names: by its spelling, then by a reviewed alias, then by its words."""
        kinds = [category.value] if category else self.index.categories
        keys = [spelling_key(text, kind) for kind in kinds]
        spelled = [place for key in keys for place in _places(self.index.spellings, key)]
        if spelled and text.strip():
            return self._exactly(LookedUpBy.NAME, spelled, category)
        learnt = {self._aliases[key] for key in keys if key in self._aliases}
        if learnt:
            places = [self.index.ids[part_id] for part_id in sorted(learnt)]
            return self._exactly(LookedUpBy.ALIAS, places, category)
        return self._by_words(Query.of(text, category), category)

    def _at(self, place: int) -> CataloguePart:
        begin = int(self._ends[place - 1]) if place else 0
        return _DECODER.decode(memoryview(self.index.parts)[begin : int(self._ends[place])])

    def _exactly(self, by: LookedUpBy, places: Iterable[int], category: Category | None) -> Found:
        parts = [self._at(place) for place in dict.fromkeys(places)]
        parts = [part for part in parts if category in (None, part.category)]
        decided = (Decided.NONE, Decided.ONE)[len(parts)] if len(parts) < 2 else Decided.SEVERAL
        return Found(decided, by, tuple(Candidate(part, 1.0, Fit.SAME) for part in parts))

    def _by_words(self, query: Query, category: Category | None) -> Found:
        atoms = query.name.atoms
        allowed = self._of_category(category)
        if not atoms or allowed is False:
            return Found(Decided.NONE, LookedUpBy.NAME)
        entries = len(self._part_of)
        said = np.zeros(entries, np.uint16)
        besides = np.zeros(entries, np.uint16)
        weight = np.zeros(entries, np.float32)
        whole_weight = 0.0
        for atom in atoms:
            having = np.frombuffer(self.index.said.get(atom, b""), np.uint32)
            rare = rarity(entries, len(having))
            whole_weight += rare
            said[having] += 1
            weight[having] += rare
            besides[np.frombuffer(self.index.also.get(atom, b""), np.uint32)] += 1
        score = weight / (self._must_weight + whole_weight - weight)
        if allowed is not True:
            score = np.where(allowed, score, 0)
        told = (said == self._must) & (said + besides == len(atoms)) & (score > 0)
        fits: dict[int, Candidate] = {}
        found = self._fitting(query, np.flatnonzero(told), score, fits)
        if not any(one.fit is Fit.SAME for one in found):
            found = self._fitting(query, np.flatnonzero(score >= LEAST_SCORE), score, fits)
        same = [one for one in found if one.fit is Fit.SAME]
        if same:
            return Found(Decided.ONE if len(same) == 1 else Decided.SEVERAL, LookedUpBy.NAME, tuple(same))
        may_be = [one for one in found if one.fit is not Fit.OTHER]
        decided = Decided.SEVERAL if may_be else Decided.NONE
        return Found(decided, LookedUpBy.NAME, tuple((may_be or found)[:MOST_TOLD]))

    def _of_category(self, category: Category | None) -> NDArray[np.bool_] | bool:
        if category is None:
            return True
        if category.value not in self.index.categories:
            return False
        allowed: NDArray[np.bool_] = self._category_of == self.index.categories.index(category.value)
        return allowed

    def _fitting(
        self,
        query: Query,
        entries: NDArray[np.intp],
        score: NDArray[np.float32],
        known: dict[int, Candidate],
    ) -> list[Candidate]:
        """Return the parts of the likeliest entries, the likeliest first. known: those looked at."""
        if len(entries) > MOST_LOOKED_AT:
            entries = entries[np.argpartition(-score[entries], MOST_LOOKED_AT)[:MOST_LOOKED_AT]]
        places: dict[int, None] = {}
        for entry in sorted(entries.tolist(), key=lambda e: (-float(score[e]), e)):
            place = int(self._part_of[entry])
            places[place] = None
            if place not in known:
                part = self._at(place)
                known[place] = Candidate(part, round(float(score[entry]), 3), fit_of(query, part))
        return [known[place] for place in places]


def _places(table: dict[str, bytes], key: str) -> list[int]:
    found: list[int] = np.frombuffer(table.get(key, b""), np.uint32).tolist()
    return found
