"""Sizes and kits in part texts: `2TB`, `16 GiB`, `32GB (2x16GB)`, `kit of 2`.

IEC 80000-13: 1 GiB is 2^30 bytes, 1 GB is 10^9. The trade writes GB for both: memory is counted in
powers of 1024 and drives in powers of 1000, so the caller says which the text is about.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

from shipworthy.words.spans import Span, plain, thousands, where, without


class Base(IntEnum):
    """What a plain k, M, G or T stands for."""

    DECIMAL = 1000  # drives
    BINARY = 1024  # memory


@dataclass(frozen=True, slots=True)
class Size(Span):
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Kit(Span):
    """Several equal modules. module_bytes is None where only their number is said (`kit of 2`)."""

    count: int
    module_bytes: int | None


_NUMBER = r"(?P<number>\d{1,3}(?:[,.']\d{3})+|\d{1,2}\ 000|\d{1,9}(?:[.,]\d{1,6})?)"
_OCTETS = r"(?-i:[TGM]i?o)(?!\ ?\d)"
"""French writes Go and To, with these very letters: `2 to 4` is no size."""
_UNIT = rf"(?P<unit>[TGM]i?B(?:ytes?)?|{_OCTETS}|[TG])(?!\w|\s?/\s?s|\s?ps|\s?p/s)"
_BEFORE = r"(?<![\w.,/])(?<!\w-)"
_SIZE = re.compile(rf"{_BEFORE}{_NUMBER}[\ -]?{_UNIT}", re.IGNORECASE)
_TIMES = r"[xX*]"
_KIT = re.compile(
    rf"(?<![\w.,])(?<!CL\ )(?P<count>\d{{1,2}}(?=\ ?{_TIMES})|[1-8](?=\ ?[mpsd]))"
    rf"\ ?(?:{_TIMES}|(?:modules?|sticks?|dimms?|pieces?|pcs\.?)(?:\ of)?)\ ?{_NUMBER}[\ -]?{_UNIT}",
    re.IGNORECASE,
)
_KIT_BEHIND = re.compile(
    rf"(?<![\w.,]){_NUMBER}[\ -]?(?P<unit>[TGM]i?B|(?<=[89])G|(?<=\d\d)G)"
    rf"\ ?\(?{_TIMES}\ ?(?P<count>[1-8])(?!\w)",
    re.IGNORECASE,
)
"""A bare G counts from 8 upward: below it is how a chip is organised (`2Gx8`)."""
_KIT_BARE = re.compile(
    rf"(?<![\w.,-])(?:(?P<count>[1-8])\ ?{_TIMES}\ ?(?P<each>\d{{1,3}})"
    rf"|(?P<first>\d{{2,3}})\ ?{_TIMES}\ ?(?P<times>[1-8]))(?![\w.,-]|\ ?[x\"])",
    re.IGNORECASE,
)
_TOTAL_BEFORE = re.compile(r"(?<![\w.,-])(?P<total>\d{1,4})\ ?\($")
_SUM = re.compile(
    rf"{_BEFORE}(?P<first>\d{{1,4}}\ ?[TGM]i?B)(?P<more>(?:\ ?\+\ ?\d{{1,4}}\ ?[TGM]i?B){{1,7}})(?!\w)",
    re.IGNORECASE,
)
_KIT_NUMBER = re.compile(
    r"\b(?:kit|set|pack)\sof\s(?P<a>[1-8])\b(?!\s?x|[.,]\d)"
    r"|(?<![\w.,-])(?P<b>[1-8])[ -](?:module|stick|dimm|piece)s?\b(?!\s(?:of\s)?\d)"
    r"|\b(?P<dual>dual|twin|pair\sof)[ -](?:kit|pack|modules|sticks)\b"
    r"|\b(?P<quad>quad)[ -](?:kit|pack)\b|\b(?P<single>single)[ -](?:module|stick|dimm)\b",
    re.IGNORECASE,
)
_SOME = r"(?<![\d.,])\d[\d.,]{0,8}"
_SATA_RATE = r"(?:6|3|1[.,]5)(?:[.,]0)?\s?G(?:b(?:it)?)?"
_NOT_THE_SIZE = re.compile(
    rf"{_SOME}\s?[MG]B\s(?:of\s)?(?:DRAM[\s-])?(?:cache|buffer)\b|\bcache:?\s{_SOME}\s?[MG]B\b"
    rf"|\b(?:up\sto|maximum|max[.:]|supports?)\s{_SOME}\s?[TGM]i?B\b|{_SOME}\s?TB\s?(?:written|TBW)\b"
    rf"|\bSATA[\s-]?(?:I{{1,3}}\s)?{_SATA_RATE}(?![\w/])|(?<![\w.,]){_SATA_RATE}\sSATA\b",
    re.IGNORECASE,
)
"""A drive's cache, the most that a board takes, what may be written to a drive, the rate of SATA (`6Gb`): not
the size sold."""
_POWERS = {"m": 2, "g": 3, "t": 4}


def find_sizes(text: str, base: Base, *, kits: bool = True) -> tuple[Size, ...]:
    """Return every size in the text, in order; those of a kit's modules are not among them.

    Nor is a drive's cache, nor what follows `up to`. kits: whether the thing may be sold in kits; a graphics
    card is not, and `2X 12GB` there is a cooler's name and a size.
    """
    rest = without(plain(text), find_kits(text, base) if kits else ())
    rest = _NOT_THE_SIZE.sub(lambda match: " " * len(match.group()), rest)
    return tuple(Size(*where(match, text), _bytes(match, base)) for match in _SIZE.finditer(rest))


def find_kits(text: str, base: Base = Base.BINARY) -> tuple[Kit, ...]:
    """Return every kit in the text, those that give the modules' size first.

    A kit without a unit (`32GB (2x16)`) counts where a size of the text is just so many.
    """
    flat = plain(text)
    kits: list[Kit] = []
    taken = bytearray(len(flat))
    for kit in (*_sums(flat, text, base), *_written(flat, text, base)):
        if kit.count and not any(taken[kit.start : kit.end]):
            taken[kit.start : kit.end] = b"\1" * (kit.end - kit.start)
            kits.append(kit)
    kits.extend(Kit(*where(m, text), _kit_number(m), None) for m in _KIT_NUMBER.finditer(flat))
    return tuple(kits)


def size_text(size_bytes: int, base: Base) -> str:
    """Return a size as a shop writes it (`16GB`, `2TB`, `274.9GB`), to four digits."""
    step = base.value
    for unit, power in (("TB", 4), ("GB", 3)):
        if size_bytes >= step**power:
            return f"{size_bytes / step**power:.4g}{unit}"
    return f"{size_bytes / step**2:.4g}MB"


def _written(flat: str, text: str, base: Base) -> Iterator[Kit]:
    for pattern in (_KIT, _KIT_BEHIND):
        for match in pattern.finditer(flat):
            yield Kit(*where(match, text), int(match["count"]), _bytes(match, base))
    sizes = {_bytes(size, base) for size in _SIZE.finditer(flat)}
    for match in _KIT_BARE.finditer(flat):
        count = int(match["count"] or match["times"])
        each = int(match["each"] or match["first"]) * base.value**3
        total = _TOTAL_BEFORE.search(flat, max(0, match.start() - 8), match.start())
        bare = total is not None and int(total["total"]) * base.value**3 == count * each
        if bare or count * each in sizes:
            yield Kit(*where(match, text), count, each)


def _sums(flat: str, text: str, base: Base) -> Iterator[Kit]:
    """`16GB + 16GB` is a kit of two; unequal ones are no kit, and stay as sizes that do not agree."""
    for match in _SUM.finditer(flat):
        sizes = [_bytes(size, base) for size in _SIZE.finditer(re.sub(r"\+", " + ", match.group()))]
        if len(set(sizes)) == 1 and len(sizes) > 1:
            yield Kit(*where(match, text), len(sizes), sizes[0])


def _kit_number(match: re.Match[str]) -> int:
    if match["dual"] or match["quad"] or match["single"]:
        return 2 if match["dual"] else 4 if match["quad"] else 1
    return int(match["a"] or match["b"])


def _bytes(match: re.Match[str], base: Base) -> int:
    """A point or a comma before three digits parts thousands, but never of TB: none is so large."""
    unit, written = match["unit"].lower(), match["number"]
    step: int = 1024 if "i" in unit else base.value
    if unit[0] == "t":
        size = float(written.replace(",", ".").replace("'", "").replace(" ", "")) if _one(written) else 0.0
    else:
        size = thousands(written)
    return round(size * float(step ** _POWERS[unit[0]]))


def _one(written: str) -> bool:
    return sum(written.count(sign) for sign in ",.") < 2
