"""How findings are printed: in their order, each with its advice, what only a person sees together."""

from __future__ import annotations

import pytest

from shipworthy.cli.show_findings import findings
from shipworthy.compare import compare, with_substitutions
from shipworthy.model.orders import Expectation
from shipworthy.model.words import Aspect, Category, Unit
from tests.compare import machines as m
from tests.compare.test_substitution import DRIVE, LARGER, LARGER_DRIVE

LINES = (
    m.line(Category.PROCESSOR, "Tarn C7", "1"),
    m.line(
        Category.POWER_SUPPLY,
        "Calder Still 550 W",
        "2",
        expectations=(
            Expectation(aspect=Aspect.RATED_POWER, want=550, unit=Unit.WATTS),
            Expectation(aspect=Aspect.MAKER, want="Calder"),
        ),
    ),
    m.line(Category.CASE, "Fold 2", "3", expectations=(Expectation(aspect=Aspect.COLOUR, want="slate"),)),
)


def test_what_only_a_person_sees_of_a_line_is_one_row_and_the_sum_is_last(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = compare(m.order(*LINES), m.machine(m.processor("Tarn C5")), (), ()).findings
    findings(found)
    rows = capsys.readouterr().out.splitlines()
    looked = [row for row in rows if row.startswith("not checked")]
    assert looked == [
        "not checked  line 2: Calder Still 550 W: no reading shows the rated power (550 W), the maker (Calder"
        "); somebody has to look.",
        "not checked  line 3: Fold 2: no reading shows the colour (slate); somebody has to look.",
    ]
    assert rows[0].startswith("differs      line 1: ") and rows[1].startswith("             -> ")
    assert rows.count("             -> Look at them during the inspection.") == 1
    assert rows[-1].startswith(f"{len(found)} findings: 1 differs, 3 are for a person, ")


def test_what_conforms_of_a_part_is_one_row_unless_each_sentence_is_asked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = compare(m.order(LINES[0]), m.machine(m.processor("Tarn C7")), (), ()).findings
    findings(found)
    rows = capsys.readouterr().out.splitlines()
    assert rows == [
        "conforms     line 1: that it is there, model (Tarn C7), cores (8)",
        "",
        f"{len(found)} findings: {len(found)} conform.",
    ]
    findings(found, every=True)
    assert len(capsys.readouterr().out.splitlines()) == len(found) + 2


def test_nothing_found_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    findings(())
    assert capsys.readouterr().out == ""


def test_where_two_parts_stand_for_a_line_each_row_names_the_place(
    capsys: pytest.CaptureFixture[str],
) -> None:
    line = m.line(
        Category.STORAGE,
        "Osier D7 8TB",
        "1",
        quantity=2,
        expectations=(Expectation(aspect=Aspect.CAPACITY, want=8 * 10**12, unit=Unit.BYTES),),
    )
    drives = (
        m.drive("node:sda", size_bytes=8 * 10**12),
        m.drive("node:sdb", size_bytes=4 * 10**12),
    )
    findings(compare(m.order(line), m.machine(*drives), (), ()).findings)
    rows = capsys.readouterr().out.splitlines()
    assert rows[0].startswith("differs      line 1 [node:sdb]: Ordered was a drive of 8 TB")
    findings(compare(m.order(LINES[0]), m.machine(m.processor("Tarn C5")), (), ()).findings)
    assert "[" not in capsys.readouterr().out


def test_what_the_policy_allows_is_told_apart_from_what_differs(capsys: pytest.CaptureFixture[str]) -> None:
    used = m.drive(model="Quarrel M4 2TB", size_bytes=2_000_398_934_016, power_on_hours=3112)
    for drive, differs in ((LARGER, 2), (used, 3)):
        found = compare(DRIVE, m.machine(drive), m.LIMITS, ()).findings
        findings(with_substitutions(DRIVE, found, (LARGER_DRIVE,)))
        rows = capsys.readouterr().out.splitlines()
        states = [row[:13].rstrip() for row in rows if row[:13].strip() in ("differs", "substituted")]
        assert states == ["differs"] * (differs - 2) + ["substituted"] * 2
        assert f": {differs} differ (2 of them substituted as the policy allows), " in rows[-1]
