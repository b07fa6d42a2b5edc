"""Options that several verbs share, and what they make together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from shipworthy.jobs.errands import Bench
    from shipworthy.jobs.ground import Grant
    from shipworthy.model.plan import Plan

PATH = click.Path(path_type=Path)
DEFAULT_PLAN = "one-hour"

json = click.option("--json", is_flag=True, help="Print the result as JSON.")
records = click.option(
    "--records", type=PATH, default="records", show_default=True, help="Folder of the records."
)
packs = click.option("--packs", type=PATH, default="packs", show_default=True, help="Folder of the packs.")
unit = click.option("--unit", help="Which unit, if there are several.")
key = click.option("--key", type=PATH, help="The bench half's private key.")
trust = click.option("--trust", type=PATH, help="The list of public keys that you trust.")
catalogue = click.option(
    "--catalogue", type=PATH, metavar="FILE", help="A part list (default: the shop's own, if it has one)."
)
policy = click.option("--policy", type=PATH, help="The shop's policy (default: the shipped one).")
plan = click.option(
    "--plan",
    default=DEFAULT_PLAN,
    show_default=True,
    help="A plan's name, or a plan file of the shop's own. Shipped: first-ninety-seconds, two-minutes, "
    "one-hour, eight-hours, after-a-move, power-cycles and after-a-repair-of-…; docs/how-to/write-a-plan.md.",
)
zone = click.option("--zone", help="The shop's time zone (IANA name).")
answers = click.option("--answers", type=PATH, help="File of inspection answers.")
work_folder = click.option(
    "--work-folder",
    "work_folders",
    type=click.Path(path_type=Path, exists=True, file_okay=False, writable=True),
    multiple=True,
    help="A folder on a further drive that the storage load may write to; can be given several times.",
)
whole_drive = click.option(
    "--whole-drive",
    "whole_drives",
    metavar="SERIAL",
    multiple=True,
    help="Allow the whole of this drive to be read; can be given several times.",
)
write_blank_drive = click.option(
    "--write-blank-drive",
    "blank_drives",
    metavar="SERIAL",
    multiple=True,
    help="Allow this drive, which has to be blank, to be written whole; can be given several times.",
)
order_file = click.argument("order", type=PATH)


def the_bench(
    records: Path = Path("records"),
    packs: Path = Path("packs"),
    key: Path | None = None,
    trust: Path | None = None,
    zone: str | None = None,
    json: bool = False,
) -> Bench:
    """Return the bench that the options describe, with the sink that fits where we run."""
    from shipworthy.cli.screen import sink_for
    from shipworthy.jobs.errands import Bench, home, zone_of_this_machine

    return Bench(
        records=records,
        packs=packs,
        key=key or home() / "key.json",
        trust=trust or home() / "trust.json",
        zone=zone or zone_of_this_machine(),
        show=sink_for(json),
        shop=home(),
    )


def the_grants(whole_drives: tuple[str, ...], blank_drives: tuple[str, ...]) -> tuple[Grant, ...]:
    """Return what a person has allowed with whole drives, by the serials that were typed."""
    from shipworthy.jobs.ground import Grant
    from shipworthy.model.words import WholeDrive

    read = [Grant(serial, WholeDrive.READ) for serial in whole_drives]
    return (*read, *(Grant(serial, WholeDrive.WRITE) for serial in blank_drives))


def the_policy(path: Path | None) -> tuple[bytes, str]:
    """Return the text of the policy, and where it came from: the option, the shop's home, or the tool."""
    from shipworthy.jobs.errands import home
    from shipworthy.model.base import read_bytes
    from shipworthy.verdict.policies import shipped_policy

    own = path or home() / "policy.toml"
    if path or own.exists():
        return read_bytes(own), str(own)
    return shipped_policy(), "the shipped policy"


def the_list(path: Path | None) -> Path | None:
    """Return the part list that an option names, else the shop's own; None where it has none."""
    from shipworthy.jobs.catalogue import shops_list

    return path or shops_list()


def the_plan(name: str) -> Plan:
    """Return a shipped plan by name, or the plan in a file."""
    from shipworthy.model.base import Trouble
    from shipworthy.stress.plans import read_plan, shipped_names, shipped_plan

    if name in shipped_names():
        return shipped_plan(name)
    if not Path(name).exists():
        known = ", ".join(shipped_names())
        raise Trouble("no plan has that name, and no file", name, f"Name a plan file, or one of: {known}.")
    return read_plan(Path(name))
