"""Answers given in a file: by one person, item by item, with pictures beside the file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from shipworthy.model.base import Trouble, decode, decode_toml, read_bytes
from shipworthy.model.inspection import Answer, Answers, Items, Media, Observation
from shipworthy.model.time import Clock

PICTURES = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".mp4", ".webm")

Keep = Callable[[Path], Media]
"""Takes a picture into the record and says where it went."""


def read_answers(path: Path) -> Answers:
    """Return the answers in a TOML or JSON file; Trouble for anything else."""
    text = read_bytes(path)
    if path.suffix == ".json":
        return decode(text, Answers, path)
    mend = "Compare the file with docs/reference/inspection.md."
    return decode_toml(text, Answers, path, called="valid answers", mend=mend)


def observations_from(
    answers: Answers, items: Items, base: Path, keep: Keep, clock: Clock
) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    """Return the observations that the answers give, and the ids of answers that no item asks for.

    base: the folder beside which the pictures lie. An answer without an item is no error: the same file
    serves a unit on which a source could tell what it cannot on another.
    """
    asked = {item.item_id for item in items.items}
    twice = _first_repeated([answer.item for answer in answers.answers])
    if twice:
        raise Trouble(f"item {twice} is answered twice", base, "Keep one answer for each item.")
    observations = tuple(
        _observation(answer, answers.by, base, keep, clock)
        for answer in answers.answers
        if answer.item in asked
    )
    return observations, tuple(a.item for a in answers.answers if a.item not in asked)


def _observation(answer: Answer, by: str, base: Path, keep: Keep, clock: Clock) -> Observation:
    return Observation(
        item_id=answer.item,
        outcome=answer.outcome,
        by=by,
        at=clock.now(),
        note=answer.note,
        danger=answer.danger,
        fitted=answer.fitted,
        media=tuple(keep(_picture(base, name)) for name in answer.media),
    )


def _picture(base: Path, name: str) -> Path:
    """Return where a picture lies: below the answers' folder, and of a kind that shows something."""
    path = (base / name).resolve()
    if not path.is_relative_to(base.resolve()):
        raise Trouble("leaves the folder of the answers", name, "Put the picture beside the file of answers.")
    if path.suffix.lower() not in PICTURES:
        raise Trouble("is no picture or clip", name, f"Use one of {', '.join(PICTURES)}.")
    return path


def _first_repeated(names: list[str]) -> str:
    return next((name for name in names if names.count(name) > 1), "")
