"""What the text of a drive's line says, of each drive: size, technology, interface, form, turns, model."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Unit
from shipworthy.orders.expect.said import Said, agreed, word
from shipworthy.words.forms import find_drive_forms, same_form
from shipworthy.words.kinds import PciLink, find_interfaces, find_pci_links, find_technologies
from shipworthy.words.rotation import find_rotations
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.spans import Span

_GB = 10**9
_NVME_FROM_GENERATION = 4
"""Drives on PCI Express that speak AHCI ended with generation 3 (common practice)."""


def of_storage(line: OrderLine) -> Iterator[Said]:
    """Yield what a drive's text says, but its model."""
    text = line.text
    yield from _capacity(text)
    technologies = find_technologies(text)
    yield from word(Aspect.TECHNOLOGY, technologies)
    interfaces = find_interfaces(text)
    yield from word(Aspect.INTERFACE, interfaces) if interfaces else _by_link(text)
    forms = sorted(find_drive_forms(text), key=lambda form: (form.meaning == "M.2", form.start))
    yield from agreed(Aspect.FORM, forms, lambda form: form.meaning, same=same_form)
    if {found.meaning for found in technologies} == {"spinning"}:
        yield from agreed(Aspect.SPEED, find_rotations(text), lambda r: r.rpm, Unit.RPM)


def _capacity(text: str) -> tuple[Said, ...]:
    """`2x 1TB` sells two drives of one size: the size of each is said."""
    kits = [kit for kit in find_kits(text, Base.DECIMAL) if kit.module_bytes]
    totals = {kit.count * (kit.module_bytes or 0) for kit in kits}
    each: list[tuple[Span, int]] = [(kit, kit.module_bytes or 0) for kit in kits]
    each += [
        (size, size.size_bytes)
        for size in find_sizes(text, Base.DECIMAL)
        if size.size_bytes and size.size_bytes not in totals
    ]
    if any(size >= _GB for _, size in each):  # `2TB (7200rpm, 256MB)`: the cache
        each = [(span, size) for span, size in each if size >= _GB]
    found = dict(each)
    return agreed(Aspect.CAPACITY, list(found), lambda span: found[span], Unit.BYTES)


def _by_link(text: str) -> tuple[Said, ...]:
    links: list[PciLink] = [link for link in find_pci_links(text) if link.generation >= _NVME_FROM_GENERATION]
    return agreed(Aspect.INTERFACE, links[:1], lambda link: "NVMe")
