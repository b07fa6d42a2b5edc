"""What the codes say by which drives name themselves: family, form, technology. One grammar a maker.

Most drives bear no word of their box, but a code of their maker's with the same fields in fixed places. The
makers publish guides to them (Seagate, WD, Crucial, Kingston; from memory), and the names of parts in open
data bear them out (`tests/words/test_drive_codes.py`). Capacity is left to the drive's own count of blocks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class DriveCode:
    """A maker's code, read. families: words under which drives with it are sold; all_families: those of the
    maker, so that one of the others contradicts it. token: the model's name that the code wraps, if any.
    bare: the code without what hangs on it behind a hyphen."""

    maker: str
    families: frozenset[str] = frozenset()
    all_families: frozenset[str] = frozenset()
    form: str = ""
    technology: str = ""
    token: str = ""
    heatsink: bool | None = None
    bare: str = ""


_GREEN_BLUE_BLACK = frozenset({"green", "blue", "black", "caviar"})
_MOBILE = frozenset({"green", "blue", "black", "scorpio", "caviar"})
_SERVERS = frozenset({"gold", "re", "re2", "re3", "re4", "se", "ae", "raid"})
# WD's spinning drives: the second letter behind the capacity is the market.
_WD_MARKETS: Mapping[str, frozenset[str]] = {
    **dict.fromkeys("AZ", _GREEN_BLUE_BLACK),
    **dict.fromkeys("EPQ", _MOBILE),
    **dict.fromkeys("BRY", _SERVERS),
    **dict.fromkeys("HL", frozenset({"velociraptor", "raptor"})),
    "F": frozenset({"red"}),
    "U": frozenset({"purple", "av"}),
    "V": frozenset({"av", "green"}),
}
_WD_FAMILIES = frozenset().union(*_WD_MARKETS.values())
# WD's drives without a disk: brand and form are letters of their own.
_WD_BRANDS = {"B": "blue", "G": "green", "R": "red", "X": "black"}
_WD_FORMS = {"A": '2.5"', "B": "M.2", "C": "M.2", "E": "M.2", "G": "M.2", "M": "M.2"}
# Seagate's drives of either kind of name: the letters behind the capacity.
_DESKTOP, _LAPTOP = frozenset({"barracuda", "desktop", "spinpoint"}), frozenset({"barracuda", "momentus"})
_NEARLINE = frozenset({"exos", "enterprise", "constellation", "terascale"})
_SEAGATE_SEGMENTS: Mapping[str, tuple[str, frozenset[str]]] = {
    "DM": ('3.5"', _DESKTOP),
    "DL": ('3.5"', _DESKTOP),
    "DX": ('3.5"', frozenset({"firecuda", "desktop", "barracuda"})),
    "LM": ('2.5"', _LAPTOP | {"spinpoint", "laptop", "firecuda"}),
    "LT": ('2.5"', _LAPTOP | {"laptop"}),
    "LX": ('2.5"', frozenset({"firecuda", "momentus", "laptop"})),
    "NM": ('3.5"', _NEARLINE),
    "NC": ('3.5"', _NEARLINE),
    "NX": ('2.5"', _NEARLINE),
    "VN": ('3.5"', frozenset({"ironwolf", "nas", "enterprise"})),
    "NE": ('3.5"', frozenset({"ironwolf", "nas", "enterprise"})),
    "NT": ('3.5"', frozenset({"ironwolf", "nas"})),
    "VX": ('3.5"', frozenset({"skyhawk", "surveillance", "sv35"})),
    "VE": ('3.5"', frozenset({"skyhawk", "surveillance"})),
}
_SEAGATE_FAMILIES = frozenset().union(*(families for _, families in _SEAGATE_SEGMENTS.values())) | {"archive"}
_CRUCIAL_FORMS = {"1": '2.5"', "3": "mSATA", "4": "M.2", "5": "M.2", "6": "M.2", "8": "M.2"}
_KINGSTON_FORMS = {"S3": '2.5"', "S37": '2.5"', "S37A": '2.5"', "B7A": '2.5"', "M8": "M.2", "MS": "mSATA"}
_KINGSTON_FORMS |= {"": '2.5"', "S": "M.2", "D": "M.2"}

_WD_DISK = re.compile(r"WD\d{2,4}[A-Z](?P<market>[A-Z])[A-Z]{2}")
_WD_SOLID = re.compile(r"WDS\d{3}[GT]\d(?P<brand>[A-Z])\d(?P<form>[A-Z])")
_SEAGATE = re.compile(r"ST\d{3,5}(?P<segment>[A-Z]{2})\d{3,4}[A-Z]?")
_CRUCIAL = re.compile(r"CT\d{2,5}(?P<token>[A-Z]{1,2}\d{1,3}[A-Z]*?)SSD(?P<form>\d)")
_KINGSTON = re.compile(
    r"SE?(?P<token>DC\d{3,4}[BMR]|[A-Z]{1,3}\d{2,4})(?P<form>S37A?|S3|S2|B7A|M8|MS|S|D)?(?P<heatsink>K)?/?"
    r"(?:16|30|32|60|64|90|96|1[28]0|128|240|25[06]|480|500|512|800|960|1000|1024|1920|2000|2048|3840|7680)G"
)
_TRANSCEND = re.compile(r"TS\d{1,4}[GT](?P<token>(?:MTS|MTE|MSA|SSD)\d{3}[A-Z]?)")
_PLEXTOR = re.compile(r"PX-\d{3}(?P<token>M\d[A-Z]{1,3}?)(?:GN?|Y|C)?")


@lru_cache(maxsize=4096)
def read_drive_codes(said: str) -> tuple[DriveCode, ...]:
    """Return every code of a known grammar among the words by which a drive names itself."""
    return tuple(code for word in said.upper().split() for code in _read(word))


def _read(word: str) -> Iterator[DriveCode]:
    bare = word.split("-")[0]
    if (match := _WD_SOLID.fullmatch(bare)) and match["brand"] in _WD_BRANDS:
        brands = frozenset(_WD_BRANDS.values())
        family, form = frozenset({_WD_BRANDS[match["brand"]]}), _WD_FORMS.get(match["form"], "")
        yield DriveCode("wd", family, brands, form, "solid state", bare=bare)
    elif (match := _WD_DISK.fullmatch(bare)) and match["market"] in _WD_MARKETS:
        yield DriveCode("wd", _WD_MARKETS[match["market"]], _WD_FAMILIES, technology="spinning", bare=bare)
    elif (match := _SEAGATE.fullmatch(bare)) and match["segment"] in _SEAGATE_SEGMENTS:
        form, families = _SEAGATE_SEGMENTS[match["segment"]]
        technology = "hybrid" if match["segment"] in ("DX", "LX") else "spinning"
        yield DriveCode("seagate", families, _SEAGATE_FAMILIES, form, technology, bare=bare)
    elif match := _CRUCIAL.fullmatch(bare):
        form = _CRUCIAL_FORMS.get(match["form"], "")
        solid, cooled = "solid state", match["form"] == "5" if match["form"] in "58" else None
        yield DriveCode(
            "crucial", form=form, technology=solid, token=match["token"], heatsink=cooled, bare=bare
        )
    elif match := _KINGSTON.fullmatch(bare):
        form = _KINGSTON_FORMS.get(match["form"] or "", "")
        plain = bare.replace("/", "")
        yield DriveCode("kingston", form=form, technology="solid state", token=match["token"], bare=plain)
    elif match := _TRANSCEND.fullmatch(bare):
        yield DriveCode("transcend", technology="solid state", token=match["token"], bare=bare)
    elif match := _PLEXTOR.fullmatch(word):
        yield DriveCode("plextor", technology="solid state", token=match["token"], bare=word)


def are_two_models(sold: str, said: str) -> bool:
    """Return whether a part number sold and a drive's name are codes of one maker's grammar that differ."""
    wanted, found = read_drive_codes(sold), read_drive_codes(said)
    pairs = [(one, other) for one in wanted for other in found if one.maker == other.maker]
    return bool(pairs) and all(one.bare != other.bare for one, other in pairs)


_NAMES_ALONE = (_SEAGATE_FAMILIES | {"pipeline", "nytro"}) - {
    "enterprise",
    "desktop",
    "laptop",
    "nas",
    "surveillance",
}


def families_named(text: str) -> frozenset[str]:
    """Return the families of a maker that a text names, by words that mean nothing else."""
    return frozenset(re.findall(r"[a-z0-9]+", text.casefold())) & _NAMES_ALONE


def contradicts_family(text: str, code: DriveCode) -> bool:
    """Return whether a text names families of the maker, and none of those that this code stands for."""
    words = set(re.findall(r"[a-z0-9]+", text.casefold().replace("wd_", "wd ")))
    named = words & code.all_families
    return bool(named) and not named & code.families


def wraps(code: DriveCode, model: str) -> bool | None:
    """Return whether the model's name that a code wraps stands in the words sold; None if it wraps none.

    `SKC3000S1024G` wraps KC3000, `TS512GMTE110S` wraps MTE110S, which is sold as 110S. A `P` behind a number
    is written `Plus` on the box (`CT1000P3PSSD8`), which is why a plain P3 is not found in it.
    """
    if not code.token:
        return None
    words = re.findall(r"[a-z0-9]+", re.sub(r"(?<=\d)\s*plus\b", "p", model.casefold()))
    token = code.token.casefold()
    tail = re.sub(r"^(?:mts|mte|msa|ssd)(?=\d{3})", "", token) if code.maker == "transcend" else token
    return any(word in (token, tail) for word in words)
