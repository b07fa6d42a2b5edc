"""The verbs. Data on stdout, talk on stderr; everything heavy is imported by the verb that needs it."""

from __future__ import annotations

import io
import os
import sys
from typing import NoReturn

import click

from shipworthy import __version__
from shipworthy.cli import (
    verbs_attempt,
    verbs_catalogue,
    verbs_check,
    verbs_decode,
    verbs_intake,
    verbs_keys,
    verbs_order,
    verbs_proof,
    verbs_sheet,
    verbs_unit,
)
from shipworthy.cli.visible import visible


class InOrder(click.Group):
    """Lists its verbs in the order in which they are used, not by the alphabet."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(cls=InOrder, epilog="Example: shipworthy run order.toml --answers answers.toml")
@click.version_option(__version__, prog_name="shipworthy")
def app() -> None:
    """Turn an order and a machine into a proof: is this PC what was ordered, new, stable and cool?"""


@click.group(cls=InOrder)
def order() -> None:
    """Orders: import, check or draft one, or make its build sheet."""


@click.group(cls=InOrder)
def catalogue() -> None:
    """The shop's own part list, which orders are held against."""


@click.group(cls=InOrder)
def key() -> None:
    """The bench half's signing key."""


@click.group(cls=InOrder)
def trust() -> None:
    """Public keys that signatures are held against."""


for verb in (
    verbs_attempt.run,
    verbs_unit.read,
    verbs_decode.decode,
    order,
    verbs_order.compare,
    verbs_unit.burn_in,
    verbs_attempt.begin,
    verbs_attempt.take,
    verbs_attempt.inspect,
    verbs_attempt.decide,
    verbs_attempt.concede,
    verbs_attempt.seal,
    verbs_proof.verify,
    verbs_proof.pack,
    verbs_unit.doctor,
    verbs_attempt.demo,
    catalogue,
    key,
    trust,
):
    app.add_command(verb)
for verb in (verbs_intake.import_, verbs_check.check, verbs_sheet.sheet, verbs_order.draft):
    order.add_command(verb)
for verb in (
    verbs_catalogue.import_lists,
    verbs_catalogue.find,
    verbs_catalogue.show,
    verbs_catalogue.learn,
    verbs_catalogue.learn_from,
    verbs_catalogue.review,
    verbs_catalogue.undo,
):
    catalogue.add_command(verb)
for verb in (verbs_keys.make, verbs_keys.export):
    key.add_command(verb)
for verb in (verbs_keys.add, verbs_keys.list_keys):
    trust.add_command(verb)


def main() -> None:
    """Run the command line. No traceback reaches a person, except of a bug of ours when they ask for it."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal of few signs shows a number for one it lacks
            stream.reconfigure(errors="backslashreplace")
    try:
        code = app.main(prog_name="shipworthy", standalone_mode=False)
    except click.ClickException as error:
        told = io.StringIO()
        error.show(told)
        sys.stderr.write(visible(told.getvalue(), keep="\n"))
        raise SystemExit(2) from None
    except (KeyboardInterrupt, click.Abort):
        _complain("stopped by the person. What was written so far is kept; run the same command again.", 130)
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
    raise SystemExit(code if isinstance(code, int) else 0)


def _complain(text: str, code: int) -> NoReturn:
    sys.stderr.write(f"shipworthy: {visible(text)}\n")
    raise SystemExit(code) from None
