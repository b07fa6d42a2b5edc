"""The steps of an attempt, in their order. Each reads what it needs from the attempt's folder."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

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

Step: TypeAlias = Callable[[Work], Wrote | Skipped]
"""Does one step and says what it wrote, or that it was left out."""

STEPS: tuple[tuple[StepName, Step], ...] = (
    (StepName.ORDER, take_order),
    (StepName.READING, take_reading_step),
    (StepName.COMPARISON, compare_step),
    (StepName.BURN_IN, burn_in_step),
    (StepName.READING_AFTER, take_reading_after),
    (StepName.ANALYSIS, analyse_step),
    (StepName.INSPECTION, inspect_step),
    (StepName.DECISION, decide_step),
)
