"""After a person stopped a burn-in: the loads are gone, and for a short time heat is still measured."""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import suppress

from shipworthy.model.base import values
from shipworthy.model.plan import Limit
from shipworthy.model.progress import Sink, progress
from shipworthy.stress.limits import TEMPERATURE
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.telling import heat_told

COOL_DOWN_S = 10.0
"""Long enough to see a cooler carry heat away, short enough to wait for (common practice)."""
LOOK_S = 0.1
TICK_S = 1.0


def cool_down(
    log: SegmentLog, sampling: Sampling, show: Sink, limits: Sequence[Limit], seconds: float = COOL_DOWN_S
) -> None:
    """Let the sampler go on while the machine cools. A second Ctrl-C skips what is left of it.

    Where the machine shows no temperature there is nothing to wait for.
    """
    if not any(column.quantity == TEMPERATURE for column, _ in sampling.latest()):
        return
    began_s = log.t_s()
    log.event("cooling.began", seconds_s=seconds)
    show(progress("cooling.began", seconds_s=seconds))
    with suppress(KeyboardInterrupt):  # the person has seen enough; the log is closed as after any other end
        _watch(log, sampling, show, limits, began_s + seconds)
    named = values(seconds_s=round(log.t_s() - began_s, 1))
    log.event("cooling.ended", named)


def _watch(log: SegmentLog, sampling: Sampling, show: Sink, limits: Sequence[Limit], until_s: float) -> None:
    told_s = -TICK_S
    while (now_s := log.t_s()) < until_s:
        sampling.check()
        if now_s - told_s >= TICK_S:
            told_s = now_s
            for told in heat_told(sampling.latest(), limits):
                show(told)
            show(progress("burn-in.tick-cooling", left_s=round(until_s - now_s)))
        time.sleep(LOOK_S)
