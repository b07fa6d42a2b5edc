"""`verify` and `pack`: on sealed records."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from shipworthy.cli.options import Json, KeyFile, Packs, TrustFile, the_bench


def verify(
    folder: Annotated[Path, typer.Argument(help="A sealed record, or a handover pack.")],
    trust: TrustFile = None,
    expect: Annotated[
        str | None, typer.Option("--expect", help="UNIT/ATTEMPT/DIGEST that it must be, as the shop gave it.")
    ] = None,
    json: Json = False,
) -> None:
    """Check a record or a pack, offline, and list every fault by kind. Needs only the public key.

    Example: shipworthy verify packs/KD-0412-1/attempt-001
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.messages import sentence
    from shipworthy.record.keys import TrustList
    from shipworthy.record.verify import verify as check

    bench = the_bench(trust=trust, json=json)
    known = TrustList.load(bench.trust) if trust or bench.trust.exists() else None
    report = check(folder, known, expect)
    if json:
        as_json(report)
    else:
        for fault in report.faults:
            words = sentence(fault.code, fault.values)
            say(f"{fault.kind.value:<18}{words.say}")
        if not report.faults:
            say(f"Valid: unit {report.unit_id}, attempt {report.number}, sealed by {report.signer}.")
            say(f"Digest: {report.unit_id}/{report.number}/{report.digest}")
    raise typer.Exit(1 if report.faults else 0)


def pack(
    record: Annotated[Path, typer.Argument(help="A sealed record.")],
    packs: Packs = Path("packs"),
    key: KeyFile = None,
    trust: TrustFile = None,
    json: Json = False,
) -> None:
    """Render the handover pack of a sealed record: one HTML page and one PDF, signed.

    Example: shipworthy pack records/KD-0412-1/attempt-001
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.pack import pack_record

    made = pack_record(record, the_bench(packs=packs, key=key, trust=trust, json=json))
    if json:
        as_json({"folder": str(made.folder), "html": str(made.html), "pdf": str(made.pdf)})
    else:
        say(str(made.html))
        say(str(made.pdf))
