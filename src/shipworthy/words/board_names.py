"""Is a board the one that was sold, by the name that its firmware gives? How makers build these names.

A board's name is its chipset, a letter for its form, words of a series, and marks behind them: `B450M`,
`PRO`, `WIFI`, `II`, `DDR4`. Shops take it apart: they put the chipset before it a second time, write the form
in words and leave the letter out, and name the maker's gaming brand where the firmware does not.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter

from shipworthy.words.forms import find_board_forms
from shipworthy.words.likeness import Likeness
from shipworthy.words.names import ATOM, Difference, Name, difference
from shipworthy.words.spans import Span, where
from shipworthy.words.versions import says_wireless

_CHIPSET = r"(?:[a-z]{1,3}\d{2,3}|\d{3})"  # B650, TRX40, Z97; 970, 760G
_CHIPSET_WORD = re.compile(rf"(?P<stem>{_CHIPSET})(?P<more>[efg]?x|[a-z])?")
NAMES_CHIPSET = re.compile(rf"(?<![a-z\d]){_CHIPSET}(?:e(?![a-z\d]))?(?!\d)")  # B650E is another than B650
_CHIPSET_BEGINS = re.compile(rf"{_CHIPSET}[efg]?[a-z]?(?![a-z\d])")
_PIECES = re.compile(r"[^\W_]+(?:\.\d+)*|\+")
_LONE_LETTER = re.compile(rf"(?<![\w-])({_CHIPSET}[ex]?)\s+([a-z])(?![\w.])")
_UMBRELLA = re.compile(r"\b(?:asus)?rog\b|\brepublic of gamers\b|\bfatal1ty\b")
"""Brands above a maker's series, which its firmware gives or leaves out for one and the same board (ASUS: ROG
before STRIX, MAXIMUS and CROSSHAIR; ASRock: Fatal1ty; tables of real machines have both)."""
_BRAND_BEFORE = re.compile(r"^phantom gaming\s+(?=\S)")
"""ASRock's brand where it stands before the chipset (`Phantom Gaming B850I Lightning`): firmware leaves it
out. Behind the chipset it is a part of the name, and tells boards apart (`X570 Phantom Gaming 4`)."""
_RUN_TOGETHER = re.compile(r"(?<=[a-z]{3})(?=[A-Z])")  # `RampageVI ExtremeOmega`
_CODE_BEFORE = re.compile(r"(?<![\w-])ga-(?=\w)")  # Gigabyte's, on boxes until about 2019
_PROJECT = re.compile(r"\(ms-[0-9a-f]{4}\)")  # MSI's number of the circuit board, in firmware alone
_ONLY_PROJECT = re.compile(r"ms-[0-9a-f]{4}")
_FORM = re.compile(r"(?<![a-z\d])(?:atx|itx|dtx)(?![a-z\d])")
_MINI = frozenset({"Mini-ITX", "Mini-DTX", "Thin Mini-ITX"})
_BARE_CHIPSET = re.compile(rf"(?<![a-z\d])({_CHIPSET}[ex]?)(?![a-z\d])")
_LETTER_OF_MICRO = re.compile(rf"{_CHIPSET}[a-z]*[mg]|(?<![a-z\d])[mg](?![a-z\d])")
_M_ITX = re.compile(r"(?<![\w-])m-[id]tx\b")
_DDR = re.compile(r"\bddr(?=\d\b)")
_USB = re.compile(r"\busb\s?3\.(?=\d)")  # `USB 3.1` and `USB31`
_TYPES = re.compile(r"\bd([2-5])\b")
_MARK = re.compile(r"(?<![a-z\d])d([3-5])(?![\w])")
_TWO_MEMORIES = re.compile(r"(?<![a-z\d])(?:h610|b660|h670|z690|b760|h770|z790)(?!\d)")
"""Chipsets whose boards are made for DDR4 and for DDR5 (Intel, processors of the 12th to 14th generation)."""
_MARKS_DDR4 = frozenset({"asus", "gigabyte", "msi"})
"""Makers who mark each DDR4 board of those, so that one without a mark is for DDR5: of 139 such boards in the
reference data (names, pairs of boards) none breaks it. ASRock and Biostar mark one kind or the other."""
_LABEL_MARK = re.compile(r"(?<=\w[/-])CSM(?!\w)", re.IGNORECASE)
"""ASUS: Corporate Stable Model, a board with a longer supply. One firmware in 2,491 has it in its name."""
_WIFI = re.compile(r"(?<![\w-])wifi(?!\w)")
_WIRELESS = re.compile(r"(?<![a-z\d])(?:wifi\d?|a[cx])(?![a-z\d])")
_GENERATION = re.compile(r"(?<![a-z\d])wifi,?\s(?P<generation>[4-8]e?)(?![\w.])")
_OF_GENERATION = re.compile(r"(?<![a-z\d])(?:wifi[\s-]?\d|802\.)")
_STANDARDS = tuple(
    (re.compile(rf"(?<![a-z\d]){word}(?![a-z\d])"), frozenset(of.split()))
    for word, of in (("ac", "5"), ("ax", "6 6e"), ("wifi", "4 5 6 6e 7 8"))
)
"""Which generations a word in a firmware's name may stand for (Wi-Fi Alliance: ac is 5, ax is 6 and 6E)."""
_SHORT_AORUS = re.compile(r"(?<=\d)([a-z]?\s)a(?=\s(?:elite|master|pro|ultra|xtreme)(?!\w))")
"""Gigabyte's names have AORUS or A for one board (`Z790 A PRO X` in firmware; retail records give both)."""
_MARK_FORM = frozenset({"asrock", "asus", "gigabyte", "msi"})
"""Makers whose Micro ATX boards have an M or a G in their names, nearly all."""
_SELDOM_NAMED = frozenset({"wifi", "csm"})
"""What shops add because the board has it, or its box says it, and firmware often leaves out."""


def board_likeness(want: str, got: str, sold: str = "", maker: str = "") -> Likeness:
    """Compare the name that was sold with the firmware's, both without the maker's name.

    sold: the whole text of the order line, with form and memory type; empty where the model came as data.
    maker: key of the maker. OTHER also where both have words of their own: MORTAR sold, BAZOOKA found.
    """
    text = plain_name(sold)
    wanted, found = (_LONE_LETTER.sub(r"\1\2", _of_maker(plain_name(name), maker)) for name in (want, got))
    forms = {word.meaning for word in find_board_forms(text)}
    larger = maker in _MARK_FORM and _may_be_larger(wanted, found, forms)
    wanted, found = _without_form(wanted, found, forms)
    if _WIRELESS.search(found) and not _GENERATION.search(wanted):  # `WIFI 7` is the `WIFI7`
        wanted = _WIFI.sub(" ", wanted) if not _WIFI.search(found) else wanted
    if _is_for_other_memory(found, text, maker):
        return Likeness.OTHER
    wanted, found = _without_memory(wanted, found, text)
    named = _numbered(Name.of(wanted))
    wanted = _without_chipset(wanted, found)
    one, other = Name.of(wanted), Name.of(found)
    if not one.atoms or not other.atoms:
        return Likeness.PARTLY
    if one.compact == other.compact or _same_apart_from_order(wanted, found):
        return Likeness.PARTLY if larger else Likeness.SAME
    if not named or not _numbered(other) or _ONLY_PROJECT.fullmatch(found):
        return Likeness.PARTLY
    return _of_difference(one, other, difference(wanted, found, " ".join(_FORM.findall(text))))


def _of_difference(one: Name, other: Name, parted: Difference) -> Likeness:
    if parted.hard_extra or _of_other_chipsets(one, other):
        return Likeness.OTHER
    if parted.hard_missing:
        told = parted.hard_missing - _behind_a_slash(one) - _SELDOM_NAMED - _before_the_chipset(one)
        return Likeness.OTHER if told or parted.soft_extra else Likeness.PARTLY
    if parted.soft_missing and parted.soft_extra:
        return Likeness.OTHER
    if parted.soft_missing or parted.soft_extra:
        return Likeness.PARTLY
    wanted, found = _marks(one), _marks(other)
    return Likeness.SAME if wanted == found else Likeness.OTHER if found - wanted else Likeness.PARTLY


def find_label_marks(text: str) -> tuple[Span, ...]:
    """Return every mark of a maker's programme that stands on box and label, and hardly ever in firmware."""
    return tuple(Span(*where(match)) for match in _LABEL_MARK.finditer(text))


def lacks_wireless_alone(want: str, got: str, sold: str = "", maker: str = "") -> bool:
    """Whether two names are one but for the word for Wi-Fi, which the firmware's lacks.

    Shops add the word to boards whose own name has it not; and it tells two boards of one series apart.
    """
    wanted = plain_name(want)
    if not _WIFI.search(wanted) or _WIRELESS.search(plain_name(got)) or says_wireless(sold or want) is False:
        return False
    return board_likeness(_WIFI.sub(" ", wanted), got, sold, maker) is Likeness.SAME


def lacks_generation_alone(want: str, got: str, sold: str = "", maker: str = "") -> bool:
    """Whether two names are one but for a generation of Wi-Fi that stands apart in the one sold (`WIFI 6E`),
    where the firmware's has Wi-Fi without any.

    Shops add the generation to a name; and a sibling may have it in its own (`WIFI6E`), joined or apart.
    """
    wanted, found = plain_name(want), plain_name(got)
    told = {match["generation"] for match in _GENERATION.finditer(wanted)}
    may_be = [of for word, of in _STANDARDS if word.search(found)]
    if not told or _OF_GENERATION.search(found) or not any(told <= of for of in may_be):
        return False
    return board_likeness(_GENERATION.sub("wifi", wanted), got, sold, maker) is Likeness.SAME


def names_other_memory(got: str, sold: str) -> bool:
    """Whether the firmware's name has the mark of a memory type (D4) that is not the one type sold."""
    sold_types, marks = set(_TYPES.findall(plain_name(sold))), set(_MARK.findall(plain_name(got)))
    return len(sold_types) == 1 and bool(marks) and not marks & sold_types


def plain_name(text: str) -> str:
    """Return a board's name in small letters, without what stands for nothing."""
    text = _RUN_TOGETHER.sub(" ", unicodedata.normalize("NFKC", text)).casefold().replace("wi-fi", "wifi")
    text = _USB.sub("usb3", text)
    text = _PROJECT.sub(" ", _DDR.sub("d", text)).replace("[", "(").replace("]", ")")
    text = _UMBRELLA.sub(" ", text)
    return " ".join(_CODE_BEFORE.sub("", text).split())


def _of_maker(name: str, maker: str) -> str:
    """Return a name without what one maker does to its names."""
    if maker == "asrock":
        without = _BRAND_BEFORE.sub("", name)
        return without if _CHIPSET_BEGINS.match(without) else name
    return _SHORT_AORUS.sub(r"\1aorus", name) if maker == "gigabyte" else name


def _without_form(want: str, got: str, forms: set[str]) -> tuple[str, str]:
    """Drop the letter of a form that the text says in words: `A620` and *Micro ATX* is an `A620M`."""
    if "itx" not in got and "dtx" not in got:
        want = _M_ITX.sub(" ", want)
    letters = "m" if "Micro ATX" in forms else "in" if forms & _MINI else ""
    if letters:
        for stem in set(_BARE_CHIPSET.findall(want)):
            with_letter = re.compile(rf"(?<![a-z\d]){stem}[{letters}](?![a-z\d])")
            if not with_letter.search(want) and not re.search(rf"(?<![a-z\d])[{letters}](?![a-z\d])", want):
                got = with_letter.sub(stem, got)
    return want, got


def _without_memory(want: str, got: str, sold: str) -> tuple[str, str]:
    """Drop the mark of the memory from both where it is of the type sold; another one stays and tells."""
    for digit in set(_TYPES.findall(sold)):
        mark = re.compile(rf"(?<![a-z\d])d{digit}(?!\w)")
        if mark.search(got):
            want, got = mark.sub(" ", want), mark.sub(" ", got)
    return want, got


def _is_for_other_memory(found: str, sold: str, maker: str) -> bool:
    """Whether a name without a mark is one for DDR5, by a maker who marks the others, and DDR4 was sold."""
    if maker not in _MARKS_DDR4 or set(_TYPES.findall(sold)) != {"4"}:
        return False
    return bool(_TWO_MEMORIES.search(found)) and not _MARK.search(found)


def _without_chipset(want: str, got: str) -> str:
    """Drop a chipset that a shop put before the name: the rest names it again, or the board names none."""
    words = want.split()
    for position, word in enumerate(words):
        chipset = _CHIPSET_WORD.fullmatch(word)
        if chipset is None or len(words) == 1:
            continue
        without = " ".join(words[:position] + words[position + 1 :])
        again = Name.of(without).has(chipset["stem"])
        other = NAMES_CHIPSET.search(" ".join(words[position + 1 :])) and not Name.of(got).has(
            chipset["stem"]
        )
        if again or other or not NAMES_CHIPSET.search(got):
            return without
    return want


def _may_be_larger(want: str, got: str, forms: set[str]) -> bool:
    """Whether Micro ATX was sold, and neither name says so: that of the larger board may be just as bare."""
    micro = "Micro ATX" in forms and _BARE_CHIPSET.search(got) is not None
    return micro and not _LETTER_OF_MICRO.search(f"{want} {got}")


def _marks(name: Name) -> Counter[str]:
    """How often each number and each mark of one or two letters stands there: both E of `B650E-E` count."""
    atoms = ATOM.findall(" ".join(name.tokens))
    return Counter(atom for atom in atoms if len(atom) <= 2 or atom.isdigit())


def _of_other_chipsets(one: Name, other: Name) -> bool:
    """Whether both name chipsets, and none of them is the same: the E of `B650E` is no E behind a dash."""
    wanted, found = (set(NAMES_CHIPSET.findall(" ".join(name.tokens))) for name in (one, other))
    return bool(wanted and found) and not wanted & found


def _same_apart_from_order(want: str, got: str) -> bool:
    """Whether two names of one chipset are the same pieces: `B660 PRIME M-A` is the `PRIME B660M-A`."""
    for chipset in sorted(set(NAMES_CHIPSET.findall(want)) & set(NAMES_CHIPSET.findall(got)), reverse=True):
        pieces = [sorted(_PIECES.findall(text.replace(chipset, " ", 1))) for text in (want, got)]
        if pieces[0] == pieces[1]:
            return True
    return False


def _numbered(name: Name) -> bool:
    """Whether a name has a number that tells a model; a roman V of `MAXIMUS V` is one as well."""
    return bool(name.numbers) or any(token in ("i", "v", "x") for token in name.tokens)


def _before_the_chipset(name: Name) -> frozenset[str]:
    """Words of two letters before the chipset: a series that firmware may leave out (`UD A520I AC`)."""
    at = next((i for i, token in enumerate(name.tokens) if NAMES_CHIPSET.match(token)), 0)
    return frozenset(token for token in name.tokens[:at] if len(token) == 2 and token.isalpha())


def _behind_a_slash(name: Name) -> frozenset[str]:
    """Atoms behind a slash (`A88XM-A/USB 3.1`): a variant that firmware does not always name."""
    return frozenset(ATOM.findall(" ".join(name.tokens).partition("/")[2]))
