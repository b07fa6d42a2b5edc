"""What is agreed for one unit: colours, lettering, finishes (`"Studio 4" in white`, `RAL 7016 matt`).

Colours are told by names that painters use (common practice), and by the numbers of RAL and Pantone.
"""

from __future__ import annotations

import re

from shipworthy.words.phrases import Word
from shipworthy.words.spans import Span, plain, where

_SHADES = (
    r"(?:light|dark|deep|pale|bright|pastel|neon|metallic|pearl|slate|steel|navy|royal|sky|olive|mint|rose|jet"
    r"|snow|off|warm|cool|hot|blood|brick|cherry|coral|fire|rust|ruby|wine|racing|bottle|forest|lime|moss|sage"
    r"|emerald|petrol|midnight|ice|cobalt|sea|sand|mustard|lemon|amber|chocolate|dusty|smoke|ash|gunmetal|pure)"
)
_GERMAN = (
    r"(?:(?:schwarz|wei(?:ß|ss)|silber|grau|blau|gr(?:ü|ue)n|gelb|violett|braun|t(?:ü|ue)rkis)(?:e[nmrs]?)?"
    r"|lila|beige)"
)
_JOINED = (
    rf"(?=[^\W\d_]*[aeiouyäöü])[^\W\d_]{{3,20}}?{_GERMAN}"  # himmelblau, dunkelgrau
    r"|[^\W\d_]{2,20}(?<![aeiou])rosa"  # altrosa, and no generosa
    # weinrot and feuerrot; in Brot, Schrot and carrot the letters are of another word
    r"|(?=[^\W\d_]*[aeiouyäöü])(?:[^\W\d_]{4,20}(?<!sch)(?<!(?<!gel)b)|alt|erd)rot(?:e[nmrs]?)?"
)
"""German joins a shade to its hue: the letters before it, of which one is a vowel."""
_FRENCH = (
    r"noire?s?|blanc(?:he)?s?|argent(?:ée?s?)?|dorée?s?|grise?s?|rouges?|bleue?s?|verte?s?|jaunes?"
    r"|violette?s?|marrons?|rosée?s?"
)
_HUES = (
    r"black|white|gr[ea]y|silver|gold(?:en)?|red|blue|green|yellow|orange|purple|violet|pink|brown|beige|ivory"
    r"|cream|turquoise|teal|cyan|magenta|bronze|copper|anthracite|graphite|charcoal|titanium|champagne|burgundy"
    r"|anthrazit|silberfarben|bordeaux"
    # in German and French, as they end behind a noun and before it
    rf"|{_JOINED}|{_GERMAN}|rosa|rot(?:e[nmrs]?)?|{_FRENCH}"
)
_COLOUR = re.compile(
    rf"\bRAL\s?(?P<ral>\d{{4}})\b|\bPantone\s?(?P<pantone>\d{{3,4}}\s?[A-Z]{{0,2}})\b"
    rf"|(?<![\w])(?:{_SHADES}[\s-])*(?:{_HUES})(?![\w])",
    re.IGNORECASE,
)
_FINISH = re.compile(
    r"\b(?:matte?|satin|semi-?gloss|(?:high\s)?gloss(?:y)?|brushed|anodi[sz]ed|powder[\s-]coated|textured"
    r"|polished|chromed?|hammered)\b",
    re.IGNORECASE,
)
_MAT = re.compile(
    rf"(?:\b(?:{_FRENCH}|finition|laque|peinture|vernis)|\bRAL\s?\d{{4}})\s(?P<mat>mate?s?)(?!\w)",
    re.IGNORECASE,
)
"""French, right behind a colour or a paint; the mat on a desk is English."""
_QUOTED = re.compile(r"\"(?P<a>[^\"]{1,120})\"|(?<!\w)'(?P<b>[^']{1,120})'(?!\w)")
_FINISH_WORDS = {
    "matte": "matt",
    "glossy": "gloss",
    "anodised": "anodised",
    "anodized": "anodised",
}


def find_paint(text: str) -> tuple[Word, ...]:
    """Return every colour, with its shade or number; lettering is left out, as it may name one."""
    flat = _without_lettering(plain(text))
    return tuple(Word(*where(m, text), _colour(m)) for m in _COLOUR.finditer(flat))


def find_finishes(text: str) -> tuple[Word, ...]:
    """Return every finish of a surface in a text."""
    flat = _without_lettering(plain(text))
    found = ((m, m[0].casefold()) for m in _FINISH.finditer(flat))
    words = [Word(*where(m, text), _FINISH_WORDS.get(word, word)) for m, word in found]
    for match in _MAT.finditer(flat):
        start, end = match.span("mat")
        words.append(Word(text[start:end], start, end, "matt"))
    return tuple(sorted(words, key=lambda word: word.start))


def find_letterings(text: str) -> tuple[Span, ...]:
    """Return what stands between quotes, without them, as it is to be lettered."""
    return tuple(_inner(match, text) for match in _QUOTED.finditer(plain(text)))


def _inner(match: re.Match[str], text: str) -> Span:
    start, end = match.span("a" if match["a"] is not None else "b")
    return Span(text[start:end], start, end)


def _without_lettering(flat: str) -> str:
    return _QUOTED.sub(lambda match: " " * len(match[0]), flat)


def _colour(match: re.Match[str]) -> str:
    if match["ral"]:
        return f"RAL {match['ral']}"
    if match["pantone"]:
        return f"Pantone {match['pantone'].upper()}"
    return " ".join(match[0].lower().replace("-", " ").split()).replace("gray", "grey")
