"""A memory profile that is sold as a service is the speed at which the memory has to run."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.base import Scalar
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, Unit
from shipworthy.orders.expect import line_with_expectations
from shipworthy.orders.expect.questions import line_questions
from tests.compare import machines as m


def wants(text: str) -> dict[Aspect, Scalar]:
    line = OrderLine(line_id="1", category=Category.SERVICE, text=text)
    return {e.aspect: e.want for e in line_with_expectations(line).expectations}


@pytest.mark.parametrize(
    ("text", "speed"),
    [
        ("Memory profile switched on (6000 MT/s)", 6000),
        ("EXPO on, 6000 MT/s", 6000),
        ("XMP profile 1 loaded, DDR5-6400", 6400),
        ("Speicherprofil einschalten (5600 MT/s)", 5600),
        ("Activation du profil mémoire, 6000 MHz", 6000),
        ("RAM set to 3600 MHz", 3600),
    ],
)
def test_the_speed_of_a_profile_is_expected(text: str, speed: int) -> None:
    assert wants(text) == {Aspect.SPEED: speed}


@pytest.mark.parametrize(
    "text",
    [
        "Memory profile switched on",
        "Memory profile left off, 4800 MT/s",
        "XMP nicht aktivieren (6000 MT/s)",
        "Memory tested with XMP at 6000 MT/s",
        "XMP up to 6000 MT/s",
        "Assembly and 24 h burn-in",
        "Fan curve set to 1200 rpm",
        "Network set to 2500 Mbit/s",
    ],
)
def test_a_service_that_sets_no_speed_expects_none(text: str) -> None:
    assert wants(text) == {}


def test_two_speeds_of_one_profile_are_a_question() -> None:
    line = OrderLine(line_id="1", category=Category.SERVICE, text="EXPO on, 6000 MT/s or 6400 MT/s")
    assert wants(line.text) == {}
    assert [question.code for question in line_questions(line)] == ["question.contradiction"]


@pytest.mark.parametrize(("running", "outcome"), [(6000, Outcome.CONFORMS), (4800, Outcome.DIFFERS)])
def test_memory_that_runs_beside_its_profile_differs_from_the_service(running: int, outcome: Outcome) -> None:
    sold = m.line(Category.SERVICE, "Memory profile switched on (6000 MT/s)", "work")
    machine = m.machine(
        m.module("A2", configured_speed_mt_s=running), m.module("B2", configured_speed_mt_s=running)
    )
    found = compare(m.order(sold), machine, m.LIMITS, m.EVIDENCE).findings
    assert [f.outcome for f in found if (f.line, f.aspect) == ("work", Aspect.SPEED)] == [outcome]


def test_the_speed_of_a_profile_is_in_mt_s() -> None:
    line = OrderLine(line_id="1", category=Category.SERVICE, text="EXPO on, 6000 MT/s")
    (wish,) = line_with_expectations(line).expectations
    assert (wish.unit, wish.words) == (Unit.MEGATRANSFERS, "6000 MT/s")
