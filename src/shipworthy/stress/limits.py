"""Which limit a row of temperatures crosses. Pure; used by the guard."""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.model.base import Record
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column
from shipworthy.model.words import Origin, Unit

TEMPERATURE = "temperature"
OVERDUE_S = 60.0  # after a step's time: to finish a long block and to give much memory back


class Crossing(Record):
    """One value at or above a limit, with who set the limit."""

    column: Column
    found_c: float
    limit_c: float
    origin: Origin


def temperature_columns(columns: Sequence[Column]) -> tuple[Column, ...]:
    return tuple(column for column in columns if column.quantity == TEMPERATURE)


def limits_of(column: Column, limits: Sequence[Limit]) -> tuple[Limit, ...]:
    """Return the limits in °C that hold for a temperature: the device's own and those of the plan.

    A processor or card regulates at its control target (`high`, hwmon's `temp*_max`) by design, so reaching
    that is no crossing where the device names a critical value too.
    """
    key = f"{TEMPERATURE}/{column.place}/{column.channel}"
    own = column.critical if column.critical is not None else column.high
    device = () if own is None else (_device_limit(key, own),)
    return device + tuple(limit for limit in limits if limit.quantity in (TEMPERATURE, key))


def first_crossing(
    columns: Sequence[Column], row: Sequence[float | None], limits: Sequence[Limit]
) -> Crossing | None:
    """Return the crossing that is furthest over its limit; None if nothing is at or above one.

    A sensor that gave nothing (None) crosses nothing: silence is watched apart.
    """
    crossings = [
        Crossing(column=column, found_c=found_c, limit_c=limit.value, origin=limit.origin)
        for column, found_c in zip(columns, row, strict=True)
        if found_c is not None
        for limit in limits_of(column, limits)
        if found_c >= limit.value
    ]
    return max(crossings, key=lambda crossing: crossing.found_c - crossing.limit_c, default=None)


def _device_limit(key: str, value_c: float) -> Limit:
    return Limit(quantity=key, value=value_c, unit=Unit.CELSIUS, origin=Origin.DEVICE)
