"""Where a memory slot lies, told from its name: channel and number.

Firmware writes `ChannelA-DIMM1`, `DIMM_A2`, `DIMM 1` of `P0 CHANNEL A`, `Controller1-ChannelB-DIMM0` (SMBIOS
tables of real boards). A name that tells no channel gives None.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_CONTROLLER = re.compile(r"\b(?:Controller|P|CPU|Node|Proc)\s?_?(?P<number>\d+)", re.IGNORECASE)
_CHANNEL = re.compile(
    r"(?:CHANNEL|CHN?)[\s_-]?(?P<a>[A-H])(?![a-z])|(?:DIMM|XMM)[\s_-]?(?P<b>[A-H])(?=\d|\b|_)", re.IGNORECASE
)
_NUMBER = re.compile(r"(?:DIMM|XMM)[\s_-]?[A-H]?[\s_-]?(?P<a>\d{1,2})\b|CH[A-H](?P<b>\d)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Slot:
    """channel: with its controller or processor before it where that is told. number: as written; firmware
    counts the slots of a channel from 0 or from 1."""

    channel: str
    number: int | None

    @property
    def controller(self) -> str:
        """The controller's or processor's number; empty where it is not told."""
        return self.channel.rpartition("/")[0]

    @property
    def letter(self) -> str:
        return self.channel.rpartition("/")[2]


def slot_of(locator: str, bank: str = "") -> Slot | None:
    """Return channel and number of a slot that its locator, or its bank, tells."""
    channel = _CHANNEL.search(locator) or _CHANNEL.search(bank)
    if channel is None:
        return None
    controller = _CONTROLLER.search(locator) or _CONTROLLER.search(bank)
    number = _NUMBER.search(locator)
    letter = (channel["a"] or channel["b"]).upper()
    return Slot(
        channel=f"{controller['number']}/{letter}" if controller else letter,
        number=int(number["a"] or number["b"]) if number else None,
    )


def named_slots(text: str) -> frozenset[tuple[str, int]]:
    """Return the slots that a text names by channel and number: `A2, B2`, `DIMM_A2 and DIMM_B2`."""
    found = re.finditer(r"(?<![A-Za-z])(?:DIMM[\s_-]?)?(?P<channel>[A-H])(?P<number>\d)(?!\w)", text)
    return frozenset((match["channel"], int(match["number"])) for match in found)
