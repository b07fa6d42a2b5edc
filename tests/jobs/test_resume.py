"""`burn-in resume` by the real command line: after a kill, a restart, a torn line; and where it cannot."""

from __future__ import annotations

import json
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

from shipworthy.jobs.first_look import first_look
from shipworthy.jobs.unit import alone_in
from tests.jobs.live import Shop, open_shop

pytestmark = pytest.mark.slow

POWER_PLAN = """
schema = 1
plan_id = "restart"

[[steps]]
step = "before"
seconds = 0.5

[[steps]]
step = "off-and-on"
seconds = 600
power = "cold start"

[[steps]]
step = "after"
seconds = 0.5
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    shop = open_shop(tmp_path_factory.mktemp("shop"))
    (shop.folder / "restart.toml").write_text(POWER_PLAN, "utf-8")
    return shop


@pytest.fixture
def half(shop: Shop, request: pytest.FixtureRequest) -> Path:
    """A unit half's folder with a reading in it."""
    name = f"half-{request.node.name.partition('[')[0][-40:]}"
    shop.call("read", "--into", name)
    return shop.folder / name


def segment(half: Path, number: int) -> Path:
    return half / f"burn-in/log-{number:03d}.jsonl"


def lines_of(path: Path) -> list[dict[str, Any]]:
    whole = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
    return [json.loads(line) for line in whole]


def codes_of(path: Path) -> list[str]:
    return [line.get("code", line["kind"]) for line in lines_of(path)]


def killed_in_a_step(shop: Shop, half: Path) -> None:
    process = subprocess.Popen(
        shop.command("burn-in", "--into", half.name, "--plan", "tiny.toml"),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    until_s = time.monotonic() + 60
    while "step.under-load" not in codes_of(segment(half, 1)):
        assert time.monotonic() < until_s and process.poll() is None
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()


def as_of_another_start(path: Path) -> None:
    """Let a segment look as if the machine had started anew since: the log has the old start's id."""
    boot_id = lines_of(path)[0]["at"]["boot_id"]
    path.write_text(path.read_text("utf-8").replace(boot_id, "an-earlier-start"), "utf-8")


def test_after_a_kill_it_says_so_and_goes_on_in_a_new_segment(shop: Shop, half: Path) -> None:
    killed_in_a_step(shop, half)
    kept = segment(half, 1).read_bytes()
    done = shop.call("burn-in", "resume", "--into", half.name)
    assert "in step together: the machine ran on, and the process was killed" in done.stderr
    assert segment(half, 1).read_bytes() == kept
    start = lines_of(segment(half, 2))[0]
    assert (start["segment"], start["first_step"]) == (2, 0)
    assert start["run_id"] == lines_of(segment(half, 1))[0]["run_id"]
    assert codes_of(segment(half, 2)).count("step.ended") == 2
    assert lines_of(segment(half, 2))[-1]["ending"] == "completed"
    assert (half / "reading-after/reading.json").exists()

    over = shop.call("burn-in", "resume", "--into", half.name, check=2)
    assert "has come to its end: completed" in over.stderr
    assert not segment(half, 3).exists()


def test_a_torn_last_line_and_another_start_are_an_unannounced_restart(shop: Shop, half: Path) -> None:
    killed_in_a_step(shop, half)
    as_of_another_start(segment(half, 1))
    with segment(half, 1).open("ab") as log:
        log.write(b'{"kind":"row","t_s":2.')
    done = shop.call("burn-in", "resume", "--into", half.name)
    assert "in step together: the machine restarted or lost power, unannounced" in done.stderr
    assert lines_of(segment(half, 2))[-1]["ending"] == "completed"


def test_a_segment_without_a_whole_line_is_none_and_is_kept(shop: Shop, half: Path) -> None:
    killed_in_a_step(shop, half)
    segment(half, 2).write_bytes(b'{"kind":"start","run')
    shop.call("burn-in", "resume", "--into", half.name)
    assert segment(half, 2).read_bytes() == b'{"kind":"start","run'
    assert lines_of(segment(half, 3))[0]["segment"] == 2  # no number is left out: nothing is missing
    assert not [f for f in first_look(half) if f.code == "burn-in.segment-missing"]


def test_a_page_that_was_lost_in_a_power_cut_ends_what_is_known(shop: Shop, half: Path) -> None:
    killed_in_a_step(shop, half)
    data = segment(half, 1).read_bytes()
    segment(half, 1).write_bytes(data[:-900] + bytes(400) + data[-500:])
    shop.call("burn-in", "resume", "--into", half.name)
    assert lines_of(segment(half, 2))[-1]["ending"] == "completed"


def test_a_second_burn_in_into_the_same_folder_is_refused(shop: Shop, half: Path) -> None:
    with alone_in(half):
        refused = shop.call("burn-in", "--into", half.name, "--plan", "tiny.toml", check=2)
    assert "burns in into this folder" in refused.stderr
    assert not (half / "burn-in").exists()
    shop.call("burn-in", "--into", half.name, "--plan", "tiny.toml")
    assert not list(half.glob(".*"))


def test_what_was_never_begun_cannot_be_taken_up(shop: Shop, half: Path) -> None:
    assert "no burn-in was begun here" in shop.call("burn-in", "resume", "--into", half.name, check=2).stderr
    assert "no burn-in was begun" in shop.call("burn-in", "resume", "--into", "nowhere", check=2).stderr
    assert "--into" in shop.call("burn-in", "resume", check=2).stderr


@pytest.mark.parametrize("words", [("--plan", "tiny.toml"), ("--dry-run",)])
def test_a_burn_in_that_is_taken_up_keeps_its_plan(shop: Shop, words: tuple[str, ...]) -> None:
    refused = shop.call("burn-in", "resume", "--into", "nowhere", *words, check=2)
    assert "keeps the plan that it was begun with" in refused.stderr


def test_a_cold_start_is_asked_for_missed_and_found(shop: Shop, half: Path) -> None:
    asked = shop.call("burn-in", "--into", half.name, "--plan", "restart.toml", check=130)
    assert f"shipworthy burn-in resume --into {half.name}" in asked.stdout
    assert "pull the cord out" in asked.stderr
    assert codes_of(segment(half, 1))[-1] == "stop"
    assert lines_of(segment(half, 1))[-1]["ending"] == "waiting for an announced restart"

    missed = shop.call("burn-in", "resume", "--into", half.name, check=130)
    assert "has not done one" in missed.stderr and "pull the cord out" in missed.stderr
    assert "power.missing" in codes_of(segment(half, 2))

    for number in (1, 2):
        as_of_another_start(segment(half, number))
    done = shop.call("burn-in", "resume", "--into", half.name)
    assert "interrupted" not in done.stderr
    assert "The cold start of the step off-and-on was done" in done.stderr
    codes = codes_of(segment(half, 3))
    assert codes.index("power.returned") < codes.index("step.ended")
    assert lines_of(segment(half, 3))[-1]["ending"] == "completed"


def test_after_a_persons_stop_either_command_goes_on(shop: Shop, half: Path) -> None:
    process = subprocess.Popen(
        shop.command("burn-in", "--into", half.name, "--plan", "tiny.toml"),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    while "step.began" not in codes_of(segment(half, 1)):
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    time.sleep(0.5)
    while process.poll() is None and "cooling.began" not in codes_of(segment(half, 1)):
        time.sleep(0.1)
    process.send_signal(signal.SIGINT)  # the cool-down is cut short too
    said, _ = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "stopped by person" in said
    done = shop.call("burn-in", "--into", half.name, "--plan", "tiny.toml")
    assert "It was stopped by a person at" in done.stderr


def test_a_whole_run_waits_for_its_restart_and_goes_on_with_the_same_command(shop: Shop) -> None:
    words = ("run", "order.toml", "--plan", "restart.toml", "--records", "cycled", "--packs", "packs")
    words = (*words, "--burn-in-anyway", "--seal-unanswered", "--until", "burn-in")
    asked = shop.call(*words, check=130)
    assert "pull the cord out" in asked.stderr and "run the same command to take it up" in asked.stderr
    (data,) = (shop.folder / "cycled/.open").glob("*/data")
    as_of_another_start(segment(data, 1))
    shop.call(*words)
    assert "power.returned" in codes_of(segment(data, 2))
    assert lines_of(segment(data, 2))[-1]["ending"] == "completed"
