"""What a reading shows of a board's own Wi-Fi, where the board's name does not tell whether it has any."""

from __future__ import annotations

import re
from enum import StrEnum

from shipworthy.compare.matchers.network import is_wireless
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind

_WIRELESS = re.compile(r"\bWi-?Fi\b|\bWLAN\b|\bwireless\b", re.IGNORECASE)
_A_PLACE = re.compile(
    r"\bM\.?2\b|\bNGFF\b|\b(?:slot|socket|key|connector|header|module|card)\b", re.IGNORECASE
)
"""A place for an adapter is on boards without one too, and takes any."""


class Wireless(StrEnum):
    """OPEN also where an adapter is there and nothing says whose: the socket for one on a board that is sold
    without it takes any, and so does a slot."""

    OF_THE_BOARD = "of the board"
    NONE_SEEN = "none seen"  # switched off in the firmware's settings, dead, or not fitted
    OPEN = "open"


def board_wireless(reading: Reading) -> Wireless:
    """Return what a reading tells: the board's own is what the firmware's table of onboard devices calls so
    (SMBIOS, DSP0134, 7.42), where a wireless adapter is at that place.

    Few tables do: in the reference data (dmi-desktop-text, bsd-joined-machines) those of two boards that are
    sold alone, both with Wi-Fi, and of ten whole systems.
    """
    adapters = reading.of_kind(PartKind.NETWORK)
    places = {place for one in adapters if is_wireless(one) for place in (one.place, *one.also_at)}
    if any(
        one.text("device_place") in places for one in reading.of_kind(PartKind.ONBOARD_DEVICE) if _says(one)
    ):
        return Wireless.OF_THE_BOARD
    if adapters and all(is_wireless(one) is False for one in adapters):
        return Wireless.NONE_SEEN
    return Wireless.OPEN


def _says(device: Part) -> bool:
    """Whether the table calls a device that is on a wireless one."""
    named = f"{device.text('type')} {device.text('label')}"
    if device.value("enabled") is False or _A_PLACE.search(named):
        return False
    return _WIRELESS.search(named) is not None
