"""Sensors that do not move while the load beside them does: what they say is no measurement."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shipworthy.model.runlog import Series

PROCESSOR_SENSOR = re.compile(
    r"coretemp|k10temp|zenpower|x86_pkg_temp|cpu|package id|\bcore \d|\btctl|\btdie|processor", re.IGNORECASE
)
"""How the kernel's drivers name a processor's temperature (their places and labels; common practice)."""


def is_of_processor(place: str, label: str) -> bool:
    """Return whether a temperature is a processor's, by where it is wired and what its driver calls it."""
    return PROCESSOR_SENSOR.search(f"{place} {label}") is not None


def frozen_sensors(curves: Sequence[Series]) -> tuple[Series, ...]:
    """Return the curves of processors' temperatures that stood still while the processors' load changed.

    Only these are asked: of what else gets warm the load is not in the log.
    """
    asked = [
        curve
        for curve in curves
        if curve.column.quantity == "temperature" and is_of_processor(curve.column.place, curve.column.label)
    ]
    load = _mean_utilisation(curves) if asked else {}
    return tuple(c for c in asked if looks_frozen(c.v, [load.get(t_s) for t_s in c.t_s]))


def _mean_utilisation(curves: Sequence[Series]) -> dict[float, float]:
    """Return by time how busy the processors were on the mean, from 0 to 1."""
    sums: dict[float, tuple[float, int]] = {}
    for curve in curves:
        if curve.column.quantity == "utilisation":
            for t_s, ratio in zip(curve.t_s, curve.v, strict=True):
                if ratio is not None:
                    total, count = sums.get(t_s, (0.0, 0))
                    sums[t_s] = (total + ratio, count + 1)
    return {t_s: total / count for t_s, (total, count) in sums.items()}


def looks_frozen(
    values: Sequence[float | None],
    load: Sequence[float | None],
    *,
    least_samples: int = 30,
    least_change: float = 0.5,
) -> bool:
    """Return whether a sensor never moved while the load beside it did.

    load: the share of the time that the part which the sensor belongs to was busy, sampled together with
    the values. Samples of which one is missing do not count. It is True only if all values are the very same
    number, and there are at least `least_samples` in a row both below and above, by `least_change` apart.

    It is a reason to look, no proof: ask it of sensors of the part under load only. The air in a case, or a
    chip that counts whole degrees behind a good cooler, may stand still rightly; so may a fan without a
    control.
    """
    pairs = [(v, at) for v, at in zip(values, load, strict=True) if v is not None and at is not None]
    if len({value for value, _ in pairs}) != 1:
        return False
    loads = [at for _, at in pairs]
    if len(loads) < 2 * least_samples:
        return False
    means = [sum(loads[i : i + least_samples]) / least_samples for i in range(len(loads) - least_samples + 1)]
    return max(means) - min(means) >= least_change
