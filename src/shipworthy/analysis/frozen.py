"""Sensors that do not move while the load beside them does: what they say is no measurement."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shipworthy.analysis.curves import Curve, Floats
from shipworthy.machine.parse.sensors.drivers import is_of_processor


def frozen_sensors(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """Return the curves of processors' temperatures that stood still while the processors' load changed.

    Only these are asked: of what else gets warm the load is not in the log.
    """
    asked = [
        curve
        for curve in curves
        if curve.column.quantity == "temperature" and is_of_processor(curve.column.place, curve.column.label)
    ]
    still = [curve for curve in asked if len(seen := curve.seen) and seen.min() == seen.max()]
    if not still:
        return ()
    times, busy = mean_utilisation(curves)
    return tuple(c for c in still if looks_frozen(c.v, _at(c.t_s, times, busy)))


def mean_utilisation(curves: Sequence[Curve]) -> tuple[Floats, Floats]:
    """Return times, and how busy the processors were then on the mean, from 0 to 1."""
    busy = [c for c in curves if c.column.quantity == "utilisation" and c.column.place.startswith("cpu:")]
    if not busy:
        return np.zeros(0), np.zeros(0)
    times = np.concatenate([curve.t_s for curve in busy])
    ratios = np.concatenate([curve.v for curve in busy])
    given = ~np.isnan(ratios)
    moments, which = np.unique(times[given], return_inverse=True)
    return moments, np.bincount(which, ratios[given]) / np.bincount(which)


def _at(wanted: Floats, times: Floats, values: Floats) -> Floats:
    """Return the values of those very times; NaN where there is none."""
    found = np.full(len(wanted), np.nan)
    if len(times):
        index = np.minimum(np.searchsorted(times, wanted), len(times) - 1)
        there = times[index] == wanted
        found[there] = values[index[there]]
    return found


def looks_frozen(
    values: Sequence[float | None] | Floats,
    load: Sequence[float | None] | Floats,
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
    seen, at = np.asarray(values, np.float64), np.asarray(load, np.float64)
    both = ~(np.isnan(seen) | np.isnan(at))
    seen, at = seen[both], at[both]
    if len(seen) < 2 * least_samples or seen.min() != seen.max():
        return False
    sums = np.cumsum(np.concatenate(([0.0], at)))
    means = (sums[least_samples:] - sums[:-least_samples]) / least_samples
    return bool(np.ptp(means) >= least_change - 1e-9)
