"""SMBIOS structures to facts: batteries, probes, cooling devices and power supplies.

Standard: DMTF DSP0134; the section stands with each function. Probes and cooling devices are what the board's
maker wrote down about them, never a measurement.
"""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.firmware_table import MOST_MWH, MOST_RPM, MOST_WATTS, at_most, plausible_c
from shipworthy.machine.parse.smbios import board
from shipworthy.machine.parse.smbios.facts import word
from shipworthy.machine.parse.smbios.table import Structure
from shipworthy.machine.parse.smbios.words import (
    CHEMISTRIES,
    COOLING_TYPES,
    PROBE_LOCATIONS,
    PROBE_STATES,
    SUPPLY_STATES,
    SUPPLY_TYPES,
    TEMPERATURE_LOCATIONS,
)
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent


def battery_facts(s: Structure) -> tuple[Said, ...]:
    """Type 22 (7.23). A smart battery's numbers stand where no text is given."""
    serial, date = s.value(0x07), s.value(0x06)
    own_serial, own_date = board.battery_serial(s), board.battery_date(s)
    chemistry = word(s.number(0x09, 1), CHEMISTRIES)
    capacity = board.battery_capacity_mwh(s) or Absent.NOT_OFFERED
    return (
        said("label", s.value(0x04)),
        said("maker", s.value(0x05)),
        said("model", s.value(0x08)),
        said("serial", own_serial if own_serial not in (None, "0000") else serial),
        said("manufactured", own_date if own_date is not None and "-00" not in own_date else date),
        said("chemistry", s.value(0x14) if s.number(0x09, 1) == board.SMART_BATTERY_CHEMISTRY else chemistry),
        said("design_capacity_mwh", at_most(MOST_MWH, capacity)),
        said("design_voltage_mv", s.number(0x0C, 2) or Absent.NOT_OFFERED),
        said("max_error_percent", at_most(100, _known(s.number(0x0F, 1), 0xFF))),
    )


def _known(number: int | None, unknown: int) -> int | Absent:
    return Absent.NOT_OFFERED if number is None or number == unknown else number


def _probe_head(s: Structure, measures: str, locations: dict[int, str] = PROBE_LOCATIONS) -> tuple[Said, ...]:
    seen = s.number(0x05, 1) or 0
    return (
        said("measures", measures),
        said("label", s.value(0x04)),
        said("location", word(seen & 0x1F, locations)),
        said("status", word(seen >> 5, PROBE_STATES)),
    )


def _signed(s: Structure, at: int) -> int | Absent:
    number = s.number(at, 2)
    if number is None or number == board.NOMINAL_UNKNOWN:
        return Absent.NOT_OFFERED
    return number - 0x10000 if number & 0x8000 else number


def _celsius(s: Structure, at: int) -> float | Absent:
    tenths = _signed(s, at)
    return tenths if isinstance(tenths, Absent) else plausible_c(tenths / 10)


def temperature_facts(s: Structure) -> tuple[Said, ...]:
    """Type 28 (7.29): tenths of a degree."""
    return (
        *_probe_head(s, "temperature", TEMPERATURE_LOCATIONS),
        said("nominal_temperature_c", _celsius(s, 0x14)),
        said("min_temperature_c", _celsius(s, 0x08)),
        said("max_temperature_c", _celsius(s, 0x06)),
    )


def voltage_facts(s: Structure) -> tuple[Said, ...]:
    """Type 26 (7.27)."""
    return (
        *_probe_head(s, "voltage"),
        said("nominal_voltage_mv", _signed(s, 0x14)),
        said("min_voltage_mv", _signed(s, 0x08)),
        said("max_voltage_mv", _signed(s, 0x06)),
    )


def current_facts(s: Structure) -> tuple[Said, ...]:
    """Type 29 (7.30)."""
    return (
        *_probe_head(s, "current"),
        said("nominal_current_ma", _signed(s, 0x14)),
        said("min_current_ma", _signed(s, 0x08)),
        said("max_current_ma", _signed(s, 0x06)),
    )


def cooling_facts(s: Structure) -> tuple[Said, ...]:
    """Type 27 (7.28). A heat pipe does not turn: 0x8000."""
    seen = s.number(0x06, 1) or 0
    return (
        said("measures", "cooling"),
        said("label", s.value(0x0E)),
        said("type", word(seen & 0x1F, COOLING_TYPES)),
        said("status", word(seen >> 5, PROBE_STATES)),
        said("nominal_speed_rpm", at_most(MOST_RPM, _known(s.number(0x0C, 2), board.NOMINAL_UNKNOWN))),
    )


def supply_facts(s: Structure) -> tuple[Said, ...]:
    """Type 39 (7.40). Of one that is not there every field but its place is not fitted."""
    bits = s.number(0x0E, 2)
    seen = bits or 0
    watts = _known(s.number(0x0C, 2), 0x8000)
    place = said("label", s.value(0x05))
    fields: tuple[Said, ...] = (
        said("maker", s.value(0x07)),
        said("model", s.value(0x06)),
        said("serial", s.value(0x08)),
        said("asset", s.value(0x09)),
        said("part_number", s.value(0x0A)),
        said("revision", s.value(0x0B)),
        said("max_power_w", at_most(MOST_WATTS, watts or Absent.NOT_OFFERED)),
        said("type", word(seen >> 10 & 15, SUPPLY_TYPES)),
        said("status", word(seen >> 7 & 7, SUPPLY_STATES)),
        said("plugged", None if bits is None else not seen & 4),
        said("hot_replaceable", None if bits is None else bool(seen & 1)),
    )
    if bits is not None and not bits & 2:
        fields = tuple(Said(name=one.name, absent=Absent.NOT_FITTED) for one in fields)
    return (place, *fields)
