"""What is a part of the board or of the processor, and so belongs to a line that sells one of these.

Only what tells of itself counts: a place on the bus, the firmware's table of what is on the board, the form
of a module. Nothing is told by a list of names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind

_FUNCTION = re.compile(r"(?P<device>pci:[0-9a-f:]+)\.[0-7]", re.IGNORECASE)
_ROOT_BUS = "pci:0000:00:"
_ROOT_COMPLEX = "root endpoint"  # PCI Express Base Specification, "Root Complex Integrated Endpoint"
_ENCRYPTION = "0x1080"  # PCI Code and ID Assignment Specification, class 10h, sub-class 80h
_CHIPS = ("Row of chips", "Proprietary Card")  # SMBIOS (DSP0134), 7.18.1, form factors
_SOLDERED_DRIVES = frozenset({"eMMC"})  # what is called MMC alone may be a card in a reader
_PANELS = ("eDP", "LVDS", "DSI")  # connectors within a case (kernel, drm_connector names)


def is_soldered(part: Part, reading: Reading) -> bool:
    """Return whether a part is one of the board's or the processor's own."""
    if part.kind is PartKind.MEMORY_MODULE:
        return part.text("form_factor") in _CHIPS
    if part.kind is PartKind.STORAGE:
        return part.text("interface") in _SOLDERED_DRIVES
    if part.kind is PartKind.DISPLAY:
        return any(f"-{panel}-" in place for place in _places(part) for panel in _PANELS)
    if part.kind is PartKind.GRAPHICS:
        return (
            _is_on_the_board(part, reading)
            or _is_in_a_processor(part, reading)
            or _is_of_another_chip(part, reading)
            or (_is_on_an_old_bus(part, reading) and not is_in_a_slot(part, reading))
        )
    return False


def is_in_a_slot(part: Part, reading: Reading) -> bool:
    """Return whether the firmware says that a part sits in one of the board's slots for cards.

    A slot of another kind (M.2) can hold what the board came with, such as its wireless adapter.
    """
    if _is_on_the_board(part, reading):
        return False
    devices = {device_of(place) for place in _places(part)}
    return any(
        device_of(slot.text("device_place")) in devices
        for slot in reading.of_kind(PartKind.SLOT)
        if slot.text("device_place") and slot.value("in_use") is True and _takes_cards(slot)
    )


def _takes_cards(slot: Part) -> bool:
    return "PCI" in slot.text("type") and "Mini" not in slot.text("type")


def _is_on_the_board(part: Part, reading: Reading) -> bool:
    places = set(_places(part))
    if part.text("port_type") == _ROOT_COMPLEX or any(place.startswith(_ROOT_BUS) for place in places):
        return True
    return any(
        one.text("device_place") in places and one.value("enabled") is not False
        for one in reading.of_kind(PartKind.ONBOARD_DEVICE)
    )


def _is_in_a_processor(part: Part, reading: Reading) -> bool:
    """Graphics that share their device with the processor's own security processor, an encryption controller,
    are in the processor: they are on a bus of their own there, as a card would be (AMD's; from memory)."""
    device = device_of(part.place)
    return any(
        device_of(other.place) == device and other.text("class").startswith(_ENCRYPTION)
        for other in reading.of_kind(PartKind.PCI_DEVICE)
    )


def _is_of_another_chip(part: Part, reading: Reading) -> bool:
    """Graphics that are a later function of a device that is something else first are in a chip of the
    board: a card's first function is its graphics."""
    first = f"{device_of(part.place)}.0"
    return part.place != first and any(
        other.place == first and other.kind is not PartKind.GRAPHICS for other in reading.parts
    )


def _is_on_an_old_bus(part: Part, reading: Reading) -> bool:
    """Graphics without any link, where other devices have one: a chip for a server's management, or within a
    chipset (of 266 in reference data, bsd-joined-machines, that nothing else told, some 40 were such)."""
    return not _has_link(part) and any(_has_link(other) for other in reading.of_kind(PartKind.PCI_DEVICE))


def _has_link(part: Part) -> bool:
    return bool(part.text("port_type")) or part.number("link_max_width") is not None


def _places(part: Part) -> Iterable[str]:
    return (part.place, *part.also_at)


def device_of(place: str) -> str:
    """Return the place of a function without its number (`pci:0000:0a:00`). What hangs on a function, as a
    drive on its controller (`pci:0000:00:17.0/ata-2`), is a device of its own, and so is any other place."""
    function = _FUNCTION.fullmatch(place)
    return function["device"] if function else place
