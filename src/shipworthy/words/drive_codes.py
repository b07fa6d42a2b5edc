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
_MEAN_MORE = {"enterprise", "desktop", "laptop", "nas", "surveillance"}
_NAMES_ALONE = (_SEAGATE_FAMILIES | {"pipeline", "nytro"}) - _MEAN_MORE
_CRUCIAL_FORMS = {"1": '2.5"', "3": "mSATA", "4": "M.2", "5": "M.2", "6": "M.2", "8": "M.2"}
_KINGSTON_FORMS = {"S3": '2.5"', "S37": '2.5"', "S37A": '2.5"', "B7A": '2.5"', "M8": "M.2", "MS": "mSATA"}
_KINGSTON_FORMS |= {"": '2.5"', "S": "M.2", "D": "M.2"}

_WORD = re.compile(r"[a-z0-9]+")
_PLUS = re.compile(r"(?<=\d)\s*plus\b")
_TRANSCEND_FORM = re.compile(r"^(?:mts|mte|msa|ssd)(?=\d{3})")
_WD_DISK = re.compile(r"WD\d{2,4}[A-Z](?P<market>[A-Z])[A-Z]{2}")
_WD_SOLID = re.compile(r"WDS\d{3}[GT]\d(?P<brand>[A-Z])\d(?P<form>[A-Z])")
_SEAGATE = re.compile(r"ST\d{3,5}(?P<segment>[A-Z]{2})\d{3,4}[A-Z]?")
_CRUCIAL = re.compile(r"CT\d{2,5}(?P<token>[A-Z]{1,2}\d{1,3}[A-Z]*?)SSD(?P<form>\d)")
_KINGSTON = re.compile(
    r"SE?(?P<token>DC\d{3,4}[BMR]|[A-Z]{1,3}\d{2,4})(?P<form>S37A?|S3|S2|B7A|M8|MS|S|D)?(?P<heatsink>K)?/?"
    r"(?:16|30|32|60|64|90|96|1[28]0|128|240|25[06]|480|500|512|800|960|1000|1024|1920|2000|2048|3840|7680)G"
)
# Codes that tell the maker and how it stores, and no family: pattern, technology, form by the first letters.
_PLAIN: tuple[tuple[str, re.Pattern[str], str, Mapping[str, str]], ...] = (
    (
        "seagate",
        re.compile(r"(?P<form>ST[139])\d{3,8}(?:A|AS|ASG|AV|AX|ACE|SCE|CS|GAS|GSG|NS|SV|SM|SS|FC)"),
        "spinning",
        {"ST3": '3.5"', "ST9": '2.5"'},
    ),
    ("seagate", re.compile(r"ST\d{3,5}[DLMNV][A-Z]\d{3,4}[A-Z]?"), "spinning", {}),
    ("seagate", _SEAGATE, "", {}),  # F and K have no disk, from memory
    ("maxtor", re.compile(r"STM[39]\d{4,8}AS?"), "spinning", {}),
    ("wdc", re.compile(r"WD\d{2,4}[A-Z](?:[A-Z]{1,3}|\d[A-Z]{2}|\d\dX)"), "spinning", {}),
    (
        "hitachi",  # of all houses that sold under these codes: Hitachi, HGST and WD
        re.compile(r"(?P<form>H[CDTU][A-Z]|WU[HS](?=7))[1457]\w{11}"),
        "spinning",
        {
            **dict.fromkeys(("HDS", "HDT", "HDP", "HDN", "HDE", "HUA", "HUH", "WUH", "WUS"), '3.5"'),
            **dict.fromkeys(("HTS", "HTE", "HTC", "HUC"), '2.5"'),
        },
    ),
    (
        "toshiba",
        re.compile(r"(?P<form>M[CDGNQ]|DT)\d\d[A-Z]{3}(?:\d{2,3}|\dT)[A-Z]{0,2}|MK\d{4}G[A-Z]{2,3}"),
        "spinning",
        {"DT": '3.5"', "MG": '3.5"', "MD": '3.5"', "MN": '3.5"', "MQ": '2.5"'},
    ),
    (
        "samsung",
        re.compile(r"(?P<form>H[DEM])\d{3}[A-Z]{2}|HN-M\d{3}[A-Z]{3}|SP\d{4}[CN]"),
        "spinning",
        {"HD": '3.5"', "HE": '3.5"', "HM": '2.5"'},
    ),
    ("fujitsu", re.compile(r"MH[TVWYZ]\d{4}[A-Z]{2}"), "spinning", {}),
    ("samsung", re.compile(r"MZ[0-9A-Z]{3}(?:\d{3}|\dT\d)[A-Z]{4}[0-9A-Z]{0,3}"), "solid state", {}),
    ("toshiba", re.compile(r"THNS[0-9A-Z]{6,12}|K[BX][DG]\d[0-9A-Z]{5,9}"), "solid state", {}),
    ("intel", re.compile(r"SSD(?:SA|SC|PE|PF)[0-9A-Z]{6,14}"), "solid state", {}),
    ("micron", re.compile(r"MTFD[0-9A-Z]{8,14}"), "solid state", {}),
    ("sk hynix", re.compile(r"HF[SM]\d{3}[GT][0-9A-Z]{4,8}|SHG[PS]\d\d-\d{3,4}G[MS]"), "solid state", {}),
    ("mushkin", re.compile(r"MKNSSD[A-Z]{2,3}\d{1,4}[GT]B"), "solid state", {}),
    ("wdc", re.compile(r"WDS\d{3}[GT]\d[A-Z][A-Z0-9][A-Z]"), "solid state", {}),
    (
        "sandisk",
        re.compile(r"SD(?:\d[A-Z][0-9A-Z]{2,4}|SS[A-Z]{2,4}|[AB][PQ][A-Z]{3})-?\d{3}G[0-9A-Z]{0,6}"),
        "solid state",
        {},
    ),
)
# The series of Toshiba's retail drives is one letter; what stands behind the size is the box.
_TOSHIBA_BOX = re.compile(r"(?P<bare>HDW(?P<series>[A-Z])[0-9][0-9A-Z]{2})(?:[A-Z]{3,5})?")
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
        yield DriveCode("wdc", family, brands, form, "solid state", bare=bare)
    elif (match := _WD_DISK.fullmatch(bare)) and match["market"] in _WD_MARKETS:
        yield DriveCode("wdc", _WD_MARKETS[match["market"]], _WD_FAMILIES, technology="spinning", bare=bare)
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
    elif match := _TOSHIBA_BOX.fullmatch(bare):
        form = '2.5"' if match["series"] in "JKL" else '3.5"'
        yield DriveCode("toshiba", form=form, technology="spinning", bare=match["bare"])
    else:
        yield from _read_plain(word)


def _read_plain(word: str) -> Iterator[DriveCode]:
    for maker, pattern, technology, forms in _PLAIN:
        # The hyphen may stand within the code, and before what hangs on it.
        for code in dict.fromkeys((word, word.rpartition("-")[0], word.split("-")[0])):
            if match := pattern.fullmatch(code):
                form = forms.get(match.groupdict().get("form") or "", "")
                yield DriveCode(maker, form=form, technology=technology, bare=code)
                return


def are_two_models(sold: str, said: str) -> bool:
    """Return whether a part number sold and a drive's name are codes of one maker's grammar that differ.

    The number on the box of a drive without a disk may have more behind the drive's own: `SSDSC2KB480G801` is
    sold where the drive says `SSDSC2KB480G8`.
    """
    wanted, found = read_drive_codes(sold), read_drive_codes(said)
    pairs = [(one, other) for one in wanted for other in found if one.maker == other.maker]
    return bool(pairs) and not any(_may_be_one(one, other) for one, other in pairs)


def _may_be_one(one: DriveCode, other: DriveCode) -> bool:
    short, long = sorted((one.bare.replace("-", ""), other.bare.replace("-", "")), key=len)
    both_solid = one.technology == other.technology == "solid state"
    return long.startswith(short) if both_solid else short == long


def families_named(text: str) -> frozenset[str]:
    """Return the families of a maker that a text names, by words that mean nothing else."""
    return frozenset(_WORD.findall(text.casefold())) & _NAMES_ALONE


def contradicts_family(text: str, code: DriveCode) -> bool:
    """Return whether a text names families of the maker, and none of those that this code stands for."""
    words = set(_WORD.findall(text.casefold().replace("wd_", "wd ")))
    named = words & code.all_families
    return bool(named) and not named & code.families


def wraps(code: DriveCode, model: str) -> bool | None:
    """Return whether the model's name that a code wraps stands in the words sold; None if it wraps none.

    `SKC3000S1024G` wraps KC3000, `TS512GMTE110S` wraps MTE110S, which is sold as 110S. A `P` behind a number
    is written `Plus` on the box (`CT1000P3PSSD8`), which is why a plain P3 is not found in it.
    """
    if not code.token:
        return None
    words = _WORD.findall(_PLUS.sub("p", model.casefold()))
    token = code.token.casefold()
    tail = _TRANSCEND_FORM.sub("", token) if code.maker == "transcend" else token
    return any(word in (token, tail) for word in words)
