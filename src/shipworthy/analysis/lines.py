"""Which order line a load's target speaks of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shipworthy.analysis.curves import Curve
from shipworthy.model.findings import Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Category, PartKind

CPUS = "cpus"
"""The target of a load that needs all processors at once: what is wrong there is the processor's."""


@dataclass(frozen=True)
class Lines:
    """The order's lines, which parts stand for them, and the logical processors of the machine."""

    order: Order
    matches: Sequence[Match]
    cpus: Sequence[int]

    def targets(self, line: OrderLine) -> tuple[str, ...]:
        """Return what has to be loaded for a line; empty for one that no load is for."""
        if line.category is Category.PROCESSOR:
            return tuple(f"cpu:{cpu}" for cpu in self.cpus) or ("cpu:0",)
        if line.category is Category.MEMORY:
            return ("memory",)
        if line.category is Category.STORAGE:
            return next((match.places for match in self.matches if match.line == line.line_id), ())
        return ()

    def named_by(self, line: OrderLine, targets: Iterable[str], part: str = "") -> bool:
        """Whether what a load says of its targets is this line's. Where the log names the part more closely,
        that decides between two lines of one category."""
        wanted = self.targets(line)
        if line.category is Category.PROCESSOR:
            return any(target == CPUS or target.startswith("cpu:") for target in targets)
        if not any(target in wanted for target in targets):
            return False
        named = {match.line for match in self.matches if part and part in match.places}
        return not named or line.line_id in named

    def of(self, target: str) -> tuple[str, Category]:
        """Return the first line that a target speaks of, and its category; the unit where there is none."""
        for line in self.order.lines:
            if self.named_by(line, (target,)):
                return line.line_id, line.category
        return "", Category.UNIT


def logical_cpus(reading: Reading, curves: Sequence[Curve] = ()) -> tuple[int, ...]:
    """Return the numbers of the logical processors that are online, as the kernel lists them ("0-3,8").

    curves: where the reading does not say, those whose time at work the log has.
    """
    listed = ",".join(part.text("online_cpus") for part in reading.of_kind(PartKind.PROCESSOR))
    numbers: set[int] = set()
    for span in filter(None, listed.split(",")):
        low, _, high = span.partition("-")
        numbers.update(range(int(low), int(high or low) + 1))
    busy = (curve.column.place for curve in curves if curve.column.quantity == "utilisation")
    return tuple(sorted(numbers or {int(place[4:]) for place in busy if place[4:].isdecimal()}))
