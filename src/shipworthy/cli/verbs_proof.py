"""`verify` and `pack`: on sealed records."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("verify")
@click.argument("folder", type=options.PATH)
@options.trust
@click.option("--expect", help="UNIT/ATTEMPT/DIGEST that it must be, as the shop gave it.")
@options.json
def verify(folder: Path, trust: Path | None, expect: str | None, json: bool) -> None:
    """Check a record or a pack, offline, and list every fault by kind. Needs only the public key.

    Example: shipworthy verify packs/KD-0412-1/attempt-001
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.proof import verdict_in
    from shipworthy.messages import sentence
    from shipworthy.record.keys import TrustList
    from shipworthy.record.verify import verify as check

    bench = options.the_bench(trust=trust, json=json)
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
            say(f"Verdict: {verdict_in(folder)}")
            say(f"Digest: {report.unit_id}/{report.number}/{report.digest}")
    raise SystemExit(1 if report.faults else 0)


@click.command("pack")
@click.argument("record", type=options.PATH)
@options.packs
@options.key
@options.trust
@options.json
def pack(record: Path, packs: Path, key: Path | None, trust: Path | None, json: bool) -> None:
    """Render the handover pack of a sealed record: one HTML page and one PDF, signed.

    Example: shipworthy pack records/KD-0412-1/attempt-001
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.pack import pack_record

    made = pack_record(record, options.the_bench(packs=packs, key=key, trust=trust, json=json))
    if json:
        as_json({"folder": str(made.folder), "html": str(made.html), "pdf": str(made.pdf)})
    else:
        say(str(made.html))
        say(str(made.pdf))
