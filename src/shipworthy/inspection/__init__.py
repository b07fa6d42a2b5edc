"""What a person is asked to look at, and what they saw, as findings. Judges nothing."""

from shipworthy.inspection.answers import observations_from, read_answers
from shipworthy.inspection.items import items_for
from shipworthy.inspection.results import findings_of

__all__ = ["findings_of", "items_for", "observations_from", "read_answers"]
