"""What the text of a service says that a machine shows: the speed at which its memory is to run."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Unit
from shipworthy.orders.expect.said import Said, agreed
from shipworthy.words.speeds import find_memory_speeds, same_rate

# Words for the profile of a module (JESD400-5, and the makers' names for it), English, German and French.
_PROFILE = re.compile(
    r"\b(?:xmp|expo|docp)\b"
    r"|\b(?:memory|ram|speicher|ram-)[ -]?profile?\b|\bspeicherprofil\w*"
    r"|\bprofil\w*\s+(?:de\s+(?:la\s+)?)?m[ée]moire\b"
    r"|\b(?:memory|ram|arbeitsspeicher|m[ée]moire)\b.{0,40}"
    r"\b(?:set|run|running|runs|overclock\w*|clocked|eingestellt|getaktet|übertaktet|réglée?)\b"
    r"|\b(?:set|run|overclock\w*)\b.{0,20}\b(?:memory|ram)\b",
    re.IGNORECASE,
)
# A service that is not to be done, or that tries a speed instead of setting it, promises none.
_NOT_SET = re.compile(
    r"\b(?:no|not|off|without|disabled?|tests?|tested|testing|up to"
    r"|kein\w*|nicht|ohne|aus|deaktiviert|bis zu"
    r"|sans|pas|désactivé\w*|jusqu)\b",
    re.IGNORECASE,
)


def of_service(line: OrderLine) -> Iterator[Said]:
    """Yield the speed that a memory profile is switched on for, in MT/s."""
    text = line.text
    if _PROFILE.search(text) and not _NOT_SET.search(text):
        speeds = find_memory_speeds(text)
        yield from agreed(Aspect.SPEED, speeds, lambda s: s.speed_mt_s, Unit.MEGATRANSFERS, same_rate)
