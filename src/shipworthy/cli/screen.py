"""Sinks for progress: a terminal's screen, plain lines, or JSON lines. All talk goes to stderr."""

from __future__ import annotations

import sys
import time

from shipworthy.cli.visible import visible, visible_json
from shipworthy.messages import sentence
from shipworthy.model.base import encode
from shipworthy.model.progress import Progress, Sink

QUIET_S = 60.0
"""Where nobody looks at a screen, a burn-in says one line in this time."""
TICK = "burn-in.tick"


def sink_for(json: bool) -> Sink:
    """Return the sink that fits: JSON lines if asked, a screen on a terminal, else plain lines."""
    if json:
        return _json_line
    return Screen(sys.stderr.isatty())


def _json_line(event: Progress) -> None:
    sys.stderr.write(visible_json(encode(event).decode("utf-8")) + "\n")
    sys.stderr.flush()


class Screen:
    """Lines of talk; a burn-in's tick is one line that is written over again on a terminal."""

    def __init__(self, terminal: bool) -> None:
        self._terminal = terminal
        self._ticking = False
        self._last_tick_s = float("-inf")

    def __call__(self, event: Progress) -> None:
        text = visible(sentence(event.code, event.values).say)
        if not event.code.startswith(TICK):
            self._end_tick()
            sys.stderr.write(text + "\n")
        elif self._terminal:
            sys.stderr.write("\r\x1b[K" + text[: _columns() - 1])
            self._ticking = True
        elif time.monotonic() - self._last_tick_s >= QUIET_S:
            self._last_tick_s = time.monotonic()
            sys.stderr.write(text + "\n")
        sys.stderr.flush()

    def _end_tick(self) -> None:
        if self._ticking:
            sys.stderr.write("\n")
            self._ticking = False


def _columns() -> int:
    import shutil

    return shutil.get_terminal_size().columns
