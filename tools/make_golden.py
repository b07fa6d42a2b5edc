"""Make the two golden sealed records, a release and a hold, of the record's present version.

Golden records are kept for ever: every later version of the tool must read, verify and re-decide them.
Make new ones only when a schema version goes up, in a folder named after it; never replace old ones.
The key that seals them is made for the purpose and thrown away; its public half stays beside them.

Usage: python tools/make_golden.py tests/golden/v1
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
from pathlib import Path

from shipworthy.jobs.demo import FAULTS, Stage, run_simulated
from shipworthy.jobs.errands import Bench
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.progress import silent
from shipworthy.record.keys import TrustList, make_key
from shipworthy.verdict.policies import shipped_policy

MIB = 2**20
PLAN = Plan(
    plan_id="golden",
    memory_reserve_bytes=MIB,
    disk_reserve_bytes=MIB,
    steps=(
        PlanStep(
            step="together",
            seconds=8,
            loads=(
                LoadRequest(load="matrix", size=512),
                LoadRequest(load="march", memory_share=0.1, memory_cap_bytes=64 * MIB),
                LoadRequest(load="storage", write_budget_bytes=16 * MIB),
            ),
        ),
        PlanStep(step="rest", seconds=2),
    ),
)


def main(out: Path) -> int:
    """Write `release`, `hold` and `trust.json` into a new folder; 0 if both came out as they should."""
    out.mkdir(parents=True)
    with tempfile.TemporaryDirectory(dir=out.parent) as passing:
        stage = _stage(Path(passing))
        trust = TrustList().add(make_key(stage.bench.key, name="Kestrel Desk"))
        release = run_simulated(stage, "KD-0412-1", frozenset(), PLAN)
        hold = run_simulated(stage, "KD-0412-2", FAULTS, PLAN)
        for name, result in (("release", release), ("hold", hold)):
            assert result.record is not None and result.decision is not None
            if result.decision.verdict.value != name:
                sys.stderr.write(f"the {name} came out as {result.decision.verdict.value}\n")
                return 1
            shutil.copytree(result.record, out / name)
    trust.save(out / "trust.json")
    return 0


def _stage(folder: Path) -> Stage:
    bench = Bench(
        records=folder / "records",
        packs=folder / "packs",
        key=folder / "key.json",
        trust=folder / "trust.json",
        zone="Europe/Oslo",
        show=silent,
    )
    bench.records.mkdir()
    return Stage(folder, bench, threading.Event(), shipped_policy(burn_in_least_s=5))


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1])))
