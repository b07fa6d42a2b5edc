"""Sound: a card that names itself as the one sold is there; any other says nothing.

Every board and every graphics card has sound of its own, so that some sound is there proves nothing of a
card that was sold. What no name or id shows, a person has to look at.
"""

from __future__ import annotations

from shipworthy.compare.identity import bare, ids_of, judge_maker
from shipworthy.compare.judgement import Judgement, judged, not_by_reading
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from shipworthy.words.counts import find_pci_ids
from shipworthy.words.likeness import Likeness, short_name_likeness
from shipworthy.words.makers import maker_key, maker_keys
from shipworthy.words.models import model_text


class SoundMatcher:
    """Presence of those cards that can be told, and of nothing else."""

    category = Category.SOUND

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        free = sorted(scene.reading.of_kind(PartKind.SOUND), key=lambda part: part.place)
        return tuple(self._verdicts(line, free) for line in sorted(lines, key=lambda line: line.line_id))

    def _verdicts(self, line: OrderLine, free: list[Part]) -> Verdicts:
        """Take the parts that are told to be this line's out of those that are free."""
        mine = [part for part in free if _is_sold(line, part)][: line.quantity]
        for part in mine:
            free.remove(part)
        found: list[tuple[str, Judgement]] = []
        if len(mine) == line.quantity:
            found += [(part.place, judged(Outcome.CONFORMS, Aspect.PRESENCE, None, None)) for part in mine]
        found += [("", _judge_wish(wish, line, mine)) for wish in line.expectations]
        return Verdicts(line, tuple(found), tuple(part.place for part in mine))


def _judge_wish(wish: Expectation, line: OrderLine, mine: list[Part]) -> Judgement:
    """Judge a wish: a card's maker is shown where its ids name him; another name there is the chip's."""
    if wish.aspect is Aspect.MAKER and len(mine) == line.quantity:
        found = {judge_maker(wish, line, part).outcome for part in mine}
        by_subsystem = all(maker_key(str(wish.want)) in maker_keys(part.text("card_maker")) for part in mine)
        if found == {Outcome.CONFORMS} or by_subsystem:
            return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, mine[0].text("maker") or None)
    return not_by_reading(wish)


def _is_sold(line: OrderLine, part: Part) -> bool:
    ids = find_pci_ids(line.text)
    if len(ids) == 1:
        return ids_of(part) == f"{ids[0].vendor}:{ids[0].device}"
    names = [name for fact in ("card_model", "model") if (name := part.text(fact))]
    want = bare(model_text(line.text, Category.SOUND), line, part)
    return any(
        short_name_likeness(want, bare(name, line, part), line.text) is Likeness.SAME for name in names
    )


MATCHER = SoundMatcher()
