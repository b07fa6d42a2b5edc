"""Graphics cards: products that remain, memory, and who made the card."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.orders.expect import line_questions
from tests.compare import machines as m

TWO = "Sable 210 | Sable 210 Ti"


def found_of(aspect: Aspect, of: OrderLine, **said: Scalar | Absent) -> Finding:
    return m.finding(compare(m.order(of), m.machine(card(**said)), (), ()), aspect)


def card(**said: Scalar | Absent) -> Part:
    return m.part(PartKind.GRAPHICS, "pci:0000:03:00.0", **said)


@pytest.mark.parametrize(
    ("sold", "code", "outcome"),
    [
        ("Sable 210 graphics card", "graphics.model.candidates", Outcome.CANNOT_TELL),
        ("Sable 210 Ti graphics card", "graphics.model.candidates", Outcome.CANNOT_TELL),
        ("Sable 250 graphics card", "graphics.model.no-candidate", Outcome.DIFFERS),
        ("Sable 210 Pro graphics card", "graphics.model.candidates", Outcome.CANNOT_TELL),
    ],
)
def test_an_order_among_candidates_is_open_and_one_like_none_differs(
    sold: str, code: str, outcome: Outcome
) -> None:
    found = found_of(
        Aspect.MODEL,
        m.line(Category.GRAPHICS, sold),
        model=Absent.NOT_OFFERED,
        model_candidates=TWO,
    )
    assert (found.code, found.outcome) == (code, outcome)
    assert "Sable 210, Sable 210 Ti" in finding_sentence(found).say


def test_one_name_of_exactly_this_card_tells_it_and_one_of_several_cards_does_not() -> None:
    of = m.line(Category.GRAPHICS, "Sable 210 Ti Meadow")
    for name, outcome in (
        ("Sable 210 Ti Meadow", Outcome.CONFORMS),
        ("Sable 210/210 Ti", Outcome.CANNOT_TELL),
        ("Sable Meadow", Outcome.CANNOT_TELL),
    ):
        found = found_of(Aspect.MODEL, of, model_candidates=TWO, card_model=name)
        assert found.outcome is outcome, name
    wrong = found_of(Aspect.MODEL, of, model="Sable 250", card_model="Sable 210 Ti Meadow")
    assert wrong.outcome is Outcome.DIFFERS


def test_a_card_that_mines_slowly_is_no_other_product() -> None:
    of = m.line(Category.GRAPHICS, "Sable 210 graphics card")
    for name in ("Sable 210 Lite Hash Rate", "Sable 210 LHR"):
        assert found_of(Aspect.MODEL, of, model=name).outcome is Outcome.CONFORMS
        listed = found_of(Aspect.MODEL, of, model_candidates=f"{name} | Sable 230")
        assert listed.code == "graphics.model.candidates"
    assert found_of(Aspect.MODEL, of, model="Sable 210 Lite").outcome is Outcome.DIFFERS


@pytest.mark.parametrize(
    ("sold_gb", "told", "outcome"),
    [
        (12, 12 * m.GIB, Outcome.CONFORMS),
        (12, int(11.7 * m.GIB), Outcome.CONFORMS),
        (12, 11_264 << 20, Outcome.CANNOT_TELL),  # what a card of 11 shows
        (11, 11_264 << 20, Outcome.CONFORMS),
        (12, 8 * m.GIB, Outcome.DIFFERS),
        (8, 12 * m.GIB, Outcome.DIFFERS),
        (7, int(6.9 * m.GIB), Outcome.CONFORMS),  # a size that no list has
        (8, Absent.NOT_READABLE, Outcome.CANNOT_TELL),
        (8, Absent.IMPLAUSIBLE, Outcome.CANNOT_TELL),
    ],
)
def test_memory_may_lack_a_tenth_but_not_be_nearer_to_another_size(
    sold_gb: int, told: int | Absent, outcome: Outcome
) -> None:
    of = m.line(Category.GRAPHICS, f"Sable 210 {sold_gb}GB graphics card")
    found = found_of(Aspect.CAPACITY, of, model="Sable 210", memory_bytes=told)
    assert found.outcome is outcome
    assert "{" not in finding_sentence(found).say


@pytest.mark.parametrize(
    ("sold", "card_maker", "maker", "outcome"),
    [
        (
            "Sapphire",
            "Sapphire Technology Limited",
            "Advanced Micro Devices, Inc. [AMD/ATI]",
            Outcome.CONFORMS,
        ),
        ("Sapphire", "ASRock Incorporation", "Advanced Micro Devices, Inc. [AMD/ATI]", Outcome.DIFFERS),
        # the chip maker's own design, whoever sells it
        ("Sapphire", "Advanced Micro Devices, Inc.", "Advanced Micro Devices, Inc.", Outcome.CANNOT_TELL),
        ("Sapphire", Absent.NOT_OFFERED, "Advanced Micro Devices, Inc.", Outcome.CANNOT_TELL),
        ("AMD", "Sapphire Technology Limited", "Advanced Micro Devices, Inc. [AMD/ATI]", Outcome.CONFORMS),
        ("NVIDIA", "ASUSTeK Computer Inc.", "Advanced Micro Devices, Inc. [AMD/ATI]", Outcome.DIFFERS),
        ("Norvik", "Holloway Graphics", "NVIDIA Corporation", Outcome.CANNOT_TELL),
    ],
)
def test_the_maker_of_a_card_is_not_that_of_its_chip(
    sold: str, card_maker: str | Absent, maker: str, outcome: Outcome
) -> None:
    of = m.line(Category.GRAPHICS, "Sable 210 graphics card", maker=sold)
    found = found_of(Aspect.MAKER, of, model="Sable 210", card_maker=card_maker, maker=maker)
    assert found.outcome is outcome
    assert "{" not in finding_sentence(found).say


@pytest.mark.parametrize(
    ("sold", "vendor", "model", "outcome"),
    [
        ("GeForce RTX 4070", "0x1002", "Raphael", Outcome.DIFFERS),
        ("GeForce RTX 4070", "0x1a03", "ASPEED Graphics Family", Outcome.DIFFERS),
        ("Radeon RX 7600", "0x10de", Absent.NOT_OFFERED, Outcome.DIFFERS),
        ("GeForce RTX 4070", "0x10de", "Raphael", Outcome.CANNOT_TELL),  # of the right maker, unknown name
        ("GeForce RTX 4070", "0x10de", "NVIDIA GeForce RTX 4070", Outcome.CONFORMS),
        ("GeForce RTX 4070", Absent.NOT_OFFERED, "Raphael", Outcome.CANNOT_TELL),  # no source told the ids
        ("GeForce RTX 4070 for Intel boards", "0x10de", "NVIDIA GeForce RTX 4070", Outcome.CONFORMS),
        ("GeForce RTX 4070", "0xffff", "Raphael", Outcome.CANNOT_TELL),  # no id
        ("GeForce RTX 4070", "0x1af4", "NVIDIA GeForce RTX 4070", Outcome.CONFORMS),  # passed on by a host
        ("Sable 210", "0x1002", "Sable 210", Outcome.CONFORMS),  # no chip maker's words in the order
    ],
)
def test_a_chip_of_another_maker_is_not_the_one_sold_whatever_its_name(
    sold: str, vendor: str | Absent, model: str | Absent, outcome: Outcome
) -> None:
    of = m.line(Category.GRAPHICS, f"{sold} graphics card")
    found = found_of(Aspect.MODEL, of, vendor_id=vendor, device_id="0x1234", model=model)
    assert found.outcome is outcome
    assert "{" not in finding_sentence(found).say


def test_a_card_that_was_changed_is_not_taken_for_the_graphics_within_the_processor() -> None:
    """Both lines would be open, crosswise; the one that is right is told, and so is the other."""
    lines = tuple(
        m.line(
            Category.GRAPHICS,
            f"{model} graphics",
            line_id,
            expectations=(Expectation(aspect=Aspect.MODEL, want=model),),
        )
        for line_id, model in (("1", "GP104 [GeForce GTX 1080]"), ("2", "Raphael"))
    )
    within = m.part(PartKind.GRAPHICS, "pci:0000:0c:00.0", vendor_id="0x1002", model="Raphael")
    wrong = m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", vendor_id="0x10de", model="GK104 [GeForce GTX 680]")
    found = compare(m.order(*lines), m.machine(within, wrong), (), ()).findings
    told = {f.line: (f.outcome, f.part) for f in found if f.aspect is Aspect.MODEL}
    assert told == {"1": (Outcome.DIFFERS, wrong.place), "2": (Outcome.CONFORMS, within.place)}


WITHIN = m.part(PartKind.GRAPHICS, "pci:0000:00:02.0", vendor_id="0x8086", model="UHD Graphics 770")


@pytest.mark.parametrize("sold", ["GeForce RTX 4070", "GeForce RTX 4070 12GB", "Sable 210"])
@pytest.mark.parametrize("slot", [(), ("pci:0000:01:00.0",)])
def test_another_card_stands_for_the_line_and_not_the_graphics_within_the_processor(
    sold: str, slot: tuple[str, ...]
) -> None:
    """Else the card would be one that nobody ordered, and the line about a part that came with another."""
    slots = [
        m.part(PartKind.SLOT, "smbios:PCIE1", type="PCI Express x16", in_use=True, device_place=place)
        for place in slot
    ]
    fitted = m.part(
        PartKind.GRAPHICS,
        "pci:0000:01:00.0",
        vendor_id="0x10de",
        model="GeForce RTX 4060",
        memory_bytes=8 * m.GIB,
    )
    found = compare(m.order(m.line(Category.GRAPHICS, sold)), m.machine(WITHIN, fitted, *slots), (), ())
    model = m.finding(found, Aspect.MODEL)
    assert (model.outcome, model.part, model.got) == (Outcome.DIFFERS, fitted.place, "GeForce RTX 4060")
    assert found.unclaimed == ()


def test_graphics_within_the_processor_stand_for_the_line_that_sells_them() -> None:
    order = m.order(m.line(Category.GRAPHICS, "UHD Graphics 770"))
    card = m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", vendor_id="0x10de", model="GeForce RTX 4060")
    found = compare(order, m.machine(WITHIN, card), (), ())
    model = m.finding(found, Aspect.MODEL)
    assert (model.outcome, model.part) == (Outcome.CONFORMS, WITHIN.place)
    assert found.unclaimed == (card.place,)


@pytest.mark.parametrize(
    ("sold", "told", "outcome"),
    [
        ("GeForce RTX 3060 Ti 8GB GDDR6X", {}, Outcome.NOT_CHECKED),  # drivers call both by one name
        ("GeForce RTX 3060 Ti 8GB GDDR6X", {"model": "GA104 [GeForce RTX 3060 Ti GDDR6X]"}, Outcome.CONFORMS),
        ("GeForce RTX 3060 Ti 8GB GDDR6", {"model": "GA104 [GeForce RTX 3060 Ti GDDR6X]"}, Outcome.DIFFERS),
        ("GeForce RTX 3060 Ti 8GB GDDR6", {"card_model": "RTX 3060 Ti OC GDDR6"}, Outcome.CONFORMS),
        ("GeForce RTX 3060 Ti 2GB DDR4", {"card_model": "RTX 3060 Ti 2GB GDDR5"}, Outcome.DIFFERS),
        ("GeForce RTX 3060 Ti GDDR3", {"card_model": "RTX 3060 Ti 1GB DDR2/GDDR3"}, Outcome.NOT_CHECKED),
        ("GeForce RTX 3060 Ti GDDR3", {"card_model": "RTX 3060 Ti 1GB DDR3"}, Outcome.NOT_CHECKED),
    ],
)
def test_the_type_of_a_cards_memory_is_told_by_a_name_that_has_it_and_else_by_the_label(
    sold: str, told: dict[str, str], outcome: Outcome
) -> None:
    of = m.line(Category.GRAPHICS, sold)
    found = found_of(Aspect.TECHNOLOGY, of, **{"vendor_id": "0x10de", "model": "GeForce RTX 3060 Ti", **told})
    assert found.outcome is outcome
    assert "{" not in finding_sentence(found).say


def test_two_types_of_memory_in_a_text_are_asked_about_and_none_is_expected() -> None:
    of = m.order(m.line(Category.GRAPHICS, "Sable 210 8GB GDDR6 GDDR6X")).lines[0]
    assert of.wanted(Aspect.TECHNOLOGY) is None
    assert [(q.code, q.aspect) for q in line_questions(of)] == [("question.contradiction", Aspect.TECHNOLOGY)]
