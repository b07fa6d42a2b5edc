"""Facts that an order line's own text states, by the grammar of `words`; what it leaves open stays open.

A text that says two things of one fact says nothing of it. What follows from a maker's way of numbering
processors and chipsets is in `numbering.toml`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from shipworthy.model.fit import FactSource
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.fit import numbering
from shipworthy.words.cooling import (
    find_coolers_included,
    find_fan_sizes,
    find_packs,
    find_radiators,
    says_liquid,
)
from shipworthy.words.counts import find_cores
from shipworthy.words.forms import (
    find_board_forms,
    find_drive_forms,
    find_modularity,
    find_module_forms,
    find_supply_forms,
)
from shipworthy.words.kinds import (
    find_error_correction,
    find_interfaces,
    find_memory_types,
    find_pci_links,
    find_technologies,
)
from shipworthy.words.pictures import says_no_graphics
from shipworthy.words.power import find_grades, find_watts
from shipworthy.words.registered import find_registered
from shipworthy.words.rotation import find_rotations
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.sockets import find_sockets
from shipworthy.words.spans import Span
from shipworthy.words.speeds import find_memory_speeds
from shipworthy.words.suffixes import find_suffixes
from shipworthy.words.timings import find_volts
from shipworthy.words.versions import find_supply_versions, says_wireless

Said = Iterator[tuple[str, Any, str]]
"""A fact's name, its value, and the words that it is from."""
_MEMORY_LEAST_V, _MEMORY_MOST_V = 1.0, 2.6
"""From DDR5 (1.1 V) to the fastest DDR (2.6 V), JEDEC, from memory; the lighting of a module has 5 V."""
_SEVERAL_FANS = re.compile(
    r"\bfans\b|\bpacks?\b|\bset\b|\bkit\b|\bbundle\b|\btr(?:io|iple)\b|\bin[\s-]?1\b", re.I
)
_LENGTH = re.compile(
    r"(?<![\w.,])(?P<mm>[1-4]\d\d)\s?mm\s(?:long|lang|in\slength|length|de\slong)\b", re.IGNORECASE
)
_ADDRESSABLE = re.compile(
    r"\b[AD]-?RGB\b|\baddressable\b|\b5\s?V[\s,-]*RGB\b|\bRGB[\s(,-]*5\s?V\b", re.IGNORECASE
)
_PLAIN_RGB = re.compile(r"\b12\s?V[\s,-]*RGB\b|\bRGB[\s(,-]*12\s?V\b", re.IGNORECASE)
"""Of 12 V where the two words stand together: the motor of every fan is for 12 V."""


def facts_in_text(line: OrderLine) -> tuple[dict[str, Any], tuple[FactSource, ...]]:
    """Return what a line's text says of its part, by the names of its facts, and the words it is from."""
    say = _BY_CATEGORY.get(line.category)
    found = list(say(line.text)) if say else []
    told = {name: value for name, value, _ in found}
    sources = tuple(FactSource(name=name, source=f'text: "{words}"') for name, _, words in found)
    return told, sources


def _one(name: str, found: Iterable[Span], field: str = "meaning") -> Said:
    """Yield a fact that all finds agree on."""
    spans = list(found)
    if spans and len({getattr(span, field) for span in spans}) == 1:
        yield name, getattr(spans[0], field), spans[0].words


def _processor(text: str) -> Said:
    yield from _one("cores", find_cores(text), "count")
    yield from _one("cooler_included", find_coolers_included(text), "included")
    if says_no_graphics(text):
        yield "graphics", False, "the suffix F"
    numbered = numbering.processor(text)
    yield from _one("socket", find_sockets(text))
    if numbered:
        yield "family", numbered.family, numbered.words
        if not find_sockets(text):
            yield "socket", numbered.socket, numbered.words


def _board(text: str) -> Said:
    yield from _one("form_factor", find_board_forms(text))
    chip = numbering.chipset(text)
    if chip:
        yield "chipset", chip.family, chip.words
    if find_sockets(text):
        yield from _one("socket", find_sockets(text))
    elif chip:
        yield "socket", chip.socket, chip.words
    types = find_memory_types(text)
    if types:
        yield from _one("memory_type", types)
    else:
        ends = [word for word in find_suffixes(text, Category.BOARD) if re.fullmatch(r"D[345]", word.meaning)]
        for name, value, words in _one("memory_type", ends):
            yield name, value.replace("D", "DDR"), words
    yield from _wireless(text)


def _memory(text: str) -> Said:
    yield from _one("type", find_memory_types(text))
    yield from _one("form", find_module_forms(text))
    yield from _one("speed_mt_s", find_memory_speeds(text), "speed_mt_s")
    volts = [one for one in find_volts(text) if _MEMORY_LEAST_V <= one.volts <= _MEMORY_MOST_V]
    yield from _one("volts", volts, "volts")
    kits = find_kits(text, Base.BINARY)
    sizes = {size.size_bytes for size in find_sizes(text, Base.BINARY)}
    if len({kit.count for kit in kits}) == 1:
        kit = kits[0]
        whole = kit.count * (kit.module_bytes or 0)
        if not kit.module_bytes or not sizes or sizes == {whole}:
            yield "modules", kit.count, kit.words
            if kit.module_bytes:
                yield "module_bytes", kit.module_bytes, kit.words
            elif len(sizes) == 1:
                yield "module_bytes", min(sizes) // kit.count, kit.words
    # What each DDR5 chip corrects within itself is none of the module.
    ecc = [word for word in find_error_correction(text) if word.meaning != "on-die ECC"]
    for name, value, words in _one("ecc", ecc):
        yield name, value == "ECC", words
    registered = find_registered(text)
    if registered:
        yield "registered", *registered


def _storage(text: str) -> Said:
    yield from _one("capacity_bytes", find_sizes(text, Base.DECIMAL), "size_bytes")
    yield from _one("technology", find_technologies(text))
    yield from _one("interface", find_interfaces(text))
    yield from _one("form_factor", find_drive_forms(text))
    yield from _one("rpm", find_rotations(text), "rpm")
    links = find_pci_links(text)
    if len({(link.generation, link.width) for link in links}) == 1:
        wide = f" x{links[0].width}" if links[0].width else ""
        yield "link", f"PCIe {links[0].generation}.0{wide}", links[0].words


def _graphics(text: str) -> Said:
    yield from _one("memory_bytes", find_sizes(text, Base.BINARY), "size_bytes")
    lengths = list(_LENGTH.finditer(text))
    if len({match["mm"] for match in lengths}) == 1:
        yield "length_mm", float(lengths[0]["mm"]), lengths[0].group()


def _supply(text: str) -> Said:
    yield from _one("watts", find_watts(text), "watts")
    yield from _one("grade", find_grades(text))
    yield from _one("form_factor", find_supply_forms(text))
    yield from _one("modular", find_modularity(text))
    for name, value, words in _one("atx_version", find_supply_versions(text)):
        yield name, value.removeprefix("ATX "), words


def _case(text: str) -> Said:
    for name, value, words in _one("boards", find_board_forms(text)):
        yield name, (value,), words


def _cooler(text: str) -> Said:
    if says_liquid(text):
        yield "liquid", True, "the words for liquid cooling"
    for name, value, words in _one("radiator_mm", find_radiators(text), "mm"):
        yield name, value, words
        if not says_liquid(text):
            yield "liquid", True, words
    if sockets := find_sockets(text):
        yield "sockets", tuple(dict.fromkeys(s.meaning for s in sockets)), ", ".join(s.words for s in sockets)
    yield from _lighting(text)


def _fan(text: str) -> Said:
    yield from _one("size_mm", find_fan_sizes(text), "mm")
    yield from _one("rpm", find_rotations(text), "rpm")
    packs = find_packs(text)
    yield from _one("pack", packs, "count")
    if not packs and not _SEVERAL_FANS.search(text):
        yield "pack", 1, "no word of several"
    yield from _lighting(text)


def _lighting(text: str) -> Said:
    five, twelve = _ADDRESSABLE.search(text), _PLAIN_RGB.search(text)
    if five and not twelve:
        yield "lighting", "5 V", five.group()
    elif twelve and not five:
        yield "lighting", "12 V", twelve.group()


def _network(text: str) -> Said:
    yield from _wireless(text)
    yield from _card(text)


def _wireless(text: str) -> Said:
    said = says_wireless(text)
    if said is not None:
        yield "wireless", said, "the words on wireless"


def _card(text: str) -> Said:
    for link in find_pci_links(text)[:1]:
        yield "interface", f"PCIe {link.generation}.0" + (f" x{link.width}" if link.width else ""), link.words


_BY_CATEGORY: dict[Category, Callable[[str], Said]] = {
    Category.PROCESSOR: _processor,
    Category.BOARD: _board,
    Category.MEMORY: _memory,
    Category.STORAGE: _storage,
    Category.GRAPHICS: _graphics,
    Category.POWER_SUPPLY: _supply,
    Category.CASE: _case,
    Category.COOLER: _cooler,
    Category.FAN: _fan,
    Category.NETWORK: _network,
    Category.SOUND: _card,
}
