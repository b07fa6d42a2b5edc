"""What texts of each category say; nothing that no reading judges passes in silence."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.inspection import items_for
from shipworthy.model.base import Scalar
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, Unit
from shipworthy.orders.expect import line_with_expectations
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.compare import machines as m

GIB = 2**30
TB = 10**12


def wants(category: Category, text: str, quantity: int = 1) -> dict[Aspect, Scalar]:
    line = OrderLine(line_id="1", category=category, text=text, quantity=quantity)
    return {e.aspect: e.want for e in line_with_expectations(line).expectations}


@pytest.mark.parametrize(
    ("category", "text", "said"),
    [
        (
            Category.MEMORY,
            "32GB (2x16GB) DDR5-6000 CL30-36-36-76 1.35V ECC",
            {
                Aspect.CAPACITY: 32 * GIB,
                Aspect.COUNT: 2,
                Aspect.SPEED: 6000,
                Aspect.TECHNOLOGY: "DDR5",
                Aspect.TIMINGS: "30-36-36-76",
                Aspect.ERROR_CORRECTION: "ECC",
            },
        ),
        (
            Category.MEMORY,
            "16 GB, PC4-25600",
            {Aspect.CAPACITY: 16 * GIB, Aspect.SPEED: 3200, Aspect.TECHNOLOGY: "DDR4"},
        ),
        (
            Category.STORAGE,
            'Quarrel Q4 4TB HDD 7200RPM 256MB cache SATA 6Gb/s 3.5"',
            {
                Aspect.CAPACITY: 4 * TB,
                Aspect.TECHNOLOGY: "spinning",
                Aspect.INTERFACE: "SATA",
                Aspect.FORM: '3.5"',
                Aspect.SPEED: 7200,
            },
        ),
        (
            Category.STORAGE,
            "Quarrel Q7 2TB SSD M.2 2280 PCIe 5.0 x4",
            {
                Aspect.CAPACITY: 2 * TB,
                Aspect.TECHNOLOGY: "solid state",
                Aspect.INTERFACE: "NVMe",
                Aspect.FORM: "M.2-2280",
            },
        ),
        (
            Category.STORAGE,
            "2x 1TB SATA SSD",
            {Aspect.CAPACITY: TB, Aspect.TECHNOLOGY: "solid state", Aspect.INTERFACE: "SATA"},
        ),
        (
            Category.STORAGE,
            "Quarrel Q4 2TB (7200rpm, 256MB)",
            {Aspect.CAPACITY: 2 * TB, Aspect.TECHNOLOGY: "spinning", Aspect.SPEED: 7200},
        ),
        (
            Category.STORAGE,
            "512MB flash module, SATA",
            {Aspect.CAPACITY: 512 * 10**6, Aspect.INTERFACE: "SATA"},
        ),
        (
            Category.GRAPHICS,
            "Sable 4070 Squall 2X 12GB GDDR6X",
            {Aspect.CAPACITY: 12 * GIB, Aspect.TECHNOLOGY: "GDDR6X"},
        ),
        (
            Category.POWER_SUPPLY,
            "Calder Still 850W 80+ Gold SFX-L",
            {Aspect.RATED_POWER: 850, Aspect.EFFICIENCY: "80 PLUS Gold", Aspect.FORM: "SFX-L"},
        ),
        (Category.COOLER, "Calder Heron 360mm AIO", {Aspect.SIZE: 360}),
        (Category.NETWORK, "Lark card, Wi-Fi 6E, Bluetooth 5.3", {Aspect.TECHNOLOGY: "Wi-Fi 6E"}),
    ],
)
def test_what_a_text_says_is_expected(category: Category, text: str, said: dict[Aspect, Scalar]) -> None:
    found = wants(category, text)
    assert {aspect: want for aspect, want in found.items() if aspect is not Aspect.MODEL} == said


def test_sizes_that_are_whole_are_whole_numbers_and_packs_are_multiplied() -> None:
    found = wants(Category.FAN, "Calder Moth 3-pack 120 mm", quantity=2)
    assert found == {Aspect.SIZE: 120, Aspect.COUNT: 6}
    assert isinstance(found[Aspect.SIZE], int)


@pytest.mark.parametrize(
    ("category", "text", "aspect"),
    [
        (Category.MEMORY, "16GB DDR5-5600 non-ECC", Aspect.ERROR_CORRECTION),
        (Category.MEMORY, "16GB DDR5-5600 on-die ECC", Aspect.ERROR_CORRECTION),
        (Category.STORAGE, "Quarrel Q7 1TB SSD PCIe 3.0 x4", Aspect.INTERFACE),
        (Category.STORAGE, "Quarrel Q7 7200 1TB SSD", Aspect.SPEED),
        (Category.COOLER, "Calder Heron tower, 158 mm", Aspect.SIZE),
        (Category.CASE, "Osprey Fold 2, 850W supply, 3x 120 mm fans", Aspect.SIZE),
        (Category.POWER_SUPPLY, "Calder RM850x", Aspect.RATED_POWER),
        (Category.POWER_SUPPLY, "Calder Still 850W, Cybenetics Gold", Aspect.EFFICIENCY),
    ],
)
def test_what_a_text_does_not_say_is_not_guessed(category: Category, text: str, aspect: Aspect) -> None:
    assert aspect not in wants(category, text)


@pytest.mark.parametrize(
    ("text", "capacity", "count"),
    [
        ("32GB kit of 2, 16GB each", 32 * GIB, 2),
        ("2x16GB, 32GB in all", 32 * GIB, 2),
        ("32GB (2x16GB), kit of 2", 32 * GIB, 2),
        ("16GB + 16GB", 32 * GIB, 2),
        ("2 x Fennec 16GB", None, None),
        ("32GB (2x32GB)", None, None),
        ("2x16GB or 4x8GB", None, None),
        ("64GB (2x16GB)", None, None),
        ("32GB kit of 2, 8GB each", None, None),
        ("16GB + 32GB", None, None),
    ],
)
def test_sizes_and_kits_of_one_text_add_up_or_say_nothing(
    text: str, capacity: int | None, count: int | None
) -> None:
    found = wants(Category.MEMORY, text)
    assert (found.get(Aspect.CAPACITY), found.get(Aspect.COUNT)) == (capacity, count)


def test_words_of_an_expectation_stand_in_the_text_as_they_are() -> None:
    texts = {
        Category.MEMORY: "Fennec\u00a032 ＧＢ (2 × 16\u202fGB) DDR5‑6000 CL30‑36‑36‑76",
        Category.STORAGE: "Quarrel Q7 Pro 2,5″ 1\u202f000 GB SATA SSD black",
        Category.POWER_SUPPLY: "Calder 850\u00a0W 80 Plus® Gold",
        Category.BOARD: "Holloway B6-Q board, µATX, rev 1.3",
    }
    for category, text in texts.items():
        line = line_with_expectations(OrderLine(line_id="1", category=category, text=text))
        assert len(line.expectations) > 1
        assert [e for e in line.expectations if not e.words or e.words not in text] == []


# Never a silent pass


SOLD = (
    m.line(Category.MEMORY, "Fennec 32GB (2x16GB) DDR5-6000 30-36-36-76 ECC", "memory"),
    m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD M.2 2280", "drive"),
    m.line(Category.STORAGE, 'Quarrel Q4 4TB HDD 7200rpm 3.5" SATA', "disk"),
    m.line(Category.POWER_SUPPLY, "Calder Still 550W 80+ Gold SFX", "supply"),
    m.line(Category.COOLER, "Calder Heron 240mm AIO", "cooler"),
    m.line(Category.FAN, "Calder Moth 3-pack 120 mm", "fans"),
    m.line(Category.NETWORK, "Lark Wi-Fi 6E card", "card"),
)
NEW = {
    Aspect.FORM,
    Aspect.SIZE,
    Aspect.TIMINGS,
    Aspect.ERROR_CORRECTION,
    Aspect.RATED_POWER,
    Aspect.EFFICIENCY,
}


@pytest.mark.parametrize("fitted", [True, False])
def test_every_expectation_ends_as_a_finding_and_what_is_not_shown_as_an_item(fitted: bool) -> None:
    order = m.order(*SOLD)
    parts = (
        (m.module("A2"), m.module("B2"), m.drive(), m.drive("sata:1", model="Quarrel Q4")) if fitted else ()
    )
    findings = compare(order, m.machine(*parts), m.LIMITS, m.EVIDENCE).findings
    policy = parse_policy(shipped_policy(), "shipped")
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy) if k.required]
    asked = {(item.line, item.aspect) for item in items_for(order, keys, findings).items}
    seen = set()
    for line in order.lines:
        for wish in line.expectations:
            about = [f for f in findings if (f.line, f.aspect) == (line.line_id, wish.aspect)]
            assert about, (line.line_id, wish.aspect)
            outcomes = {finding.outcome for finding in about}
            open_ = outcomes & {Outcome.NOT_CHECKED, Outcome.CANNOT_TELL} and Outcome.DIFFERS not in outcomes
            by = next(by for name, _, aspect, by in keys if (name, aspect) == (line.line_id, wish.aspect))
            if open_ and EvidenceKind.INSPECTION in by:
                by_place = line.category is Category.FAN and wish.aspect is Aspect.COUNT  # one look a fan
                assert (line.line_id, Aspect.PRESENCE if by_place else wish.aspect) in asked
            seen.add(wish.aspect)
    assert seen >= NEW


def test_units_of_the_new_aspects_are_what_order_files_take() -> None:
    units = {e.aspect: e.unit for line in m.order(*SOLD).lines for e in line.expectations}
    assert (units[Aspect.RATED_POWER], units[Aspect.SIZE]) == (Unit.WATTS, Unit.MILLIMETRES)
    assert {units[a] for a in (Aspect.FORM, Aspect.TIMINGS, Aspect.EFFICIENCY)} == {Unit.TEXT}
