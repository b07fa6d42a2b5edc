"""Findings and policy to a decision. Pure: no clock, no files, no machine (design rule 7)."""

from shipworthy.verdict.binding import binding_findings
from shipworthy.verdict.decide import Concerned, decide, may_be_conceded, weight_of

__all__ = ["Concerned", "binding_findings", "decide", "may_be_conceded", "weight_of"]
