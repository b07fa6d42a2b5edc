"""A kernel that counts what is fitted tells a total where what it can use leaves several."""

from __future__ import annotations

import pytest

from shipworthy.compare.usable import Fit, fits_usable
from tests.compare import machines as m


def gib(number: float) -> int:
    return int(number * m.GIB)


@pytest.mark.parametrize(
    ("sold", "usable", "counted", "fit"),
    [
        (2, 1.89, None, Fit.OPEN),
        (2, 1.89, 2, Fit.FITS),
        (8, 5.67, 8, Fit.FITS),
        (8, 5.67, None, Fit.CANNOT_BE),
        (64, 62, 63.998, Fit.FITS),
        (24, 21.6, 22, Fit.CANNOT_BE),  # without the count it would fit
        (24, 21.6, None, Fit.FITS),
        (16, 7.67, 16, Fit.CANNOT_BE),  # counted, and half of it cannot be used
        (8, 7.6, 8.47, Fit.FITS),  # holes in it: what can be used decides, as without
        (4, 5.2, 6, Fit.CANNOT_BE),
    ],
)
def test_what_is_counted(sold: float, usable: float, counted: float | None, fit: Fit) -> None:
    assert fits_usable(gib(sold), gib(usable), None if counted is None else gib(counted)) is fit
