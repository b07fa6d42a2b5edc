"""Items are derived, answers are taken as they are, and what nobody answered is not checked."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from shipworthy.inspection import findings_of, items_for, observations_from, read_answers
from shipworthy.messages import finding_sentence, known_codes, sentence
from shipworthy.model.base import Trouble, values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Answer, Answers, Item, Items, Media, Observation
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, Aspect, Category, Danger, EvidenceKind, Outcome, Unit
from shipworthy.verdict import may_be_conceded
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy

ORDER = Order(
    order_id="KD-1",
    shop="Kestrel Desk",
    units=("KD-1-1",),
    lines=(
        OrderLine(
            line_id="1",
            category=Category.GRAPHICS,
            text="Sable 210 graphics",
            expectations=(Expectation(aspect=Aspect.MODEL, want="Sable 210"),),
        ),
        OrderLine(line_id="2", category=Category.CASE, text="Osprey Fold case"),
    ),
)
BOTH = (EvidenceKind.READING, EvidenceKind.INSPECTION)
MODEL_KEY = ("1", Category.GRAPHICS, Aspect.MODEL, BOTH)


def found(outcome: Outcome, by: EvidenceKind = EvidenceKind.READING) -> Finding:
    return Finding(
        code="graphics.model.ids-only",
        outcome=outcome,
        category=Category.GRAPHICS,
        aspect=Aspect.MODEL,
        by=by,
        line="1",
    )


def test_what_no_source_can_tell_becomes_an_item_that_says_why() -> None:
    (item,) = items_for(ORDER, [MODEL_KEY], [found(Outcome.CANNOT_TELL)]).items
    assert (item.item_id, item.because) == ("1.model", "graphics.model.ids-only")
    assert "Sable 210" in sentence(item.ask, item.values).say


def test_what_nothing_checks_says_why_too_and_what_could_not_tell_comes_first() -> None:
    """Which of a key's findings comes first in the list does not matter."""
    unchecked = Finding(
        code="graphics.variant.not-checked",
        outcome=Outcome.NOT_CHECKED,
        category=Category.GRAPHICS,
        aspect=Aspect.MODEL,
        by=EvidenceKind.READING,
        line="1",
        want="Squall",
        values=values(name="Sable 210 Squall"),
    )
    (item,) = items_for(ORDER, [MODEL_KEY], [unchecked]).items
    assert item.because == "graphics.variant.not-checked"
    assert sentence(item.because, item.why) == finding_sentence(unchecked)
    assert "Sable 210 Squall: that the card is the Squall" in finding_sentence(unchecked).say
    for both in ([unchecked, found(Outcome.CANNOT_TELL)], [found(Outcome.CANNOT_TELL), unchecked]):
        (item,) = items_for(ORDER, [MODEL_KEY], both).items
        assert item.because == "graphics.model.ids-only"


def test_that_no_reading_shows_it_is_the_reason_and_is_not_said_again() -> None:
    silent = msgspec.structs.replace(found(Outcome.NOT_CHECKED), code="line.not-by-reading")
    (item,) = items_for(ORDER, [MODEL_KEY], [silent]).items
    assert (item.because, item.why) == ("line.not-by-reading", ())
    other = msgspec.structs.replace(silent, aspect=Aspect.CAPACITY)
    (item,) = items_for(ORDER, [MODEL_KEY], [other]).items
    assert (item.because, item.why) == ("order", ())


def test_what_was_shown_is_not_asked_again() -> None:
    assert items_for(ORDER, [MODEL_KEY], [found(Outcome.CONFORMS)]).items == ()


def test_what_differs_is_not_asked_a_person() -> None:
    assert items_for(ORDER, [MODEL_KEY], [found(Outcome.DIFFERS)]).items == ()


def test_cores_of_which_two_sources_contradict_each_other_nobody_sees() -> None:
    key = ("1", Category.PROCESSOR, Aspect.CORES, BOTH)
    one = msgspec.structs.replace(
        found(Outcome.CANNOT_TELL), category=Category.PROCESSOR, aspect=Aspect.CORES
    )
    implausible = msgspec.structs.replace(one, values=values(why=Absent.IMPLAUSIBLE.value))
    assert items_for(ORDER, [key], [implausible]).items == ()
    silent = msgspec.structs.replace(one, values=values(why=Absent.NOT_OFFERED.value))
    assert len(items_for(ORDER, [key], [silent]).items) == 1


def test_a_bare_yes_counts_only_where_no_note_is_wanted() -> None:
    (item,) = items_for(ORDER, [MODEL_KEY], [found(Outcome.CANNOT_TELL)]).items
    yes = msgspec.structs.replace(observation(Outcome.CONFORMS), item_id=item.item_id, note="")
    wanted = msgspec.structs.replace(item, note_wanted=True)

    def outcome(of: Item, seen: Observation) -> Outcome:
        return findings_of(Items(items=(of,)), [seen])[0].outcome

    assert outcome(item, yes) is Outcome.CONFORMS
    assert outcome(wanted, yes) is Outcome.CANNOT_TELL
    assert outcome(wanted, msgspec.structs.replace(yes, note=" ")) is Outcome.CANNOT_TELL
    assert outcome(wanted, msgspec.structs.replace(yes, note="by its label")) is Outcome.CONFORMS


def test_what_only_a_reading_may_show_is_not_asked_a_person() -> None:
    key = ("1", Category.GRAPHICS, Aspect.MODEL, (EvidenceKind.READING,))
    assert items_for(ORDER, [key], [found(Outcome.CANNOT_TELL)]).items == ()


def test_every_item_of_the_shipped_policy_has_a_question_and_its_cautions_have_words() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    lines = tuple(
        OrderLine(
            line_id=str(n),
            category=category,
            text=f"some {category.value}",
            expectations=tuple(Expectation(aspect=aspect, want="x") for aspect in Aspect),
        )
        for n, category in enumerate(c for c in Category if c is not Category.UNIT)
    )
    order = Order(order_id="A", shop="S", units=("U",), lines=lines)
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy)]
    items = items_for(order, keys, []).items
    asked = {item.ask for item in items} | {item.caution for item in items if item.caution}
    assert len({item.item_id for item in items}) == len(items) > 50
    assert asked <= known_codes()


ITEM = Item(
    item_id="2.condition",
    ask="inspect.condition",
    because="order",
    line="2",
    category=Category.CASE,
    aspect=Aspect.CONDITION,
)


def observation(outcome: Outcome, by: str = "Ines Vaal") -> Observation:
    return Observation(item_id="2.condition", outcome=outcome, by=by, at=PretendClock().now())


def test_an_item_that_nobody_answered_is_not_checked() -> None:
    (finding,) = findings_of(Items(items=(ITEM,)), [])
    assert (finding.outcome, finding.code) == (Outcome.NOT_CHECKED, "inspection.unanswered")


@pytest.mark.parametrize("outcome", list(Outcome))
def test_the_last_observation_of_an_item_counts(outcome: Outcome) -> None:
    (finding,) = findings_of(Items(items=(ITEM,)), [observation(Outcome.CONFORMS), observation(outcome)])
    assert finding.outcome is outcome
    assert finding.by is EvidenceKind.INSPECTION
    assert finding.configuration == ""


@pytest.mark.parametrize("danger", list(Danger))
def test_a_danger_that_somebody_saw_is_a_difference_that_nobody_can_concede(danger: Danger) -> None:
    seen = msgspec.structs.replace(observation(Outcome.CONFORMS), danger=danger)
    (finding,) = findings_of(Items(items=(ITEM,)), [seen])
    assert finding.outcome is Outcome.DIFFERS
    assert finding.code in known_codes()
    policy = parse_policy(shipped_policy(), "shipped")
    assert not may_be_conceded(finding.code, policy)


ANSWERS = """
schema = 1
by = "Ines Vaal"
[[answers]]
item = "2.condition"
outcome = "conforms"
note = "No marks."
media = ["case.jpg"]
[[answers]]
item = "9.condition"
outcome = "differs"
"""


def keep(path: Path) -> Media:
    return Media(file=f"inspection/media/{path.name}", digest="sha512:" + "0" * 128)


def test_answers_become_observations_and_unasked_ones_are_named(tmp_path: Path) -> None:
    (tmp_path / "answers.toml").write_text(ANSWERS)
    answers = read_answers(tmp_path / "answers.toml")
    clock = PretendClock(datetime(2026, 3, 2, tzinfo=UTC))
    observations, unasked = observations_from(answers, Items(items=(ITEM,)), tmp_path, keep, clock)
    assert [(o.item_id, o.outcome, o.by, o.note) for o in observations] == [
        ("2.condition", Outcome.CONFORMS, "Ines Vaal", "No marks.")
    ]
    assert observations[0].media[0].file == "inspection/media/case.jpg"
    assert unasked == ("9.condition",)


def test_an_item_answered_twice_is_refused(tmp_path: Path) -> None:
    twice = Answers(by="A", answers=(Answer(item="2.condition", outcome=Outcome.CONFORMS),) * 2)
    with pytest.raises(Trouble, match=r"2\.condition is answered twice"):
        observations_from(twice, Items(items=(ITEM,)), tmp_path, keep, PretendClock())


@pytest.mark.parametrize(
    "text", ["by = 3", 'schema = 1\nby = "A"\nanswers = [{item = "1.a", outcome = "fine"}]', "= ="]
)
def test_bad_answers_are_told_in_one_sentence(tmp_path: Path, text: str) -> None:
    (tmp_path / "answers.toml").write_text(text)
    with pytest.raises(Trouble, match="not valid answers"):
        read_answers(tmp_path / "answers.toml")


def test_a_danger_stays_for_the_attempt_whatever_is_said_later() -> None:
    leak = msgspec.structs.replace(observation(Outcome.DIFFERS), danger=Danger.LEAK)
    (finding,) = findings_of(Items(items=(ITEM,)), [leak, observation(Outcome.CONFORMS)])
    assert finding.code == "inspection.leak"


@pytest.mark.parametrize("by", ["", "  "])
def test_nobody_cannot_answer(tmp_path: Path, by: str) -> None:
    (tmp_path / "answers.toml").write_text(ANSWERS.replace("Ines Vaal", by))
    with pytest.raises(Trouble, match="not valid answers"):
        read_answers(tmp_path / "answers.toml")


@pytest.mark.parametrize("name", ["../key.jpg", "home/key.json"])
def test_a_picture_lies_beside_the_answers_and_is_a_picture(tmp_path: Path, name: str) -> None:
    answers = Answers(by="A", answers=(Answer(item="2.condition", outcome=Outcome.CONFORMS, media=(name,)),))
    with pytest.raises(Trouble, match=r"folder of the answers|no picture"):
        observations_from(answers, Items(items=(ITEM,)), tmp_path, keep, PretendClock())


def test_a_size_is_asked_with_its_unit_once() -> None:
    fan = OrderLine(
        line_id="3",
        category=Category.FAN,
        text="Calder Moth",
        expectations=(Expectation(aspect=Aspect.SIZE, want=140, unit=Unit.MILLIMETRES),),
    )
    order = msgspec.structs.replace(ORDER, lines=(fan,))
    (item,) = items_for(order, [("3", Category.FAN, Aspect.SIZE, BOTH)], ()).items
    assert sentence(item.ask, item.values).say == "Is it of the size that was sold (140 mm): Calder Moth?"
