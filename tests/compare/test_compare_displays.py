"""Displays: by their names in the EDID, and by a picture that cannot be that of the one sold."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m

SOLD = 'Dell U2723QE 27" 3840x2160 60Hz IPS monitor'


def said_of(text: str, **said: Scalar | Absent) -> Comparison:
    display = m.part(PartKind.DISPLAY, "drm:card0-DP-1", **said)
    found = compare(m.order(m.line(Category.DISPLAY, text)), m.machine(display), (), ())
    assert all("{" not in finding_sentence(f).say for f in found.findings)
    return found


@pytest.mark.parametrize(
    ("model", "outcome"),
    [
        ("DELL U2723QE", Outcome.CONFORMS),
        ("DELL U2723D", Outcome.DIFFERS),
        ("DELL", Outcome.CANNOT_TELL),
        (Absent.NOT_OFFERED, Outcome.CANNOT_TELL),
    ],
)
def test_the_model_is_told_by_its_name(model: str | Absent, outcome: Outcome) -> None:
    found = said_of(SOLD, model=model, maker="Dell Inc.")
    assert m.finding(found, Aspect.MODEL).outcome is outcome


def test_a_resolution_in_a_name_stays_there() -> None:
    found = said_of(
        'ViewSonic VP2768-4K 27" 4K monitor', model="VP2768 Series", maker="ViewSonic Corporation"
    )
    assert m.finding(found, Aspect.MODEL).outcome is Outcome.CANNOT_TELL


@pytest.mark.parametrize(
    ("said", "codes"),
    [
        ({"diagonal_inch": 26.9, "width_px": 3840, "height_px": 2160}, []),
        ({"diagonal_inch": 23.8, "width_px": 3840, "height_px": 2160}, ["display.size.differs"]),
        ({"diagonal_inch": 26.9, "width_px": 5120, "height_px": 2880}, ["display.size.more-pixels"]),
        ({"diagonal_inch": 26.9, "width_px": 1920, "height_px": 1080}, []),  # the link's, or a setting's
        ({"width_px": 1920, "native_width_px": 5120, "native_height_px": 2880}, ["display.size.more-pixels"]),
        ({"diagonal_inch": 26.9, "width_px": 2160, "height_px": 3840}, []),  # turned
        ({}, []),
    ],
)
def test_only_a_picture_that_cannot_be_is_told(said: dict[str, Scalar], codes: list[str]) -> None:
    assert m.codes(said_of(SOLD, model="DELL", **said), Aspect.SIZE) == codes
    assert m.codes(said_of("Dell U2723QE", model="DELL", **said), Aspect.SIZE) == []


@pytest.mark.parametrize(
    ("model", "outcome"),
    [
        ("QX27-110", Outcome.CONFORMS),
        ("QX27-111", Outcome.CONFORMS),
        ("QX27-999", Outcome.DIFFERS),
        ("Meadow", Outcome.CANNOT_TELL),
    ],
)
def test_of_several_part_numbers_one_is_enough_and_another_is_that_by_all(
    model: str, outcome: Outcome
) -> None:
    wish = Expectation(aspect=Aspect.PART_NUMBER, want="QX27-110", or_else=("QX27-111",))
    display = m.part(PartKind.DISPLAY, "drm:card0-DP-1", model=model)
    of = m.line(Category.DISPLAY, "Norvik display", expectations=(wish,))
    found = compare(m.order(of), m.machine(display), (), ())
    assert m.finding(found, Aspect.PART_NUMBER).outcome is outcome
