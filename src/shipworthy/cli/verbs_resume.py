"""`burn-in resume`, and how every `burn-in` ends: its second reading, what is said, and the exit code."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click
from click.core import ParameterSource

from shipworthy.cli import options

if TYPE_CHECKING:
    import threading

    from shipworthy.jobs.errands import Bench
    from shipworthy.jobs.ground import Grant
    from shipworthy.jobs.unit import BurnIn
    from shipworthy.model.words import Ending


def resume(
    into: Path | None, work_folders: tuple[Path, ...], grants: tuple[Grant, ...], json: bool
) -> NoReturn:
    """Take up the burn-in in a folder; Trouble if there is none that can be taken up."""
    from shipworthy.cli.show_plan import warn
    from shipworthy.cli.stopping import stop_on_ctrl_c
    from shipworthy.jobs.resuming import refuse_to_resume
    from shipworthy.jobs.unit import UnitFolder, alone_in, read_segments, resume_unit
    from shipworthy.model.base import Trouble

    given = click.get_current_context().get_parameter_source
    if any(given(name) is ParameterSource.COMMANDLINE for name in ("plan", "dry_run")):
        mend = "Leave out --plan and --dry-run."
        raise Trouble("a burn-in that is taken up keeps the plan that it was begun with", "resume", mend)
    if into is None:
        raise Trouble("nothing says which burn-in", "no --into given", "Name the folder that holds it.")
    refuse_to_resume(into, read_segments(into))
    bench = options.the_bench(json=json)
    with alone_in(into):
        warn(bench.show)
        with stop_on_ctrl_c() as stop:
            job = burn_in_here(bench, stop, (into, *work_folders), grants)
            ending = resume_unit(UnitFolder(into), job)
    conclude(into, ending, bench, json=json)


def burn_in_here(
    bench: Bench, stop: threading.Event, folders: tuple[Path, ...], grants: tuple[Grant, ...]
) -> BurnIn:
    """Return what a burn-in of this machine needs beside its plan."""
    from shipworthy.jobs.unit import BurnIn
    from shipworthy.machine.root import LIVE

    return BurnIn(
        root=LIVE, clock=bench.clock, show=bench.show, stop=stop, work_folders=folders, grants=grants
    )


def conclude(into: Path, ending: Ending, bench: Bench, *, json: bool) -> NoReturn:
    """Read the machine again after a burn-in that has come to its end, say how it ended and what it showed,
    and exit.

    0: completed. 1: ended otherwise. 130: stopped, or waiting for a restart; it can be taken up.
    """
    from shipworthy.cli import show
    from shipworthy.cli.show_findings import findings
    from shipworthy.jobs.first_look import first_look
    from shipworthy.jobs.unit import READING, READING_AFTER, UnitFolder, read_unit
    from shipworthy.machine.root import LIVE
    from shipworthy.model.base import read_record
    from shipworthy.model.progress import progress
    from shipworthy.model.reading import Reading
    from shipworthy.model.words import Ending, Outcome

    goes_on = ending in (Ending.STOPPED_BY_PERSON, Ending.AWAITING_POWER)
    nonce = read_record(into / READING / "reading.json", Reading).nonce
    if not goes_on and not (into / READING_AFTER / "reading.json").exists():
        bench.show(progress("run.step", step="reading after"))
        read_unit(UnitFolder(into), LIVE, nonce=nonce, clock=bench.clock, under=READING_AFTER)
    found = [one for one in first_look(into) if one.outcome is not Outcome.CONFORMS] if not goes_on else []
    if json:
        show.as_json({"ending": ending.value, "folder": str(into), "findings": found})
    elif goes_on:
        show.wrapped(
            f"The burn-in ended: {ending.value}. To go on: `shipworthy burn-in resume --into {into}`."
        )
    else:
        show.wrapped(f"The burn-in ended: {ending.value}. A first look at what it showed:")
        findings(found)
        if not found:
            show.say("Nothing differs, and nothing is left open.")
        if nonce is None:
            show.wrapped("It belongs to no attempt, so no verdict counts it: the reading carries no nonce.")
        else:
            show.wrapped(f"The bench half judges it, with order and policy: `shipworthy take {into}`.")
    raise SystemExit(130 if goes_on else 0 if ending is Ending.COMPLETED else 1)
