"""Memory against what its modules say of themselves: kits, mixed parts, slots, and firmware that says little.

Part numbers of real makers stand here only for the rules by which these makers build them.
"""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.compare import compare
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation, OrderLine
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
    found = said(*modules(configured_speed_mt_s=nonsense, part_number="FQ4-32-16X"), of=kit())
    assert codes(found, Aspect.SPEED) == [("memory.speed.cannot-tell", Outcome.CANNOT_TELL)]


def test_no_speed_at_all_stays_open() -> None:
    unread = modules(configured_speed_mt_s=Absent.NOT_OFFERED, part_number="FQ4-32-16X")
    assert codes(said(*unread, of=kit()), Aspect.SPEED) == [("memory.speed.cannot-tell", Outcome.CANNOT_TELL)]


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


def _named(*locators: str, held: tuple[str, ...]) -> list[Part]:
    def slot(name: str) -> Part:
        known: dict[str, object] = {"type": "DDR4", "configured_speed_mt_s": 3200, "size_bytes": 16 * m.GIB}
        known |= {"part_number": "CMK32GX4M2B3200C16"}
        if name not in held:
            known = dict.fromkeys(known, Absent.NOT_FITTED)
        return m.module(name, locator=name, bank="BANK 0", **known)  # type: ignore[arg-type]

    return [slot(name) for name in locators]


def _in(
    slots: str, line_id: str = "1", text: str = "Corsair Vengeance LPX 32GB (2x16GB) DDR4-3200"
) -> OrderLine:
    wish = Expectation(aspect=Aspect.POSITION, want=slots)
    line = m.line(Category.MEMORY, text, line_id)
    return msgspec.structs.replace(line, expectations=(*line.expectations, wish))


def _position(*parts: Part, of: OrderLine) -> tuple[str, object]:
    (found,) = [f for f in said(*parts, of=of).findings if f.aspect is Aspect.POSITION]
    return found.code, found.got


FROM_0 = tuple(f"Channel{letter}-DIMM{number}" for letter in "AB" for number in (0, 1))


def test_slots_that_firmware_counts_from_0_are_those_that_the_board_counts_from_1() -> None:
    second = _named(*FROM_0, held=("ChannelA-DIMM1", "ChannelB-DIMM1"))
    assert _position(*second, of=_in("A2, B2")) == ("memory.position.conforms", "A2, B2")
    assert _position(*second, of=_in("A1, B1")) == ("memory.position.differs", "A2, B2")
    from_1 = _named("DIMM_A1", "DIMM_A2", "DIMM_B1", "DIMM_B2", held=("DIMM_A1", "DIMM_B1"))
    assert _position(*from_1, of=_in("A2, B2")) == ("memory.position.differs", "A1, B1")


@pytest.mark.parametrize(
    "names",
    [
        ("P0 CHANNEL A", "P0 CHANNEL B"),
        ("Controller0-ChannelA-DIMM1", "Controller1-ChannelA-DIMM1"),
    ],
    ids=["no number", "channels of two controllers"],
)
def test_slots_whose_names_say_too_little_are_for_a_person(names: tuple[str, ...]) -> None:
    code, got = _position(*_named(*names, held=names), of=_in("A2, B2"))
    assert (code, got) == ("line.not-by-reading", None)


def test_each_line_is_held_against_its_own_modules_and_the_channels_are_told_once() -> None:
    names = ("DIMM_A1", "DIMM_A2", "DIMM_B1", "DIMM_B2")
    small = "Corsair Vengeance LPX 16GB (2x8GB) DDR4-3200"
    lines = (_in("A2, B2"), _in("A1, B1", "2", small))

    def read(*held: str) -> list[Part]:
        parts = _named(*names, held=held)
        eight = {part.place for part in parts if part.text("locator") in ("DIMM_A1", "DIMM_B1")}
        return [
            _of_8_gib(part) if part.place in eight and part.number("size_bytes") else part for part in parts
        ]

    found = compare(m.order(*lines), m.machine(*read(*names)), (), ())
    assert codes(found, Aspect.POSITION) == [("memory.position.conforms", Outcome.CONFORMS)] * 2
    doubled = compare(m.order(*lines), m.machine(*read("DIMM_A1", "DIMM_A2")), (), ())
    told = [code for code, _ in codes(doubled, Aspect.POSITION)]
    assert told.count("memory.position.one-channel") == 1


def _of_8_gib(part: Part) -> Part:
    facts = tuple(
        msgspec.structs.replace(fact, value=8 * m.GIB) if fact.name == "size_bytes" else fact
        for fact in part.facts
    )
    return msgspec.structs.replace(part, facts=facts)


def test_of_several_part_numbers_that_would_do_any_one_shares_the_modules_out() -> None:
    def sold(line_id: str, first: str, second: str) -> OrderLine:
        line = m.line(Category.MEMORY, "Corsair Vengeance LPX 16GB DDR4-3200", line_id)
        wish = Expectation(aspect=Aspect.PART_NUMBER, want=first, or_else=(second,))
        others = (w for w in line.expectations if w.aspect is not Aspect.PART_NUMBER)
        return msgspec.structs.replace(line, expectations=(*others, wish))

    one = sold("1", "CMK16GX4M1Z3200C16", "CMK16GX4M1E3200C16")
    other = sold("2", "CMK16GX4M1Y3200C16", "CMK16GX4M1A3200C16")
    fitted = [
        m.module(slot, type="DDR4", configured_speed_mt_s=3200, part_number=number)
        for slot, number in (("A", "CMK16GX4M1A3200C16"), ("B", "CMK16GX4M1E3200C16"))
    ]
    found = compare(m.order(one, other), m.machine(*fitted), (), ())
    assert {match.line: match.places for match in found.matches} == {"1": ("smbios:B",), "2": ("smbios:A",)}


def test_modules_of_another_series_show_by_the_letters_of_their_number() -> None:
    """All else is as sold; only the letters tell. What is shortened stays for a person."""
    other = said(*modules(part_number="CMW32GX4M2C3200C16"), of=kit())
    assert codes(other, Aspect.MODEL) == [("memory.model.other-series", Outcome.DIFFERS)]
    shortened = kit("Corsair Vengeance 32GB (2x16GB) DDR4-3200 CL16")
    open_one = said(*modules(part_number="CMW32GX4M2C3200C16"), of=shortened)
    assert codes(open_one, Aspect.MODEL) == [("memory.model.read-label", Outcome.NOT_CHECKED)]
    by_number = kit("Corsair Vengeance LPX 32GB (2x16GB) DDR4-3200 CL16", number="CMW32GX4M2C3200C16")
    sold = said(*modules(part_number="CMW32GX4M2C3200C16"), of=by_number)
    assert codes(sold, Aspect.MODEL) == [("memory.model.by-part-number", Outcome.CONFORMS)]


def test_words_of_what_a_kit_is_for_make_it_no_other_series() -> None:
    """They are taken off the name; the label tells the rest, and another series shows as before."""
    bound = kit("Corsair Vengeance LPX for AMD Ryzen Pro 32GB (2x16GB) DDR4-3200 CL16")
    found = said(*modules(part_number="CMK32GX4M2B3200C16"), of=bound)
    assert codes(found, Aspect.MODEL) == [("memory.model.read-label", Outcome.NOT_CHECKED)]
    other = said(*modules(part_number="CMW32GX4M2C3200C16"), of=bound)
    assert codes(other, Aspect.MODEL) == [("memory.model.other-series", Outcome.DIFFERS)]
