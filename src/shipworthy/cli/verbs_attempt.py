"""The bench half's verbs on an attempt: `run`, and its steps one at a time."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shipworthy.cli import options

if TYPE_CHECKING:
    from shipworthy.jobs.run import RunResult
    from shipworthy.model.policy import Decision


UNTIL = ("reading", "comparison", "burn-in", "analysis", "decision", "seal")
"""Steps at which a run can be told to stop, with the attempt left open."""
BEFORE_BURN_IN = ("reading", "comparison")
"""Those that load nothing."""


@click.command("run")
@options.order_file
@options.unit
@options.plan
@options.work_folder
@options.whole_drive
@options.write_blank_drive
@options.answers
@options.records
@options.packs
@options.policy
@options.catalogue
@options.key
@options.trust
@options.zone
@click.option(
    "--until",
    type=click.Choice(UNTIL),
    default="seal",
    show_default=True,
    help="Last step to do; the attempt stays open.",
)
@click.option("--burn-in-anyway", is_flag=True, help="Burn in though something differs already.")
@click.option(
    "--seal-unanswered",
    is_flag=True,
    help="Seal as a hold though inspection items are open; an untested custom loop gets no burn-in.",
)
@options.json
def run(
    order: Path,
    unit: str | None,
    plan: str,
    work_folders: tuple[Path, ...],
    whole_drives: tuple[str, ...],
    blank_drives: tuple[str, ...],
    answers: Path | None,
    records: Path,
    packs: Path,
    policy: Path | None,
    catalogue: Path | None,
    key: Path | None,
    trust: Path | None,
    zone: str | None,
    until: str,
    burn_in_anyway: bool,
    seal_unanswered: bool,
    json: bool,
) -> None:
    """Do the whole job on this machine, or take up an open attempt where it stopped.

    Exit code: 0 released, 1 held, 2 could not be done, 130 stopped by the person.

    Example: shipworthy run order.toml --plan one-hour --answers answers.toml
    """
    from shipworthy.cli.ask import ask_person
    from shipworthy.cli.show_plan import warn
    from shipworthy.cli.stopping import stop_on_ctrl_c
    from shipworthy.jobs.errands import RunRequest
    from shipworthy.jobs.run import run as do_run
    from shipworthy.jobs.work import Stopped

    bench = options.the_bench(records, packs, key, trust, zone, json)
    chosen = options.the_plan(plan)
    if until not in BEFORE_BURN_IN:
        warn(bench.show)
    with stop_on_ctrl_c() as stop:
        request = RunRequest(
            order=order,
            policy=options.the_policy(policy),
            catalogue=options.the_list(catalogue),
            plan=chosen,
            unit_id=unit,
            answers=answers,
            ask=ask_person if sys.stdin.isatty() and not json else None,
            burn_in_anyway=burn_in_anyway,
            work_folders=work_folders,
            grants=options.the_grants(whole_drives, blank_drives),
            seal_unanswered=seal_unanswered,
            until=until,
            stop=stop,
        )
        try:
            result = do_run(request, bench)
        except Stopped:
            click.echo("Stopped. The attempt stays open; run the same command to take it up.", err=True)
            raise SystemExit(130) from None
    _show_result(result, json)


@click.command("begin")
@options.order_file
@options.unit
@options.records
@options.policy
@options.catalogue
@options.zone
@options.json
def begin(
    order: Path,
    unit: str | None,
    records: Path,
    policy: Path | None,
    catalogue: Path | None,
    zone: str | None,
    json: bool,
) -> None:
    """Open an attempt and print its nonce, for a unit that is read on another machine than this one.

    Example: shipworthy begin order.toml
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.bench import begin as do_begin
    from shipworthy.jobs.errands import RunRequest

    request = RunRequest(
        order=order,
        policy=options.the_policy(policy),
        catalogue=options.the_list(catalogue),
        unit_id=unit,
    )
    attempt = do_begin(request, options.the_bench(records, zone=zone, json=json))
    if json:
        as_json(attempt)
        return
    say(f"Attempt {attempt.number} of unit {attempt.unit_id} is open. On the unit:")
    say(f"  shipworthy read --into FOLDER --nonce {attempt.nonce}")
    say("  shipworthy burn-in --into FOLDER --plan one-hour")
    say("Then here: shipworthy take FOLDER, and shipworthy run with the same order.")


@click.command("take")
@click.argument("folder", type=options.PATH)
@options.unit
@options.records
@options.json
def take(folder: Path, unit: str | None, records: Path, json: bool) -> None:
    """Take the unit half's folder into the open attempt.

    Example: shipworthy take unit-half
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.bench import take as do_take

    taken = do_take(folder, options.the_bench(records, json=json), unit)
    if json:
        as_json(taken)
    else:
        say(f"{len(taken)} files taken in. Go on with `shipworthy run` and the same order.")


@click.command("inspect")
@options.unit
@options.answers
@options.records
@options.json
def inspect(unit: str | None, answers: Path | None, records: Path, json: bool) -> None:
    """Answer what only a person can tell: from a file, or one by one in the terminal.

    Example: shipworthy inspect --answers answers.toml
    """
    from shipworthy.cli.ask import ask_person
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.bench import inspect as do_inspect
    from shipworthy.messages import sentence

    asking = ask_person if sys.stdin.isatty() and not json and answers is None else None
    still_open = do_inspect(options.the_bench(records, json=json), unit, answers, asking)
    if json:
        as_json(still_open)
    else:
        for item in still_open.items:
            say(f"open  {item.item_id:<24}{sentence(item.ask, item.values).say}")
            if item.why:
                say(f"      {'':<24}({sentence(item.because, item.why).say})")
        if not still_open.items:
            say("Every item is answered.")
    raise SystemExit(1 if still_open.items else 0)


@click.command("decide")
@options.unit
@options.records
@options.trust
@options.json
def decide(unit: str | None, records: Path, trust: Path | None, json: bool) -> None:
    """Compute the verdict of the open attempt from what lies in its folder.

    Example: shipworthy decide --unit KD-0412-1
    """
    from shipworthy.jobs.bench import decide_now

    _show_decision(decide_now(options.the_bench(records, trust=trust, json=json), unit), json)


@click.command("concede")
@click.argument("code")
@click.option("--reason", required=True, help="Why it may leave the shop all the same.")
@click.option("--key", type=options.PATH, required=True, help="The conceding person's own private key.")
@click.option("--line", default="", help="Order line of the difference.")
@click.option("--aspect", default="", help="Aspect, where several differences share the rest.")
@click.option("--part", default="", help="Place of the part, if the difference names one.")
@options.unit
@options.records
@options.trust
@options.json
def concede(
    code: str,
    reason: str,
    key: Path,
    line: str,
    aspect: str,
    part: str,
    unit: str | None,
    records: Path,
    trust: Path | None,
    json: bool,
) -> None:
    """Permit a release with one named difference, signed with your own key; then decide again.

    Example: shipworthy concede board.version.differs --line 2 --reason "Customer agreed" --key ines.json
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.concede import concede as do_concede

    made = do_concede(
        options.the_bench(records, trust=trust, json=json),
        unit,
        code=code,
        line=line,
        part=part,
        aspect=aspect,
        reason=reason,
        key=key,
    )
    if json:
        as_json(made)
    else:
        say(f"{made.by} concedes {made.code} on line {made.line or '-'}. Now run `shipworthy decide`.")


@click.command("seal")
@options.unit
@options.records
@options.packs
@options.key
@options.json
def seal(unit: str | None, records: Path, packs: Path, key: Path | None, json: bool) -> None:
    """Close the open attempt with its last decision, and render the pack.

    Example: shipworthy seal --unit KD-0412-1
    """
    from shipworthy.jobs.bench import seal_now

    _show_result(seal_now(options.the_bench(records, packs, key, json=json), unit), json)


@click.command("demo")
@click.option(
    "--into", type=options.PATH, default="records", show_default=True, help="Folder for the demo's records."
)
@options.json
def demo(into: Path, json: bool) -> None:
    """Run the main job three times: on this machine, and on a simulated unit without and with faults.

    Example: shipworthy demo
    """
    from shipworthy.cli.show import as_json, say, table
    from shipworthy.cli.show_plan import warn
    from shipworthy.cli.stopping import stop_on_ctrl_c
    from shipworthy.jobs.demo import demo as do_demo

    bench = options.the_bench(records=into, json=json)
    warn(bench.show)
    with stop_on_ctrl_c() as stop:
        shown = do_demo(into, bench.show, stop)
    if json:
        as_json(shown)
    else:
        rows = [(p.verdict, p.as_expected, str(p.report), p.what) for p in shown]
        say()
        table(("verdict", "as expected", "report", "unit"), rows)
        say()
        say(f"Check one yourself: {_this_program()} verify --trust {shown[0].trust} {shown[0].record}")
    raise SystemExit(0 if all(p.as_expected == "yes" for p in shown) else 1)


def _this_program() -> str:
    """Return what to type for this program here: its name if the path knows it, else as it was called."""
    if shutil.which("shipworthy"):
        return "shipworthy"
    called = Path(sys.argv[0])
    return str(called) if called.name == "shipworthy" else f"{sys.executable} -m shipworthy"


def _show_result(result: RunResult, json: bool) -> None:
    from shipworthy.cli import show

    if json:
        show.as_json(
            {
                "unit": result.attempt.unit_id,
                "attempt": result.attempt.number,
                "decision": result.decision,
                "record": str(result.record) if result.record else None,
                "html": str(result.pack.html) if result.pack else None,
                "pdf": str(result.pack.pdf) if result.pack else None,
            }
        )
    elif result.decision is None:
        show.say(f"Attempt {result.attempt.number} of unit {result.attempt.unit_id} is left open, as asked.")
    else:
        show.decision(result.decision)
    if not json and result.record and result.pack:
        show.say(f"Record: {result.record}")
        show.say(f"Report: {result.pack.html}")
        show.say(f"        {result.pack.pdf}")
    if result.decision is not None:
        raise SystemExit(_exit_code(result.decision))


def _show_decision(made: Decision, json: bool) -> None:
    from shipworthy.cli import show

    if json:
        show.as_json(made)
    else:
        show.decision(made)
    raise SystemExit(_exit_code(made))


def _exit_code(made: Decision) -> int:
    from shipworthy.model.words import VerdictWord

    return 0 if made.verdict is VerdictWord.RELEASE else 1
