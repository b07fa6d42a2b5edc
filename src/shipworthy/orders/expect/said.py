"""What a text says of one aspect: a value and its words, or words that contradict each other."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from shipworthy.model.base import Scalar
from shipworthy.model.words import Aspect, Unit
from shipworthy.words.kinds import Word
from shipworthy.words.spans import Span

F = TypeVar("F", bound=Span)


@dataclass(frozen=True, slots=True)
class Said:
    """want is None where the text contradicts itself. words: as they stand there; of a contradiction all of
    them, with ` / ` between."""

    aspect: Aspect
    want: Scalar | None
    words: str
    unit: Unit = Unit.TEXT


def agreed(
    aspect: Aspect,
    found: Sequence[F],
    value: Callable[[F], Any],
    unit: Unit = Unit.TEXT,
    same: Callable[[Any, Any], bool] = lambda one, other: one == other,
) -> tuple[Said, ...]:
    """Return what the finds say of an aspect: nothing of no finds, the first one's value if all are the same,
    else that they contradict each other."""
    if not found:
        return ()
    first = value(found[0])
    if all(same(value(find), first) for find in found):
        return (Said(aspect, first, found[0].words, unit),)
    return (torn(aspect, found),)


def torn(aspect: Aspect, found: Iterable[Span]) -> Said:
    """Return that finds contradict each other, with the words of each."""
    in_order = sorted(found, key=lambda find: find.start)
    return Said(aspect, None, " / ".join(dict.fromkeys(find.words for find in in_order)))


def word(aspect: Aspect, found: tuple[Word, ...]) -> tuple[Said, ...]:
    """Return what words of a closed set say of an aspect."""
    return agreed(aspect, found, lambda find: find.meaning)


def stretch(text: str, model: str) -> str:
    """Return the stretch of a text that a model's words are from: from the first of them to the last."""
    words = model.split()
    start = text.find(words[0]) if words else -1
    end = text.rfind(words[-1]) if words else -1
    return text[start : end + len(words[-1])] if 0 <= start <= end else model
