"""What a person is asked to look at, and what they saw, as findings. Judges nothing."""

from shipworthy.inspection.answers import observations_from, read_answers
from shipworthy.inspection.items import items_before_burn_in, items_for
from shipworthy.inspection.loops import LOOP_ITEM, loop_findings, on_record_before
from shipworthy.inspection.results import findings_of

__all__ = [
    "LOOP_ITEM",
    "findings_of",
    "items_before_burn_in",
    "items_for",
    "loop_findings",
    "observations_from",
    "on_record_before",
    "read_answers",
]
