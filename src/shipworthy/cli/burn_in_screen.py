"""A burn-in on a terminal: one picture that is drawn over again, below the lines that stay."""

from __future__ import annotations

import os
import shutil
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shipworthy.cli.visible import visible
from shipworthy.messages import quantity_text, scalar_text
from shipworthy.model.base import Scalar
from shipworthy.model.progress import Progress
from shipworthy.model.words import Unit

Named = Mapping[str, Scalar]
WIDEST = 100
NARROW = 64
"""Columns below which a line keeps only what cannot be done without."""
LABEL_MOST = 16
PREFIXES = ((1e12, "T"), (1e9, "G"), (1e6, "M"), (1e3, "k"))


@dataclass
class Picture:
    """What the last second told, until its tick closes it. paused: why the loads stand still. planned: the
    loads of the step, in the plan's order."""

    loads: list[Named] = field(default_factory=list)
    heat: list[Named] = field(default_factory=list)
    paused: str = ""
    planned: tuple[str, ...] = ()

    def take(self, event: Progress) -> None:
        named = {value.name: value.value for value in event.values}
        if event.code.startswith("burn-in.load"):
            self.loads.append(named)
        elif event.code.startswith("burn-in.heat"):
            self.heat.append(named)
        elif event.code == "loads.paused":
            self.paused = f"{named.get('label', 'a sensor')} is silent"
        elif event.code in ("loads.resumed", "burn-in.step"):
            self.paused = ""
        if event.code == "burn-in.step":
            self.planned = tuple(str(named.get("loads", "")).split(", "))

    def in_order(self) -> list[Named]:
        """Return the loads in the plan's order, so that none changes its line from second to second."""
        known = {name: at for at, name in enumerate(self.planned)}
        return sorted(self.loads, key=lambda load: known.get(str(load["load"]), len(known)))

    def close(self) -> None:
        """Begin the next second's."""
        self.loads, self.heat = [], []


def frame(tick: Progress, picture: Picture, columns: int, rows: int) -> list[str]:
    """Return the picture's lines, none wider than the terminal, and not more than it has rows.

    Where it is too low, the temperatures farthest from their limits go first, then loads; never the first
    line and the count of wrong results.
    """
    width = min(columns - 1, WIDEST)
    narrow = columns < NARROW
    named = {value.name: value.value for value in tick.values}
    head = _head(tick.code, named, picture.paused, width)
    loads = [line for load in picture.in_order() for line in _load(load, width, narrow)]
    widest = min(max((len(str(one["label"])) for one in picture.heat), default=0), LABEL_MOST)
    heat = [_heat(one, widest, narrow) for one in picture.heat]
    foot = [_done(named, narrow)] if tells_results(tick) else []
    room = max(0, rows - 1 - len(head) - len(foot))
    heat = heat[: max(0, room - len(loads))]
    body = (loads + heat)[:room]
    return [_cut(visible(line), width) for line in (*head, *body, *foot)]


def tells_results(tick: Progress) -> bool:
    """Whether a tick counts results; the one of a cool-down does not."""
    return any(value.name == "checks" for value in tick.values)


def results_line(tick: Progress, columns: int) -> str:
    """Return how many results were checked and wrong, and what was written: what stays at the end."""
    named = {value.name: value.value for value in tick.values}
    return _cut(visible(_done(named, columns < NARROW)), columns - 1)


class Drawing:
    """Writes frames over one another. Only lines of the frame itself are ever taken back, so what went by
    before stays in the terminal's scrollback. The cursor rests below the frame: what others write goes there.
    """

    def __init__(self) -> None:
        self._lines = 0

    def draw(self, lines: Sequence[str], bold: bool) -> str:
        """Return what to write for a new frame in the place of the last one."""
        head, *rest = lines
        shown = [f"\x1b[1m{head}\x1b[0m" if bold else head, *rest]
        text = self.erase() + "".join(f"{line}\n" for line in shown)
        self._lines = len(lines)
        return text

    def erase(self) -> str:
        """Return what takes the frame away, with anything below it."""
        lines, self._lines = self._lines, 0
        return f"\x1b[{lines}A\r\x1b[J" if lines else ""

    def leave(self) -> None:
        """Let the frame stand as it is: what comes next goes below it."""
        self._lines = 0


def wants_pictures(is_terminal: bool) -> bool:
    """Whether lines can be taken back here: a terminal, and not one that obeys nothing (TERM=dumb)."""
    return is_terminal and os.environ.get("TERM", "dumb") != "dumb"


def wants_bold() -> bool:
    """Whether anything but plain text is welcome: NO_COLOR, set to whatever, says no."""
    return not os.environ.get("NO_COLOR")


def broken(text: str, columns: int, indent: int = 2) -> str:
    """Return a line broken between words for a terminal, what follows as far in as `indent`."""
    lines = textwrap.wrap(text, columns - 1, subsequent_indent=" " * indent, break_on_hyphens=False)
    return "\n".join(lines)


def size() -> tuple[int, int]:
    """Return columns and rows, asked anew each time: windows are resized."""
    columns, rows = shutil.get_terminal_size()
    return max(columns, 20), max(rows, 4)


def _head(code: str, named: Named, paused: str, width: int) -> list[str]:
    left = scalar_text("left_s", named["left_s"])
    if code == "burn-in.tick-cooling":
        return [f"Cooling down, {left} left; Ctrl-C skips it"]
    step = f"Step {named['number']} of {named['steps']}: {named['step']}"
    if paused:
        return [step, f"PAUSED: {paused}"]
    state = "getting ready" if code == "burn-in.tick-preparing" else f"{left} left"
    whole = scalar_text("all_left_s", named["all_left_s"])
    one = f"{step} · {state}, {whole} left of the plan"
    return [one] if len(one) <= width else [step, f"  {state}, plan: {whole}"]


def _load(named: Named, width: int, narrow: bool) -> list[str]:
    """One load: its share of the limit that was measured, then its rate beside that limit, and the spread."""
    name = f"  {named['load']}"
    unit = str(named["unit"])
    if "limit_ratio" not in named:
        return _fitting(
            f"{name:<14}limit not measured yet", [rates_text([_number(named, "rate")], unit)], width
        )
    share = f"{_percent(named, 'limit_ratio'):>5} of its limit"
    spread = ""
    if named["targets"] != 1:
        low, high = (_percent(named, f"{end}_ratio") for end in ("lowest", "highest"))
        spread = f"each of {named['targets']}: {low} to {high}"
    if narrow:
        more = spread or rates_text([_number(named, "rate")], unit)
        return [f"{name:<13}{share}", *textwrap.wrap(f"{'':5}{more}", width, subsequent_indent=" " * 7)]
    rates = rates_text([_number(named, "rate"), _number(named, "limit")], unit)
    return _fitting(f"{name:<14}{share}", [rates, *([spread] if spread else [])], width)


def _fitting(line: str, more: Sequence[str], width: int) -> list[str]:
    """Return the line with as much more as it can hold, the rest below it."""
    lines = [line]
    for piece in more:
        if len(lines[-1]) + 2 + len(piece) <= width:
            lines[-1] += f"  {piece}"
        else:
            indent = 14 if width >= NARROW else 5
            lines += textwrap.wrap(f"{'':{indent}}{piece}", width, subsequent_indent=" " * (indent + 2))
    return lines


def _heat(named: Named, widest: int, narrow: bool) -> str:
    found = f"  {str(named['label'])[:LABEL_MOST]:<{widest}} {_number(named, 'found_c'):>6.1f} °C"
    if "limit_c" not in named:
        return f"{found}, no limit" if narrow else f"{found}, no limit known"
    margin = f"{found}, {_number(named, 'margin_c'):.1f} below"
    return margin if narrow else f"{margin} {scalar_text('limit_c', named['limit_c'])} ({named['origin']})"


def _done(named: Named, narrow: bool) -> str:
    checks, wrong = (quantity_text(named[name], Unit.COUNT) for name in ("checks", "wrong"))
    found = f"{wrong} WRONG" if named["wrong"] else f"{wrong} wrong"
    text = f"  {found} of {checks} checked" if narrow else f"  {found} of {checks} results checked"
    if named.get("written_bytes") and not narrow:
        text += f"; {scalar_text('written_bytes', named['written_bytes'])} written"
    return text


def rates_text(rates: Sequence[float], unit: str) -> str:
    """Return rates in one prefix of the SI, with what they count: `17.8 of 18.1 GB/s passed over`."""
    most = max(rates)
    factor, prefix = next(((f, p) for f, p in PREFIXES if most >= f), (1.0, ""))
    numbers = " of ".join(_three_digits(rate / factor) for rate in rates)
    if unit.startswith("bytes"):
        return f"{numbers} {prefix}B/s {unit.removeprefix('bytes').strip()}".rstrip()
    return f"{numbers} {prefix}/s {unit}" if prefix else f"{numbers} {unit} a second"


def _three_digits(number: float) -> str:
    return f"{number:.0f}" if number >= 99.95 else f"{number:#.3g}"


def _number(named: Named, name: str) -> float:
    value = named[name]
    return float(value) if isinstance(value, int | float) else 0.0


def _percent(named: Named, name: str) -> str:
    return f"{_number(named, name) * 100:.0f} %"


def _cut(line: str, width: int) -> str:
    return line if len(line) <= width else line[: width - 1] + "…"
