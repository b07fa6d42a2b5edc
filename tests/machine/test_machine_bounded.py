"""The bound that other tests put on a call holds, and lets through what ends."""

from __future__ import annotations

import contextlib
import signal

import pytest

from tests.machine.bounded import ends


def test_what_a_call_gives_or_raises_comes_through() -> None:
    assert ends(lambda: 7) == 7
    with pytest.raises(ZeroDivisionError):
        ends(lambda: 1 // 0)
    assert signal.getitimer(signal.ITIMER_PROF) == (0.0, 0.0)


def endless() -> None:
    while True:
        with contextlib.suppress(Exception):
            int("7")


def test_a_call_without_end_is_broken_off_and_fails() -> None:
    with pytest.raises(pytest.fail.Exception, match=r"no end within 0\.2 s of CPU time"):
        ends(endless, 0.2)
    assert signal.getitimer(signal.ITIMER_PROF) == (0.0, 0.0)
