"""Memory whose firmware says little, or contradicts itself: what its table's version makes of its words,
and what the part numbers of the modules settle.

Part numbers of real makers stand here only for the rules by which these makers build them.
"""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.inspection.items import items_for
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, EvidenceKind, Outcome, PartKind, Unit
from tests.compare import machines as m

DDR3 = m.line(Category.MEMORY, "Corsair 8GB (2x4GB) DDR3-1600 CL9")
NUMBER = "CMX8GX3M2A1600C9"
BY = (EvidenceKind.READING, EvidenceKind.INSPECTION)


def modules(count: int = 2, **said: Scalar | Absent) -> list[Part]:
    known: dict[str, Scalar | Absent] = {
        "size_bytes": 4 * m.GIB,
        "type": "DDR3",
        "configured_speed_mt_s": Absent.NOT_OFFERED,
        "firmware_speed_mt_s": Absent.NOT_OFFERED,
        "part_number": NUMBER,
    }
    return [m.module(slot, **{**known, **said}) for slot in "ABCD"[:count]]


def table(version: str | Absent) -> Part:
    return m.part(PartKind.FIRMWARE, "firmware", smbios_version=version)


def finding(*parts: Part, of: OrderLine = DDR3, aspect: Aspect = Aspect.SPEED) -> Finding:
    found = m.finding(compare(m.order(of), m.machine(*parts), (), ()), aspect)
    sentence = finding_sentence(found)
    assert "{" not in sentence.say + sentence.do
    return found


def speed(*parts: Part, of: OrderLine = DDR3) -> tuple[str, Outcome]:
    found = finding(*parts, of=of)
    return found.code.removeprefix("memory.speed."), found.outcome


# No word for what runs


@pytest.mark.parametrize("nothing", [Absent.NOT_OFFERED, 34_699])
def test_a_right_module_whose_speed_nobody_tells_leaves_its_setting_to_a_person(
    nothing: int | Absent,
) -> None:
    found = finding(*modules(configured_speed_mt_s=nothing))
    assert (found.code, found.outcome) == ("memory.speed.read-setup", Outcome.NOT_CHECKED)
    assert NUMBER in finding_sentence(found).say
    keys = ((found.line, Category.MEMORY, Aspect.SPEED, BY),)
    (item,) = items_for(m.order(DDR3), keys, [found]).items
    assert (item.item_id, item.ask, item.because) == ("1.speed", "inspect.speed", "memory.speed.read-setup")


def test_it_is_open_in_a_service_too() -> None:
    wish = Expectation(aspect=Aspect.SPEED, want=1600, unit=Unit.MEGATRANSFERS)
    of = m.line(Category.SERVICE, "Memory profile switched on", expectations=(wish,))
    found = finding(*modules(), of=of)
    assert (found.code, found.outcome) == ("service.speed.read-setup", Outcome.NOT_CHECKED)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ({"part_number": "CMX8GX3M2A1333C9"}, ("number-slower", Outcome.DIFFERS)),
        ({"part_number": "CMX8GX3M2A1866C9"}, ("number-faster", Outcome.DIFFERS)),
        ({"part_number": "FQ3-16-4X"}, ("cannot-tell", Outcome.CANNOT_TELL)),
        ({"part_number": "Unknown"}, ("cannot-tell", Outcome.CANNOT_TELL)),
        ({"part_number": Absent.NOT_OFFERED}, ("cannot-tell", Outcome.CANNOT_TELL)),
        ({"configured_speed_mt_s": Absent.NOT_READABLE}, ("cannot-tell", Outcome.CANNOT_TELL)),
        ({"configured_speed_mt_s": Absent.NOT_ASKED}, ("cannot-tell", Outcome.CANNOT_TELL)),
    ],
)
def test_a_module_that_may_be_another_or_can_be_read_with_more_rights_is_no_setting(
    said: dict[str, Scalar | Absent], expected: tuple[str, Outcome]
) -> None:
    assert speed(*modules(**said)) == expected


def test_every_module_without_a_speed_has_to_be_told_by_its_number() -> None:
    one = modules(1)
    assert speed(*one, *modules(2, part_number="FQ3-16-4X")[1:]) == ("cannot-tell", Outcome.CANNOT_TELL)
    slower = modules(2, part_number="CMX8GX3M2A1333C9")[1:]
    assert speed(*one, *slower) == ("number-slower", Outcome.DIFFERS)
    runs = modules(2, configured_speed_mt_s=1600)[1:]
    assert speed(*one, *runs) == ("read-setup", Outcome.NOT_CHECKED)
    off = modules(2, configured_speed_mt_s=1333)[1:]
    assert speed(*one, *off) == ("not-set", Outcome.DIFFERS)


# A table before SMBIOS 2.7 has one word for the speed


@pytest.mark.parametrize(
    ("version", "said", "expected"),
    [
        ("2.6", 1600, ("conforms", Outcome.CONFORMS)),
        ("2.6", 1333, ("not-set", Outcome.DIFFERS)),
        ("2.6", 996, ("not-set", Outcome.DIFFERS)),
        ("2.6", 1866, ("set-above", Outcome.DIFFERS)),
        ("2.6", 800, ("not-set", Outcome.DIFFERS)),  # a rate of DDR3
        ("2.7", 1600, ("read-setup", Outcome.NOT_CHECKED)),  # what the module can do, not what runs
        ("3.4", 1333, ("read-setup", Outcome.NOT_CHECKED)),
        (Absent.NOT_OFFERED, 1600, ("read-setup", Outcome.NOT_CHECKED)),
        ("F7", 1600, ("read-setup", Outcome.NOT_CHECKED)),
    ],
)
def test_the_only_word_for_a_speed_in_an_old_table_is_of_what_runs(
    version: str | Absent, said: int, expected: tuple[str, Outcome]
) -> None:
    assert speed(table(version), *modules(firmware_speed_mt_s=said)) == expected


def test_in_an_old_table_too_the_number_tells_another_kit() -> None:
    slower = modules(firmware_speed_mt_s=1600, part_number="CMX8GX3M2A1333C9")
    assert speed(table("2.6"), *slower) == ("number-slower", Outcome.DIFFERS)
    unread = modules(firmware_speed_mt_s=1333, part_number="FQ3-16-4X")
    assert speed(table("2.6"), *unread) == ("below-sold", Outcome.DIFFERS)


# Half of the speed sold


@pytest.mark.parametrize(
    ("version", "runs", "can", "expected"),
    [
        ("3.0", 800, 1600, ("clock-by-version", Outcome.CONFORMS)),
        ("2.7", 800, 1600, ("clock-by-version", Outcome.CONFORMS)),
        ("3.1", 800, 1600, ("half-of-rated", Outcome.CANNOT_TELL)),  # 800 is a rate of DDR3
        (Absent.NOT_OFFERED, 800, 1600, ("half-of-rated", Outcome.CANNOT_TELL)),
        ("3.0", 800, 800, ("not-set", Outcome.DIFFERS)),  # nobody says that it can do more
        ("3.0", 667, 1333, ("not-set", Outcome.DIFFERS)),  # the clock of 1333, and 1600 were sold
        ("3.0", 1333, 1600, ("not-set", Outcome.DIFFERS)),
    ],
)
def test_half_of_what_a_module_can_do_is_its_clock_where_the_table_means_one(
    version: str | Absent, runs: int, can: int, expected: tuple[str, Outcome]
) -> None:
    known = {"configured_speed_mt_s": runs, "firmware_speed_mt_s": can}
    assert speed(table(version), *modules(**known)) == expected


def test_a_clock_hides_no_other_kit() -> None:
    of = m.line(Category.MEMORY, "Corsair 16GB (2x8GB) DDR4-3200 CL16")
    known: dict[str, Scalar] = {"type": "DDR4", "size_bytes": 8 * m.GIB}
    known |= {"configured_speed_mt_s": 1600, "firmware_speed_mt_s": 3200}
    right, other = "CMK16GX4M2B3200C16", "CMK16GX4M2B3000C15"  # the other one is run beyond its word
    assert speed(table("3.0"), *modules(**known, part_number=right), of=of)[1] is Outcome.CONFORMS
    found = speed(table("3.0"), *modules(**known, part_number=other), of=of)
    assert found == ("number-slower", Outcome.DIFFERS)


@pytest.mark.parametrize(
    ("kind", "runs", "number", "expected"),
    [
        ("DDR3", 667, "CMX8GX3M2A1333C9", ("clock", Outcome.CONFORMS)),
        (Absent.NOT_OFFERED, 667, "CMX8GX3M2A1333C9", ("clock", Outcome.CONFORMS)),  # the number says DDR3
        ("DDR3", 667, "FQ3-13-4X", ("below-sold", Outcome.DIFFERS)),
        ("DDR3", 533, "CMX8GX3M2A1333C9", ("not-set", Outcome.DIFFERS)),
    ],
)
def test_half_of_what_the_number_says_is_the_clock_where_no_such_rate_exists(
    kind: str | Absent, runs: int, number: str, expected: tuple[str, Outcome]
) -> None:
    of = m.line(Category.MEMORY, "Corsair 8GB (2x4GB) DDR3-1333 CL9")
    known = {"configured_speed_mt_s": runs, "firmware_speed_mt_s": runs}
    assert speed(*modules(**known, type=kind, part_number=number), of=of) == expected


# More than its maker built

ONE = m.line(Category.MEMORY, "Samsung 4GB (1x4GB) DDR3-1600", part_number="M378B5273EB0-CK0")


def one(size_gib: int, number: str = "M378B5273EB0-CK0") -> Part:
    return modules(1, size_bytes=size_gib * m.GIB, configured_speed_mt_s=1600, part_number=number)[0]


def capacity(*parts: Part) -> tuple[str, Outcome]:
    found = finding(*parts, of=ONE, aspect=Aspect.CAPACITY)
    return found.code.removeprefix("memory.capacity."), found.outcome


def test_firmware_that_counts_more_than_the_number_says_is_contradicted() -> None:
    assert capacity(one(4)) == ("conforms", Outcome.CONFORMS)
    assert capacity(one(8)) == ("number-smaller", Outcome.CANNOT_TELL)
    assert capacity(one(8), m.memory(int(3.8 * m.GIB))) == ("usable-fits", Outcome.CONFORMS)
    assert capacity(one(8), m.memory(int(7.8 * m.GIB))) == ("usable-differs", Outcome.DIFFERS)


def test_a_larger_module_and_one_that_lost_a_part_differ() -> None:
    assert capacity(one(8, "M378B1G73EB0-CK0")) == ("differs", Outcome.DIFFERS)
    assert capacity(one(8, "FQ3-16-4X")) == ("differs", Outcome.DIFFERS)
    assert capacity(one(2)) == ("differs", Outcome.DIFFERS)


@pytest.mark.parametrize("kind", ["DDR4", "LPDDR4", "DDR5"])
def test_a_table_that_is_older_than_its_memory_belies_its_version(kind: str) -> None:
    """What it calls the speed may be what the module can do, as in tables since 2.7."""
    known = {"type": kind, "part_number": "", "configured_speed_mt_s": Absent.NOT_OFFERED}
    found = speed(table("2.4"), *modules(firmware_speed_mt_s=1600, **known))
    assert found == ("cannot-tell", Outcome.CANNOT_TELL)
