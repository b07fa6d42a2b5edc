"""Small pieces of language: sentences by code, times in the shop's zone, outside text made safe."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, tzinfo
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from shipworthy.messages import sentence
from shipworthy.model.base import Scalar, values
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, Origin

D = TypeVar("D")

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:°C|%|[kMGT]?i?B|MT/s|GT/s|Mbit/s|MHz|rpm|W|h|min|s)\b|%|°C)")
_JOINERS = "\u200c\u200d"  # without these, Persian and many emoji fall apart; they move nothing
_MOST_MARKS = (
    4  # combining marks on one letter; Vietnamese and pointed Hebrew need up to three (common practice)
)


def say(code: str, **named: Scalar) -> str:
    """Return what the handover's sentence of that code says, with its values."""
    return sentence(f"handover.{code}", values(**named)).say


def aspect_text(aspect: Aspect, category: Category) -> str:
    """Return an aspect in a customer's words; a service is done, a part is there."""
    done = category in (Category.SERVICE, Category.CUSTOMISATION, Category.SYSTEM_SOFTWARE)
    return say(
        f"aspect.{aspect.value}.done" if aspect is Aspect.PRESENCE and done else f"aspect.{aspect.value}"
    )


def category_text(category: Category) -> str:
    """Return a category as people say it: what is asked of the unit is asked of the whole PC."""
    return say("about.unit") if category is Category.UNIT else category.value


def origin_text(origin: str) -> str:
    """Return who set a limit; a word that we do not know is shown as it is."""
    return say(f"origin.{origin}") if origin in {o.value for o in Origin} else origin


def listed(words: Iterable[str]) -> str:
    """Return words as a list in running text: a, b and c."""
    *head, last = dict.fromkeys(words)
    return f"{', '.join(head)} {say('and')} {last}" if head else last


def zone_of(name: str) -> tzinfo | None:
    """Return the time zone of an IANA name; None if this computer does not know it."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # ZoneInfoNotFoundError is a KeyError
        return None


def time_text(moment: Moment, zone: tzinfo | None) -> str:
    """Return a moment to the minute, in that zone, else in UTC."""
    local = moment.utc.astimezone(zone or UTC)
    return say(
        "time", day=local.day, month=_month(local.month), year=str(local.year),
        clock=f"{local:%H:%M}", zone=local.tzname() or "UTC",
    )  # fmt: skip


def date_text(day: date) -> str:
    return say("date", day=day.day, month=_month(day.month), year=str(day.year))


def _month(number: int) -> str:
    return say("months").split()[number - 1]


def shown_as_text(text: str) -> str:
    """Return text from outside so that it can only be read, never steer.

    Characters that are invisible, turn the direction of what stands around them, or are none of Unicode's
    (categories Cc, Cf, Cn, Co, Cs, Zl, Zp) are spelt by their code; white space becomes one space. Marks
    piled on one letter beyond a handful are spelt too: they would be drawn over the lines around.
    """
    if text.isascii() and text.isprintable():
        return text
    out: list[str] = []
    marks = 0
    for char in text:
        category = unicodedata.category(char)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if char.isspace():
            out.append(" ")
        elif char not in _JOINERS and (category[0] == "C" or marks > _MOST_MARKS):
            out.append(f"[U+{ord(char):04X}]")
        else:
            out.append(char)
    return "".join(out)


def all_shown_as_text(view: D) -> D:
    """Return a view with every text in it made safe to show: the one door through which all of it goes."""
    changed: Any
    if isinstance(view, str):
        changed = _BEFORE_UNIT.sub("\u00a0", shown_as_text(view))
    elif isinstance(view, tuple):
        changed = tuple(all_shown_as_text(item) for item in view)
    elif is_dataclass(view) and not isinstance(view, type):
        changed = replace(view, **{f.name: all_shown_as_text(getattr(view, f.name)) for f in fields(view)})
    else:
        changed = view
    return changed  # type: ignore[no-any-return]
