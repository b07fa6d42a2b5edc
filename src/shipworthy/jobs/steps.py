"""The steps of an attempt, in their order. Each reads what it needs from the attempt's folder."""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.jobs.deciding import decide_step
from shipworthy.jobs.inspecting import inspect_step
from shipworthy.jobs.proving import (
    analyse_step,
    burn_in_step,
    compare_step,
    take_order,
    take_reading_after,
    take_reading_step,
)
from shipworthy.jobs.work import Skipped, Work, Wrote
from shipworthy.model.attempt import StepName

STEPS: tuple[tuple[StepName, Callable[[Work], Wrote | Skipped]], ...] = (
    (StepName.ORDER, take_order),
    (StepName.READING, take_reading_step),
    (StepName.COMPARISON, compare_step),
    (StepName.BURN_IN, burn_in_step),
    (StepName.READING_AFTER, take_reading_after),
    (StepName.ANALYSIS, analyse_step),
    (StepName.INSPECTION, inspect_step),
    (StepName.DECISION, decide_step),
)
