"""Asking a person the inspection items, one by one, in the terminal."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator

from shipworthy.cli.burn_in_screen import broken, size
from shipworthy.cli.visible import visible
from shipworthy.messages import sentence
from shipworthy.model.inspection import Item, Items, Observation
from shipworthy.model.time import SystemClock
from shipworthy.model.words import Danger, Outcome

_KEYS = {"y": Outcome.CONFORMS, "n": Outcome.DIFFERS, "c": Outcome.CANNOT_TELL, "s": Outcome.NOT_CHECKED}

_DANGERS = {
    "": None,
    "l": Danger.LEAK,
    "leak": Danger.LEAK,
    "m": Danger.MAINS_DAMAGE,
    "mains": Danger.MAINS_DAMAGE,
}


def ask_person(items: Items) -> Iterator[Observation]:
    """Ask each item and yield what was said, at once, so that it is kept; a skipped one stays open."""
    clock = SystemClock()
    _write(f"{len(items.items)} things to look at. y: it is so, n: it is not, c: cannot tell, s: skip.")
    by = _line("Your name: ")
    while not by:
        by = _line("A record needs a name: ")
    cautioned = set[str]()
    for number, item in enumerate(items.items, 1):
        if item.caution and item.caution not in cautioned:
            cautioned.add(item.caution)
            _write(f"  ! {sentence(item.caution).say}")
        outcome = _outcome(number, len(items.items), item)
        if outcome is Outcome.NOT_CHECKED:
            continue
        danger = _danger() if outcome is Outcome.DIFFERS else None
        note = _note(item, outcome)
        differs_from_sold = outcome is Outcome.DIFFERS and item.line and not danger
        fitted = _line("   What does its label say? (Enter for nothing): ") if differs_from_sold else ""
        yield Observation(
            item_id=item.item_id,
            outcome=outcome,
            by=by,
            at=clock.now(),
            note=note,
            danger=danger,
            fitted=fitted,
        )


def _outcome(number: int, of: int, item: Item) -> Outcome:
    _write(f"{number}/{of} [{item.item_id}] {sentence(item.ask, item.values).say}")
    if item.why:
        _write(f"   ({sentence(item.because, item.why).say})")
    if item.media_wanted:
        _write(
            "   A picture is asked for: take one. It goes into the record with a file of answers (--answers)."
        )
    while True:
        answer = _line("   y/n/c/s: ").lower()[:1]
        if answer in _KEYS:
            return _KEYS[answer]


def _note(item: Item, outcome: Outcome) -> str:
    """Ask for a note. Where a bare yes does not count, ask until there is one."""
    if outcome is not Outcome.CONFORMS:
        return _line("   What is wrong? " if outcome is Outcome.DIFFERS else "   Why can it not be told? ")
    if not item.note_wanted:
        return _line("   Note (Enter for none): ")
    note = _line("   Note (needed): ")
    while not note:
        note = _line("   A bare yes does not count here. Note: ")
    return note


def _danger() -> Danger | None:
    """Ask for what nobody can concede; a word that only begins like one of them is none."""
    while True:
        answer = _line("   Is it a leak (l) or damage to mains parts (m)? Enter for neither: ").lower()
        if answer in _DANGERS:
            return _DANGERS[answer]
        _write("   l, m, or Enter alone; what is wrong is asked next.")


def _write(text: str) -> None:
    shown = visible(text)
    sys.stderr.write((broken(shown, size()[0], 4) if sys.stderr.isatty() else shown) + "\n")


def _line(prompt: str) -> str:
    sys.stderr.write(visible(prompt))
    sys.stderr.flush()
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # here Ctrl-C means it at once
    try:
        line = sys.stdin.readline()
    finally:
        signal.signal(signal.SIGINT, before)
    if not line:
        raise KeyboardInterrupt
    return line.strip()
