"""What is wrong with a value that a person wrote into a file, in words that are no programmer's."""

from __future__ import annotations

import re

_WORDS = (
    (r"Expected `(?:float|int)` > ", "wanted a number above "),
    (r"Expected `(?:float|int)` >= ", "wanted a number of at least "),
    (r"Expected `(?:float|int)` <= ", "wanted a number of at most "),
    (r"(\d)\.0\b", r"\1"),
    (r"Expected `(float|int)`, got `str`", "wanted a number without quotes, got text"),
    (r"Expected `array` of length >= 1", "wanted at least one, got a length of 0"),
    (r"Invalid enum value '([^']*)'", r"there is no such word as '\1' here"),
    (
        r"Expected `str` matching regex '\^\[A-Za-z0-9\][^']*'",
        "wanted a name of letters, digits, dots, dashes and underscores",
    ),
    (r"Expected `object`, got `\w+`", "wanted a table of keys"),
    (r"Object contains unknown field `(\w+)`", r"there is no key \1"),
    (r"Object missing required field `(\w+)`", r"the key \1 is missing"),
)


def in_words(error: str) -> str:
    """Return what the reader of records says of a value, for people; without a capital, for a sentence's end.

    Its words for `Expected `float` > 0.0 - at `$.steps[0].loads[1].intensity`` are of the library's own.
    """
    told, _, path = error.partition(" - at `$")
    for pattern, instead in _WORDS:
        told = re.sub(pattern, instead, told)
    keys = re.findall(r"\.(\w+)|\[(\d+)\]", path)
    steps = [key or f"number {int(index) + 1}" for key, index in keys]
    return f"{told[:1].lower()}{told[1:]}" + (f", at {' '.join(steps)}" if steps else "")
