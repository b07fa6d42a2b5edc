"""The verbs. Data on stdout, talk on stderr; everything heavy is imported by the verb that needs it."""

from __future__ import annotations

import os
import sys
from typing import NoReturn

import typer

from shipworthy.cli import verbs_attempt, verbs_keys, verbs_order, verbs_proof, verbs_unit

app = typer.Typer(
    name="shipworthy",
    help="Turn an order and a machine into a proof: is this PC what was ordered, new, stable and cool?",
    epilog="Example: shipworthy run order.toml --answers answers.toml",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
order = typer.Typer(help="Orders: check one, or draft one from what is fitted.", no_args_is_help=True)
key = typer.Typer(help="The bench half's signing key.", no_args_is_help=True)
trust = typer.Typer(help="Public keys that signatures are held against.", no_args_is_help=True)

app.command("run")(verbs_attempt.run)
app.command("read")(verbs_unit.read)
app.command("compare")(verbs_order.compare)
app.command("burn-in")(verbs_unit.burn_in)
app.command("begin")(verbs_attempt.begin)
app.command("take")(verbs_attempt.take)
app.command("inspect")(verbs_attempt.inspect)
app.command("decide")(verbs_attempt.decide)
app.command("concede")(verbs_attempt.concede)
app.command("seal")(verbs_attempt.seal)
app.command("verify")(verbs_proof.verify)
app.command("pack")(verbs_proof.pack)
app.command("doctor")(verbs_unit.doctor)
app.command("demo")(verbs_attempt.demo)
order.command("check")(verbs_order.check)
order.command("draft")(verbs_order.draft)
key.command("make")(verbs_keys.make)
key.command("export")(verbs_keys.export)
trust.command("add")(verbs_keys.add)
trust.command("list")(verbs_keys.list_keys)
app.add_typer(order, name="order")
app.add_typer(key, name="key")
app.add_typer(trust, name="trust")


def main() -> None:
    """Run the command line. No traceback reaches a person, except of a bug of ours when they ask for it."""
    try:
        app()
    except KeyboardInterrupt:
        _complain("stopped by the person.", 130)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(2) from None
    except Exception as error:
        from shipworthy.model.base import Trouble  # here, as it is half of the time that --help takes

        if isinstance(error, Trouble):
            _complain(str(error), 2)
        if os.environ.get("SHIPWORTHY_DEBUG"):
            raise
        _complain(
            f"a fault of the tool itself: {type(error).__name__}: {error}. "
            "What was written so far is kept; set SHIPWORTHY_DEBUG=1 to see where, and report it.",
            2,
        )


def _complain(text: str, code: int) -> NoReturn:
    sys.stderr.write(f"shipworthy: {text}\n")
    raise SystemExit(code) from None


if __name__ == "__main__":
    main()
