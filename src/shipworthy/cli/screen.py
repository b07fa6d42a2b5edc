"""Sinks for progress: a terminal's screen, plain lines, or JSON lines. All talk goes to stderr."""

from __future__ import annotations

import sys
import time

from shipworthy.cli.burn_in_screen import (
    Drawing,
    Picture,
    broken,
    frame,
    results_line,
    size,
    tells_results,
    wants_bold,
    wants_pictures,
)
from shipworthy.cli.visible import visible, visible_json
from shipworthy.messages import sentence
from shipworthy.model.base import encode
from shipworthy.model.progress import Progress, Sink

QUIET_S = 60.0
"""Where nobody looks at a screen, a burn-in says one line in this time."""
WIDE = 200
TICK = "burn-in.tick"
PIECES = ("burn-in.load", "burn-in.heat")
"""What belongs to the tick that follows it."""


def sink_for(json: bool) -> Sink:
    """Return the sink that fits: JSON lines if asked, a screen on a terminal, else plain lines."""
    if json:
        return _json_line
    return Screen(wants_pictures(sys.stderr.isatty()))


def _json_line(event: Progress) -> None:
    sys.stderr.write(visible_json(encode(event).decode("utf-8")) + "\n")
    sys.stderr.flush()


class Screen:
    """Lines of talk, which stay; below them, on a terminal, a burn-in's picture of this second.

    Elsewhere the picture is a plain line a minute. While a burn-in runs, each line says when it was. What
    stays of the picture is the count of results.
    """

    def __init__(self, terminal: bool) -> None:
        self._terminal = terminal
        self._drawing, self._picture = Drawing(), Picture()
        self._pieces: list[Progress] = []
        self._last: list[str] = []
        self._counted: Progress | None = None
        self._burning = False
        self._last_tick_s = float("-inf")

    def __call__(self, event: Progress) -> None:
        self._picture.take(event)
        if event.code.startswith(PIECES):
            self._pieces.append(event)
            return
        if event.code.startswith(TICK):
            self._tick(event)
            self._pieces = []
            self._picture.close()
        else:
            self._line(event)
        sys.stderr.flush()

    def _line(self, event: Progress) -> None:
        """Write a line that stays, above the picture."""
        if event.code == "burn-in.step":
            self._burning = True
        elif event.code.startswith("run."):  # the next step of the job: the burn-in is over
            self._end_burn_in()
        words = sentence(event.code, event.values)
        when = time.strftime("%H:%M:%S ") if self._burning else ""
        lines = [("  ! " if event.code.startswith("caution.") else when) + visible(words.say)]
        if words.do:
            lines.append(f"  -> {visible(words.do)}")
        if self._terminal:
            lines = [broken(line, size()[0], 5) for line in lines]
        sys.stderr.write(self._drawing.erase() + "".join(f"{line}\n" for line in lines))
        if self._last:
            sys.stderr.write(self._drawing.draw(self._last, wants_bold()))

    def _end_burn_in(self) -> None:
        """Put the count of results in the place of the picture: seconds that were left are past."""
        if self._counted is not None:
            line = results_line(self._counted, size()[0] if self._terminal else WIDE)
            sys.stderr.write(f"{self._drawing.erase()}{line}\n")
        self._burning, self._last, self._counted = False, [], None
        self._drawing.leave()

    def _tick(self, event: Progress) -> None:
        if tells_results(event):
            self._counted = event
        if self._terminal:
            self._last = frame(event, self._picture, *size())
            sys.stderr.write(self._drawing.draw(self._last, wants_bold()))
        elif time.monotonic() - self._last_tick_s >= QUIET_S:
            self._last_tick_s = time.monotonic()
            said = [sentence(one.code, one.values).say for one in (event, *self._pieces)]
            sys.stderr.write(time.strftime("%H:%M:%S ") + visible(" ".join(said)) + "\n")
