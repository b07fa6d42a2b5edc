"""Why memory runs below the speed sold, and modules that are known by their own chips alone."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence, known_codes
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part, Witness
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit
from tests.compare import machines as m

RAM = m.line(Category.MEMORY, "Fennec Quiet 32GB (2x16GB) DDR5-6000")
NO_TABLE = (m.row("/sys/firmware/dmi/tables/DMI", SourceOutcome.REFUSED),)


def slow(rated_by_chip: int | None = None, **said: Scalar | Absent) -> Part:
    """A module that runs at 4800; rated_by_chip: the most that its own chip knows of."""
    known: dict[str, Scalar | Absent] = {"configured_speed_mt_s": 4800, "rated_speed_mt_s": 4800}
    part = m.module("A2", **{**known, **said})
    if rated_by_chip is None:
        return part
    rated = Fact(
        name="rated_speed_mt_s",
        source="smbios",
        value=4800,
        witnesses=(Witness(source="spd.0-0050", value=rated_by_chip),),
    )
    return msgspec.structs.replace(
        part, facts=(*(f for f in part.facts if f.name != "rated_speed_mt_s"), rated)
    )


def speed_of(*modules: Part, of: OrderLine = RAM) -> Finding:
    return m.finding(compare(m.order(of), m.machine(*modules), (), ()), Aspect.SPEED)


@pytest.mark.parametrize(
    ("module", "ending", "says"),
    [
        (slow(jedec_speed_mt_s=4800, profile_speed_mt_s=6000), "profile-off", "not switched on"),
        (slow(jedec_speed_mt_s=4800, profiles="XMP 3.0, EXPO"), "profile-unread", "XMP 3.0, EXPO"),
        (slow(4800, jedec_speed_mt_s=4800), "module-slower", "nothing faster than 4,800 MT/s"),
        (slow(6000, jedec_speed_mt_s=6000), "below-module", "6,000 MT/s without any profile"),
        (slow(), "below-sold", "runs at 4,800 MT/s"),
        # the firmware's word for the module's speed is no proof of what the module cannot do
        (slow(jedec_speed_mt_s=4800, rated_speed_mt_s=4800), "below-sold", "runs at 4,800 MT/s"),
    ],
)
def test_a_profile_that_is_off_is_told_from_a_module_that_cannot(
    module: Part, ending: str, says: str
) -> None:
    found = speed_of(module)
    assert (found.code, found.outcome) == (f"memory.speed.{ending}", Outcome.DIFFERS)
    assert says in finding_sentence(found).say
    wish = Expectation(aspect=Aspect.SPEED, want=6000, unit=Unit.MEGATRANSFERS)
    service = m.line(Category.SERVICE, "Memory profile switched on", expectations=(wish,))
    served = speed_of(module, of=service)
    assert served.code == f"service.speed.{ending}"
    assert "{" not in finding_sentence(served).say


def test_a_speed_without_profile_is_not_taken_for_the_clock_of_the_one_sold() -> None:
    of = m.line(Category.MEMORY, "16GB DDR3-2666")
    said: dict[str, Scalar] = {"type": "DDR3", "configured_speed_mt_s": 1333, "profile_speed_mt_s": 2666}
    assert speed_of(m.module("A2", **said, jedec_speed_mt_s=1333), of=of).code == "memory.speed.profile-off"
    assert speed_of(m.module("A2", **said, jedec_speed_mt_s=1600), of=of).outcome is Outcome.CANNOT_TELL


# Modules known by their own chips alone


def chip(address: str, *, source: str = "spd.0-0050", **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {
        "size_bytes": 16 * m.GIB,
        "type": "DDR5",
        "part_number": "FQ5-60-16X",
    }
    facts = tuple(
        Fact(name=name, source=source, absent=value)
        if isinstance(value, Absent)
        else Fact(name=name, source=source, value=value)
        for name, value in {**known, **said}.items()
    )
    place = f"pci:0000:00:1f.4/i2c-0-{address}"
    return Part(kind=PartKind.MEMORY_MODULE, place=place, facts=facts)


def by_chips(*parts: Part, of: OrderLine = RAM) -> Comparison:
    return compare(m.order(of), m.machine(*parts, rows=NO_TABLE), (), ())


def test_without_the_firmware_the_chips_on_the_modules_count() -> None:
    found = by_chips(chip("0050"), chip("0051"), m.memory(31 * m.GIB))
    for aspect in (Aspect.PRESENCE, Aspect.COUNT, Aspect.CAPACITY, Aspect.TECHNOLOGY):
        assert m.finding(found, aspect).outcome is Outcome.CONFORMS, aspect
    assert m.finding(found, Aspect.SPEED).outcome is Outcome.CANNOT_TELL


def test_a_chip_that_does_not_answer_is_no_missing_module() -> None:
    found = by_chips(chip("0050"), m.memory(31 * m.GIB))
    assert m.finding(found, Aspect.COUNT).code == "memory.count.fewer-answer"
    assert m.finding(found, Aspect.CAPACITY).code == "memory.capacity.usable-fits"
    gone = by_chips(chip("0050"), m.memory(15 * m.GIB))
    assert m.finding(gone, Aspect.CAPACITY).outcome is Outcome.DIFFERS
    unknown = by_chips(chip("0050"))
    assert m.finding(unknown, Aspect.CAPACITY).outcome is Outcome.CANNOT_TELL


def test_more_chips_than_modules_sold_differ() -> None:
    found = by_chips(*(chip(f"005{n}") for n in range(3)))
    assert m.finding(found, Aspect.COUNT).outcome is Outcome.DIFFERS
    assert m.finding(found, Aspect.CAPACITY).outcome is Outcome.DIFFERS


def test_a_line_without_a_chip_of_its_own_is_open_and_not_missing() -> None:
    lines = [m.line(Category.MEMORY, "16GB (1x16GB) DDR5", str(n)) for n in (1, 2)]
    found = compare(m.order(*lines), m.machine(chip("0050"), rows=NO_TABLE), (), ())
    outcomes = sorted(f.outcome.value for f in found.findings if f.aspect is Aspect.PRESENCE)
    assert outcomes == ["cannot tell", "conforms"]


def test_a_chip_that_no_slot_could_be_told_for_is_not_counted_twice() -> None:
    extra = msgspec.structs.replace(chip("0050"), kind=PartKind.UNPLACED_MODULE)
    found = compare(m.order(RAM), m.machine(m.module("A2"), m.module("B2"), extra), (), ())
    assert m.finding(found, Aspect.COUNT).outcome is Outcome.CONFORMS
    assert m.finding(found, Aspect.CAPACITY).outcome is Outcome.CONFORMS
    assert found.unclaimed == ()


def test_a_chip_can_tell_that_its_module_was_never_made_for_the_speed_sold() -> None:
    for rated, code, outcome in (
        (4800, "memory.speed.not-made-for", Outcome.DIFFERS),
        (6000, "memory.speed.cannot-tell", Outcome.CANNOT_TELL),
    ):
        found = m.finding(by_chips(chip("0050", rated_speed_mt_s=rated), chip("0051")), Aspect.SPEED)
        assert (found.code, found.outcome) == (code, outcome)
        assert "{" not in finding_sentence(found).say


def test_the_clock_too_is_told_only_if_every_module_tells_it() -> None:
    half = {"type": "DDR4", "configured_speed_mt_s": 1575, "rated_speed_mt_s": 3150}
    of = m.line(Category.MEMORY, "Fennec 32GB (2x16GB) DDR4-3150")
    assert speed_of(*(m.module(s, **half) for s in "AB"), of=of).code == "memory.speed.clock"
    silent = m.module("B", **{**half, "configured_speed_mt_s": Absent.NOT_OFFERED})
    assert speed_of(m.module("A", **half), silent, of=of).code == "memory.speed.cannot-tell"


def test_a_part_number_that_contradicts_the_order_does_so_on_any_module() -> None:
    sold = m.module("A", configured_speed_mt_s=5980, part_number="CMK32GX5M2B6000C36")
    other = m.module("B", configured_speed_mt_s=6000, part_number="CMK32GX5M2B5200C40")
    found = speed_of(sold, other)
    assert (found.code, found.part) == ("memory.speed.number-slower", other.place)
    alike = m.module("B", configured_speed_mt_s=6000, part_number="CMK32GX5M2B6000C36")
    assert speed_of(sold, alike).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("chip", "number", "ending"),
    [
        ({"profile_speed_mt_s": 6400}, "FQ5-64-16Z", "module-faster"),
        ({"profile_speed_mt_s": 6000}, "FQ5-64-16Z", "above-sold"),
        ({}, "FQ5-64-16Z", "above-sold"),
        (
            {"profile_speed_mt_s": 6400},
            "CMK32GX5M2B6000C36",
            "set-above",
        ),  # the kit sold, and a second profile
    ],
)
def test_modules_made_for_more_are_told_from_those_that_are_run_beyond_their_word(
    chip: dict[str, int], number: str, ending: str
) -> None:
    known = {"configured_speed_mt_s": 6400, "part_number": number, **chip}
    found = speed_of(*(m.module(s, **known) for s in "AB"))
    assert (found.code, found.outcome) == (f"memory.speed.{ending}", Outcome.DIFFERS)
    assert "{" not in finding_sentence(found).say


@pytest.mark.parametrize(
    ("said", "ending"),
    [
        ({"configured_speed_mt_s": 6400, "profile_speed_mt_s": 6400}, "module-faster"),
        ({"configured_speed_mt_s": 4800, "part_number": "CMK32GX5M2B6000C36"}, "not-set"),
        ({"configured_speed_mt_s": 6400, "part_number": "CMK32GX5M2B6000C36"}, "set-above"),
        ({"part_number": "CMK32GX5M2B5200C40"}, "number-slower"),
        ({"part_number": "CMK32GX5M2B6400C36"}, "number-faster"),
    ],
)
def test_whatever_is_said_of_a_speed_that_was_sold_as_a_service_has_a_sentence(
    said: dict[str, int | str], ending: str
) -> None:
    wish = Expectation(aspect=Aspect.SPEED, want=6000, unit=Unit.MEGATRANSFERS)
    of = m.line(Category.SERVICE, "Memory profile switched on", expectations=(wish,))
    found = speed_of(m.module("A", **said), of=of)
    assert found.code == f"service.speed.{ending}" and found.code in known_codes()
    assert "{" not in finding_sentence(found).say + finding_sentence(found).do
