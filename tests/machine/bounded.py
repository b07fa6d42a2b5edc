"""A call that must end: what is endless, or takes time by the square of its input, does not within the bound.

No test here measures how fast something is, as machines are shared; `bench/mutate.py` does, and repeats
what it finds slow. The bound is some hundred times what a call should take, in CPU time of this process,
which does not grow while others have the processor.
"""

from __future__ import annotations

import signal
from collections.abc import Callable
from typing import TypeVar

import pytest

T = TypeVar("T")
BOUND_S = 5.0


def ends(call: Callable[[], T], within_s: float = BOUND_S) -> T:
    """Return what the call gives. Fails, and breaks it off, where it takes more CPU time than that."""

    def break_off(*_: object) -> None:
        pytest.fail(
            f"no end within {within_s:g} s of CPU time"
        )  # no Exception, so nothing below can catch it

    before = signal.signal(signal.SIGPROF, break_off)
    signal.setitimer(signal.ITIMER_PROF, within_s)
    try:
        return call()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)
