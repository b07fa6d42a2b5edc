"""Ctrl-C as a wish to stop: the burn-in ends cleanly, and a second one means it."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stop_on_ctrl_c() -> Iterator[threading.Event]:
    """Give an event that the first SIGINT or SIGTERM sets; the next one is KeyboardInterrupt as usual."""
    stop = threading.Event()

    def wish(_signal: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = {number: signal.signal(number, wish) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
