"""Order and reading to findings. Knows where neither came from; weighs nothing (that is `verdict`'s)."""

from shipworthy.compare.engine import compare
from shipworthy.compare.since import findings_since
from shipworthy.compare.substitution import with_substitutions

__all__ = ["compare", "findings_since", "with_substitutions"]
