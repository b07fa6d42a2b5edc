"""Substitutions: a difference that a rule allows is one of its own; everything else still differs."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.compare import compare, with_substitutions
from shipworthy.messages import finding_sentence
from shipworthy.model.base import values
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order
from shipworthy.model.policy import Demand, Direction, Substitution
from shipworthy.model.substituted import SUBSTITUTED, SUBSTITUTED_WITH
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.words.conditions import forbids_substitution, without_conditions
from tests.compare.machines import GIB, LIMITS, codes, drive, line, machine, memory, module, order

WORDS = "We fitted a larger drive at no charge."
LARGER_DRIVE = Substitution(
    rule_id="larger-drive",
    category=Category.STORAGE,
    words=WORDS,
    demands=(
        Demand(aspect=Aspect.TECHNOLOGY, direction=Direction.SAME),
        Demand(aspect=Aspect.CAPACITY, direction=Direction.MORE, most_ratio=2.0),
    ),
    besides=(Aspect.MODEL,),
)
FASTER_MEMORY = Substitution(
    rule_id="faster-memory",
    category=Category.MEMORY,
    words="We fitted faster memory at no charge.",
    demands=(
        Demand(aspect=Aspect.CAPACITY, direction=Direction.SAME),
        Demand(aspect=Aspect.COUNT, direction=Direction.SAME),
        Demand(aspect=Aspect.TECHNOLOGY, direction=Direction.SAME),
        Demand(aspect=Aspect.SPEED, direction=Direction.MORE),
    ),
    besides=(Aspect.PART_NUMBER, Aspect.MAKER),
)
DRIVE = order(line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD"))
TWO_TB = 2_000_398_934_016
LARGER = drive(model="Quarrel M4 2TB", size_bytes=TWO_TB)
MEMORY = order(line(Category.MEMORY, "Fennec 32GB (2x16GB) DDR5-6000", part_number="FQ5-60-16X"))


def found(sold: Order, *parts: Part, rules: tuple[Substitution, ...]) -> tuple[Finding, ...]:
    comparison = compare(sold, machine(*parts), LIMITS, ("reading/reading.json",))
    return with_substitutions(sold, comparison.findings, rules)


def differing(findings: tuple[Finding, ...]) -> dict[str, str]:
    return {f.aspect.value: f.code for f in findings if f.outcome is Outcome.DIFFERS}


def test_a_larger_drive_of_the_same_kind_is_a_substitution_with_the_difference_kept_inside_it() -> None:
    findings = found(DRIVE, LARGER, rules=(LARGER_DRIVE,))
    assert differing(findings) == {"capacity": SUBSTITUTED, "model": SUBSTITUTED_WITH}
    (size,) = [f for f in findings if f.code == SUBSTITUTED]
    named = {value.name: value.value for value in size.values}
    assert (size.want, size.got, size.outcome) == (10**12, TWO_TB, Outcome.DIFFERS)
    assert (named["original"], named["rule"]) == ("storage.capacity.differs", "larger-drive")
    assert finding_sentence(size).say.startswith(WORDS)


def test_without_a_rule_it_stays_a_difference() -> None:
    before = found(DRIVE, LARGER, rules=())
    assert differing(before) == {"capacity": "storage.capacity.differs", "model": "storage.model.differs"}
    assert found(DRIVE, LARGER, rules=(FASTER_MEMORY,)) == before


@pytest.mark.parametrize(
    "fitted",
    [
        pytest.param(drive(model="Harrow P9 500GB", size_bytes=500_107_862_016), id="smaller"),
        pytest.param(drive(model="Harrow P9 4TB", size_bytes=2 * TWO_TB), id="by more than the rule allows"),
        pytest.param(drive(model="Harrow P9 1TB"), id="no larger, and the rule asks for more"),
        pytest.param(
            drive(model="Harrow H1 2TB", size_bytes=TWO_TB, technology="spinning", interface="SATA"),
            id="of another technology",
        ),
    ],
)
def test_a_part_that_does_not_meet_every_demand_still_differs(fitted: Part) -> None:
    assert found(DRIVE, fitted, rules=(LARGER_DRIVE,)) == found(DRIVE, fitted, rules=())


def test_what_could_not_be_told_meets_no_demand() -> None:
    unknown = msgspec.structs.replace(
        LARGER, facts=tuple(f for f in LARGER.facts if f.name not in ("technology", "interface"))
    )
    findings = found(DRIVE, unknown, rules=(LARGER_DRIVE,))
    assert differing(findings)["capacity"] == "storage.capacity.differs"


def test_a_demand_that_the_order_does_not_speak_of_is_not_shown() -> None:
    sold = order(line(Category.STORAGE, "Quarrel M2 1TB"))
    assert differing(found(sold, LARGER, rules=(LARGER_DRIVE,)))["capacity"] == "storage.capacity.differs"


def test_what_no_rule_speaks_of_still_differs_beside_a_substitution() -> None:
    used = drive(model="Quarrel M4 2TB", size_bytes=TWO_TB, power_on_hours=3000)
    assert differing(found(DRIVE, used, rules=(LARGER_DRIVE,)))["newness"] == "storage.newness.used"


def test_faster_memory_of_the_same_kit_is_a_substitution_for_the_whole_line() -> None:
    fast = [
        module(s, configured_speed_mt_s=6400, profile_speed_mt_s=6400, part_number="FQ5-64-16Z")
        for s in ("A", "B")
    ]
    findings = found(MEMORY, *fast, rules=(FASTER_MEMORY,))
    assert {f.code for f in findings if f.outcome is Outcome.DIFFERS} == {SUBSTITUTED, SUBSTITUTED_WITH}


ANY_MEMORY = Substitution(
    rule_id="any-memory",
    category=Category.MEMORY,
    words="We fitted other memory.",
    demands=(Demand(aspect=Aspect.CAPACITY, direction=Direction.SAME_OR_MORE),),
    besides=(Aspect.SPEED, Aspect.COUNT, Aspect.PART_NUMBER, Aspect.MODEL),
)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"configured_speed_mt_s": 6400, "profile_speed_mt_s": 6000}, "memory.speed.above-sold"),
        ({"configured_speed_mt_s": 4800, "profile_speed_mt_s": 6000}, "memory.speed.profile-off"),
        ({"configured_speed_mt_s": 4800}, "memory.speed.below-sold"),
        ({"configured_speed_mt_s": 6400, "part_number": "CMK32GX5M2B6000C36"}, "memory.speed.set-above"),
        ({"configured_speed_mt_s": 6400, "part_number": "CMK32GX5M2B5200C40"}, "memory.speed.number-slower"),
        ({"configured_speed_mt_s": 4800, "part_number": "CMK32GX5M2B6000C36"}, "memory.speed.not-set"),
    ],
)
def test_a_setting_is_no_substitution(said: dict[str, int | str], code: str) -> None:
    sold = order(line(Category.MEMORY, "Fennec 32GB (2x16GB) DDR5-6000"))
    modules = [module(s, **said) for s in ("A", "B")]
    for rule in (FASTER_MEMORY, ANY_MEMORY):
        assert differing(found(sold, *modules, rules=(rule,)))["speed"] == code


def test_a_module_that_cannot_be_used_is_no_substitution_whatever_size_was_fitted() -> None:
    more = [module(s, size_bytes=32 * GIB) for s in ("A", "B")]
    findings = found(MEMORY, *more, memory(31 * GIB), rules=(ANY_MEMORY,))
    assert differing(findings)["capacity"] == "memory.capacity.not-usable"
    findings = found(MEMORY, *more, memory(63 * GIB), rules=(ANY_MEMORY,))
    assert differing(findings)["capacity"] == SUBSTITUTED


def test_modules_of_unequal_size_are_no_substitution() -> None:
    uneven = (module("A", size_bytes=24 * GIB), module("B", size_bytes=8 * GIB))
    other_sizes = msgspec.structs.replace(
        ANY_MEMORY,
        demands=(Demand(aspect=Aspect.TECHNOLOGY, direction=Direction.SAME),),
        besides=(Aspect.CAPACITY,),
    )
    findings = found(MEMORY, *uneven, rules=(other_sizes,))
    assert differing(findings)["capacity"] == "memory.capacity.sizes-differ"
    less = (module("A", size_bytes=8 * GIB), module("B", size_bytes=8 * GIB))
    assert differing(found(MEMORY, *less, rules=(other_sizes,)))["capacity"] == SUBSTITUTED


def test_slower_memory_and_less_of_it_is_none() -> None:
    slow = [module(s, configured_speed_mt_s=5600, part_number="FQ5-56-16Z") for s in ("A", "B")]
    one = [module("A", configured_speed_mt_s=6400)]
    for parts in (slow, one):
        assert found(MEMORY, *parts, rules=(FASTER_MEMORY,)) == found(MEMORY, *parts, rules=())


def test_two_drives_of_a_line_are_judged_each_for_itself() -> None:
    sold = order(line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD", quantity=2))
    smaller = drive("pci:0000:05:00.0/nvme-ns-1", model="Harrow P9 500GB", size_bytes=500_107_862_016)
    findings = found(sold, LARGER, smaller, rules=(LARGER_DRIVE,))
    by_place = {(f.part, f.aspect): f.code for f in findings if f.outcome is Outcome.DIFFERS}
    assert by_place[LARGER.place, Aspect.CAPACITY] == SUBSTITUTED
    assert by_place[smaller.place, Aspect.CAPACITY] == "storage.capacity.differs"


@pytest.mark.parametrize(
    "words", ["no substitution", "No substitutes!", "do not substitute", "no alternatives"]
)
def test_an_order_line_can_forbid_it(words: str) -> None:
    sold = order(line(Category.STORAGE, f"Quarrel M2 1TB NVMe SSD, {words}"))
    assert not {SUBSTITUTED, SUBSTITUTED_WITH} & {f.code for f in found(sold, LARGER, rules=(LARGER_DRIVE,))}


@pytest.mark.parametrize(
    "text",
    [
        "Quarrel M2 1TB NVMe SSD, no substitution",
        "Quarrel M2 1TB NVMe SSD (do not substitute!)",
        "Quarrel M2 1TB NVMe SSD - no  substitutes.",
        "NO SUBSTITUTION: Quarrel M2 1TB NVMe SSD",
    ],
)
def test_such_words_are_no_part_s_name(text: str) -> None:
    assert without_conditions(text) == "Quarrel M2 1TB NVMe SSD"
    sold = order(line(Category.STORAGE, text))
    assert codes(compare(sold, machine(drive()), LIMITS, ()), Aspect.MODEL) == ["storage.model.conforms"]


@pytest.mark.parametrize("text", ["Substitute cable", "Replacement fan", "Quiet fan, no LED"])
def test_words_that_only_sound_like_it_forbid_nothing(text: str) -> None:
    assert not forbids_substitution(text)


def test_ranks_measure_what_is_told_in_words() -> None:
    rule = Substitution(
        rule_id="better-supply",
        category=Category.POWER_SUPPLY,
        words="We fitted a better supply.",
        demands=(
            Demand(
                aspect=Aspect.EFFICIENCY,
                direction=Direction.SAME_OR_MORE,
                ranks=("80 PLUS Bronze", "80 PLUS Gold", "80 PLUS Titanium"),
            ),
        ),
    )
    sold = order(line(Category.POWER_SUPPLY, "Calder Still"))

    def told(want: str, got: str) -> str:
        finding = Finding(
            code="power-supply.efficiency.differs",
            outcome=Outcome.DIFFERS,
            category=Category.POWER_SUPPLY,
            aspect=Aspect.EFFICIENCY,
            by=EvidenceKind.READING,
            line="1",
            want=want,
            got=got,
        )
        return with_substitutions(sold, (finding,), (rule,))[0].code

    assert told("80 PLUS Gold", "80 plus  titanium") == SUBSTITUTED
    assert told("80 PLUS Gold", "80 PLUS Bronze") != SUBSTITUTED
    assert told("80 PLUS Gold", "80 PLUS Diamond") != SUBSTITUTED, "a word that the rule does not rank"


def answer(aspect: Aspect, code: str = "inspection.differs") -> Finding:
    return Finding(
        code=code,
        outcome=Outcome.DIFFERS,
        category=Category.STORAGE,
        aspect=aspect,
        by=EvidenceKind.INSPECTION,
        line="1",
        values=values(note="the label reads Harrow P9"),
    )


def test_what_a_person_reads_on_the_label_of_an_allowed_substitute_goes_with_it() -> None:
    known = found(DRIVE, LARGER, rules=(LARGER_DRIVE,))
    (seen,) = with_substitutions(DRIVE, (answer(Aspect.MODEL),), (LARGER_DRIVE,), known)
    assert seen.code == SUBSTITUTED_WITH


@pytest.mark.parametrize("code", ["inspection.leak", "inspection.mains-damage"])
def test_a_danger_that_a_person_saw_never_becomes_a_substitution(code: str) -> None:
    known = found(DRIVE, LARGER, rules=(LARGER_DRIVE,))
    (seen,) = with_substitutions(DRIVE, (answer(Aspect.MODEL, code),), (LARGER_DRIVE,), known)
    assert seen.code == code


def test_an_answer_alone_is_no_substitution() -> None:
    exact = found(DRIVE, drive(), rules=(LARGER_DRIVE,))
    (seen,) = with_substitutions(DRIVE, (answer(Aspect.MODEL),), (LARGER_DRIVE,), exact)
    assert seen.code == "inspection.differs"


def test_doing_it_twice_changes_nothing() -> None:
    once = found(DRIVE, LARGER, rules=(LARGER_DRIVE,))
    assert with_substitutions(DRIVE, once, (LARGER_DRIVE,)) == once
    assert "storage.capacity.conforms" not in codes(
        compare(DRIVE, machine(LARGER), LIMITS, ("reading/reading.json",))
    )
