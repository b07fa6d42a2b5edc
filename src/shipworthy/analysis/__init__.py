"""A run log to findings, and to everything that is drawn or tabled later. Reads no machine."""

from shipworthy.analysis.analyse import analyse
from shipworthy.analysis.runs import Segment

__all__ = ["Segment", "analyse"]
