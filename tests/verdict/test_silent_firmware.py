"""What firmware is silent about a person answers; what a reading shows to differ nobody answers away.

The whole path under the shipped policy: coverage key, item, answer, finding, verdict.
"""

from __future__ import annotations

import pytest

from shipworthy.inspection import findings_of, items_for
from shipworthy.messages import known_codes, sentence
from shipworthy.model.base import Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Items, Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.policy import CoverageState, Decision
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, VerdictWord
from shipworthy.orders.expect import with_expectations
from shipworthy.verdict import Concerned, decide
from shipworthy.verdict.coverage import Key, keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.verdict.cases import AT, CONFIGURATION

POLICY = parse_policy(shipped_policy(), "shipped")
SOLD = (
    (Category.PROCESSOR, "Tarn C7, 8 cores", "Tarn"),
    (Category.BOARD, "Holloway B6-Q board, rev. 1.1", "Holloway"),
    (Category.MEMORY, "Fennec Quiet 16GB (2x8GB) DDR5-6000 CL30", "Fennec"),
    (Category.STORAGE, "Quarrel M2 1TB NVMe SSD", "Quarrel"),
    (Category.GRAPHICS, "Sable 210 8GB graphics card", "Sable"),
    (Category.NETWORK, "Wren 2.5 Gbit/s network card", "Wren"),
    (Category.OPTICAL_DRIVE, "Quarrel DVD writer", "Quarrel"),
    (Category.POWER_SUPPLY, "Calder Still 550 W, 80 PLUS Gold", "Calder"),
    (Category.CASE, "Osprey Works Fold 2 case, slate grey", "Osprey Works"),
    (Category.COOLER, "Calder Heron dual-fan tower cooler", "Calder"),
    (Category.FAN, "Calder Moth 140 mm fan, 3-pack", "Calder"),
    (Category.CUSTOMISATION, "Sleeving, red/black", ""),
    (Category.CUSTOMISATION, 'Painted name "Studio 4" in white, matt', ""),
    (Category.CABLE, "DisplayPort cable, 2 m", ""),
    (Category.ACCESSORY, "Antennas", ""),
    (Category.SYSTEM_SOFTWARE, "Windows 11 Pro", ""),
    (Category.SERVICE, "Memory profile switched on", ""),
)
ORDER = with_expectations(
    Order(
        order_id="KD-1",
        shop="Kestrel Desk",
        units=("KD-1-1",),
        lines=tuple(
            OrderLine(line_id=str(number), category=category, text=text, maker=maker)
            for number, (category, text, maker) in enumerate(SOLD, 1)
        ),
    )
)
KEYS = tuple(key for key in keys_asked(ORDER, POLICY) if key.required)
FOR_A_PERSON = tuple(k for k in KEYS if EvidenceKind.INSPECTION in k.by and EvidenceKind.BURN_IN not in k.by)


def named(key: Key) -> str:
    return f"{key.category.value}-{key.aspect.value}".replace(" ", "_")


def told(key: Key, outcome: Outcome, by: EvidenceKind, *also: Value) -> Finding:
    return Finding(
        code="test.told",
        outcome=outcome,
        category=key.category,
        aspect=key.aspect,
        by=by,
        line=key.line,
        values=also,
        configuration="" if by is EvidenceKind.INSPECTION else CONFIGURATION,
    )


def by_machine(key: Key, outcome: Outcome = Outcome.CONFORMS) -> Finding:
    by = next(kind for kind in key.by if kind is not EvidenceKind.INSPECTION or len(key.by) == 1)
    return told(key, outcome, by, *values(why="not offered"))


SILENT = tuple(
    told(key, Outcome.CANNOT_TELL, EvidenceKind.READING, *values(why="not offered"))
    if EvidenceKind.READING in key.by and EvidenceKind.INSPECTION in key.by
    else by_machine(key)
    for key in KEYS
    if key.by != (EvidenceKind.INSPECTION,)
)
"""A machine that is right, and tells nothing of what an eye could tell instead."""


def items(findings: tuple[Finding, ...]) -> Items:
    return items_for(ORDER, [(k.line, k.category, k.aspect, k.by) for k in KEYS], findings)


def answers(asked: Items, **others: Outcome) -> list[Observation]:
    return [
        Observation(
            item_id=item.item_id,
            outcome=next(
                (
                    o
                    for a in (item.aspect, *item.also)
                    if (o := others.get(f"{item.category.value} {a.value}"))
                ),
                Outcome.CONFORMS,
            ),
            by="Ines Vaal",
            at=PretendClock().now(),
            note=f"place {number}",
        )
        for number, item in enumerate(asked.items)
    ]


def decided(findings: tuple[Finding, ...], asked: Items, said: list[Observation]) -> Decision:
    return decide(
        Concerned(
            order=ORDER,
            policy=POLICY,
            findings=(*findings, *findings_of(asked, said)),
            configuration=CONFIGURATION,
            simulated=False,
            inputs=(),
            at=AT,
        )
    )


def test_an_honest_machine_with_silent_firmware_is_released_after_a_person_looked() -> None:
    asked = items(SILENT)
    decision = decided(SILENT, asked, answers(asked))
    assert [(r.code, r.line, r.aspect) for r in decision.reasons] == []
    assert decision.verdict is VerdictWord.RELEASE


def test_nothing_is_released_that_nobody_looked_at() -> None:
    decision = decided(SILENT, items(SILENT), [])
    open_keys = {(r.line, r.category, r.aspect) for r in decision.reasons}
    assert open_keys >= {(k.line, k.category, k.aspect) for k in FOR_A_PERSON if k.line}


@pytest.mark.parametrize("key", FOR_A_PERSON, ids=named)
def test_each_thing_that_only_a_person_can_tell_is_asked_in_words(key: Key) -> None:
    about = [
        i
        for i in items(SILENT).items
        if (i.line, i.category, key.aspect) == (key.line, key.category, i.aspect)
    ]
    also = [i for i in items(SILENT).items if i.line == key.line and key.aspect in i.also]
    assert about or also, "an open key that nobody is asked holds for ever"
    for item in (*about, *also):
        said = sentence(item.ask, item.values).say
        assert item.ask in known_codes() and "{" not in said and said.endswith((".", "?", ")"))


@pytest.mark.parametrize("key", FOR_A_PERSON, ids=named)
def test_one_answer_that_it_is_not_so_holds_for_that(key: Key) -> None:
    asked = items(SILENT)
    said = answers(asked, **{f"{key.category.value} {key.aspect.value}": Outcome.DIFFERS})
    assert Outcome.DIFFERS in {one.outcome for one in said}
    decision = decided(SILENT, asked, said)
    assert decision.verdict is VerdictWord.HOLD
    assert (key.line, key.aspect) in {(r.line, r.aspect) for r in decision.reasons}
    assert {r.code for r in decision.reasons} == {"inspection.differs"}


@pytest.mark.parametrize("key", [k for k in FOR_A_PERSON if EvidenceKind.READING in k.by], ids=named)
def test_what_a_reading_shows_to_differ_is_never_answered_away(key: Key) -> None:
    differs = told(key, Outcome.DIFFERS, EvidenceKind.READING)
    findings = (*(f for f in SILENT if f.key != differs.key), differs)
    asked = items(findings)
    assert (key.line, key.category, key.aspect) not in {(i.line, i.category, i.aspect) for i in asked.items}
    everything = items(SILENT)
    decision = decided(findings, everything, answers(everything))
    assert decision.verdict is VerdictWord.HOLD
    (covered,) = [c for c in decision.coverage if (c.line, c.category, c.aspect) == differs.key]
    assert covered.state is CoverageState.DIFFERS


@pytest.mark.parametrize("why", ["not readable", "not asked", "implausible"])
def test_counters_that_could_be_had_are_not_a_sealed_packet_s_to_answer(why: str) -> None:
    """With root's rights the drive would tell its hours: so it is read, not vouched for."""
    (key,) = [k for k in KEYS if k.aspect is Aspect.NEWNESS]
    unread = told(key, Outcome.CANNOT_TELL, EvidenceKind.READING, *values(why=why))
    findings = (*(f for f in SILENT if f.key != unread.key), unread)
    asked = items(findings)
    assert Aspect.NEWNESS not in {item.aspect for item in asked.items}
    decision = decided(findings, asked, answers(asked))
    assert [(r.code, r.aspect) for r in decision.reasons] == [("coverage.cannot-tell", Aspect.NEWNESS)]


def test_a_label_or_a_tray_is_worth_a_picture() -> None:
    pictured = {(i.category, i.aspect) for i in items(SILENT).items if i.media_wanted}
    assert {
        (Category.POWER_SUPPLY, Aspect.RATED_POWER),
        (Category.POWER_SUPPLY, Aspect.EFFICIENCY),
        (Category.ACCESSORY, Aspect.PRESENCE),
        (Category.CUSTOMISATION, Aspect.TEXT),
        (Category.STORAGE, Aspect.NEWNESS),
    } <= pictured


def test_colour_text_and_finish_of_a_customisation_are_each_a_question_with_what_was_ordered() -> None:
    line = next(line for line in ORDER.lines if "Studio 4" in line.text)
    said = {i.aspect: sentence(i.ask, i.values).say for i in items(SILENT).items if i.line == line.line_id}
    assert '"Studio 4"' in said[Aspect.TEXT]
    assert "(white)" in said[Aspect.COLOUR] and "(matt)" in said[Aspect.FINISH]


def test_quantities_are_asked_in_their_own_unit() -> None:
    said = {i.aspect: sentence(i.ask, i.values).say for i in items(SILENT).items}
    assert "550 W" in said[Aspect.RATED_POWER]
    assert "MT/s" in next(
        sentence(i.ask, i.values).say
        for i in items(SILENT).items
        if (i.category, i.aspect) == (Category.MEMORY, Aspect.SPEED)
    )
