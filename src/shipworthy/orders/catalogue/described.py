"""The words by which a part may be described beside its name, from its facts: a text that says `8-core` of a
processor that has eight cores says nothing that is not in the list.
"""

from __future__ import annotations

import re

import msgspec

from shipworthy.model.catalogue import (
    BoardFacts,
    CataloguePart,
    DisplayFacts,
    GraphicsFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.words import Category
from shipworthy.words.versions import says_wireless

_TRADE: dict[Category, str] = {
    Category.PROCESSOR: r"(?:desktop )?processors?|CPUs?",
    Category.BOARD: r"mother-?boards?|main-?boards?|boards?",
    Category.MEMORY: r"desktop memory|memory|RAM|kits?|modules?|U?DIMMs?",
    Category.STORAGE: r"internal|drives?|solid[ -]state|hard (?:disk|drive)s?|disks?",
    Category.GRAPHICS: r"graphics cards?|video cards?|GPUs?",
    Category.POWER_SUPPLY: r"power supply units?|power supply|power supplies|PSUs?|certified",
    Category.CASE: r"(?:computer|PC)[ -]cases?|cases?|chassis",
    Category.COOLER: r"(?:CPU|processor)[ -]coolers?|(?:liquid|air) coolers?|coolers?|AIO",
    Category.DISPLAY: r"monitors?|displays?|screens?|inch",
    Category.NETWORK: r"network (?:adapter|card|interface)s?|adapters?|cards?",
    Category.SOUND: r"sound cards?|cards?",
}
_TRADE_PATTERNS = {c: re.compile(rf"(?<![\w-])(?:{w})(?![\w-])", re.IGNORECASE) for c, w in _TRADE.items()}
_WHOLE_TB = re.compile(r"(?<![\w.,])(?P<tb>\d{1,3})000\s?GB\b", re.IGNORECASE)
# What a name may hold and need not be said, as it follows from the model: sockets and form factors of boards.
_FOLLOWS: dict[Category, re.Pattern[str]] = {
    Category.PROCESSOR: re.compile(
        r"\b(?:socket )?(?:LGA[ -]?\d{3,4}(?:-\d)?|AM\d\+?|FM\d\+?|s?TRX?\d)(?![\w+-])", re.I
    ),
    Category.BOARD: re.compile(
        r"(?<![\w-])(?:socket )?(?:LGA[ -]?\d{3,4}(?:-\d)?|AM\d\+?|FM\d\+?|s?TRX?\d"
        r"|(?:E|XL|micro|mini)?[ -]?ATX|m-?ATX|(?:mini[ -])?ITX)(?![\w+-])",
        re.I,
    ),
}


def without_trade_words(text: str, category: Category) -> str:
    """Return a text without the words that only say what kind of thing it is, and drives in whole TB."""
    pattern = _TRADE_PATTERNS.get(category)
    plain = re.sub(r"\((?:R|TM|C)\)|[®™©]", " ", text)
    if category is Category.STORAGE:
        plain = _WHOLE_TB.sub(r"\g<tb>TB", plain)
    return pattern.sub(" ", plain) if pattern else plain


def identity_text(name: str, category: Category) -> str:
    """Return what of a name has to be said for it to be this part."""
    text = without_trade_words(name, category)
    pattern = _FOLLOWS.get(category)
    return pattern.sub(" ", text) if pattern else text


def described(part: CataloguePart) -> str:
    """Return the words that may be said of a part without naming it."""
    facts = part.facts
    words = [part.maker]
    pattern = _FOLLOWS.get(part.category)
    if pattern:
        words += [match.group() for match in pattern.finditer(part.name)]
    if facts is not None:
        words += _common(facts)
    if isinstance(facts, ProcessorFacts):
        words += _number(facts.cores, "{0}-core", "{0} cores") + _number(
            facts.threads, "{0}-thread", "{0} threads"
        )
        words += _number(facts.tdp_w, "{0:g}W", "{0:g} W")
    elif isinstance(facts, BoardFacts):
        words += ["WiFi", "Wi-Fi"] if facts.wireless and says_wireless(part.name) else []
    elif isinstance(facts, MemoryFacts):
        words += _memory(facts)
    elif isinstance(facts, StorageFacts):
        words += _storage(facts)
    elif isinstance(facts, GraphicsFacts):
        words += _size(facts.memory_bytes, 2**30)
    elif isinstance(facts, SupplyFacts):
        words += _number(facts.watts, "{0:g}W", "{0:g} watt")
        words += [f"80+ {facts.grade}", f"80 PLUS {facts.grade}", f"{facts.modular} modular"]
    elif isinstance(facts, DisplayFacts):
        words += _number(facts.inches, '{0:g}"', "{0:g} inch") + _number(facts.hertz, "{0:g}Hz", "{0:g} Hz")
        if facts.width_px and facts.height_px:
            words.append(f"{facts.width_px}x{facts.height_px}")
    return " ".join(words)


_PLAIN = (
    "socket",
    "chipset",
    "form_factor",
    "memory_type",
    "chip",
    "interface",
    "link",
    "type",
    "form",
    "technology",
)


def _common(facts: msgspec.Struct) -> list[str]:
    return [str(getattr(facts, name)) for name in _PLAIN if getattr(facts, name, "")]


def _memory(facts: MemoryFacts) -> list[str]:
    words = _number(facts.speed_mt_s, "{0}", "{0}MHz", "{0} MT/s", f"{facts.type}-{{0}}")
    if facts.module_bytes and facts.modules:
        each, total = facts.module_bytes // 2**30, facts.modules * facts.module_bytes // 2**30
        words += [f"{facts.modules}x{each}GB", f"{facts.modules} x {each} GB", f"{total}GB", f"{total} GB"]
    latency = re.match(r"(?:CL)?(\d+)", facts.timings)
    return [*words, facts.timings, *([f"CL{latency[1]}", f"CL {latency[1]}"] if latency else [])]


def _storage(facts: StorageFacts) -> list[str]:
    words = _size(facts.capacity_bytes, 10**9)
    if facts.capacity_bytes and facts.capacity_bytes % 10**12 == 0:
        words += [f"{facts.capacity_bytes // 10**12}TB", f"{facts.capacity_bytes // 10**12} TB"]
    words += {"solid state": ["SSD"], "spinning": ["HDD"], "hybrid": ["SSHD"]}.get(facts.technology, [])
    return [*words, *_number(facts.rpm, "{0}RPM", "{0} rpm")]


def _size(size_bytes: int | None, unit: int) -> list[str]:
    if not size_bytes or size_bytes % unit:
        return []
    return _number(size_bytes // unit, "{0}GB", "{0} GB")


def _number(value: float | None, *forms: str) -> list[str]:
    return [] if value is None else [form.format(value) for form in forms]
