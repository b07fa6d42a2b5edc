"""Words that parts go by: noted, reviewed, used, undone; and never two parts by one name."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import pytest

from shipworthy.model.base import Trouble
from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.catalogue_used import Decided, LookedUpBy
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.aliases import current, learnt, reviewed, undone, waiting
from tests.orders import catalogue_samples as samples

CLOCK = PretendClock()
LIST = samples.catalogue()
WORDS = "Fennec gaming kit, quiet"


def note(words: str = WORDS, part: CataloguePart = samples.QUIET_16, known: Iterable[Alias] = ()) -> Alias:
    return learnt(words, part, samples.catalogue(aliases=known), known, by="Odile Marsh", at=CLOCK.now())


def accept(words: str, known: Iterable[Alias]) -> Alias:
    return reviewed(words, LIST, known, by="Tomas Reed", at=CLOCK.now())


def take_back(words: str, known: Iterable[Alias]) -> Alias:
    return undone(words, known, by="Ines Vaal", at=CLOCK.now())


def found(words: str, aliases: Iterable[Alias]) -> str | None:
    answer = samples.catalogue(aliases=current(aliases)).by_name(words, Category.MEMORY)
    if answer.decided is Decided.ONE:
        assert answer.by is LookedUpBy.ALIAS
    return None if answer.part is None else answer.part.part_id


def refusal(action: object) -> str:
    assert isinstance(action, pytest.ExceptionInfo)
    trouble = action.value
    assert isinstance(trouble, Trouble) and trouble.mend.endswith(".") and "\n" not in str(trouble)
    return trouble.what


def test_words_are_used_after_a_review_and_not_before() -> None:
    lines = [note()]
    assert found(WORDS, lines) is None
    assert waiting(current(lines)) == (lines[0],)
    lines.append(accept(WORDS, current(lines)))
    assert found(WORDS, lines) == "fennec-quiet-16"
    assert waiting(current(lines)) == ()


def test_words_are_the_same_in_any_spelling_but_not_in_part() -> None:
    lines = [note(), accept(WORDS, [note()])]
    assert found("fennec GAMING-kit quiet", lines) == "fennec-quiet-16"
    assert found("Fennec gaming kit", lines) is None
    assert found("Fennec gaming kit, quiet, white", lines) is None


def test_an_alias_is_of_its_category() -> None:
    lines = [note(), accept(WORDS, [note()])]
    whole = samples.catalogue(aliases=current(lines))
    assert whole.by_name(WORDS, Category.STORAGE).decided is not Decided.ONE
    assert whole.by_name(WORDS).decided is Decided.ONE


def test_undone_words_are_no_longer_used_and_keep_all_three_names() -> None:
    first = note()
    second = accept(WORDS, [first])
    third = take_back(WORDS, [second])
    assert found(WORDS, [first, second, third]) is None
    assert (third.by, third.reviewed_by, third.undone_by) == ("Odile Marsh", "Tomas Reed", "Ines Vaal")
    assert third.undone_at is not None and third.reviewed_at is not None


def test_words_may_be_taught_anew_when_they_were_undone_also_for_another_part() -> None:
    gone = take_back(WORDS, [note()])
    again = note(WORDS, samples.QUIET_32, [gone])
    lines = [note(), gone, again, accept(WORDS, current([gone, again]))]
    assert found(WORDS, lines) == "fennec-quiet-32"


def test_the_same_words_for_two_parts_are_refused() -> None:
    for known in ([note()], [accept(WORDS, [note()])]):
        with pytest.raises(Trouble) as caught:
            note("FENNEC gaming kit (quiet)", samples.QUIET_32, known)
        assert "stand for the part 'fennec-quiet-16' already" in refusal(caught)


def test_the_same_words_for_the_same_part_are_refused() -> None:
    with pytest.raises(Trouble) as caught:
        note(known=[note()])
    assert "taught these words already" in refusal(caught)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (samples.QUIET_32.name, "name another part, 'fennec-quiet-32'"),
        ("Quiet (2x16GB) 32GB DDR5-6000", "name another part, 'fennec-quiet-32'"),
        ("FQ5 60 16X", "a part number of 'fennec-quiet-32'"),
        ("QM2X-1T0", "a part number of 'quarrel-1tb'"),
        (samples.QUIET_16.name, "by these words already"),
        ("Quiet DDR5-6000 (2x8GB) 16GB", "by these words already"),
        ("", "name nothing"),
        ("  -- ", "name nothing"),
    ],
)
def test_words_that_name_a_part_already_are_refused(words: str, says: str) -> None:
    with pytest.raises(Trouble) as caught:
        note(words)
    assert says in refusal(caught)


def test_nobody_teaches_without_a_name() -> None:
    with pytest.raises(Trouble) as caught:
        learnt(WORDS, samples.QUIET_16, LIST, (), by="  ", at=CLOCK.now())
    assert "nobody is named" in refusal(caught)
    for change in (
        lambda: undone(WORDS, [note()], by=" ", at=CLOCK.now()),
        lambda: reviewed(WORDS, LIST, [note()], by="", at=CLOCK.now()),
    ):
        with pytest.raises(Trouble):
            change()


def test_only_what_waits_is_reviewed_and_only_what_is_there_is_undone() -> None:
    with pytest.raises(Trouble) as caught:
        accept(WORDS, [])
    assert "waits for a review" in refusal(caught)
    with pytest.raises(Trouble) as caught:
        accept(WORDS, [accept(WORDS, [note()])])
    assert "reviewed by Tomas Reed already" in refusal(caught)
    with pytest.raises(Trouble) as caught:
        take_back(WORDS, [take_back(WORDS, [note()])])
    assert "can be undone" in refusal(caught)


def test_what_has_come_into_the_list_since_is_not_accepted_over_it() -> None:
    """Noted for one part; before the review another part of that very name came in."""
    new = msgspec.structs.replace(samples.QUIET_32, part_id="gaming", name=WORDS, part_numbers=())
    later = samples.catalogue((*samples.PARTS, new))
    with pytest.raises(Trouble) as caught:
        reviewed(WORDS, later, [note()], by="Tomas Reed", at=CLOCK.now())
    assert "name another part, 'gaming'" in refusal(caught)


def test_an_alias_of_a_part_that_has_left_the_list_is_not_used_nor_accepted() -> None:
    lines = [note(), accept(WORDS, [note()])]
    rest = samples.catalogue(samples.PARTS[1:], current(lines))
    assert rest.by_name(WORDS, Category.MEMORY).decided is not Decided.ONE
    with pytest.raises(Trouble) as caught:
        reviewed(WORDS, rest, [note()], by="Tomas Reed", at=CLOCK.now())
    assert "has no part 'fennec-quiet-16' any more" in refusal(caught)


def test_a_name_of_the_list_comes_before_words_that_were_learnt() -> None:
    new = msgspec.structs.replace(samples.QUIET_32, part_id="gaming", name=WORDS, part_numbers=())
    lines = [note(), accept(WORDS, [note()])]
    answer = samples.catalogue((*samples.PARTS, new), current(lines)).by_name(WORDS, Category.MEMORY)
    assert (answer.by, answer.part) == (LookedUpBy.NAME, new)
