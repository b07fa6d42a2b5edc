"""Results on stdout: for people in words, for programs as JSON."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterable, Sequence

import msgspec

from shipworthy.cli.visible import visible, visible_json
from shipworthy.messages import Sentence, finding_sentence, line_text, sentence
from shipworthy.model.base import values
from shipworthy.model.facts import Part
from shipworthy.model.policy import Decision, Reason
from shipworthy.model.reading import Remark

NARROWEST = 40
"""Columns below which a terminal breaks lines as it likes."""


def say(text: str = "") -> None:
    """Print one line of a result. What a machine or a file says of itself commands no terminal."""
    sys.stdout.write(visible(text) + "\n")


def wrapped(text: str, indent: int = 2) -> None:
    """Print a line, broken between words on a terminal, what follows as far in as `indent`."""
    columns = shutil.get_terminal_size().columns
    if not sys.stdout.isatty() or len(text) <= columns or columns < NARROWEST:
        say(text)
        return
    for line in textwrap.wrap(text, columns, subsequent_indent=" " * indent, break_on_hyphens=False):
        say(line)


def as_json(value: object) -> None:
    """Print a result as one JSON value."""
    text = msgspec.json.format(msgspec.json.encode(value), indent=2).decode("utf-8")
    sys.stdout.write(visible_json(text) + "\n")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print rows under a head, in columns as wide as they need to be; the last one wraps freely."""
    rows = [tuple(head), *(tuple(row) for row in rows)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row[:-1], widths[:-1], strict=True)]
        say("  ".join([*cells, row[-1]]).rstrip())


LEFT_OVER = "left-over"
"""The source that names the files of a folder that were not read."""


def remarks(found: Iterable[Remark]) -> None:
    """Print what was wrong with, or left over of, the bytes that sources gave, each with what to do."""
    told: list[Sentence] = []
    for remark in found:
        named = values(source=remark.source, where=remark.where, detail=remark.detail, count=remark.count)
        kind = remark.kind.value.replace(" ", "-")
        told.append(sentence("reading.left-over" if remark.source == LEFT_OVER else f"reading.{kind}", named))
    advised(told)


def advised(told: Sequence[Sentence]) -> None:
    """Print sentences with what to do about each; once below those that are mended in the same way."""
    for number, words in enumerate(told):
        wrapped(words.say)
        if words.do and words.do not in [later.do for later in told[number + 1 : number + 2]]:
            wrapped(f"  -> {words.do}", 5)


def disputes(parts: Iterable[Part]) -> None:
    """Print what witnesses disagree on, and who is believed by which rule."""
    for part in parts:
        for fact in part.facts:
            others = {w.value: w.source for w in fact.witnesses if w.value not in (None, fact.value)}
            for value, source in others.items():
                told = values(
                    part=f"{part.kind.value} {part.place}",
                    name=fact.name,
                    believed_source=fact.source,
                    believed=fact.value if fact.value is not None else "",
                    other_source=source,
                    other=value,
                    rule=fact.rule,
                )
                wrapped(sentence("reading.disputed", told).say)


def decision(made: Decision) -> None:
    """Print a verdict with its reasons and what to do about each."""
    simulated = " (a simulated unit)" if made.simulated else ""
    say(f"Verdict: {made.verdict.value.upper()}{simulated}")
    for reason in made.reasons:
        text, do = reason_text(reason)
        code = reason.finding.code if reason.finding else reason.code
        wrapped(f"  {line_text(reason.line)}: {text}  [{code}]", 4)
        if do:
            wrapped(f"    -> {do}", 7)
    if made.notes:
        say(f"Notes, which do not hold: {len(made.notes)}")
        for note in made.notes:
            wrapped(f"  {line_text(note.line)}: {reason_text(note)[0]}", 4)


def reason_text(reason: Reason) -> tuple[str, str]:
    """Return what a reason says, and what to do about it."""
    if reason.finding is not None:
        words = finding_sentence(reason.finding)
    else:
        words = sentence(reason.code, reason.values)
    return words.say, words.do
