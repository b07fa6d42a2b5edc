"""Values in the report of `nvidia-smi`: text with a unit, or one of its words for there being none."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from shipworthy.machine.parse.graphics import card_power_w, chip_temperature_c
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.words import Absent

_SILENT = frozenset(
    (
        "",
        "[n/a]",
        "[not supported]",
        "insufficient permissions",
        "n/a",
        "none",
        "not supported",
        "redacted",  # a person's word in a report, where a serial was
        "requested functionality has been deprecated",
        "unknown error",
    )
)
_LOST = frozenset(("err!", "[gpu is lost]", "gpu is lost", "[unknown error]", "unknown error"))
"""What stands where the card did not answer."""

_QUANTITY = re.compile(r"(-?\d{1,12}(?:\.\d{1,6})?) ?([A-Za-z%]*)")


def text_of(parent: Element | None, *paths: str) -> str:
    """Return the text of the first of these elements that has any; empty if none has."""
    for path in paths if parent is not None else ():
        found = parent.find(path) if parent is not None else None
        text = " ".join((found.text or "").split()) if found is not None else ""
        if text:
            return text
    return ""


def word(text: str) -> str | Absent:
    """Return a text, or why it is no value."""
    if text.casefold() in _LOST:
        return Absent.NOT_READABLE
    if text.casefold() in _SILENT or is_placeholder(text):
        return Absent.NOT_OFFERED
    return text


def quantity(text: str, *units: str) -> float | Absent:
    """Return the number of a text such as `320.00 W`; its unit must be one of these."""
    silent = word(text) if not re.fullmatch(r"[-\d. ]*\d[-\d. ]*[A-Za-z%]*", text) else None
    if isinstance(silent, Absent):
        return silent
    match = _QUANTITY.fullmatch(text)
    if match is None or match[2] not in units:
        return Absent.IMPLAUSIBLE
    return float(match[1])


def whole(text: str, *units: str, of: int = 1) -> int | Absent:
    """Return a whole number, times `of`."""
    found = quantity(text, *units)
    if isinstance(found, Absent):
        return found
    return int(found) * of if found.is_integer() and found >= 0 else Absent.IMPLAUSIBLE


def count(text: str) -> int | Absent:
    """Return a count, which has no unit."""
    return whole(text, "")


def temperature(text: str) -> float | Absent:
    """Return degrees Celsius, of a limit or a reading of the chip."""
    found = quantity(text, "C")
    return found if isinstance(found, Absent) else chip_temperature_c(found)


def margin(text: str) -> float | Absent:
    """Return degrees between a temperature and a limit; below 0 beyond it."""
    found = quantity(text, "C")
    return found if isinstance(found, Absent) or -100 < found < 150 else Absent.IMPLAUSIBLE


def power(text: str) -> float | Absent:
    """Return watts, of a limit or of what the card draws."""
    found = quantity(text, "W")
    return found if isinstance(found, Absent) else card_power_w(found)


def yes(text: str) -> bool | Absent:
    """Return a `Yes` or `No`."""
    found = word(text)
    if isinstance(found, Absent):
        return found
    return {"yes": True, "no": False}.get(found.casefold(), Absent.IMPLAUSIBLE)


def summed(counts: list[int | Absent]) -> int | Absent:
    """Return the sum of those counts that are there; why not, if none is."""
    values = [one for one in counts if not isinstance(one, Absent)]
    if values:
        return sum(values)
    return counts[0] if counts else Absent.NOT_OFFERED
