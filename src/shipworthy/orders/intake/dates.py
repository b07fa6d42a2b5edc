"""Days as confirmations write them, in figures or with the month's name in English, German or French."""

from __future__ import annotations

import re
from datetime import date

# The first letters by which a month is told from every other, in any of the three.
_MONTHS = (
    ("jan", "jän"),
    ("feb", "fév", "fev"),
    ("mar", "mär", "maer"),
    ("apr", "avr"),
    ("may", "mai"),
    ("jun", "juin"),
    ("jul", "juil"),
    ("aug", "aoû", "aou"),
    ("sep",),
    ("oct", "okt"),
    ("nov",),
    ("dec", "dez", "déc"),
)
_MONTH = (
    r"(?:jan(?:uary|uar|v(?:ier)?)?|jän(?:ner)?|feb(?:ruary|ruar)?|f[ée]v(?:rier)?|mar(?:ch|s)?|märz?|maerz|"
    r"apr(?:il)?|avr(?:il)?|may|mai|june?|juni|juin|july?|juli|juil(?:let)?|aug(?:ust)?|ao[ûu]t|"
    r"sept?(?:ember|embre)?|o[ck]t(?:ober|obre)?|nov(?:ember|embre)?|d[eé][cz](?:ember|embre)?)\.?"
)
_WEEKDAY = (
    r"(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?|montag|dienstag|mittwoch|donnerstag|"
    r"freitag|samstag|sonntag|mo|di|mi|do|fr|sa|so|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche)\.?,?\s+"
)
_ISO = r"\d{4}-\d{2}-\d{2}"
_FIGURES = r"\d{1,2}[./-]\s?\d{1,2}[./-]\s?(?:\d{4}|\d{2})"
_DAY_FIRST = rf"\d{{1,2}}(?:st|nd|rd|th|er|\.)?\s+(?:of\s+|de\s+)?{_MONTH},?\s+\d{{4}}"
_MONTH_FIRST = rf"{_MONTH}\s+\d{{1,2}}(?:st|nd|rd|th)?,?\s+\d{{4}}"
_TIME = r"(?:[,T\s]+(?:at\s+|um\s+|à\s+)?\d{1,2}[:.h]\d{2}(?::\d{2})?(?:\s?(?:am|pm|uhr|z|utc|gmt))?)?"
A_DATE = rf"(?:{_WEEKDAY})?(?:{_ISO}|{_FIGURES}|{_DAY_FIRST}|{_MONTH_FIRST}){_TIME}"
"""An expression for a day, with its weekday and its time of day where they are given; case does not count."""
A_DAY = (
    rf"(?:\d{{1,2}}(?:st|nd|rd|th|er|\.)?\s+(?:of\s+|de\s+)?{_MONTH}|"
    rf"{_MONTH}\s+\d{{1,2}}(?:st|nd|rd|th)?|\d{{1,2}}\.\s?\d{{1,2}}\.)"
)
"""An expression for a day without its year (`5 Dec`, `5.12.`); case does not count."""
A_WEEK = (
    r"(?:(?:in )?(?:kw|cw|wk|week|calendar week|kalenderwoche|woche|semaine|sem\.?|s)\.? ?\d{1,2}"
    r"(?:(?: ?/ ?| )(?:\d{4}|\d{2}))?|\d{4}-?W\d{2})(?!\w)"
)
"""An expression for a calendar week (`KW 50`, `week 50/2026`, `2026-W50`), which says no day; case does not
count."""
_TWO_WAYS = re.compile(
    r"(?<![\d/-])(?P<one>\d{1,2})(?P<sign>[/-])(?P<other>\d{1,2})(?P=sign)(?P<year>\d{4})(?![\d/-])"
)
_MONTHS_OF_YEAR = len(_MONTHS)
_WEEKDAY_AT_START = re.compile(rf"^{_WEEKDAY}", re.IGNORECASE)
_TIME_AT_END = re.compile(rf"(?<=\d){_TIME}$", re.IGNORECASE)
_NAMED_MONTH = re.compile(rf"{_DAY_FIRST}|{_MONTH_FIRST}", re.IGNORECASE)


def settled(text: str, beside: str) -> str:
    """Return a day that can be read in two ways as the other days beside it are written, if they tell.

    `05/12/2026` beside `21/11/2026` has the day first. Any other text is returned as it is.
    """
    match = _TWO_WAYS.fullmatch(text.strip())
    if match is None or date_of(text) is not None:
        return text
    others = [m for m in _TWO_WAYS.finditer(beside) if m["sign"] == match["sign"]]
    day_first = any(int(m["one"]) > _MONTHS_OF_YEAR for m in others)
    month_first = any(int(m["other"]) > _MONTHS_OF_YEAR for m in others)
    if day_first == month_first:
        return text
    day, month = (match["one"], match["other"]) if day_first else (match["other"], match["one"])
    return f"{match['year']}-{int(month):02}-{int(day):02}"


def date_of(text: str) -> date | None:
    """Return the day in a text that holds nothing else but its weekday and time.

    None for one that can be read in two ways (`03/04/2026`), and for one without a year of four figures.
    """
    plain = _WEEKDAY_AT_START.sub("", text.strip())
    parts = _parts(_TIME_AT_END.sub("", plain, count=1).strip())
    if parts is None:
        return None
    try:
        return date(*parts)
    except ValueError:
        return None


def _parts(plain: str) -> tuple[int, int, int] | None:
    """Return year, month and day; None where the text is no day, or one that can be read in two ways."""
    if match := re.match(r"(\d{4})-(\d\d)-(\d\d)(?!\d)", plain):
        return int(match[1]), int(match[2]), int(match[3])
    if match := re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", plain):
        return int(match[3]), int(match[2]), int(match[1])
    if match := re.fullmatch(r"(\d{1,2})([/-])(\d{1,2})\2(\d{4})", plain):
        one, other = int(match[1]), int(match[3])
        if one > _MONTHS_OF_YEAR >= other:
            return int(match[4]), other, one
        return (int(match[4]), one, other) if other > _MONTHS_OF_YEAR >= one else None
    if _NAMED_MONTH.fullmatch(plain):
        year, day = int(plain[-4:]), int(re.search(r"\d{1,2}", plain)[0])  # type: ignore[index]
        month = _month(plain)
        return None if month is None else (year, month, day)
    return None


def _month(words: str) -> int | None:
    name = re.search(r"[^\W\d_]{3,}", re.sub(r"\b(?:of|de|st|nd|rd|th|er)\b", " ", words.casefold()))
    if name is None:
        return None
    return next((n for n, begins in enumerate(_MONTHS, 1) if name[0].startswith(begins)), None)
