"""A pattern that finds any of many byte strings, the longest first, without trying each at every place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby


def any_of(texts: Iterable[bytes]) -> re.Pattern[bytes] | None:
    """Return the pattern; None if there are no texts.

    What texts begin with in common stands in it once: a plain list of thousands of alternatives would be
    tried one by one at each byte of a file.
    """
    ordered = sorted({text for text in texts if text})
    return re.compile(_branch(ordered)) if ordered else None


def _branch(texts: list[bytes]) -> bytes:
    """Return the pattern for sorted texts: what they share, then what each goes on with, longest first."""
    length = next((at for at, (a, b) in enumerate(zip(texts[0], texts[-1], strict=False)) if a != b), None)
    shared = texts[0] if length is None else texts[0][:length]  # of the first and last, so of all between
    rest = [text[len(shared) :] for text in texts]
    if len(rest) == 1:
        return re.escape(texts[0])
    groups = [list(group) for first, group in groupby(rest, lambda text: text[:1]) if first]
    inner = b"|".join(_branch(group) for group in groups)
    return re.escape(shared) + b"(?:" + inner + (b")?" if not rest[0] else b")")
