"""Fields of dmidecode's text: probes, fans, batteries and power supplies (types 22, 26 to 29, 39).

What firmware says it measures is a description of the board, never a reading: no value here is of a moment.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import said
from shipworthy.machine.parse.dmidecode_text.lines import TextStructure
from shipworthy.machine.parse.firmware_table import MOST_MWH, MOST_RPM, MOST_WATTS, at_most, plausible_c
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

_NUMBER = re.compile(r"(-?[0-9]{1,9}(?:\.[0-9]{1,6})?) ?(deg C|V|A|rpm|W|mWh|mV|%)")


def _quantity(s: TextStructure, label: str, unit: str, times: int = 1) -> float | Absent:
    match = _NUMBER.match(s.fields.get(label, ""))
    return float(match[1]) * times if match and match[2] == unit else Absent.NOT_OFFERED


def _whole(s: TextStructure, label: str, unit: str, times: int = 1) -> int | Absent:
    value = _quantity(s, label, unit, times)
    return value if isinstance(value, Absent) else round(value)


def _celsius(s: TextStructure, label: str) -> float | Absent:
    value = _quantity(s, label, "deg C")
    return value if isinstance(value, Absent) else plausible_c(value)


def _head(s: TextStructure, measures: str) -> tuple[Said, ...]:
    return (said("measures", measures), said("label", s.value("Description")))


def voltage_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 26 (7.27)."""
    return (
        *_head(s, "voltage"),
        said("location", s.word("Location")),
        said("status", s.word("Status")),
        said("nominal_voltage_mv", _whole(s, "Nominal Value", "V", 1000)),
        said("min_voltage_mv", _whole(s, "Minimum Value", "V", 1000)),
        said("max_voltage_mv", _whole(s, "Maximum Value", "V", 1000)),
    )


def cooling_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 27 (7.28)."""
    return (
        *_head(s, "cooling"),
        said("type", s.word("Type")),
        said("status", s.word("Status")),
        said("nominal_speed_rpm", at_most(MOST_RPM, _whole(s, "Nominal Speed", "rpm"))),
    )


def temperature_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 28 (7.29)."""
    return (
        *_head(s, "temperature"),
        said("location", s.word("Location")),
        said("status", s.word("Status")),
        said("nominal_temperature_c", _celsius(s, "Nominal Value")),
        said("min_temperature_c", _celsius(s, "Minimum Value")),
        said("max_temperature_c", _celsius(s, "Maximum Value")),
    )


def current_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 29 (7.30)."""
    return (
        *_head(s, "current"),
        said("location", s.word("Location")),
        said("status", s.word("Status")),
        said("nominal_current_ma", _whole(s, "Nominal Value", "A", 1000)),
        said("min_current_ma", _whole(s, "Minimum Value", "A", 1000)),
        said("max_current_ma", _whole(s, "Maximum Value", "A", 1000)),
    )


def battery_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 22 (7.23). A smart battery's own words stand in fields that begin with SBDS."""
    chemistry = s.word("Chemistry")
    return (
        said("label", s.value("Location")),
        said("maker", s.value("Manufacturer")),
        said("model", s.value("Name")),
        said("serial", _first(s, "Serial Number", "SBDS Serial Number")),
        said("manufactured", _first(s, "Manufacture Date", "SBDS Manufacture Date")),
        said("chemistry", s.value("SBDS Chemistry") if isinstance(chemistry, Absent) else chemistry),
        said(
            "design_capacity_mwh",
            at_most(MOST_MWH, _whole(s, "Design Capacity", "mWh") or Absent.NOT_OFFERED),
        ),
        said("design_voltage_mv", _whole(s, "Design Voltage", "mV") or Absent.NOT_OFFERED),
        said("max_error_percent", at_most(100, _whole(s, "Maximum Error", "%"))),
    )


def _first(s: TextStructure, *labels: str) -> str | Absent:
    return next((s.value(label) for label in labels if label in s.fields), Absent.NOT_OFFERED)


def supply_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 39 (7.40). Of one that is not there every field but its place is not fitted."""
    answers = {"Yes": True, "No": False}
    status = s.word("Status")
    place = said("label", s.value("Location"))
    fields: tuple[Said, ...] = (
        said("maker", s.value("Manufacturer")),
        said("model", s.value("Name")),
        said("serial", s.value("Serial Number")),
        said("asset", s.value("Asset Tag")),
        said("part_number", s.value("Model Part Number")),
        said("revision", s.value("Revision")),
        said("max_power_w", at_most(MOST_WATTS, _whole(s, "Max Power Capacity", "W") or Absent.NOT_OFFERED)),
        said("type", s.word("Type")),
        said("status", _present(status)),
        said("plugged", answers.get(s.fields.get("Plugged", ""))),
        said("hot_replaceable", answers.get(s.fields.get("Hot Replaceable", ""))),
    )
    if status == "Not Present":
        fields = tuple(Said(name=one.name, absent=Absent.NOT_FITTED) for one in fields)
    return (place, *fields)


def _present(status: str | Absent) -> str | Absent:
    """`Present, OK`."""
    word = status if isinstance(status, Absent) else status.removeprefix("Present, ")
    return Absent.NOT_OFFERED if word in ("Unknown", "Other", "Present", "<OUT OF SPEC>") else word
