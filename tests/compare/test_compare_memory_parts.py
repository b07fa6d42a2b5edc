"""Memory against what its modules say of themselves: kits, mixed parts, slots, and firmware that says little.

Part numbers of real makers stand here only for the rules by which these makers build them.
"""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome
from tests.compare import machines as m

KIT = "Corsair Vengeance LPX 32GB (2x16GB) DDR4-3200 CL16"


def said(*parts: Part, of: OrderLine) -> Comparison:
    return compare(m.order(of), m.machine(*parts), (), ())


def kit(text: str = KIT, number: str = "") -> OrderLine:
    return m.line(Category.MEMORY, text, part_number=number, maker="Corsair")


def modules(count: int = 2, **facts: object) -> list[Part]:
    known = {"type": "DDR4", "configured_speed_mt_s": 3200, "maker": "Corsair"}
    known |= {"part_number": "CMK32GX4M2B3200C16"} | facts
    return [m.module(f"DIMM_{'AB'[i % 2]}{i // 2 + 1}", **known) for i in range(count)]  # type: ignore[arg-type]


def codes(found: Comparison, aspect: Aspect) -> list[tuple[str, Outcome]]:
    return [(f.code, f.outcome) for f in found.findings if f.aspect is aspect]


def test_a_kit_by_its_name_alone_leaves_the_label_to_a_person() -> None:
    found = said(*modules(), of=kit())
    assert codes(found, Aspect.MODEL) == [("memory.model.read-label", Outcome.NOT_CHECKED)]
    assert not [f for f in found.findings if f.outcome in (Outcome.DIFFERS, Outcome.CANNOT_TELL)]


def test_a_kits_part_number_settles_its_name() -> None:
    found = said(*modules(), of=kit(number="CMK32GX4M2B3200C16"))
    assert codes(found, Aspect.MODEL) == [("memory.model.by-part-number", Outcome.CONFORMS)]


@pytest.mark.parametrize("number", [Absent.NOT_OFFERED, "Unknown", "859B", "0x00"])
def test_firmware_that_says_nothing_of_use_is_no_difference(number: str | Absent) -> None:
    found = said(*modules(part_number=number, maker="Unknown"), of=kit(number="CMK32GX4M2B3200C16"))
    assert not [f for f in found.findings if f.outcome is Outcome.DIFFERS]
    assert codes(found, Aspect.MODEL)[0][1] is Outcome.NOT_CHECKED


@pytest.mark.parametrize(
    ("fitted", "code"),
    [
        ("CMK32GX4M2D3600C18", "memory.speed.number-faster"),
        ("CMK32GX4M2A2666C16", "memory.speed.number-slower"),
    ],
)
def test_modules_of_another_kit_show_by_the_speed_in_their_number(fitted: str, code: str) -> None:
    """They run at the speed sold, or could: the number tells that they were made for another."""
    found = said(*modules(part_number=fitted), of=kit())
    assert codes(found, Aspect.SPEED) == [(code, Outcome.DIFFERS)]


def test_modules_of_another_kit_show_by_the_latency_in_their_number() -> None:
    found = said(*modules(part_number="CMK32GX4M2E3200C20"), of=kit())
    assert codes(found, Aspect.MODEL) == [("memory.model.other-latency", Outcome.DIFFERS)]
    rounded = said(*modules(part_number="CMK32GX4M2E3200C15"), of=kit())  # numbers round it
    assert codes(rounded, Aspect.MODEL) == [("memory.model.read-label", Outcome.NOT_CHECKED)]


def test_a_profile_that_is_off_is_a_setting_where_the_number_says_the_speed_sold() -> None:
    of = kit("Corsair Vengeance 32GB (2x16GB) DDR5-6000 CL36")
    right = modules(type="DDR5", configured_speed_mt_s=4800, part_number="CMK32GX5M2B6000C36")
    assert codes(said(*right, of=of), Aspect.SPEED) == [("memory.speed.not-set", Outcome.DIFFERS)]
    wrong = modules(type="DDR5", configured_speed_mt_s=4800, part_number="CMK32GX5M2B5200C40")
    assert codes(said(*wrong, of=of), Aspect.SPEED) == [("memory.speed.number-slower", Outcome.DIFFERS)]


def test_a_base_speed_is_no_difference_where_the_order_sells_it() -> None:
    of = kit("Corsair Vengeance 32GB (2x16GB) DDR5-4800 CL40")
    found = said(*modules(type="DDR5", configured_speed_mt_s=4800, part_number="CMK32GX5M2A4800C40"), of=of)
    assert codes(found, Aspect.SPEED) == [("memory.speed.conforms", Outcome.CONFORMS)]


@pytest.mark.parametrize("nonsense", [40_600, 34_699])
def test_a_speed_that_no_memory_reaches_is_none(nonsense: int) -> None:
    found = said(*modules(configured_speed_mt_s=nonsense), of=kit())
    assert codes(found, Aspect.SPEED) == [("memory.speed.cannot-tell", Outcome.CANNOT_TELL)]


def test_no_speed_at_all_stays_open() -> None:
    found = said(*modules(configured_speed_mt_s=Absent.NOT_OFFERED), of=kit())
    assert codes(found, Aspect.SPEED) == [("memory.speed.cannot-tell", Outcome.CANNOT_TELL)]


def test_a_clock_is_told_from_a_rate_where_no_such_rate_exists() -> None:
    """1800 is no step of DDR4 and half of 3600: the clock. 1600 may be a rate, so nobody can tell."""
    of = kit("Corsair Vengeance LPX 32GB (2x16GB) DDR4-3600 CL18")
    number = "CMK32GX4M2D3600C18"
    clock = modules(configured_speed_mt_s=1800, firmware_speed_mt_s=3600, part_number=number)
    assert codes(said(*clock, of=of), Aspect.SPEED) == [("memory.speed.clock", Outcome.CONFORMS)]
    open_one = modules(configured_speed_mt_s=1600, firmware_speed_mt_s=3200)
    assert codes(said(*open_one, of=kit()), Aspect.SPEED) == [
        ("memory.speed.half-of-rated", Outcome.CANNOT_TELL)
    ]


def test_a_type_that_the_firmware_does_not_know_stands_in_the_number() -> None:
    of = kit("Corsair Vengeance 32GB (2x16GB) DDR5-6000 CL36")
    known = {"type": Absent.NOT_OFFERED, "configured_speed_mt_s": 6000}
    right = said(*modules(**known, part_number="CMK32GX5M2B6000C36"), of=of)
    assert codes(right, Aspect.TECHNOLOGY) == [("memory.technology.by-part-number", Outcome.CONFORMS)]
    wrong = said(*modules(**known, part_number="CMK32GX4M2D3600C18"), of=of)
    assert codes(wrong, Aspect.TECHNOLOGY) == [("memory.technology.differs", Outcome.DIFFERS)]
    unread = said(*modules(**known, part_number="Unknown"), of=of)
    assert codes(unread, Aspect.TECHNOLOGY) == [("memory.technology.cannot-tell", Outcome.CANNOT_TELL)]


def test_a_kit_of_two_sold_and_four_modules_fitted() -> None:
    found = said(*modules(4), of=kit(number="CMK32GX4M2B3200C16"))
    assert codes(found, Aspect.COUNT) == [("memory.count.differs", Outcome.DIFFERS)]
    assert codes(found, Aspect.CAPACITY) == [("memory.capacity.differs", Outcome.DIFFERS)]


def test_modules_of_two_kits_are_mixed_parts_though_their_sum_is_right() -> None:
    one, other = modules(1)[0], modules(2, part_number="CMK32GX4M2E3200C20")[1]
    found = said(one, other, of=kit(number="CMK32GX4M2B3200C16"))
    assert ("memory.model.mixed", Outcome.DIFFERS) in codes(found, Aspect.MODEL)
    alike = said(*modules(), of=kit(number="CMK32GX4M2B3200C16"))
    assert all(code != "memory.model.mixed" for code, _ in codes(alike, Aspect.MODEL))


def _slots(*held: str, of: tuple[str, ...] = ("A1", "A2", "B1", "B2")) -> list[Part]:
    def slot(name: str) -> Part:
        known: dict[str, object] = {"type": "DDR4", "configured_speed_mt_s": 3200}
        known |= {"part_number": "CMK32GX4M2B3200C16", "locator": f"DIMM_{name}", "bank": "BANK 0"}
        if name not in held:
            known |= dict.fromkeys(known.keys() - {"locator", "bank"}, Absent.NOT_FITTED)
            known["size_bytes"] = Absent.NOT_FITTED
        return m.module(f"DIMM_{name}", **known)  # type: ignore[arg-type]

    return [slot(name) for name in of]


def test_two_modules_in_one_channel_are_told_by_the_names_of_their_slots() -> None:
    wrong = said(*_slots("A1", "A2"), of=kit())
    (found,) = [f for f in wrong.findings if f.aspect is Aspect.POSITION]
    assert (found.code, found.outcome, found.want, found.got) == (
        *("memory.position.one-channel", Outcome.DIFFERS),
        *(2, 1),
    )
    assert not codes(said(*_slots("A2", "B2"), of=kit()), Aspect.POSITION)


def test_one_module_of_one_and_slots_without_a_channel_say_nothing_of_positions() -> None:
    assert not codes(said(*_slots("A2"), of=kit("Corsair Vengeance LPX 16GB DDR4-3200")), Aspect.POSITION)
    assert not codes(said(*modules(), of=kit()), Aspect.POSITION)
