"""Which house made a drive, and how does it store? What the words sold and the drive's own name say of it.

A drive of another house than the one sold is another drive, and so is one that stores in another way,
whatever else its name leaves open. But houses were bought and sold: a drive of one was sold under the name of
another, and such two are not told apart. Makers of whole systems put their label on drives of any house.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shipworthy.words.drive_codes import read_drive_codes
from shipworthy.words.kinds import find_technologies
from shipworthy.words.makers import spellings_of


@dataclass(frozen=True, slots=True)
class DriveOrigin:
    """houses: those that a text names; technology: solid state, spinning or hybrid. Empty where it does not
    say."""

    houses: frozenset[str] = frozenset()
    technology: str = ""


# Houses that name themselves in their drives, by the words with which names begin (common practice, from the
# names of real drives): as `words.makers` spells them, and brands that are of one house alone. Brands that
# print a box for drives of any house are none.
_HOUSES = {
    spelling: house
    for house in (
        *("wdc", "hgst", "hitachi", "sandisk", "seagate", "maxtor", "samsung", "toshiba", "kioxia", "ocz"),
        *("micron", "crucial", "lexar", "intel", "solidigm", "sk hynix", "kingston", "plextor", "lite-on"),
        *("transcend", "adata", "corsair", "gigabyte", "msi", "mushkin", "patriot", "pny", "teamgroup"),
    )
    for spelling in spellings_of(house)
} | {
    "t-force": "teamgroup",
    "xpg": "adata",
    "force": "corsair",
    "aorus": "gigabyte",
    "mushkin enhanced": "mushkin",
    **dict.fromkeys(("liteonit", "liteon"), "lite-on"),
}
_SYSTEM_MAKERS = (
    *("acer", "apple", "asus", "cisco", "dell", "emc", "fujitsu", "hewlett-packard", "hp", "hpe", "ibm"),
    *("lenovo", "netapp", "oracle", "sun", "supermicro"),
)
_LEADS = re.compile(
    r"\W*(?:ATA\s+)?(?P<name>"  # `ATA` stands before the name where SCSI tells it
    + "|".join(re.escape(name) for name in sorted((*_HOUSES, *_SYSTEM_MAKERS), key=len, reverse=True))
    + r")(?![^\W_])",
    re.IGNORECASE,
)
# Of two houses in one of these a drive may bear the name of either (the houses' own announcements, from
# memory): Hitachi's drives went to WD as HGST in 2012, its 3.5" works to Toshiba, which had Fujitsu's since
# 2009; WD had SanDisk 2016 to 2025; Toshiba took over OCZ in 2014, and its flash became Kioxia, which bought
# Lite-On's drives (sold as Plextor) in 2020; Micron sells as Crucial and sold as Lexar; Intel's went to
# SK hynix as Solidigm in 2021, and the first of Kingston's were Intel's.
_KIN = tuple(
    frozenset(names.split(", "))
    for names in (
        "wdc, hgst, hitachi, sandisk",
        "hgst, hitachi, toshiba",
        "toshiba, kioxia, ocz, fujitsu",
        "toshiba, kioxia, lite-on, plextor",
        "micron, crucial, lexar",
        "intel, solidigm, sk hynix",
        "intel, kingston",
    )
)
# The same of hard disks alone: Seagate took over Maxtor in 2006 and Samsung's disks in 2011.
_KIN_OF_DISKS = (frozenset({"seagate", "maxtor", "samsung"}),)


@lru_cache(maxsize=4096)
def drive_origin(text: str, maker: str = "", technology: str = "") -> DriveOrigin:
    """Return what a text, sold or a drive's own name, says of its house and of how it stores.

    maker, technology: what is known of it besides the text. A technology that is known is not read from the
    text; `NVMe` is solid state. A text that speaks of two (a dual drive) says nothing.
    """
    codes = read_drive_codes(text.replace("/", " ").replace("(", " ").replace(")", " "))
    leads = [match["name"].casefold() for name in (maker, text) if (match := _LEADS.match(name))]
    houses = {_HOUSES[name] for name in leads if name in _HOUSES} | {code.maker for code in codes}
    if any(name in _SYSTEM_MAKERS for name in leads):
        houses.clear()
    stores = _plain_technology([technology]) or _plain_technology(
        [word.meaning for word in find_technologies(text)] or [code.technology for code in codes]
    )
    return DriveOrigin(frozenset(houses), stores)


def _plain_technology(said: Iterable[str]) -> str:
    found = {"solid state" if one == "NVMe" else one for one in said if one}
    return found.pop() if len(found) == 1 else ""


def is_of_system_maker(name: str) -> bool:
    """Return whether a name begins with that of a maker of whole systems, who labels drives of any house."""
    match = _LEADS.match(name)
    return match is not None and match["name"].casefold() in _SYSTEM_MAKERS


def are_kin(sold: DriveOrigin, said: DriveOrigin) -> bool:
    """Return whether each names a house, and drives of one of them were sold under the other's name."""
    return bool(sold.houses and said.houses) and not are_two_houses(sold, said)


def are_two_houses(sold: DriveOrigin, said: DriveOrigin) -> bool:
    """Return whether each names a house, and no two of them are one or kin."""
    told = bool(sold.houses and said.houses)
    return told and not any(
        _may_be_one(one, other, sold, said) for one in sold.houses for other in said.houses
    )


def _may_be_one(one: str, other: str, sold: DriveOrigin, said: DriveOrigin) -> bool:
    if one == other:
        return True
    of_disks = () if "solid state" in (sold.technology, said.technology) else _KIN_OF_DISKS
    return any({one, other} <= kin for kin in (*_KIN, *of_disks))


def are_two_technologies(sold: DriveOrigin, said: DriveOrigin) -> bool:
    """Return whether both tell how they store, and one has disks that turn and the other none.

    A hybrid drive turns, and is often sold as a hard disk. Of a virtual disk nothing is told.
    """
    both = {sold.technology, said.technology}
    return "solid state" in both and bool(both & {"spinning", "hybrid"})
