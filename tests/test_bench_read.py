"""`bench/read.py` counts what a reading starts, and a reading can start no more than three processes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from shipworthy.machine import capture
from shipworthy.machine.capture import smartctl

SCRIPT = Path(__file__).resolve().parent.parent / "bench/read.py"


def test_a_reading_of_this_machine_is_within_its_bounds() -> None:
    done = subprocess.run([sys.executable, SCRIPT, "--runs", "1"], capture_output=True, text=True, check=True)
    told = json.loads(done.stdout)
    assert len(told["children"]) <= 3
    assert told["numpy"] is False
    assert told["parts"] > 0 and told["goal_s"] == 0.5


def test_a_process_that_is_started_is_counted() -> None:
    code = (
        "import subprocess, sys; sys.path.insert(0, sys.argv[1]); import read\n"
        "sys.addaudithook(read.watch)\n"
        "subprocess.run([sys.executable, '-c', ''], check=True)\n"
        "print(len(read.started), read.started[0].split()[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, SCRIPT.parent], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["1", "subprocess.Popen"]


def test_two_sources_start_processes_two_of_one_and_one_of_the_other() -> None:
    folder = Path(capture.__path__[0])
    texts = {file.stem: file.read_text("utf-8") for file in folder.glob("*.py")}
    # the stream is for the burn-in alone: no reading starts it
    assert {name for name, text in texts.items() if "Popen(" in text} == {"child", "nvidia_stream"}
    assert {name for name, text in texts.items() if "capture.child import" in text} == {
        "smartctl",
        "nvidia_smi",
        "nvidia_stream",
    }
    assert smartctl.MOST_DRIVES == 2
