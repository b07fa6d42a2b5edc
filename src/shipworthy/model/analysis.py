"""What a run log showed: findings, and everything that is drawn or tabled later (ADR 0009)."""

from __future__ import annotations

from typing import Literal

from shipworthy.model.base import Record
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import LoadSummary, SegmentSummary, Series, StepSpan, ThermalSummary
from shipworthy.model.words import Ending


class Mark(Record):
    """A moment worth a mark in a drawing: an interruption, a wrong result, a complaint.

    t_s: s since the burn-in began. code: of the sentence that tells it in the report, below `handover.mark`.
    what: whom or what it speaks of, as the log names it; empty if nothing. times: how often it came within
    this moment.
    """

    t_s: float
    code: str
    what: str = ""
    times: int = 1


class Analysis(Record):
    schema: Literal[1] = 1
    plan_id: str
    ending: Ending
    planned_s: float
    ran_s: float
    segments: tuple[SegmentSummary, ...]
    spans: tuple[StepSpan, ...]
    loads: tuple[LoadSummary, ...]
    thermals: tuple[ThermalSummary, ...]
    series: tuple[Series, ...]
    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...] = ()
