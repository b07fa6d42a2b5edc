"""Drive the test of memory pass by pass."""

from __future__ import annotations

from shipworthy.stress.loads.march import MarchWork
from shipworthy.stress.protocol import Wrong


def whole_pass(work: MarchWork) -> tuple[int, list[Wrong]]:
    """Run the pass at hand to its end, pause included; return how many reads were wrong, and those shown."""
    at, wrong, shown = work.at, 0, []
    while work.at is at:
        block = work.block()
        wrong, shown = wrong + block.wrong, shown + list(block.shown)
    return wrong, shown
