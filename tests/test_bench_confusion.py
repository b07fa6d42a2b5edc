"""The tables that are made from what the measurements of the comparison print."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bench import all as every
from bench import confusion

MATCHING = {
    "by_category": {
        "board, hidden": {
            "true": {"carried": {"accepted": 7, "differs": 1}, "not carried": {"cannot tell": 1_200}},
            "confusion": {"suffix": {"differs": 3}},
        },
        "board, with numbers": {
            "true": {"carried": {"accepted": 8}},
            "confusion": {"suffix": {"differs": 2, "for a person": 1}},
        },
    }
}
MACHINES = {
    "by_kind": {
        "extra part": {"planted": 8, "caught": 7, "cannot_tell": 1, "conforms": 0, "not_carried": {"no": 2}},
        "link narrowed": {"planted": 0, "caught": 0, "cannot_tell": 0, "conforms": 0, "not_carried": {}},
    }
}


def printed(tmp_path: Path, capsys: pytest.CaptureFixture[str], *reports: object) -> list[str]:
    paths = []
    for number, report in enumerate(reports):
        paths.append(tmp_path / f"{number}.json")
        paths[-1].write_text(json.dumps(report))
    confusion.main([str(path) for path in paths])
    return capsys.readouterr().out.splitlines()


def test_every_pair_is_in_a_row_and_siblings_of_both_ways_in_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = printed(tmp_path, capsys, MACHINES, MATCHING)
    assert "| board, hidden | 7 |  |  | 1,200 | 1 | 1,208 |" in lines
    assert "| board, hidden, the device carries the token | 7 |  |  |  | 1 | 8 |" in lines
    assert "| board: suffix |  |  | 1 |  | 5 | 6 |" in lines
    assert "| extra part | 8 | 7 | 87.5 % | 1 |  | 2 |" in lines
    assert not any("link narrowed" in line for line in lines)


def test_the_columns_are_the_outcomes_of_the_comparison() -> None:
    assert confusion.HEADS == ("accepted", "a setting to fix", "for a person", "cannot tell", "differs")


def test_what_runs_every_measurement_runs_no_part_of_one_and_nothing_that_needs_a_file() -> None:
    names = {script.name for script in every.measurements()}
    assert {"loads.py", "machines.py", "matching.py", "sampler.py"} <= names
    assert not names & {"all.py", "confusion.py", "common.py", "loads_march.py", "matching_outcome.py"}


def test_an_outcome_without_a_column_is_no_silence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strange = {"by_category": {"board, hidden": {"true": {"carried": {"sold out": 1}}, "confusion": {}}}}
    with pytest.raises(SystemExit, match="sold out"):
        printed(tmp_path, capsys, strange)
    with pytest.raises(SystemExit, match="None of these files"):
        printed(tmp_path, capsys, {"figures": 1})
