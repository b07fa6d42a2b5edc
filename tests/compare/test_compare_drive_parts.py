"""Drives against what they say of themselves: size, form, turns, hybrids, and names that are codes.

Names of real makers stand here only for the rules by which these makers build their codes.
"""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome
from shipworthy.words.marketed import bytes_by_rule, is_marketed_as
from tests.compare import machines as m

GB = 10**9


def said(part: Part, of: OrderLine) -> Comparison:
    return compare(m.order(of), m.machine(part), (), ())


def codes(found: Comparison, aspect: Aspect) -> list[tuple[str, Outcome]]:
    return [(f.code, f.outcome) for f in found.findings if f.aspect is aspect]


def disk(model: str, gb: int = 2000, **said_: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"technology": "spinning", "interface": "SATA"}
    return m.drive("ata:1", model=model, size_bytes=bytes_by_rule(gb), **{**known, **said_})


def line(text: str, number: str = "", **more: object) -> OrderLine:
    return m.line(Category.STORAGE, text, part_number=number, **more)


SEAGATE = 'Seagate BarraCuda 2TB HDD 3.5" 7200RPM SATA'


def test_a_code_that_says_nothing_of_the_box_leaves_the_label_to_a_person() -> None:
    found = said(disk("ST2000DM008-2FR102"), line(SEAGATE))
    assert codes(found, Aspect.MODEL) == [("storage.model.read-label", Outcome.NOT_CHECKED)]


def test_a_name_that_says_too_little_cannot_tell() -> None:
    found = said(disk("Quarrel Field"), line("Quarrel Field Pro 2TB HDD SATA"))
    assert codes(found, Aspect.MODEL)[0][1] is not Outcome.CONFORMS


@pytest.mark.parametrize("model", ["ST2000DM006-2DM164", "ST2000LM015-2E8174", "WDC WD20EZBX-00AYRA0"])
def test_another_code_than_the_number_sold_is_another_drive(model: str) -> None:
    found = said(disk(model), line(SEAGATE, "ST2000DM008"))
    by_number = codes(found, Aspect.PART_NUMBER) + codes(found, Aspect.MODEL) + codes(found, Aspect.FORM)
    assert Outcome.CONFORMS not in {outcome for _, outcome in codes(found, Aspect.MODEL)}
    if model.startswith("ST"):
        assert Outcome.DIFFERS in {outcome for _, outcome in by_number}


def test_one_of_several_part_numbers_is_enough() -> None:
    wish = Expectation(aspect=Aspect.PART_NUMBER, want="ST2000DM001", or_else=("ST2000DM008",))
    found = said(disk("ST2000DM008-2FR102"), line(SEAGATE, expectations=(wish,)))
    assert codes(found, Aspect.PART_NUMBER) == [("storage.part-number.conforms", Outcome.CONFORMS)]
    assert codes(found, Aspect.MODEL) == [("storage.model.by-part-number", Outcome.CONFORMS)]
    other = said(disk("ST2000DM006-2DM164"), line(SEAGATE, expectations=(wish,)))
    assert codes(other, Aspect.PART_NUMBER) == [("storage.part-number.differs", Outcome.DIFFERS)]


@pytest.mark.parametrize(
    ("said_form", "model", "expected"),
    [
        ("3.5 inch", "Quarrel F2", ("storage.form-factor.conforms", Outcome.CONFORMS)),
        ("2.5 inch", "Quarrel F2", ("storage.form-factor.differs", Outcome.DIFFERS)),
        (Absent.NOT_OFFERED, "ST2000DM008-2FR102", ("storage.form-factor.conforms", Outcome.CONFORMS)),
        (Absent.NOT_OFFERED, "ST2000LM015-2E8174", ("storage.form-factor.differs", Outcome.DIFFERS)),
        (Absent.NOT_OFFERED, "Quarrel F2 M.2 2TB", ("storage.form-factor.differs", Outcome.DIFFERS)),
        ("3.5 inch", "Quarrel F2 M.2 2TB", ("line.not-by-reading", Outcome.NOT_CHECKED)),
        ("3.5 inch", "ST2000LM015-2E8174", ("line.not-by-reading", Outcome.NOT_CHECKED)),
        (Absent.NOT_OFFERED, "Quarrel F2 M.2 2.5 inch", ("line.not-by-reading", Outcome.NOT_CHECKED)),
        (Absent.NOT_OFFERED, "Quarrel F2", ("line.not-by-reading", Outcome.NOT_CHECKED)),
    ],
)
def test_the_form_is_the_drives_own_word_its_codes_or_a_word_of_its_name(
    said_form: Scalar | Absent, model: str, expected: tuple[str, Outcome]
) -> None:
    found = said(disk(model, form_factor=said_form), line('Quarrel F2 2TB HDD 3.5" SATA'))
    assert codes(found, Aspect.FORM) == [expected]


@pytest.mark.parametrize(
    ("rpm", "outcome"), [(7200, Outcome.CONFORMS), (5400, Outcome.DIFFERS), (None, Outcome.NOT_CHECKED)]
)
def test_how_fast_the_disks_turn(rpm: int | None, outcome: Outcome) -> None:
    told = Absent.NOT_OFFERED if rpm is None else rpm
    found = said(disk("Quarrel F2", rotation_rpm=told), line('Quarrel F2 2TB HDD 3.5" 7200RPM SATA'))
    assert [one for _, one in codes(found, Aspect.SPEED)] == [outcome]


@pytest.mark.parametrize(
    ("model", "technology", "outcome"),
    [
        ("ST2000LX001-1RG174", "spinning", Outcome.CONFORMS),  # the code is of a hybrid
        ("Quarrel F2", "spinning", Outcome.NOT_CHECKED),
        ("Quarrel F2", "solid state", Outcome.DIFFERS),
    ],
)
def test_a_hybrid_says_that_it_spins(model: str, technology: str, outcome: Outcome) -> None:
    found = said(disk(model, technology=technology), line("Quarrel F2 2TB SSHD SATA"))
    assert [one for _, one in codes(found, Aspect.TECHNOLOGY)] == [outcome]


def test_960_gb_fitted_where_1_tb_was_sold_differs() -> None:
    of = line("Quarrel M2 1TB NVMe SSD")
    wrong = said(m.drive(size_bytes=bytes_by_rule(960)), of)
    assert codes(wrong, Aspect.CAPACITY) == [("storage.capacity.differs", Outcome.DIFFERS)]
    for right in (bytes_by_rule(1000), 1000 * GB, 1024 * GB):
        assert codes(said(m.drive(size_bytes=right), of), Aspect.CAPACITY)[0][1] is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("gb", "lba"),
    [(500, 976_773_168), (1000, 1_953_525_168), (2000, 3_907_029_168), (250, 488_397_168), (80, 156_301_488)],
)
def test_the_rule_of_marketed_sizes(gb: int, lba: int) -> None:
    """Block counts that drives of these sizes have (IDEMA LBA1-03, and on the labels of drives)."""
    assert bytes_by_rule(gb) == lba * 512
    assert is_marketed_as(lba * 512, gb * GB)
    assert not is_marketed_as(lba * 512, (gb + gb // 10) * GB)


@pytest.mark.parametrize(("sold", "fitted"), [(240, 256), (256, 240), (480, 500), (500, 480), (120, 128)])
def test_sizes_next_to_each_other_are_told_apart(sold: int, fitted: int) -> None:
    assert not is_marketed_as(bytes_by_rule(fitted), sold * GB)


def test_a_code_that_tells_the_size_tells_no_jack() -> None:
    """Kingston's code has no letters of a form for drives of 2.5 inch, some of which have U.2."""
    found = said(
        m.drive(model="KINGSTON SEDC1500M960G", size_bytes=bytes_by_rule(960)),
        line("Kingston DC1500M 960GB U.2"),
    )
    assert codes(found, Aspect.FORM)[0][1] is Outcome.NOT_CHECKED
    other = said(m.drive(model="KINGSTON SEDC1500M960G"), line("Kingston DC1500M 960GB M.2"))
    assert codes(other, Aspect.FORM)[0][1] is Outcome.DIFFERS


@pytest.mark.parametrize(
    ("interface", "size_bytes", "outcome"),
    [
        ("eMMC", 62_537_072_640, Outcome.CONFORMS),
        ("eMMC", 31_268_536_320, Outcome.DIFFERS),
        ("eMMC", 58_000_000_000, Outcome.DIFFERS),
        ("SATA", 62_537_072_640, Outcome.DIFFERS),  # no drive of its own box falls so short
    ],
)
def test_an_emmc_falls_short_of_its_size(interface: str, size_bytes: int, outcome: Outcome) -> None:
    part = m.drive("mmc:0", model="OS4064", interface=interface, size_bytes=size_bytes)
    assert codes(said(part, line("Osier eMMC 64GB")), Aspect.CAPACITY)[0][1] is outcome


@pytest.mark.parametrize(
    ("text", "stands_for_it"), [("64GB SSD", False), ("Osier eMMC 64GB", False), ("Osier SDXC 64GB", True)]
)
def test_a_card_in_a_reader_stands_for_no_drive(text: str, stands_for_it: bool) -> None:
    card = m.drive("mmc:1", model="SD64G", interface="SD", technology="solid state", size_bytes=64 * GB)
    found = said(card, line(text))
    assert (("storage.presence.conforms", Outcome.CONFORMS) in codes(found, Aspect.PRESENCE)) is stands_for_it


@pytest.mark.parametrize(
    ("text", "model", "outcome"),
    [
        ("Osier S990 PRO 1TB", "Osier SSD S990 PRO with Heatsink 1TB", Outcome.CANNOT_TELL),
        ("Osier S990 PRO 1TB ohne Kühlkörper", "Osier SSD S990 PRO with Heatsink 1TB", Outcome.CANNOT_TELL),
        ("Osier S990 PRO 1TB with heatsink", "Osier SSD S990 PRO with Heatsink 1TB", Outcome.CONFORMS),
        ("Osier S990 PRO 1TB", "Osier SSD S990 PRO 1TB", Outcome.CONFORMS),
    ],
)
def test_a_heatsink_that_a_drive_names_was_sold(text: str, model: str, outcome: Outcome) -> None:
    found = said(m.drive(model=model), line(text))
    assert codes(found, Aspect.MODEL)[0][1] is outcome
