"""What `run` shows of a comparison: sentences, and the line that each is about."""

from __future__ import annotations

import os
from pathlib import Path

from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.run import run
from shipworthy.messages import sentence
from shipworthy.model.progress import Progress
from shipworthy.record.keys import make_key
from shipworthy.sim import ORDER_FILE
from shipworthy.sim.unit import build
from shipworthy.stress.plans import shipped_plan
from shipworthy.verdict.policies import shipped_policy


def test_what_differs_is_shown_in_words_with_its_line_and_not_as_a_code(tmp_path: Path) -> None:
    shown: list[Progress] = []
    bench = Bench(
        records=tmp_path / "records",
        packs=tmp_path / "packs",
        key=tmp_path / "key.json",
        trust=tmp_path / "trust.json",
        show=shown.append,
    )
    bench.records.mkdir()
    make_key(bench.key, name="Kestrel Desk")
    device = tmp_path.stat().st_dev
    root = build(
        tmp_path / "unit", frozenset(), cpus=(0, 1), device_number=(os.major(device), os.minor(device))
    )
    order = tmp_path / "order.toml"
    order.write_text(ORDER_FILE.read_text("utf-8").replace("1TB", "4TB"), "utf-8")
    run(
        RunRequest(
            order=order,
            policy=(shipped_policy(), "shipped"),
            plan=shipped_plan("two-minutes"),
            unit_id="KD-0412-1",
            until="comparison",
            root=root,
        ),
        bench,
    )
    said = [sentence(one.code, one.values).say for one in shown if one.code == "run.differs"]
    assert any(s.startswith("Differs, line ") and ": Ordered was a drive of 4 TB" in s for s in said), said
    assert not any("storage.capacity" in s for s in said)
