"""Words of an order line that are no part's name but a condition of the sale: `no substitution`."""

from __future__ import annotations

import re

_NO_OTHER = re.compile(
    r"\b(?:no|not|without|never)\s(?:to\sbe\s)?substitut(?:e[ds]?|ions?)\b|\b(?:do\snot|don't)\ssubstitute\b"
    r"|\bno\s(?:alternatives?|replacements?|equivalents?)\b",
    re.IGNORECASE,
)
_AROUND = r"[\s,;:.!-]*"
_WITH_BRACKETS = re.compile(rf"[\s,;:-]*[(\[]\s*(?:{_NO_OTHER.pattern})\s*[!.]?\s*[)\]]", re.IGNORECASE)
_BARE = re.compile(rf"{_AROUND}(?:{_NO_OTHER.pattern})[!.]?", re.IGNORECASE)


def forbids_substitution(text: str) -> bool:
    """Whether a text says that nothing else may stand for what it names."""
    return _NO_OTHER.search(" ".join(text.split())) is not None


def without_conditions(text: str) -> str:
    """Return a text without such words, which are none of the part's own."""
    if not forbids_substitution(text):
        return text
    plain = " ".join(text.split())
    return _BARE.sub("", _WITH_BRACKETS.sub("", plain)).strip(" ,;:.!-") or text
