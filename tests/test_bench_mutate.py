"""`bench/mutate.py`: spoiled tables fell no decoder, and a decoder that they would fell is found."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shipworthy.machine.kinds import KINDS

SCRIPT = Path(__file__).resolve().parent.parent / "bench/mutate.py"

PLANTED = """
import dataclasses, json, signal, sys
sys.path.insert(0, sys.argv[1])
import mutate
from decoding.targets import Target, _storable
from shipworthy.machine.raw import Parsed
from shipworthy.model.base import Trouble
from shipworthy.model.reading import Remark
from shipworthy.model.words import RemarkKind

def raises(data): return data[200]
def spins(data): return sum(range(6_000_000))
def hangs(data):
    while True:
        try:
            pass
        except Exception:
            pass
def takes(data): return len(bytearray(100 << 20))
def takes_less(data): return len(bytearray(20 << 20))
def refuses(data): raise Trouble("is no good", "here", "Take another.")
def unstorable(data):
    kind = RemarkKind.BAD_VALUE
    return Parsed(remarks=(Remark(source="a", kind=kind, where="\\ud800", detail="half a character"),))

mutate.ENDLESS_S = 1.0
signal.signal(signal.SIGVTALRM, mutate._break_off)
mutate.bound_memory()
found = []
for step in (raises, spins, hangs, takes, takes_less, refuses, unstorable):
    own = (Trouble,) if step is refuses else ()
    target = Target(step.__name__, lambda chance: chance.randbytes(100), {"parse": step}, _storable, own)
    found.append(dataclasses.asdict(mutate.run(target, range(2), 1)))
print(json.dumps(found))
"""


def mutate(*arguments: object) -> tuple[int, dict[str, Any]]:
    done = subprocess.run(
        [sys.executable, SCRIPT, *map(str, arguments)], capture_output=True, text=True, check=False
    )
    assert done.stdout, done.stderr
    return done.returncode, json.loads(done.stdout)


@pytest.mark.slow
def test_twenty_thousand_spoiled_inputs_fell_no_decoder() -> None:
    code, told = mutate("--inputs", 20_000)
    assert (told["failed"], told["slow"], code) == (0, 0, 0), told
    assert told["inputs"] >= 20_000
    fed = {row["decoder"]: row["inputs"] for row in told["decoders"]}
    assert {kind.name for kind in KINDS if kind.suffix == "bin"} <= set(fed)
    assert {"ethtool", "optical", "scsi", "privileged-stream", "sources", "scrub-edid"} <= set(fed)
    assert min(fed.values()) >= 900
    assert all(0 < row["slowest_ms"] <= row["bound_ms"] for row in told["decoders"])


def test_without_reference_data_every_decoder_is_fed_pages_of_our_own(tmp_path: Path) -> None:
    code, told = mutate("--inputs", 400, "--data", tmp_path / "none", "--seed", 7)
    assert (code, told["reference_data"], told["failed"]) == (0, False, 0), told
    assert min(row["inputs"] for row in told["decoders"]) == 20


def test_what_raises_runs_long_or_takes_too_much_is_found() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PLANTED, SCRIPT.parent], capture_output=True, text=True, check=True
    )
    told = {row["decoder"]: row for row in json.loads(done.stdout)}
    assert {name: (row["failed"], row["slow"]) for name, row in told.items()} == {
        "raises": (2, 0),
        "spins": (0, 2),
        "hangs": (2, 0),
        "takes": (2, 0),
        "takes_less": (0, 0),
        "refuses": (0, 0),
        "unstorable": (2, 0),
    }
    kinds = {name: [what.split(" at ")[0] for what in row["failures"]] for name, row in told.items()}
    assert kinds["raises"] == ["parse: IndexError"]
    assert kinds["hangs"] == ["parse: Endless"]
    assert kinds["takes"] == ["parse: MemoryError"]
    assert all(row["inputs"] == 2 for row in told.values())


def test_an_input_is_made_again_from_its_number(tmp_path: Path) -> None:
    again = ("--decoder", "edid", "--seed", 3, "--only", 11, "--write")
    assert mutate(*again, tmp_path / "a")[0] == 0
    code, told = mutate(*again, tmp_path / "b")
    assert (code, set(told["steps"])) == (0, {"parse", "describe", "recognise"})
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_processes_share_the_same_inputs() -> None:
    alone, shared = (
        mutate("--inputs", 60, "--decoder", "usb-descriptors"),
        mutate("--inputs", 60, "--decoder", "usb-descriptors", "--processes", 2),
    )
    assert alone[0] == shared[0] == 0
    assert alone[1]["inputs"] == shared[1]["inputs"] == 60
