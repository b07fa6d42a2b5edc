"""`order sheet`: the build sheet."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("sheet", short_help="Make the page that a unit is built from.")
@click.argument("file", type=options.PATH)
@options.unit
@click.option(
    "-o", "--output", type=options.PATH, help="Where the page is written (default: UNIT-sheet.html)."
)
@options.policy
@options.catalogue
def sheet(
    file: Path, unit: str | None, output: Path | None, policy: Path | None, catalogue: Path | None
) -> None:
    """Make the build sheet of an order's unit: one HTML page, for paper and for a phone.

    Example: shipworthy order sheet order.toml
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.sheet import sheet_of
    from shipworthy.orders.sheet import sheet_page
    from shipworthy.record.files import write_whole
    from shipworthy.verdict.policies import parse_policy

    asked = parse_policy(*options.the_policy(policy))
    made = sheet_of(file, unit, asked, options.the_list(catalogue))
    path = output or Path(f"{made.unit_id}-sheet.html")
    write_whole(path, sheet_page(made))
    if made.troubles:
        say(f"To be settled first: {len(made.troubles)}, at the head of the sheet; see `order check`.")
    say(f"The build sheet lies in {path}: print it, or open it on a phone.")
