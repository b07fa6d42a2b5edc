"""`order sheet`: the build sheet."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("sheet")
@click.argument("file", type=options.PATH)
@options.unit
@click.option(
    "-o", "--output", type=options.PATH, help="Where the page is written (default: UNIT-sheet.html)."
)
@options.policy
def sheet(file: Path, unit: str | None, output: Path | None, policy: Path | None) -> None:
    """Make the build sheet of an order's unit: one HTML page, for paper and for a phone.

    Example: shipworthy order sheet order.toml
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.compare import order_of
    from shipworthy.jobs.sheet import sheet_of
    from shipworthy.record.files import write_whole
    from shipworthy.verdict.policies import parse_policy

    order = order_of(file)
    page = sheet_of(order, unit, {}, parse_policy(*options.the_policy(policy)), ())
    path = output or Path(f"{unit or order.units[0]}-sheet.html")
    write_whole(path, page)
    say(f"The build sheet lies in {path}: print it, or open it on a phone.")
