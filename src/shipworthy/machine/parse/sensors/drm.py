"""What graphics drivers show beside hwmon: the clock in force, how busy the card is, why it is slowed down.

Source: i915 (`gt/gt*/rps_act_freq_mhz`, `throttle_reason_*`) and xe (`tile*/gt*/freq0/act_freq`,
`throttle/reason_*`) from memory of their sources in drivers/gpu/drm; amdgpu's `gpu_busy_percent` in the
kernel's Documentation/gpu/amdgpu/thermal. amdgpu's clocks are hwmon's (`freq1_input`).

Reasons that mean heat have a column each: 1 while they hold, else 0. Limits of power and current (`pl1`,
`pl2`, `pl4`, `vr_tdc`) hold at full load by design, and have none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import Listing, whole_number
from shipworthy.machine.parse.sensors.source import HIGHEST_MHZ
from shipworthy.machine.parse.wiring import device_place
from shipworthy.model.runlog import Column
from shipworthy.model.words import Unit

DRM = "/sys/class/drm"
BUSY = "gpu_busy_percent"
_CARD, _TILE, _GT = re.compile(r"card\d+"), re.compile(r"tile\d+"), re.compile(r"gt\d+")
_SLOWED = re.compile(r"(?:throttle_)?reason_(\w*(?:thermal|prochot|ratl)\w*)")
"""Of the part itself (`thermal`, `ratl` over time), of its regulators (`vr_thermalert`), or a signal from
outside (`prochot`)."""


def columns(listing: Listing) -> tuple[Column, ...]:
    """Return the columns that the files of a listing give, card by card."""
    return tuple(
        column
        for card in filter(_CARD.fullmatch, listing.names(DRM))
        for column in _of_card(listing, f"{DRM}/{card}")
    )


def value_of(column: Column, text: str) -> float | None:
    """Return a column's value: MHz, where 0 is a clock that stands; a share of time; 0 or 1. None for a text
    that is none of it."""
    number = whole_number(text)
    if number is None or number < 0:
        return None
    if column.quantity == "clock":
        return float(number) if number <= HIGHEST_MHZ else None
    if column.quantity == "utilisation":
        return number / 100 if number <= 100 else None
    return float(number) if number <= 1 else None


def _of_card(listing: Listing, card: str) -> Iterator[Column]:
    place = device_place(listing.target(f"{card}/device") or "")
    driver = listing.target_name(f"{card}/device/driver") or "graphics"
    if BUSY in listing.names(f"{card}/device"):
        yield _column("utilisation", place, BUSY, f"{driver} utilisation", f"{card}/device/{BUSY}")
    gts = tuple(filter(_GT.fullmatch, listing.names(f"{card}/gt")))
    for gt in gts:
        yield from _of_gt(listing, place, (driver, gt), f"{card}/gt/{gt}", "rps_act_freq_mhz")
        yield from _reasons(listing, place, (driver, gt), f"{card}/gt/{gt}")
    if not gts and "gt_act_freq_mhz" in listing.names(card):  # before Linux 5.18
        yield _column("clock", place, "gt_act_freq_mhz", f"{driver} clock", f"{card}/gt_act_freq_mhz")
    for tile in filter(_TILE.fullmatch, listing.names(f"{card}/device")):
        for gt in filter(_GT.fullmatch, listing.names(f"{card}/device/{tile}")):
            folder = f"{card}/device/{tile}/{gt}/freq0"
            yield from _of_gt(listing, place, (driver, tile, gt), folder, "act_freq")
            yield from _reasons(listing, place, (driver, tile, gt), f"{folder}/throttle")


def _of_gt(listing: Listing, place: str, names: tuple[str, ...], folder: str, clock: str) -> Iterator[Column]:
    if clock in listing.names(folder):
        channel = "_".join((*names[1:], clock))
        yield _column("clock", place, channel, f"{' '.join(names)} clock", f"{folder}/{clock}")


def _reasons(listing: Listing, place: str, names: tuple[str, ...], folder: str) -> Iterator[Column]:
    for match in filter(None, map(_SLOWED.fullmatch, listing.names(folder))):
        channel = "_".join((*names[1:], match[0]))
        label = " ".join((*names, match[1].replace("_", " "), "slow-down"))
        yield _column("throttle", place, channel, label, f"{folder}/{match[0]}")


def _column(quantity: str, place: str, channel: str, label: str, source: str) -> Column:
    unit = Unit.MEGAHERTZ if quantity == "clock" else Unit.RATIO
    return Column(quantity=quantity, place=place, channel=channel, label=label, unit=unit, source=source)
