"""The unit half's verbs: `read`, `burn-in`, `doctor`. No key, no order, no database."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from shipworthy.cli import options

if TYPE_CHECKING:
    from shipworthy.model.reading import Reading


@click.command("read")
@click.option(
    "--into", "-o", type=options.PATH, required=True, help="Folder to write; the reading goes below it."
)
@click.option("--nonce", help="The attempt's nonce, as `begin` printed it.")
@click.option(
    "source",
    "--from",
    type=options.PATH,
    help="In place of this machine: a recorded machine's folder, other tools' reports, or a reading.",
)
@click.option(
    "--privileged",
    type=click.File("rb"),
    help="What the privileged capture printed (`-`: from standard input), for an account without rights.",
)
@click.option("--specimen", is_flag=True, help="Leave out everything personal: fit for a bug report.")
@click.option("--all", "every", is_flag=True, help="Show every part, not only those that an order speaks of.")
@options.json
def read(
    into: Path,
    nonce: str | None,
    source: Path | None,
    privileged: BinaryIO | None,
    specimen: bool,
    every: bool,
    json: bool,
) -> None:
    """Take a reading of this machine, or of a recorded one.

    Example: shipworthy read --into unit-half --nonce 5f0c…
    """
    from shipworthy.cli.show import as_json
    from shipworthy.jobs.errands import passing_folder
    from shipworthy.jobs.unit import UnitFolder, read_again, read_specimen, read_unit
    from shipworthy.machine.capture.unpack import unpack
    from shipworthy.machine.root import LIVE, Root

    made = None if source is None else _reading_in(source)
    _refuse_what_does_not_fit(into, nonce, source, specimen, privileged is not None)
    if made is not None:
        _refuse_of_a_reading(made, nonce, specimen)
    clock = options.the_bench(json=json).clock
    folder = UnitFolder(into)
    with passing_folder() as beside:
        root = LIVE if source is None else Root(source.absolute())
        if privileged is not None:
            unpack(privileged, beside / "privileged")
            root = Root(root.folder, privileged=beside / "privileged")
        if specimen:
            reading = read_specimen(folder, root, clock=clock)
        elif made is not None:
            reading = read_again(folder, made)
        else:
            reading = read_unit(folder, root, nonce=nonce, clock=clock)
    if json:
        as_json(reading)
    else:
        _show_reading(reading, every=every)


def _reading_in(source: Path) -> Path | None:
    """Return the folder of the reading that a folder is, or holds as a unit half does; None if of none."""
    from shipworthy.machine.reading import INDEX

    places = (source, source / "reading", source / "specimen")
    return next((place for place in places if (place / INDEX).is_file()), None)


def _tells_something(source: Path) -> bool:
    from shipworthy.machine.reports import (
        tells_something,  # decoders that a machine's own reading never needs
    )
    from shipworthy.machine.root import Root

    return _reading_in(source) is not None or tells_something(Root(source.absolute()))


def _refuse_of_a_reading(made: Path, nonce: str | None, specimen: bool) -> None:
    from shipworthy.model.base import Trouble

    if nonce is not None:
        raise Trouble(
            "a reading made again cannot carry an attempt's nonce",
            made,
            "Read it without a nonce; it can be compared, but never releases.",
        )
    if specimen:
        raise Trouble(
            "a specimen is taken of a machine, and this is a reading of one",
            made,
            "Take it on the unit, or of the recorded folder or the reports that this was read from.",
        )


def _refuse_what_does_not_fit(
    into: Path, nonce: str | None, source: Path | None, specimen: bool, privileged: bool
) -> None:
    from shipworthy.model.base import Trouble

    for name in ("reading", "specimen"):
        if (into / name / "reading.json").exists():
            raise Trouble(f"holds a {name} already", into, "Name another folder: evidence is never replaced.")
    if source is not None and not source.is_dir():
        raise Trouble("there is no such folder", source, "Name the folder that holds its proc/ and sys/.")
    if source is not None and not _tells_something(source):
        raise Trouble(
            "holds nothing of a machine",
            source,
            "Name a folder with its proc/ and sys/, with other tools' reports, or a reading's.",
        )
    if specimen and nonce is not None:
        raise Trouble("a specimen carries no nonce", nonce, "Leave out --nonce: it is no evidence of a unit.")
    if source is not None and privileged:
        raise Trouble(
            "the privileged capture is of this machine", source, "Leave out --from or --privileged."
        )


def _show_reading(reading: Reading, *, every: bool) -> None:
    """Print the parts, what their witnesses disagree on, and what was wrong with the sources' bytes."""
    from shipworthy.cli.parts import ORDERED, show_parts
    from shipworthy.cli.show import disputes, remarks, say, wrapped
    from shipworthy.machine.asking import LEFT_OVER
    from shipworthy.model.words import LEFT_OVERS

    show_parts(reading.parts, every=every)
    meant = [part for part in reading.parts if every or part.kind in ORDERED]
    say()
    disputes(meant)
    unsaid = sum(fact.disputed for part in reading.parts if part not in meant for fact in part.facts)
    if unsaid:
        wrapped(f"{unsaid} more facts of the other parts are disputed: see --all.")
    loud = [r for r in reading.remarks if r.kind not in LEFT_OVERS or r.source == LEFT_OVER]
    remarks(loud)
    told = [sum(r.count for r in reading.remarks if r.kind is kind and r not in loud) for kind in LEFT_OVERS]
    if any(told):
        left = (f"{told[0]} placeholders of the firmware", f"{told[1]} pieces not decoded")
        wrapped(f"{', '.join(left)}, {told[2]} structures of an older layout: see --json.")
    _show_sources(reading)


def _show_sources(reading: Reading) -> None:
    """Print how many sources there are, and name those that are there and could not be read."""
    from shipworthy.cli.show import wrapped
    from shipworthy.model.reading import SourceOutcome

    asked = {row.source for row in reading.sources}
    wrapped(f"{len(reading.parts)} parts from {len(asked)} sources.")
    mended = False
    for outcome, words in (
        (SourceOutcome.REFUSED, "refused to this account"),
        (SourceOutcome.FAILED, "failed"),
    ):
        names = dict.fromkeys(row.source for row in reading.sources if row.outcome is outcome)
        mended = mended or bool(names)
        if names:
            wrapped(f"{words}: {', '.join(names)}")
    silent = asked - {row.source for row in reading.sources if row.outcome is SourceOutcome.READ}
    silent -= {
        row.source for row in reading.sources if row.outcome in (SourceOutcome.REFUSED, SourceOutcome.FAILED)
    }
    if silent:
        wrapped(f"{len(silent)} sources have nothing to tell here.")
    if mended or silent:
        wrapped("`shipworthy doctor` says what is worth mending, and how.")


@click.command("burn-in")
@click.argument("word", metavar="[resume]", type=click.Choice(("resume",)), required=False)
@click.option("--into", type=options.PATH, help="The folder that `read` has written; the log goes below it.")
@options.plan
@options.work_folder
@options.whole_drive
@options.write_blank_drive
@click.option("--dry-run", is_flag=True, help="Show the plan and start nothing.")
@options.json
def burn_in(
    word: str | None,
    into: Path | None,
    plan: str,
    work_folders: tuple[Path, ...],
    whole_drives: tuple[str, ...],
    blank_drives: tuple[str, ...],
    dry_run: bool,
    json: bool,
) -> None:
    """Run a burn-in whose every result is checked, or take up an interrupted one (`burn-in resume`).

    Example: shipworthy burn-in --into unit-half --plan one-hour
    """
    from shipworthy.cli.verbs_resume import burn_in_here, conclude, resume

    grants = options.the_grants(whole_drives, blank_drives)
    if word == "resume":
        resume(into, work_folders, grants, json)
    from shipworthy.cli.show_plan import show_dry_run, warn
    from shipworthy.cli.stopping import stop_on_ctrl_c
    from shipworthy.jobs.resuming import may_go_on
    from shipworthy.jobs.unit import READING, UnitFolder, alone_in, burn_in_unit, read_segments
    from shipworthy.model.base import Trouble

    chosen = options.the_plan(plan)
    if dry_run:
        show_dry_run(chosen, plan, into, work_folders, json, grants)
        return
    if into is None or not (into / READING / "reading.json").exists():
        raise Trouble(
            "there is no reading to burn in on",
            into or "no --into given",
            "Take one first: `shipworthy read --into FOLDER`, and name that folder with --into.",
        )
    bench = options.the_bench(json=json)
    with alone_in(into):
        segments = read_segments(into)
        if segments and not may_go_on(segments[-1].ending):
            click.echo(f"Nothing was started: the burn-in in {into} had come to its end.", err=True)
            conclude(into, segments[-1].ending, bench, json=json)
        warn(bench.show)
        with stop_on_ctrl_c() as stop:
            job = burn_in_here(bench, stop, (into, *work_folders), grants)
            ending = burn_in_unit(UnitFolder(into), chosen, job)
    conclude(into, ending, bench, json=json)


@click.command("doctor")
@options.records
@options.key
@options.trust
@options.json
def doctor(records: Path, key: Path | None, trust: Path | None, json: bool) -> None:
    """Say what this machine and this account cannot read or do, and how to mend it.

    Example: shipworthy doctor
    """
    from shipworthy.cli.show import advised, as_json, say
    from shipworthy.jobs.doctor import doctor as examine
    from shipworthy.machine.root import LIVE
    from shipworthy.messages import sentence

    complaints = examine(LIVE, options.the_bench(records=records, key=key, trust=trust, json=json))
    if json:
        as_json(complaints)
    else:
        advised([sentence(complaint.code, complaint.values) for complaint in complaints])
    if not complaints and not json:
        say("Everything that this tool knows of can be read and done here.")
    raise SystemExit(1 if complaints else 0)
