"""Limits, each with who set it, in words that a customer can read; a key we have no words for stays a key."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.handover.burnin_plots import sensor_name
from shipworthy.handover.kept import Kept
from shipworthy.handover.phrases import origin_text, say
from shipworthy.handover.view import Block, table
from shipworthy.messages import known_codes, quantity_text
from shipworthy.model.plan import Limit
from shipworthy.model.words import Origin


def limits_table(kept: Kept) -> Iterator[Block]:
    """Yield the table of all limits: the plan's, the policy's, and those that devices name themselves."""
    columns = tuple(say(f"label.{label}") for label in ("quantity", "limit", "origin", "used-by"))
    rows = [
        *(_row(kept, limit, "plan") for limit in (kept.plan.limits if kept.plan else ())),
        *(_row(kept, limit, "policy") for limit in (kept.policy.limits if kept.policy else ())),
        *_of_devices(kept),
    ]
    if rows:
        yield table(say("table.limits"), columns, tuple(rows))


def quantity_words(kept: Kept, quantity: str) -> str:
    """Return what a limit is on: `storage/power_on_hours` in words, a sensor by the part that it sits on."""
    code = f"quantity.{quantity.replace('/', '.').replace('_', '-')}"
    if f"handover.{code}" in known_codes():
        return say(code)
    kind, _, rest = quantity.partition("/")
    place, _, channel = rest.rpartition("/")
    if not place:
        return quantity
    labels = [
        s.column.label
        for s in (kept.analysis.series if kept.analysis else ())
        if (s.column.place, s.column.channel) == (place, channel) and s.column.label
    ]
    name = sensor_name(kept, place, labels[0] if labels else channel)
    return say("brackets", what=say("colon", what=kind, text=name), text=f"{place} {channel}")


def _row(kept: Kept, limit: Limit, used_by: str) -> tuple[str, ...]:
    value = quantity_text(limit.value, limit.unit)
    what = quantity_words(kept, limit.quantity)
    return (what, value, origin_text(limit.origin.value), say(f"used-by.{used_by}"))


def _of_devices(kept: Kept) -> Iterator[tuple[str, ...]]:
    for series in kept.analysis.series if kept.analysis else ():
        column = series.column
        if column.critical is not None:
            name = quantity_words(kept, f"{column.quantity}/{column.place}/{column.channel}")
            value = quantity_text(column.critical, column.unit)
            yield (name, value, origin_text(Origin.DEVICE.value), say("used-by.device"))
