"""`order` and `compare`: without an attempt."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("draft", short_help="Draft an order from a reading.")
@click.argument("reading", type=options.PATH)
@click.option("--order-id", default="DRAFT-1", show_default=True, help="Id of the order.")
@click.option("--shop", default="Your shop", show_default=True, help="Name of the shop.")
@click.option("--unit", default="UNIT-1", show_default=True, help="Id of the unit.")
@options.json
def draft(reading: Path, order_id: str, shop: str, unit: str, json: bool) -> None:
    """Draft an order from what is fitted: only what the reading can tell. Look it over before you use it.

    Example: shipworthy order draft reading > order.toml
    """
    import sys

    from shipworthy.jobs.compare import reading_in
    from shipworthy.orders.draft import draft_order
    from shipworthy.orders.files import order_json, order_toml

    order = draft_order(reading_in(reading), order_id=order_id, shop=shop, unit_id=unit)
    sys.stdout.write(order_json(order).decode("utf-8") if json else order_toml(order))


@click.command("compare")
@click.argument("wanted", type=options.PATH)
@click.argument("found", type=options.PATH)
@options.policy
@options.catalogue
@click.option("--all", "every", is_flag=True, help="A sentence for each thing that conforms.")
@options.json
def compare(
    wanted: Path, found: Path, policy: Path | None, catalogue: Path | None, every: bool, json: bool
) -> None:
    """Compare an order with a reading, or a record with what the machine is now.

    Example: shipworthy compare order.toml reading
    """
    from shipworthy.cli import show
    from shipworthy.cli.show_findings import findings
    from shipworthy.jobs.compare import compare_order, compare_readings, is_reading
    from shipworthy.jobs.errands import home
    from shipworthy.model.words import Outcome
    from shipworthy.verdict.policies import parse_policy

    if is_reading(wanted):
        changes = compare_readings(wanted, found)
        if json:
            show.as_json(changes)
        elif not changes:
            show.say("Nothing of the configuration has changed.")
        else:
            rows = [(c.key, *("nothing" if v is None else str(v) for v in (c.was, c.now))) for c in changes]
            show.table(("what", "was", "is now"), rows)
        raise SystemExit(1 if changes else 0)
    limits = parse_policy(*options.the_policy(policy))
    comparison = compare_order(wanted, found, limits, home(), options.the_list(catalogue))
    if json:
        show.as_json(comparison)
    else:
        findings(comparison.findings, every)
    raise SystemExit(1 if any(f.outcome is Outcome.DIFFERS for f in comparison.findings) else 0)
