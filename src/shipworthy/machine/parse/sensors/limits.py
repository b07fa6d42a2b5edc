"""Labels and limits of a chip's channels as facts: what the device is held to, apart by what it means.

Source: the kernel's Documentation/hwmon: sysfs-interface, coretemp, k10temp; and driver-api/thermal.

A limit `max` is a high limit, but for processors' own chips: there it is the temperature at which all cooling
should run, a target of control that a healthy processor passes under load. `passive` and `active` trip points
are such targets too; `hot` is a high limit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shipworthy.machine.listing import said, whole_number
from shipworthy.machine.parse.sensors.sanity import implausible_temperature
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

_TARGET_IS_MAX = ("coretemp", "k10temp")
FROM_DRIVER, FROM_CHANNEL = "driver", "channel name"
_ENDS = {
    "max": "high",
    "crit": "critical",
    "emergency": "emergency",
    "max_hyst": "high_clears",
    "crit_hyst": "critical_clears",
}
ENDS = tuple(_ENDS)
_TRIPS = {
    "passive": "control_target",
    "active": "control_target",
    "hot": "high",
    "critical": "critical",
}


def limit_word(chip: str, end: str) -> str:
    """Return what a limit's file (`max`, `crit` …) means on a chip of that name."""
    return "control_target" if end == "max" and chip in _TARGET_IS_MAX else _ENDS[end]


def limit_or_why(text: str) -> float | Absent:
    """Return a limit in °C of a number of thousandths. 0 and less is none; what no temperature can be is
    implausible."""
    number = whole_number(text)
    if number is None or number.bit_length() > 64 or implausible_temperature(number / 1000) is not None:
        return Absent.IMPLAUSIBLE
    return number / 1000 if number > 0 else Absent.NOT_OFFERED


def channel_facts(chip: str, channel: str, texts: Mapping[str, str | None]) -> Iterator[Said]:
    """Return the facts of one channel: `temp1_label`, `temp1_label_origin`, `temp1_high_c` …

    texts: of the channel's files by their endings; None where the device has none.
    """
    label = texts.get("label")
    yield said(f"{channel}_label", label or channel)
    yield said(f"{channel}_label_origin", FROM_DRIVER if label else FROM_CHANNEL)
    if channel.startswith("temp"):
        for end in ENDS:
            text = texts.get(end)
            if text is not None:
                yield said(f"{channel}_{limit_word(chip, end)}_c", limit_or_why(text))


def trip_facts(trips: list[tuple[str, str]]) -> Iterator[Said]:
    """Return the facts of a thermal zone's trip points, of kind and text each; of one kind the lowest."""
    found: dict[str, list[float | Absent]] = {}
    for kind, text in trips:
        if kind in _TRIPS:
            found.setdefault(_TRIPS[kind], []).append(limit_or_why(text))
    for word, limits in found.items():
        numbers = [limit for limit in limits if not isinstance(limit, Absent)]
        yield said(f"temp_{word}_c", min(numbers) if numbers else limits[0])
