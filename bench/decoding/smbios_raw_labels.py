"""dmidecode's labels held against our fields by meaning: numbers in one unit, lists as sets, word for word.

A rule takes what dmidecode printed for a label (value and list) and our fields, and says whether they agree.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

Ours = Mapping[str, str | int | float | bool]
Agrees = Callable[[str, list[str], Ours], bool]


@dataclass(frozen=True)
class Rule:
    """field: of ours. agrees: whether it says the same."""

    field: str
    agrees: Agrees


UNITS = {"bytes": 0, "kB": 10, "MB": 20, "GB": 30, "TB": 40, "PB": 50, "EB": 60}
OUT = "<OUT OF SPEC>"


def _filtered(data: bytes) -> str:
    """dmidecode prints a dot for each byte that is no plain ASCII."""
    return "".join(chr(b) if 32 <= b < 127 else "." for b in data)


def same_text(printed: str, ours: object) -> bool:
    if not isinstance(ours, str):
        return False
    if printed == "<BAD INDEX>":
        return re.fullmatch(r"string \d+ of \d+", ours) is not None
    if printed == "Not Specified":
        return ours in ("not given", printed)
    plain = ours.replace("\ufffd", "\x01")
    forms = [plain.encode("utf-8")]
    if all(ord(c) < 256 for c in plain):
        forms.append(plain.encode("latin-1"))
    return any(_filtered(form) == printed for form in forms)


def same_word(printed: str, ours: object) -> bool:
    if printed == OUT:
        return re.fullmatch(r"code 0x[0-9A-F]+", str(ours)) is not None
    return ours == printed or (
        printed in ("Unknown", "None", "Unspecified") and str(ours).lower() == "unknown"
    )


def text(field: str) -> Rule:
    return Rule(field, lambda printed, _, ours: same_text(printed, ours.get(field)))


def word(field: str, **other: str) -> Rule:
    """other: our word for a word of dmidecode's, spaces as `_`."""
    mine = {key.replace("_", " "): value for key, value in other.items()}
    return Rule(field, lambda printed, _, ours: same_word(mine.get(printed, printed), ours.get(field)))


def words(field: str, mine: Mapping[str, str]) -> Rule:
    return Rule(field, lambda printed, _, ours: same_word(mine.get(printed, printed), ours.get(field)))


def number(field: str, unit: str = "", scale: float = 1, none: str = "unknown") -> Rule:
    """A number behind which the unit stands. none: our word where dmidecode has one."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        mine = ours.get(field)
        match = re.fullmatch(rf"(-?[0-9.]+)(?: ?{re.escape(unit)})?", printed)
        if match is None:
            return mine == none
        if isinstance(mine, str | bool) or mine is None:
            return False
        decimals = len(match[1].partition(".")[2])
        half = 0.5000001 * 10.0**-decimals
        return abs(mine * scale - float(match[1])) <= (half if decimals else 0)

    return Rule(field, agrees)


def size(field: str, none: Mapping[str, object] | None = None) -> Rule:
    """A size that dmidecode rounds down to its unit."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        mine = ours.get(field)
        match = re.fullmatch(r"(\d+) (\w+)(?: \+ (\d+) (\w+))?", printed)
        if match is None or match[2] not in UNITS:
            return mine == (none or {}).get(printed, "unknown")
        if not isinstance(mine, int):
            return False
        if match[3]:
            return mine == (int(match[1]) << UNITS[match[2]]) + (int(match[3]) << UNITS[match[4]])
        return mine >> UNITS[match[2]] == int(match[1])

    return Rule(field, agrees)


def handle(field: str, mine: Mapping[str, str] | None = None) -> Rule:
    return Rule(field, lambda printed, _, ours: ours.get(field) == (mine or {}).get(printed, printed))


def yes(field: str, true: str) -> Rule:
    """A bit: dmidecode's word for a set one."""
    return Rule(field, lambda printed, _, ours: ours.get(field) is (printed == true))


def entries(ours: Ours, *fields: str) -> set[str]:
    found: set[str] = set()
    for field in fields:
        said = str(ours.get(field, "none"))
        found |= set() if said in ("none", "not told") else set(said.split("; "))
    return found


def listed(fields: tuple[str, ...], mine: Mapping[str, str]) -> Rule:
    """A list of lines. mine: our entry for each line; a line that is not in it differs."""

    def agrees(printed: str, lines: list[str], ours: Ours) -> bool:
        if printed not in ("", "None", "Unknown"):
            return False
        if printed == "Unknown":
            return ours.get(fields[0]) == "unknown"
        return {mine.get(line, f"no word for {line}") for line in lines if "not supported" not in line} == (
            entries(ours, *fields)
        )

    return Rule(fields[0], agrees)


def spaced(field: str, possible: tuple[str, ...]) -> Rule:
    """Words in one line, parted by spaces that words hold too: taken off one by one, the longest first."""

    def agrees(printed: str, _: list[str], ours: Ours) -> bool:
        left, found = printed, set()
        while left and left != "None":
            first = next((w for w in sorted(possible, key=len, reverse=True) if left.startswith(w)), None)
            if first is None:
                return False
            found.add(first)
            left = left[len(first) :].lstrip()
        return {_short(w) for w in found} == entries(ours, field)

    return Rule(field, agrees)


def _short(word: str) -> str:
    mine = {
        "Registered (Buffered)": "Registered",
        "Unbuffered (Unregistered)": "Unbuffered",
        "Volatile memory": "Volatile",
        "Byte-accessible persistent memory": "Byte-accessible persistent",
        "Block-accessible persistent memory": "Block-accessible persistent",
    }
    return mine.get(word, word)


def custom(field: str, agrees: Agrees) -> Rule:
    return Rule(field, agrees)
