"""Is the drive that names itself so the one that was sold? By its words, by its maker's code, or by no means.

Drives name themselves by a code as often as by a name. A code wraps the model's name in other fields
(`CT240BX200SSD1`), or has nothing to do with it.
"""

from __future__ import annotations

import re

from shipworthy.words.drive_codes import (
    DriveCode,
    are_two_models,
    contradicts_family,
    families_named,
    read_drive_codes,
    wraps,
)
from shipworthy.words.likeness import Likeness, code_likeness
from shipworthy.words.names import (
    ATOM,
    GRADES,
    PIECE,
    Difference,
    Name,
    difference,
    lacking,
    same_spelling,
)

_GENERATION = re.compile(r"\bgen\.?\s?\d\b", re.IGNORECASE)
_LEAST_CODE = 6
_OF_ANY = frozenset(
    (
        *("series", "ssd", "hdd", "nvme", "sata", "msata", "pcie", "nand", "gb", "tb", "heatsink", "with"),
        *("gaming", "internal", "desktop", "laptop", "notebook", "solid", "state", "drive", "disk", "and"),
        "for",
    )
)
"""Words behind a model's number that tell no model (common practice)."""
_HEATSINK = re.compile(
    r"(?P<no>\b(?:without|w/o|no|non|ohne|keine?n?|sans)[\s-](?:an?\s)?)?"
    r"\b(?:heat[ -]?sink|K(?:ü|ue)hlk(?:ö|oe)rper\b|dissipateur\b)",
    re.IGNORECASE,
)
"""In English, German and French."""


def says_heatsink(text: str) -> bool:
    """Return whether a text says of a drive, sold or by its own name, that it has a heatsink."""
    return any(not match["no"] for match in _HEATSINK.finditer(text))


def drive_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare the model sold with what the drive calls itself. context: the whole text as sold.

    In turn: a part number within the text; a family or a model that the maker's code contradicts or bears
    out; the words of both.
    """
    want = _GENERATION.sub(" ", want)
    within = [code for code in codes_within(want) if code_likeness(code, got) is Likeness.SAME]
    if any(read_drive_codes(code) for code in within):
        return Likeness.SAME
    if within and not _has_more(got, f"{want} {context}"):
        return Likeness.SAME
    if any(are_two_models(code, got) for code in codes_within(want)):
        return Likeness.OTHER
    codes = read_drive_codes(got)
    sold, said = families_named(f"{want} {context}"), families_named(got)
    if sold and said and not sold & said:
        return Likeness.OTHER
    if any(contradicts_family(f"{want} {context}", code) for code in codes):
        return Likeness.OTHER
    wrapped = {wraps(code, want) for code in codes} - {None}
    if True in wrapped:
        return _by_heatsink(f"{want} {context}", codes)
    by_words = coded_name_likeness(want, got, context)
    if wrapped and _names_a_model(want):
        return Likeness.OTHER
    return by_words


def _by_heatsink(text: str, codes: tuple[DriveCode, ...]) -> Likeness:
    """One model is sold with and without a heatsink, and some codes tell which; texts often leave it out."""
    told = next((code.heatsink for code in codes if code.heatsink is not None), None)
    sold = says_heatsink(text)
    if told is None or told == sold:
        return Likeness.SAME
    return Likeness.OTHER if sold else Likeness.PARTLY


def number_likeness(sold: str, said: str) -> Likeness:
    """Compare a part number with what a drive says: another code of the same grammar is another drive."""
    likeness = code_likeness(sold, said)
    if likeness is Likeness.PARTLY and are_two_models(sold, said):
        return Likeness.OTHER
    return likeness


def speaks_in_code(want: str, got: str) -> bool:
    """Return whether a drive names itself by codes alone, with no word of what was sold: no reading can then
    show the name on the box."""
    found, wanted = Name.of(got), Name.of(want)
    coded = [token for token in found.tokens if _is_code(token)]
    shared = [token for token in wanted.tokens if len(token) >= 3 and found.has(token)]
    return bool(coded) and not shared


def codes_within(text: str) -> tuple[str, ...]:
    """Return the words of a text that look like part numbers, those joined by a slash apart as well."""
    found: list[str] = []
    for token in text.split():
        token = token.strip("()[],;")
        parts = [part for part in token.split("/") if _is_code(part)]
        found += [token] if _is_code(token) else []
        found += parts if "/" in token else []
    return tuple(dict.fromkeys(found))


def _is_code(token: str) -> bool:
    plain = re.sub(r"[^A-Za-z0-9]", "", token)
    return len(plain) >= _LEAST_CODE and sum(map(str.isdigit, plain)) >= 3 and any(map(str.isalpha, plain))


def _names_a_model(want: str) -> bool:
    """Whether the words sold hold a model's own token: letters with figures, as all that codes wrap are."""
    tokens = Name.of(want).tokens
    return any(re.fullmatch(r"[a-z]{0,4}\d{1,4}[a-z]*", t) and not t.isdigit() for t in tokens)


def coded_name_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare where devices name themselves by a maker's code as often as by a name: drives.

    A code wraps the model's token in others (`CT240BX200SSD1`), or has nothing to do with it.
    """
    if same_spelling(want, got):
        return Likeness.SAME
    wanted, found = Name.of(want), Name.of(got)
    if not wanted.atoms or not found.atoms:
        return Likeness.PARTLY
    found_out = difference(want, got, context)
    if found_out.hard_missing:
        other = _sibling_number(wanted, found) or _same_naming(wanted, found, found_out)
        return Likeness.OTHER if other else Likeness.PARTLY
    if found_out.soft_missing and any(len(atom) >= 4 for atom in found_out.soft_extra):
        return Likeness.PARTLY  # FireCuda 120 sold, BarraCuda 120 found
    if not wanted.numbers:
        whole = not found_out.soft_missing and not found_out.hard_extra and not found_out.soft_extra
        return Likeness.SAME if whole else Likeness.PARTLY
    return _coded_extra(wanted, found, sold=Name.of(f"{want} {context}"))


def _sibling_number(wanted: Name, found: Name) -> bool:
    """Whether found has the letters of a wanted token before another number: BX200 sold, BX500 found."""
    for token in wanted.tokens:
        for letters, digits in re.findall(r"([^\W\d_]{2,})(\d{2,})", token):
            for other in re.findall(re.escape(letters) + r"(\d+)", found.compact):
                if not other.startswith(digits) and not digits.startswith(other):
                    return True
    return False


def _same_naming(wanted: Name, found: Name, found_out: Difference) -> bool:
    """Whether found speaks the language of the box, so that what it lacks is really not there.

    It does if it has a word or a number of the wanted name that tells the series, and a number of its own.
    """
    shared = [token for token in wanted.tokens if found.has(token) and len(token) >= 3]
    return bool(shared) and bool(found_out.hard_extra)


def _coded_extra(wanted: Name, found: Name, sold: Name) -> Likeness:
    """All that decides was found. Is the rest a code around it, or a suffix that makes it another model?"""
    pieces = [piece for token in found.tokens for piece in PIECE.split(token)]
    spoken = {_plain(part) for part in (*pieces, *found.tokens)}
    plain = True
    for token in wanted.tokens:
        code = _plain(token)
        if code in spoken or not any(c.isdigit() for c in code):
            continue
        wrapping = next((c for c in spoken if code in c), None)
        if wrapping is None or len(code) < 4:
            return Likeness.PARTLY  # `P3` stands in the code of a P3 Plus as well
        before, _, after = wrapping.partition(code)
        if after.isalpha() and not any(c.isdigit() for c in before):
            return Likeness.OTHER  # SN850 sold, SN850X found
        plain = False
    extra = lacking(found, sold)[0]
    if plain and extra & GRADES:
        return Likeness.OTHER
    goes_on = _goes_on(wanted, found, sold) or _goes_on(found, wanted, found)
    return Likeness.PARTLY if plain and goes_on else Likeness.SAME


def _goes_on(one: Name, longer: Name, known: Name) -> bool:
    """Whether a name goes on behind the number that both have, and behind its grade, with a word that is not
    known: `MP600 CORE`, `S70 BLADE` and `MP600 PRO LPX` are none of `MP600`, `S70` and `MP600 PRO`.
    """
    word = next((token for token in _behind_number(longer, one) if token not in GRADES), "")
    return word.isalpha() and word not in _OF_ANY and not known.has(word)


def _has_more(got: str, sold: str) -> bool:
    """Whether a drive's name goes on behind a model's number with a word that was not sold, be it a grade."""
    found, known = Name.of(got), Name.of(sold)
    return any(
        token.isalpha() and token not in _OF_ANY and not known.has(token)
        for token in _behind_number(found, known)
    )


def _behind_number(name: Name, other: Name) -> tuple[str, ...]:
    numbered = [at for at, token in enumerate(name.tokens) if other.has(token) and _has_digit(token)]
    return name.tokens[max(numbered, default=len(name.tokens)) + 1 :]


def _has_digit(token: str) -> bool:
    return any(map(str.isdigit, token))


def _plain(token: str) -> str:
    return "".join(ATOM.findall(token))
