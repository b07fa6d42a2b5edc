"""Names of parts, cut up so that they can be compared whatever their spelling.

A name is cut into atoms: runs of letters, runs of digits, and `+`. Spelling (spaces, hyphens, case) is
dropped; digits stay whole, so that 7600 is never found in 17600. An atom is *hard* if it tells siblings
apart: digits, letters that hang on digits (K, KF, X3D), grades (PRO, Ti, MAX …), roman numerals and
words of one or two letters. Other words are *soft*: series, colours, marketing.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

# Words that tell one model of a series from the next (common practice, from the names of real parts).
GRADES = frozenset(
    {
        *(
            "pro",
            "plus",
            "max",
            "ultra",
            "ti",
            "super",
            "xt",
            "xtx",
            "gt",
            "gts",
            "gre",
            "evo",
            "qvo",
            "lite",
        ),
        *("se", "le", "oc", "wifi", "ax", "ac", "lx", "mini", "nano", "elite", "duo", "trio", "dual", "edge"),
        *(
            "ace",
            "prime",
            "extreme",
            "master",
            "hero",
            "formula",
            "apex",
            "itx",
            "ddr2",
            "ddr3",
            "ddr4",
            "ddr5",
        ),
    }
)
_ROMAN = re.compile(r"(?=[ivx])x{0,2}(?:ix|iv|v?i{0,3})")
_SHORT_WORDS = frozenset(
    {"a", "an", "and", "at", "by", "de", "for", "in", "is", "no", "of", "on", "or", "to"}
)
# A digit within a word of letters is a letter written so (`Fatal1ty`).
ATOM = re.compile(r"[^\W\d_]{4,}\d[^\W\d_]{2,}|[^\W\d_]+|\d+|\+")
_BREAK = re.compile(r"[\s,;:()\[\]|_&\"']+")
_MEMORY_TYPE = re.compile(r"\bddr(?=\d\b)")  # boards end in D4 and in DDR4 for the same thing
PIECE = re.compile(r"[-/]")


@dataclass(frozen=True, slots=True)
class Difference:
    """Atoms of one name that the other does not have, hard and soft apart."""

    hard_missing: frozenset[str]
    soft_missing: frozenset[str]
    hard_extra: frozenset[str]
    soft_extra: frozenset[str]


@dataclass(frozen=True, slots=True)
class Name:
    """A name cut up for comparing. compact: all atoms in a row, digits kept apart by dots; edges: where in it
    an atom begins or ends."""

    tokens: tuple[str, ...]
    atoms: frozenset[str]
    compact: str
    edges: frozenset[int]

    @classmethod
    def of(cls, text: str) -> Name:
        """Return a text cut up. The same text gives the same name: one line is held against many parts."""
        return _name_of(text)

    @classmethod
    def _cut(cls, text: str) -> Name:
        plain = unicodedata.normalize("NFKC", text).casefold().replace("wi-fi", "wifi")
        plain = _MEMORY_TYPE.sub("d", plain)
        tokens = tuple(token for token in _BREAK.split(plain) if ATOM.search(token))
        atoms = [atom for token in tokens for atom in ATOM.findall(token)]
        return cls(tokens, frozenset(atoms), compact_of(atoms), _edges(atoms))

    @property
    def numbers(self) -> frozenset[str]:
        """Digits, and roman numerals of two letters and more."""
        return frozenset(a for a in self.atoms if a.isdigit() or (len(a) > 1 and _ROMAN.fullmatch(a)))

    def has(self, token: str) -> bool:
        """Return whether a token stands in this name, whatever stands around it but more digits.

        One to three letters beside a number are a part of a model, and never the begin of a word: there is
        no `B650M` in `B650 MORTAR`.
        """
        atoms = ATOM.findall(token)
        wanted = compact_of(atoms)
        if not wanted or wanted in self.atoms:
            return True
        if "/" in token and len(wanted) > 5 and wanted.replace(".", "") in self.compact.replace(".", ""):
            return True  # SA400M8/240G on the box, SA400M8240G in the drive
        if len(wanted) < 4 and not any(c.isdigit() for c in wanted):
            return False
        whole_before, whole_after = (len(atom) < 4 or atom.isdigit() for atom in (atoms[0], atoms[-1]))
        return any(
            (at in self.edges or not whole_before) and (at + len(wanted) in self.edges or not whole_after)
            for at in _places(wanted, self.compact)
        )


def _places(wanted: str, text: str) -> Iterator[int]:
    at = text.find(wanted)
    while at >= 0:
        yield at
        at = text.find(wanted, at + 1)


@lru_cache(maxsize=4096)
def _name_of(text: str) -> Name:
    return Name._cut(text)


def same_spelling(one: str, other: str) -> bool:
    """Return whether two names differ in nothing but spaces, hyphens and case."""
    first, second = Name.of(one), Name.of(other)
    return bool(first.compact) and first.compact == second.compact


def difference(want: str, got: str, context: str = "") -> Difference:
    """Return what of `want` is not in `got`, and what of `got` is neither in `want` nor in `context`.

    context: the whole text as sold, where a word may stand that is not part of the model (a size).
    """
    wanted, found = Name.of(want), Name.of(got)
    sold = Name.of(f"{want} {context}")
    hard_missing, soft_missing = lacking(wanted, found)
    hard_extra, soft_extra = lacking(found, sold)
    return Difference(hard_missing, soft_missing, hard_extra, soft_extra)


def lacking(one: Name, other: Name) -> tuple[frozenset[str], frozenset[str]]:
    """Return the atoms of `one` that `other` does not have, hard and soft."""
    hard: set[str] = set()
    soft: set[str] = set()
    for token in one.tokens:
        if other.has(token):
            continue
        pieces = PIECE.split(token)
        for position, piece in enumerate(pieces):
            if other.has(piece):
                continue
            atoms = ATOM.findall(piece)
            for before, atom in zip(("", *atoms), atoms, strict=False):
                bound = before.isdigit() != atom.isdigit() and bool(before)  # the S of S2 is not any S
                if atom not in other.atoms or (bound and not other.has(before + atom)):
                    (hard if _tells(atom, atoms, pieces, position) else soft).add(atom)
    return frozenset(hard), frozenset(soft)


def _tells(atom: str, atoms: list[str], pieces: list[str], position: int) -> bool:
    """Whether an atom, where it stands in its token, tells siblings apart."""
    if position == 0 and len(pieces) > 1 and atoms == [atom] and atom.isalpha() and len(atom) <= 3:
        return False  # a brand's prefix: `GA-`, `PX-`
    attached = len(atoms) > 1 and any(a.isdigit() for a in atoms)
    hanging = position > 0 and len(atom) <= 3 and any(a.isdigit() for a in "".join(pieces[:position]))
    return attached or hanging or _is_hard(atom)


def _is_hard(atom: str) -> bool:
    if atom in _SHORT_WORDS:
        return False
    return atom.isdigit() or len(atom) <= 2 or atom in GRADES or _ROMAN.fullmatch(atom) is not None


def _edges(atoms: list[str]) -> frozenset[int]:
    found, at = {0}, 0
    for before, atom in zip(("", *atoms), atoms, strict=False):
        at += 1 if before.isdigit() and atom.isdigit() else 0
        found |= {at, at + len(atom)}
        at += len(atom)
    return frozenset(found)


def compact_of(atoms: list[str]) -> str:
    text = ""
    for atom in atoms:
        text += "." + atom if text and text[-1].isdigit() and atom.isdigit() else atom
    return text
