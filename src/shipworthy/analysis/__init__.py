"""A run log to findings, and to everything that is drawn or tabled later. Reads no machine.

`analyse` brings numpy with it, for which those who only read segments need not wait.
"""

from typing import TYPE_CHECKING, Any

from shipworthy.analysis.runs import Segment

if TYPE_CHECKING:
    from shipworthy.analysis.whole import analyse

__all__ = ["Segment", "analyse"]


def __getattr__(name: str) -> Any:
    if name == "analyse":
        from importlib import import_module

        return import_module("shipworthy.analysis.whole").analyse
    raise AttributeError(name)
