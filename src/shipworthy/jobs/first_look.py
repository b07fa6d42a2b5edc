"""What a burn-in showed, told on the bench as soon as it is over: no verdict, and nothing is kept of it."""

from __future__ import annotations

from pathlib import Path

from shipworthy.analysis import analyse
from shipworthy.compare import compare
from shipworthy.jobs.unit import READING, read_plan_of, read_segments
from shipworthy.model.base import Trouble, read_record
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Reading
from shipworthy.orders.draft import draft_order


def first_look(folder: Path) -> tuple[Finding, ...]:
    """Return the findings of the burn-in in a unit half's folder, without order and policy.

    The parts that were read stand in for the order's lines, so that nothing can differ from it; what is found
    is what the burn-in itself showed. Empty where the reading tells of no part.
    """
    reading = read_record(folder / READING / "reading.json", Reading)
    plan = read_plan_of(folder)
    try:
        order = draft_order(reading, order_id="none", shop="none", unit_id="none")
    except Trouble:
        return ()
    matches = compare(order, reading, (), ()).matches
    limits = plan.limits if plan else ()
    return analyse(plan, read_segments(folder), order, matches, reading, limits).findings
