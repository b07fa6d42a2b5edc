"""`burn-in --dry-run`: a plan summed up, on 80 columns and as JSON, and one sentence for each bad one."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from shipworthy.stress.plans import shipped_names
from tests.cli.calling import Call, caller

BASE = '[[steps]]\nstep = "one"\nseconds = 5\n'


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    monkeypatch.setenv("COLUMNS", "80")
    return caller(monkeypatch, capsys)


@pytest.mark.parametrize("name", shipped_names())
def test_every_shipped_plan_is_readable_on_80_columns(call: Call, name: str) -> None:
    done = call("burn-in", "--dry-run", "--plan", name)
    assert done.code == 0
    assert max(len(line) for line in done.out.splitlines()) <= 80
    for said in ("What stops it", "device names as critical", "shop's policy", "smoke alarm", "wall switch"):
        assert said in " ".join(done.out.split())


def test_it_tells_how_a_load_is_run(call: Call) -> None:
    text = " ".join(call("burn-in", "--dry-run", "--plan", "one-hour").out.split())
    assert "matrix (float32); at work 50 % of the time, in pulses of 0.1 Hz" in text
    assert "at work 10 % of the time draws while at work: the most that floating-point code draws" in text
    assert "temperature silent for 1 min (the loads rest after 5 s): set by the tool's own rule" in text
    assert "loads that are not done 1 min after their step's time: set by the tool's own rule" in text
    assert "one after the other" in text and "85 % of the free memory" in text
    assert "each drive under a work folder" in text


def test_a_power_cycle_is_told_as_one(call: Call) -> None:
    text = " ".join(call("burn-in", "--dry-run", "--plan", "power-cycles").out.split())
    assert "cold-start, 30 min at most asks for a cold start" in text


def test_with_a_work_folder_it_names_the_drive_or_says_that_it_cannot_be_told(
    call: Call, tmp_path: Path
) -> None:
    done = call("burn-in", "--dry-run", "--plan", "two-minutes", "--work-folder", tmp_path, "--json")
    told = json.loads(done.out)
    assert [row["folder"] for row in told["written"]] == [str(tmp_path)]
    assert told["written"][0]["place"] and told["written"][0]["budget_bytes"] == 2 * 2**30
    assert all(load["processes"] >= 1 for step in told["steps"] for load in step["loads"])
    assert "caution.burn-in-leak" in told["cautions"]


BAD = {
    "unknown load": (BASE + '[[steps.loads]]\nload = "juggling"', "no load is called juggling"),
    "unknown variant": (BASE + '[[steps.loads]]\nload = "march"\nvariant = "sideways"', "sideways"),
    "no intensity": (BASE + '[[steps.loads]]\nload = "matrix"\nintensity = 0', "above 0"),
    "pulses": (BASE + '[[steps.loads]]\nload = "matrix"\npulse_hz = 1', "never rests"),
    "power": (BASE + 'power = "cold start"\n[[steps.loads]]\nload = "matrix"', "cannot have loads"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_plan_gets_one_sentence_that_says_where(call: Call, tmp_path: Path, case: str) -> None:
    text, why = BAD[case]
    path = tmp_path / "ours.toml"
    path.write_text('plan_id = "ours"\n' + text, "utf-8")
    assert tomllib.loads(path.read_text("utf-8"))
    complaint = call("burn-in", "--dry-run", "--plan", path).complaint()
    assert why in complaint and "ours.toml" in complaint
