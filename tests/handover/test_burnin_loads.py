"""The loads of a burn-in on a page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from shipworthy.handover.burnin_loads import load_blocks
from shipworthy.handover.facts import handover_of
from shipworthy.handover.kept import Kept, keep
from shipworthy.handover.page import render_page
from shipworthy.handover.view import Plot, Prose, Section, Table
from shipworthy.model.runlog import LoadSummary
from shipworthy.record.sealed import Sealed
from tests.handover.records import DRIVE


@pytest.fixture
def kept(made: dict[str, Path]) -> Kept:
    return keep(Sealed(made["released"]))


def on(
    target: str, load: str = "matrix", work: str = "operations", wrong: int = 0, **more: object
) -> LoadSummary:
    given: dict[str, object] = {"rate": 9e9, "limit": 10e9, "checks": 50, "written_bytes": 0}
    return LoadSummary(  # type: ignore[arg-type]
        load=load, target=target, unit_of_work=work, work=9e10, seconds=10.0, wrong=wrong, **(given | more)
    )


def rows(kept: Kept, *loads: LoadSummary) -> list[dict[str, str]]:
    [shown] = [block for block in load_blocks(kept, loads) if isinstance(block, Table)]
    return [dict(zip(shown.columns, row, strict=True)) for row in shown.rows]


def test_many_cores_share_a_row_with_their_range_and_a_wrong_one_stands_for_itself(kept: Kept) -> None:
    cores = [on(f"cpu:{n}", rate=9e9 + n * 1e8) for n in range(8)]
    cores[5] = on("cpu:5", wrong=1)
    shared, alone = rows(kept, *cores)
    assert shared["Load"] == "matrix on 7 cores, taken together"
    assert shared["Rate, of its limit"] == "65.3 of 70.0 billion operations a second"
    assert (shared["Share"], shared["Checked"], shared["Wrong"]) == ("90 % to 97 %", "350", "0")
    assert (alone["Load"], alone["Wrong"]) == ("matrix on cpu:5", "1")


def test_a_few_cores_have_a_row_each(kept: Kept) -> None:
    assert [row["Load"] for row in rows(kept, on("cpu:0"), on("cpu:1"))] == [
        "matrix on cpu:0",
        "matrix on cpu:1",
    ]


def test_a_core_without_a_limit_leaves_no_share_of_all(kept: Kept) -> None:
    [row] = rows(kept, *(on(f"cpu:{n}", limit=None if n == 2 else 10e9) for n in range(5)))
    assert row["Rate, of its limit"] == "45.0 billion operations a second"
    assert "Share" not in row  # no row has one


def test_a_drive_is_named_once_and_what_was_only_written_counts_no_results(kept: Kept) -> None:
    read, written = (
        on(DRIVE, load="storage", work="bytes read and compared"),
        on(DRIVE, load="storage", work="bytes written", checks=0, written_bytes=268_440_000),
    )
    of_reads, of_writes = rows(kept, read, written)
    assert of_reads["Load"] == of_writes["Load"] == f"storage on Quarrel M2 1TB ({DRIVE})"
    assert of_reads["Rate, of its limit"] == "9.00 of 10.0 GB/s read and compared"
    assert (of_writes["Checked"], of_writes["Wrong"], of_writes["Written"]) == ("", "", "268.44 MB")
    [failed] = rows(kept, on(DRIVE, load="storage", work="bytes written", checks=0, wrong=1))
    assert failed["Wrong"] == "1"


def test_bars_of_one_load_on_one_drive_are_told_apart_by_their_work(kept: Kept) -> None:
    works = ("bytes read and compared", "bytes written")
    blocks = list(load_blocks(kept, [on(DRIVE, load="storage", work=work) for work in works]))
    [bars] = [block for block in blocks if isinstance(block, Plot)]
    assert len({pair.text for pair in bars.key}) == 2
    assert all(work in pair.text for work, pair in zip(works, bars.key, strict=True))


def test_a_share_is_rounded_as_its_neighbours_are_and_its_limit_is_explained(kept: Kept) -> None:
    blocks = list(load_blocks(kept, [on("memory", load="march", rate=1.16e9, limit=1e9)]))
    [shown] = [block for block in blocks if isinstance(block, Table)]
    assert shown.rows[0][2] == "116 %"
    assert any(isinstance(block, Prose) and "nothing checked" in block.text for block in blocks)
    without = load_blocks(kept, [on("memory", load="march", limit=None)])
    assert not [block for block in without if isinstance(block, Prose)]
    assert list(load_blocks(kept, [])) == []


def test_a_number_of_results_never_goes_over_a_lines_end_on_the_page(
    made: dict[str, Path], kept: Kept
) -> None:
    blocks = tuple(load_blocks(kept, [on("memory", load="march", checks=16_831_741_952_000)]))
    view = handover_of(Sealed(made["released"]), signed=True)
    page = render_page(replace(view, sections=(Section("burn-in", "The burn-in", "", blocks),))).decode()
    assert 'class="short"><span class="label" aria-hidden="true">Checked</span> 16,831,741,952,000<' in page
