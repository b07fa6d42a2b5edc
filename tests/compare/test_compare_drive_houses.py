"""Drives of another house than the one sold, or that store in another way: what the findings say.

Names of real makers stand here only for the rules by which these makers name their drives.
"""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome
from shipworthy.words.marketed import bytes_by_rule
from tests.compare import machines as m

UNTOLD = Absent.NOT_OFFERED


def drive(model: str, **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"technology": UNTOLD, "interface": "SATA"}
    return m.drive("ata:1", model=model, size_bytes=bytes_by_rule(1000), **{**known, **said})


def codes(of: OrderLine, part: Part, aspect: Aspect) -> list[tuple[str, Outcome]]:
    found: Comparison = compare(m.order(of), m.machine(part), (), ())
    return [(f.code, f.outcome) for f in found.findings if f.aspect is aspect]


def line(text: str, number: str = "", **more: object) -> OrderLine:
    return m.line(Category.STORAGE, text, part_number=number, **more)


@pytest.mark.parametrize(
    ("sold", "fitted"),
    [
        ("Seagate BarraCuda 1TB HDD SATA", "WDC WD10EZEX-00BN5A0"),
        ("WD Blue 1TB HDD SATA", "ST1000DM010-2EP102"),
        ("Crucial MX500 1TB SSD SATA", "Samsung SSD 870 EVO 1TB"),
    ],
)
def test_another_house_is_another_drive_though_its_code_says_nothing_of_the_box(
    sold: str, fitted: str
) -> None:
    assert codes(line(sold), drive(fitted), Aspect.MODEL) == [("storage.model.differs", Outcome.DIFFERS)]


def test_a_drive_of_the_same_house_stays_for_a_person() -> None:
    found = codes(line("WD Blue 1TB HDD SATA"), drive("WDC WD10EZEX-00BN5A0"), Aspect.MODEL)
    assert found == [("storage.model.read-label", Outcome.NOT_CHECKED)]


def test_the_model_alone_as_data_tells_too() -> None:
    """As an order that was drafted from a machine gives it: a code, and no word of technology."""
    wish = Expectation(aspect=Aspect.MODEL, want="WDC WD10EZEX-00BN5A0")
    of = line("Drive 1TB SATA", expectations=(wish,))
    assert codes(of, drive("Samsung SSD 860 EVO 1TB"), Aspect.MODEL)[0][1] is Outcome.DIFFERS
    assert codes(of, drive("WDC WD10EZEX-00BN5A0"), Aspect.MODEL)[0][1] is Outcome.CONFORMS


def test_where_a_technology_is_sold_it_is_judged_once() -> None:
    of, part = line("WD Blue 1TB SSD SATA"), drive("WDC WD10EZEX-00BN5A0")
    assert codes(of, part, Aspect.TECHNOLOGY)[0][1] is Outcome.DIFFERS
    assert codes(of, part, Aspect.MODEL)[0][1] is not Outcome.CONFORMS


def test_a_part_number_of_another_house_differs() -> None:
    of = line("1TB HDD SATA", "ST1000DM010")
    found = codes(of, drive("WDC WD10EZEX-00BN5A0"), Aspect.PART_NUMBER)
    assert found == [("storage.part-number.differs", Outcome.DIFFERS)]


def test_a_number_that_only_the_box_has_does_not() -> None:
    of = line("WD Ultrastar 12TB HDD SATA", "0F30146")
    found = codes(of, drive("HGST HUH721212ALE600"), Aspect.PART_NUMBER)
    assert found == [("storage.part-number.not-shown", Outcome.CANNOT_TELL)]


@pytest.mark.parametrize(
    ("sold", "fitted", "expected"),
    [
        ("Quarrel Q7 1TB SSD SATA", "Quarrel Q7 SSD", ("storage.technology.by-model", Outcome.CONFORMS)),
        ("Quarrel Q7 1TB HDD SATA", "Quarrel Q7 SSD", ("storage.technology.differs", Outcome.DIFFERS)),
        ("WD Blue 1TB SSD SATA", "WDC WD10EZEX-00BN5A0", ("storage.technology.differs", Outcome.DIFFERS)),
        ("WD Blue 1TB HDD SATA", "WDC WD10EZEX-00BN5A0", ("storage.technology.by-model", Outcome.CONFORMS)),
        ("Quarrel Q7 1TB SSD SATA", "Quarrel Q7", ("storage.technology.cannot-tell", Outcome.CANNOT_TELL)),
        (
            "Seagate Desktop 1TB HDD SATA",
            "ST1000DX001-1CM162",
            ("storage.technology.cannot-tell", Outcome.CANNOT_TELL),
        ),
    ],
)
def test_where_no_fact_tells_the_technology_the_name_may(
    sold: str, fitted: str, expected: tuple[str, Outcome]
) -> None:
    assert codes(line(sold), drive(fitted), Aspect.TECHNOLOGY) == [expected]


def test_a_fact_comes_before_the_name() -> None:
    """A grammar that reads a code wrong refuses no drive of which the technology is known."""
    part = drive("Quarrel WD10EZEX", technology="solid state")
    of = line("Quarrel WD10EZEX 1TB SSD SATA")
    assert codes(of, part, Aspect.TECHNOLOGY)[0][1] is Outcome.CONFORMS
    assert codes(of, part, Aspect.MODEL)[0][1] is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("maker", "fitted", "expected"),
    [
        ("Seagate", "ST1000DM010-2EP102", ("storage.maker.conforms", Outcome.CONFORMS)),
        ("Seagate", "WDC WD10EZEX-00BN5A0", ("storage.maker.differs", Outcome.DIFFERS)),
        ("Western Digital", "HGST HUH721212ALE600", ("storage.maker.sold-by-another", Outcome.NOT_CHECKED)),
        ("Dell", "ST1000DM010-2EP102", ("storage.maker.sold-by-another", Outcome.NOT_CHECKED)),
        ("Seagate", "Quarrel F2", ("storage.maker.cannot-tell", Outcome.CANNOT_TELL)),
    ],
)
def test_the_maker_is_the_house_that_the_name_tells(
    maker: str, fitted: str, expected: tuple[str, Outcome]
) -> None:
    wish = Expectation(aspect=Aspect.MAKER, want=maker)
    assert codes(line("1TB drive SATA", expectations=(wish,)), drive(fitted), Aspect.MAKER) == [expected]


def test_the_part_number_settles_under_whose_name_it_was_sold() -> None:
    wish = Expectation(aspect=Aspect.MAKER, want="Western Digital")
    of = line("Ultrastar 12TB HDD SATA", "HUH721212ALE600", expectations=(wish,))
    found = codes(of, drive("HGST HUH721212ALE600"), Aspect.MAKER)
    assert found == [("storage.maker.conforms", Outcome.CONFORMS)]
    other = codes(of, drive("HGST HUH721212ALN600"), Aspect.MAKER)
    assert other == [("storage.maker.sold-by-another", Outcome.NOT_CHECKED)]
