"""NVIDIA's cards while they are sampled: columns, the card's own critical temperature, lines of the tool.

Source, from memory: `nvidia-smi --help-query-gpu`, and NVML's public header for the bits
(nvmlClocksEventReasons).

A line is one card at one moment, as the query below asks for it. What the card does not have is `[N/A]`,
`[Not Supported]` and the like there, which is no value.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from shipworthy.machine.parse.graphics import card_power_w, chip_temperature_c
from shipworthy.machine.parse.sensors.sanity import implausible_temperature
from shipworthy.machine.parse.sensors.source import HIGHEST_MHZ
from shipworthy.model.facts import Sighting
from shipworthy.model.runlog import Column
from shipworthy.model.words import Absent, PartKind, Unit

TOOL = "nvidia-smi"
FIELDS = ("temperature.gpu", "fan.speed", "power.draw", "clocks.sm", "utilization.gpu")
REASONS = ("clocks_event_reasons.active", "clocks_throttle_reasons.active")
"""Names of the same field: of newer drivers, and of those before version 535."""

REASON_BITS = {
    "hw_slowdown": (0x08, "hardware slow-down"),
    "sw_thermal_slowdown": (0x20, "software thermal slow-down"),
    "hw_thermal_slowdown": (0x40, "hardware thermal slow-down"),
    "hw_power_brake_slowdown": (0x80, "power brake"),
}
"""Reasons that mean too little cooling or supply. The others (idle 1h, application clocks 2h, power limit of
the software 4h, synchronised boost 10h, display clocks 100h) are how a sound card works."""

_COLUMNS = {
    "temperature.gpu": ("temperature", "temperature", Unit.CELSIUS),
    "fan.speed": ("fan control", "fan control", Unit.RATIO),  # what the fan is told to do, not what it does
    "power.draw": ("power", "power", Unit.WATTS),
    "clocks.sm": ("clock", "clock", Unit.MEGAHERTZ),
    "utilization.gpu": ("utilisation", "utilisation", Unit.RATIO),
    **{name: ("throttle", label, Unit.RATIO) for name, (_, label) in REASON_BITS.items()},
}
CHANNELS = tuple(_COLUMNS)
_BUS_ID = re.compile(r"[0-9A-Fa-f]{4}([0-9A-Fa-f]{4}:[0-9A-Fa-f]{2}:[0-9A-Fa-f]{2}\.[0-7])")
_NUMBER = re.compile(r"\d{1,9}(?:\.\d{1,6})?")
_MASK = re.compile(r"0x[0-9a-fA-F]{1,16}")
_BOUNDS = {"fan.speed": 200.0, "clocks.sm": HIGHEST_MHZ, "utilization.gpu": 100.0}
"""The highest number that is believed. A fan may be told to turn faster than its quietest full speed."""

Values = tuple[float | None, ...]


def query(reasons: str, interval_ms: int) -> tuple[str, ...]:
    """Return the arguments that let the tool print a line for each card again and again."""
    fields = ",".join(("pci.bus_id", *FIELDS, reasons))
    return (f"--query-gpu={fields}", "--format=csv,noheader,nounits", f"--loop-ms={interval_ms}")


def columns(places: Iterable[str], critical_c: Mapping[str, float]) -> tuple[Column, ...]:
    """Return the columns of the cards at these places. critical_c: by place, where one is known."""
    return tuple(
        Column(
            quantity=quantity,
            place=place,
            channel=channel,
            label=f"nvidia {label}",
            unit=unit,
            source=f"{TOOL} {channel}",
            critical=critical_c.get(place) if quantity == "temperature" else None,
        )
        for place in places
        for channel, (quantity, label, unit) in _COLUMNS.items()
    )


def critical_temperatures_c(cards: Iterable[Sighting]) -> dict[str, float]:
    """Return each card's own critical temperature by its place, from what `nvidia-smi -q` said of it."""
    found = ((card.place, _critical_c(card)) for card in cards if card.kind is PartKind.GRAPHICS)
    return {place: limit for place, limit in found if limit is not None}


def _critical_c(card: Sighting) -> float | None:
    """Return where the card slows itself down in hardware, else where it switches off; never its target.

    Newer cards say how many degrees are left, and at which (below 0) they switch off. Temperature and margin
    of one moment give the limit as far as both move together, which no document promises; so it is the
    switching off that is taken, beyond anything that a card is regulated to, and not the slow-down.
    """
    said = {
        one.name: float(one.value)
        for one in card.said
        if isinstance(one.value, int | float) and one.absent is None
    }
    for name in ("temperature_slowdown_c", "temperature_shutdown_c"):
        if name in said:
            return said[name]
    now_c, margin_c, off_c = (
        said.get(f"temperature_{name}c") for name in ("", "margin_", "shutdown_margin_")
    )
    if now_c is None or margin_c is None or off_c is None:
        return None
    limit_c = now_c + margin_c - off_c
    return limit_c if limit_c > now_c and implausible_temperature(limit_c) is None else None


def read_line(line: str) -> tuple[str, Values] | None:
    """Return a card's place and a value for each of CHANNELS; None for what is no whole line of the query."""
    fields = [field.strip() for field in line.split(",")]
    bus_id = _BUS_ID.fullmatch(fields[0])
    if bus_id is None or len(fields) != len(FIELDS) + 2:
        return None
    numbers = (_number(name, text) for name, text in zip(FIELDS, fields[1:-1], strict=True))
    return f"pci:{bus_id[1].lower()}", (*numbers, *_reasons(fields[-1]))


def _number(name: str, text: str) -> float | None:
    if not _NUMBER.fullmatch(text):
        return None
    number = float(text)
    if name == "temperature.gpu":
        return _believed(chip_temperature_c(number))
    if name == "power.draw":
        return _believed(card_power_w(number))
    if number > _BOUNDS[name]:
        return None
    return number if name == "clocks.sm" else number / 100


def _believed(number: float | Absent) -> float | None:
    return None if isinstance(number, Absent) else number


def _reasons(text: str) -> Values:
    if not _MASK.fullmatch(text):
        return (None,) * len(REASON_BITS)
    active = int(text, 16)
    return tuple(float(bool(active & bit)) for bit, _ in REASON_BITS.values())
