"""`order check`: an order looked at before anything is unpacked."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("check", short_help="What each line asks for, what does not fit, what is open.")
@click.argument("file", type=options.PATH)
@options.catalogue
@click.option("--all", "everything", is_flag=True, help="List what fits, and each missing fact.")
@options.json
def check(file: Path, catalogue: Path | None, everything: bool, json: bool) -> None:
    """Check an order file: what each line asks for, what is open, whether the parts fit, and the power.

    Exit code 1 if something does not fit. A warning, and what nobody can tell, are none.

    Example: shipworthy order check order.toml
    """
    from shipworthy.cli.show import as_json
    from shipworthy.cli.show_fit import order_check
    from shipworthy.jobs.fit import check_order

    checked = check_order(file, options.the_list(catalogue))
    if json:
        as_json(checked)
    else:
        order_check(checked, everything=everything)
    raise SystemExit(0 if checked.fit.fits else 1)
