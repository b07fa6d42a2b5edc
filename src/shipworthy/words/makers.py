"""Makers' names: the one on the invoice and the one in the firmware are seldom spelled alike."""

from __future__ import annotations

import re
from functools import lru_cache

# First words under which firmware and shops name the same maker (common practice, and SMBIOS tables of
# real machines). A name that is not here is compared by its own first word.
_ALIASES = {
    "asustek": "asus",
    "micro-star": "msi",
    "giga-byte": "gigabyte",
    "western digital": "wdc",
    "wd": "wdc",
    "hynix": "sk hynix",
    "skhynix": "sk hynix",
    "hewlett-packard": "hp",
    "g-skill": "g.skill",
    "gskill": "g.skill",
    "team group": "teamgroup",
    "team": "teamgroup",
    "elitegroup": "ecs",
    "a-data": "adata",
    "advanced micro devices": "amd",
    "authenticamd": "amd",
    "genuineintel": "intel",
    "asrockrack": "asrock",
    "tul": "powercolor",
    "evga.com": "evga",
    "kfa2": "galax",
    "galaxy": "galax",
    "innovision": "inno3d",
    "shenzhen colorful": "colorful",
}
_KNOWN = frozenset(_ALIASES.values()) | {
    *("asrock", "biostar", "supermicro", "samsung", "kingston", "crucial", "corsair", "seagate", "toshiba"),
    *("sandisk", "hitachi", "hgst", "patriot", "transcend", "lexar", "nvidia", "sapphire", "powercolor"),
    *("xfx", "pny", "zotac", "palit", "galax", "inno3d", "colorful", "visiontek", "leadtek"),
    *("dell", "lenovo", "acer", "lg", "benq", "aoc", "philips", "eizo", "iiyama", "viewsonic", "evga"),
}


@lru_cache(maxsize=4096)
def maker_key(name: str) -> str:
    """Return one spelling for a maker's name; empty for none (`ASUSTeK COMPUTER INC.` is `asus`)."""
    plain = re.sub(r"[^\w.& -]+", " ", name.casefold()).replace("_", " ").strip()
    for alias, key in _ALIASES.items():
        if plain == alias or plain.startswith((alias + " ", alias + ".")):
            return key
    if plain.startswith("sk hynix"):
        return "sk hynix"
    return re.split(r"[\s,]+", plain)[0].rstrip(".") if plain else ""


def spellings_of(key: str) -> tuple[str, ...]:
    """Return the first words under which a maker is known, its key among them, in small letters."""
    return (key, *(alias for alias, of in _ALIASES.items() if of == key))


def maker_keys(name: str) -> frozenset[str]:
    """Return the keys of a name that stands for several (`Tul Corporation / PowerColor`)."""
    return frozenset(filter(None, (maker_key(part) for part in name.split("/"))))


def is_known_maker(key: str) -> bool:
    """Return whether a key is a maker that we can tell from others; of the rest we say nothing."""
    return key in _KNOWN


def leading_maker(text: str) -> str:
    """Return the key of the known maker that a part text begins with; empty if it begins with none."""
    key = maker_key(text)
    return key if is_known_maker(key) else ""


def without_maker(text: str, *makers: str) -> str:
    """Return a part text without a maker's name at its start: a known one, or one of those given."""
    words = text.split()
    keys = {maker_key(maker) for maker in makers if maker}
    for length in (3, 2, 1):
        head = " ".join(words[:length])
        if len(words) > length and _names(head, keys):
            return " ".join(words[length:])
    return text


def _names(head: str, keys: set[str]) -> bool:
    plain = head.casefold().rstrip(".,")
    key = maker_key(head)
    whole = plain in _ALIASES or plain == key
    return whole and (key in keys or is_known_maker(key))
