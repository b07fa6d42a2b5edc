"""Products of graphics: `GeForce RTX 4070 Ti SUPER`, `Radeon RX 7900 XTX`, `RTX 4000 SFF Ada`, `Arc B580`.

The makers of chips name a product by a line, a number and suffixes (their own product pages; from memory for
the old ones). Whoever makes the card puts words of his own around it (`VENTUS 3X OC`), which no driver knows.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from shipworthy.model.words import Category
from shipworthy.words.kinds import find_colours
from shipworthy.words.likeness import Likeness
from shipworthy.words.makers import is_known_maker, maker_key, without_maker
from shipworthy.words.models import model_text
from shipworthy.words.sizes import Base, find_sizes
from shipworthy.words.spans import Span, plain, where, without

_SUFFIX = (
    r"(?:[\s-]?(?:Ti|XTX|XT|GRE|GME|2048SP|GHz|Boost|SE|LE|X2|D|S"
    r"|SUPER(?![\s-]?(?:jet|clock|overclock(?!ed)|alloy|compact)))(?![A-Za-z0-9]))*"
)  # `Super JetStream` and `Super Overclock` are card makers' words
_END = r"(?![A-Za-z0-9])"
_OLD_SUFFIX = r"GTX\+?|GTS|GTO|GT|GSO?|GX2|LE|SE|VE|XT|Ultra"  # of GeForce 6000 to 9000
_LINES: tuple[tuple[str, str], ...] = (
    ("rtx pro", rf"\bRTX\s?PRO\s?(?P<number>\d{{4}})(?:\s\d+\s?GB)?{_END}"),
    ("quadro rtx", rf"\bQuadro\sRTX\s?(?P<number>\d{{4}}){_END}"),
    ("quadro nvs", rf"\b(?:Quadro\s)?NVS\s?(?P<number>\d{{3}}){_END}"),
    ("quadro", rf"\bQuadro\s(?P<number>[A-Z]{{0,2}}\d{{3,4}}[A-Z]?){_END}"),
    ("t", rf"\bT(?P<number>\d{{3,4}}){_END}"),
    ("rtx a", rf"\bRTX\s?A(?P<number>\d{{3,4}}){_END}"),
    ("titan", rf"\bTITAN(?:\s?(?P<number>Xp|X|V|Z|Black|RTX)){_END}(?P<suffix>\s\(?Pascal\)?)?"),
    ("titan", rf"\bGTX\sTITAN(?P<number>){_END}"),
    (
        "rtx",
        rf"\b(?:(?:NVIDIA\s)?GeForce\s{{0,3}})?RTX[\s-]{{0,3}}(?P<number>\d{{4}})(?P<suffix>M?{_SUFFIX}){_END}",
    ),
    (
        "gtx",
        rf"\b(?:(?:NVIDIA\s)?GeForce\s{{0,3}})?GTX[\s-]{{0,3}}(?P<number>\d{{3,4}})(?P<suffix>M?{_SUFFIX}){_END}",
    ),
    ("gts", rf"\b(?:(?:NVIDIA\s)?GeForce\s{{0,3}})?GTS[\s-]{{0,3}}(?P<number>\d{{3}})(?P<suffix>M?){_END}"),
    ("gt", rf"\b(?:(?:NVIDIA\s)?GeForce\s{{0,3}})?GT[\s-]{{0,3}}(?P<number>\d{{3,4}})(?P<suffix>M?){_END}"),
    (
        "geforce",
        rf"\bGeForce\s{{1,3}}(?P<number>\d{{3,4}})(?P<suffix>(?:\s(?:{_OLD_SUFFIX}))?){_END}",
    ),
    ("vega", rf"\b(?:(?:AMD\s)?Radeon\s{{1,3}})?(?:RX\s)?Vega\s(?P<number>\d{{1,2}}|Frontier){_END}"),
    (
        "rx",
        rf"\b(?:(?:AMD\s)?Radeon\s{{1,3}})?RX[\s-]{{0,3}}(?P<number>\d{{3,4}})(?P<suffix>[MXG]?{_SUFFIX}){_END}",
    ),
    (
        "r",
        rf"\b(?:(?:AMD\s)?Radeon\s{{1,3}})?R(?P<number>[579](?:[\s-]\d{{3}}|\s?Fury|\s?Nano))(?P<suffix>M?(?:\s?X2?)?){_END}",
    ),
    ("radeon", rf"\bRadeon\s{{1,3}}(?P<number>VII|\d{{3}}M){_END}"),
    ("hd", rf"\b(?:(?:AMD\s)?Radeon\s{{1,3}})?HD\s?(?P<number>\d{{4}})(?P<suffix>M?{_SUFFIX}){_END}"),
    ("radeon pro", rf"\bRadeon\s{{1,3}}(?:AI\s)?PRO\s(?:WX\s?)?(?P<number>[WVR]?\d{{4}}[A-Z]?){_END}"),
    ("firepro", rf"\bFirePro\s(?P<number>[A-Z]{{0,2}}\d{{3,4}}[A-Z]?){_END}"),
    ("arc", rf"\b(?:Intel\s)?Arc\s(?P<suffix>Pro\s)?(?P<number>[AB]\d{{2,3}}M?){_END}"),
)
_PATTERNS = tuple((line, re.compile(pattern, re.IGNORECASE)) for line, pattern in _LINES)
_DETAILS = re.compile(
    r"(?:\s(?:\d+\s?GB|SFF))*\s(?:Ada|Blackwell)(?:\sGeneration)?"
    r"(?:\s(?:SFF|Server|Workstation|Embedded|Max-Q)\b)*(?:\s(?:Edition|GPU))?",
    re.IGNORECASE,
)
_DETAIL = re.compile(r"SFF|Ada|Blackwell|Server|Workstation|Embedded|Max-Q", re.IGNORECASE)
_UNKNOWN_SUFFIX = re.compile(
    r"[ -](?!GPU|LHR|OEM\b|PCI|TM|HBM|\d+GB)(?P<suffix>[A-Z]{1,3}\d?|\d{1,2}[A-Z]{1,2})(?![\w.])"
)
_WORD = re.compile(r"\w")
_CATEGORY = re.compile(r"\b(?:graphics|video|display)(?:\s(?:cards?|adapters?))?\b|\bGPU\b", re.IGNORECASE)
_SEVERAL = re.compile(r"\d[\w ]*/ ?\d")  # `RX 550 / 550 Series`
_SERIES = re.compile(r"\sSeries\b", re.IGNORECASE)
_PORTABLE = re.compile(
    r"[\s,(]{0,2}(?:A\s)?(?:\d+\s?GB\s)?(?:with\s)?(?P<what>Laptop|Mobile|Max-?[QP])(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_MARK = re.compile(r"\s\(?(?P<mark>OEM|Rev\.?\s?\d)\b", re.IGNORECASE)
"""Another chip under the same name (`GTX 960 OEM`): a mark that only one side has leaves it open."""
_LISTED = re.compile(
    r"(?<![\w-])(?:NV|GT?|GF|GK|GM|GP|GV|TU|GA|AD|GB)\d{2,3}[A-Z]{0,3}\s\[(?P<name>[^\]]+)\]"
)
"""A name as the list of ids has it, behind the chip maker's own code of the chip (`GM206 [GeForce GTX 960]`;
codes of NVIDIA's from memory): an order that was drafted from a machine has such a one."""
_NVIDIA = frozenset(
    {
        *("rtx", "gtx", "gts", "gt", "geforce", "titan"),
        *("t", "rtx a", "rtx pro", "quadro", "quadro rtx", "quadro nvs"),
    }
)
_SERIES_OF = (
    ("vega", re.compile(r"\bVega\b", re.IGNORECASE)),
    (
        "r",
        re.compile(r"\bR[2-9](?=[\s-](?:Series|Graphics|M?\d{3}|Fury|Nano)(?![A-Za-z0-9]))", re.IGNORECASE),
    ),
    ("hd", re.compile(r"\bHD\s?\d{4}(?![A-Za-z0-9])", re.IGNORECASE)),
)
"""How AMD's series stand in names of several products at once (`Radeon HD 8400 / R3 Series`)."""


@dataclass(frozen=True, slots=True)
class Product(Span):
    """A product of a maker of chips.

    line: of its maker's (`gtx`). key: line, number and suffixes in one spelling. details: words behind these
    that names often leave out (Ada, Workstation). portable: it is made for laptops.
    """

    key: str
    details: frozenset[str] = frozenset()
    portable: bool = False
    line: str = ""


@lru_cache(maxsize=4096)
def find_graphics_products(text: str) -> tuple[Product, ...]:
    """Return every product that the text names, in order; none twice at one place."""
    flat, found = plain(text), list[Product]()
    for line, pattern in _PATTERNS:
        for match in pattern.finditer(flat):
            product = _product(line, match, flat, text)
            if product is not None and not any(product.overlaps(other) for other in found):
                found.append(product)
    named = [product for product in found if not _is_code(product, flat)] or found
    return tuple(sorted(named, key=lambda product: product.start))


def _is_code(product: Product, flat: str) -> bool:
    """Whether it is the begin of an order code (`HD7870-DC2-2GD5`), which may leave a suffix out."""
    return " " not in product.words and re.match(r"-[A-Za-z]", flat[product.end :]) is not None


def card_words(text: str, *makers: str) -> tuple[str, str]:
    """Return a card's text parted into the product of the chip's maker and the words of the card's maker:
    `GeForce RTX 4070`, `VENTUS 2X OC`. The first is empty where no product is named, or several are."""
    products = find_graphics_products(text)
    if len({product.key for product in products}) != 1:
        return "", ""
    rest = _CATEGORY.sub(" ", without(text, (*products, *find_colours(text))))
    words = without_maker(model_text(rest, Category.GRAPHICS), *makers).split()
    if len(words) == 1 and (is_known_maker(key := maker_key(words[0])) or key in map(maker_key, makers)):
        words = []
    return max(products, key=lambda p: p.end - p.start).words, " ".join(filter(_WORD.search, words))


def product_likeness(want: str, got: str) -> Likeness | None:
    """Compare two names by the products in them; None where one of them names none, or several, unless all
    that they name is of other series.

    A detail that only one of them gives leaves it open: `RTX 4000` is Turing's and Ada's. Not so SFF, which
    is a card of its own. Where both are names of the list of ids, nothing was left out of either.
    """
    wanted, found = find_graphics_products(want), find_graphics_products(got)
    if _SEVERAL.search(got) or len({p.key for p in wanted}) != 1 or len({p.key for p in found}) != 1:
        one, other = _families(want), _families(got)
        return Likeness.OTHER if one and other and not one & other else None
    if wanted[0].key != found[0].key or _is_portable(wanted) != _is_portable(found):
        return Likeness.OTHER
    if _differ_as_listed(want, got):
        return Likeness.OTHER
    if _marks(want, wanted) != _marks(got, found) or _has_unknown_suffix(got, found, want):
        return Likeness.PARTLY
    one, other = (frozenset().union(*(p.details for p in names)) for names in (wanted, found))
    if one == other:
        return Likeness.SAME
    open_ = (one < other or other < one) and "sff" not in one ^ other
    return Likeness.PARTLY if open_ else Likeness.OTHER


def _families(text: str) -> frozenset[str]:
    """Return the series of which the text names a product, or which it names as a whole; all of NVIDIA's are
    one here, since it sells one name in several (`RTX 4000`)."""
    named = {product.line for product in find_graphics_products(text)}
    told = {"nvidia" if line in _NVIDIA else line for line in named}
    flat = plain(text)
    return frozenset(told | {series for series, pattern in _SERIES_OF if pattern.search(flat)})


def _differ_as_listed(want: str, got: str) -> bool:
    """Whether two names of the list of ids have other marks or sizes behind one product."""
    one, other = _LISTED.search(plain(want)), _LISTED.search(plain(got))
    return one is not None and other is not None and _told_behind(one["name"]) != _told_behind(other["name"])


def _told_behind(name: str) -> set[str]:
    """Return the marks of a name, and the sizes in it."""
    return _marks(name, find_graphics_products(name)) | {
        str(size.size_bytes) for size in find_sizes(name, Base.BINARY)
    }


def _has_unknown_suffix(got: str, found: tuple[Product, ...], want: str) -> bool:
    """Whether a driver's name goes on with capitals that no grammar knows, and that were not sold."""
    after = _UNKNOWN_SUFFIX.match(plain(got), max(product.end for product in found))
    return after is not None and re.search(rf"(?<!\w){after['suffix']}(?!\w)", want, re.IGNORECASE) is None


def _marks(text: str, products: tuple[Product, ...]) -> set[str]:
    """Return the marks that stand right behind a product's name, in one spelling."""
    flat = plain(text)
    found = (_MARK.match(flat, product.end) for product in products)
    return {re.sub(r"[\s.]", "", match["mark"].casefold()) for match in found if match}


def _is_portable(products: tuple[Product, ...]) -> bool:
    return any(product.portable for product in products)


def _product(line: str, match: re.Match[str], flat: str, text: str) -> Product | None:
    """Return the product of a match; None for the name of a whole series (`R9 200 Series`)."""
    said, (start, end) = match.groupdict(), where(match)[1:]
    number = re.sub(r"[\s-]", "", (said["number"] or "").casefold())
    if line in ("r", "hd") and number.endswith("00") and _SERIES.match(flat, end):
        return None
    suffixes = re.findall(r"2048sp|[a-z]+\d?\+?", (said.get("suffix") or "").casefold())
    if line in ("rtx", "gtx"):
        suffixes = ["super" if suffix == "s" else suffix for suffix in suffixes]
    details = _DETAILS.match(flat, end) if "rtx" in line else None
    told = frozenset(word.casefold() for word in _DETAIL.findall(details[0])) if details else frozenset()
    end = details.end() if details else end
    portable = _PORTABLE.match(flat, end) is not None or "m" in suffixes or "max-q" in told
    key = " ".join(filter(None, (line, number, *sorted(suffixes))))
    portable = portable or (line in ("arc", "radeon") and number.endswith("m"))
    return Product(text[start:end], start, end, key, told - {"max-q"}, portable, line)
