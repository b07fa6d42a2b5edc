"""The handover pack of a sealed record. Imports nothing that reads or loads a machine: it is run often."""

from __future__ import annotations

from pathlib import Path

from shipworthy.handover.pack import Pack, render
from shipworthy.jobs.errands import Bench
from shipworthy.messages import sentence
from shipworthy.model.base import Trouble
from shipworthy.model.progress import progress
from shipworthy.record.keys import TrustList, load_key
from shipworthy.record.verify import verify


def pack_record(record: Path, bench: Bench) -> Pack:
    """Render the pack of a sealed record, signed with the bench's key.

    A record that is not as it was sealed gives no pack: Trouble, with its first fault.
    """
    bench.show(progress("run.pack"))
    key = load_key(bench.key)
    known = TrustList.load(bench.trust) if bench.trust.exists() else TrustList()
    trust = known if known.find(key.public.kid) else known.add(key.public)
    faults = verify(record, trust).faults
    if faults:
        first = sentence(faults[0].code, faults[0].values).say
        raise Trouble(
            f"the record has {len(faults)} faults, the first: {first.rstrip('.')}",
            record,
            "`shipworthy verify` lists them all; render the pack from a good copy.",
        )
    return render(record, bench.packs / record.parent.name / record.name, key)
