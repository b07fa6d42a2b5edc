"""Options that several verbs share, and what they make together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from shipworthy.jobs.errands import Bench
    from shipworthy.model.plan import Plan

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
Records = Annotated[Path, typer.Option("--records", help="Folder of the records.")]
Packs = Annotated[Path, typer.Option("--packs", help="Folder of the handover packs.")]
Unit = Annotated[str | None, typer.Option("--unit", help="Which unit, if there are several.")]
KeyFile = Annotated[Path | None, typer.Option("--key", help="The bench half's private key.")]
TrustFile = Annotated[Path | None, typer.Option("--trust", help="The list of public keys that you trust.")]
PolicyFile = Annotated[Path | None, typer.Option("--policy", help="The shop's policy (default: shipped).")]
PlanName = Annotated[str, typer.Option("--plan", help="A plan's name, or a plan file of the shop's own.")]
Zone = Annotated[str | None, typer.Option("--zone", help="The shop's time zone (IANA name).")]
AnswersFile = Annotated[Path | None, typer.Option("--answers", help="File of inspection answers.")]

DEFAULT_PLAN = "first-ninety-seconds"


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
    )


def the_policy(path: Path | None) -> tuple[bytes, str]:
    """Return the text of the policy, and where it came from: the option, the shop's home, or the tool."""
    from shipworthy.jobs.errands import home
    from shipworthy.model.base import read_bytes
    from shipworthy.verdict.policies import shipped_policy

    own = path or home() / "policy.toml"
    if path or own.exists():
        return read_bytes(own), str(own)
    return shipped_policy(), "the shipped policy"


def the_plan(name: str) -> Plan:
    """Return a shipped plan by name, or the plan in a file."""
    from shipworthy.stress.plans import read_plan, shipped_names, shipped_plan

    return shipped_plan(name) if name in shipped_names() else read_plan(Path(name))
