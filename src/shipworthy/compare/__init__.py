"""Order and reading to findings. Knows where neither came from; weighs nothing (that is `verdict`'s)."""

from shipworthy.compare.engine import compare
from shipworthy.compare.health import health_since

__all__ = ["compare", "health_since"]
