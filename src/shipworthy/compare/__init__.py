"""Order and reading to findings. Knows where neither came from; weighs nothing (that is `verdict`'s)."""

from shipworthy.compare.engine import compare

__all__ = ["compare"]
