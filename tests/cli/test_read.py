"""The verb `read`: what it refuses, in one sentence and before it writes anything, and what it does."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from shipworthy.machine.root import SIMULATED_MARK
from tests.cli.calling import Call, caller
from tests.machine.recorded import build
from tests.machine.reports_of_a_machine import fill
from tests.machine.test_machine_privileged import HOSTILE, stream


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def reading_of(folder: Path, name: str = "reading") -> dict[str, object]:
    found: dict[str, object] = json.loads((folder / name / "reading.json").read_text())
    return found


# A recorded machine, reports, a reading


def test_it_shows_the_parts_who_disagrees_and_how_many_gave_nothing(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    done = call("read", "--from", machine, "--into", tmp_path / "half")
    assert (done.code, done.err) == (0, "")
    assert "storage" in done.out and "QR1TB000451" in done.out
    assert "smbios.table says B7, dmi-id says B6" in done.out
    assert "sources have nothing to tell here" in done.out and "placeholders of the firmware" in done.out
    assert sorted(p.name for p in (tmp_path / "half").iterdir()) == ["reading"]
    assert reading_of(tmp_path / "half")["nonce"] is None


def test_its_json_is_the_reading_as_it_is_kept(call: Call, machine: Path, tmp_path: Path) -> None:
    done = call("read", "--from", machine, "--into", tmp_path / "half", "--json")
    assert json.loads(done.out) == reading_of(tmp_path / "half")


def test_a_pretend_unit_may_carry_a_nonce_and_a_recorded_one_may_not(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    words = ("read", "--from", machine, "--nonce", "n-7", "--into")
    assert "nonce" in call(*words, tmp_path / "one").complaint()
    assert not (tmp_path / "one").exists()
    (machine / SIMULATED_MARK).write_text("{}")
    assert call(*words, tmp_path / "two").code == 0
    assert (reading_of(tmp_path / "two")["nonce"], reading_of(tmp_path / "two")["simulated"]) == ("n-7", True)


def test_a_reading_made_again_carries_no_nonce_and_is_no_specimen(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    call("read", "--from", machine, "--into", tmp_path / "half")
    again = ("read", "--from", tmp_path / "half", "--into", tmp_path / "again")
    assert "nonce" in call(*again, "--nonce", "n-7").complaint()
    assert "specimen" in call(*again, "--specimen").complaint()
    assert not (tmp_path / "again").exists()
    assert call(*again).code == 0
    assert reading_of(tmp_path / "again") == reading_of(tmp_path / "half")


def test_a_spoiled_reading_is_refused(call: Call, machine: Path, tmp_path: Path) -> None:
    call("read", "--from", machine, "--into", tmp_path / "half")
    raw = tmp_path / "half/reading/raw"
    (raw / "meminfo.txt").write_text("MemTotal: 1 kB\n")
    again = ("read", "--from", tmp_path / "half/reading", "--into", tmp_path / "again")
    assert "meminfo" in call(*again).complaint()
    (raw / "index.jsonl").write_text('{"id":')
    assert "index" in call(*again).complaint()
    assert not (tmp_path / "again").exists()


def test_this_machine_is_read_without_the_decoders_of_reports(tmp_path: Path) -> None:
    """They would be a third of the time that it takes."""
    code = (
        "import sys\n"
        "from shipworthy.cli.main import main\n"
        "sys.argv = ['shipworthy', 'read', '--into', sys.argv[1]]\n"
        "try:\n    main()\n"
        "finally:\n"
        "    loaded = {'shipworthy.machine.kinds', 'numpy'} & set(sys.modules)\n"
        "    print(sorted(loaded), file=sys.stderr)\n"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "half")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "[]\n")


# What it refuses


def test_a_folder_that_holds_a_reading_or_a_specimen_is_never_written_to(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    for more, name in (((), "reading"), (("--specimen",), "specimen")):
        into = tmp_path / name
        call("read", "--from", machine, "--into", into, *more)
        before = (into / name / "reading.json").read_bytes()
        for again in ((), ("--specimen",)):
            said = call("read", "--from", machine, "--into", into, *again).complaint()
            assert f"holds a {name} already" in said
        assert (into / name / "reading.json").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "mentions"),
    [
        (("--specimen", "--nonce", "n-7"), "a specimen carries no nonce"),
        (("--from", "MACHINE", "--specimen", "--nonce", "n-7"), "a specimen carries no nonce"),
        (("--from", "MACHINE", "--privileged", "STREAM"), "the privileged capture is of this machine"),
        (("--from", "NOWHERE"), "there is no such folder"),
        (("--from", "STREAM"), "there is no such folder"),
        (("--from", "EMPTY"), "holds nothing of a machine"),
        (("--from", "WORDS"), "holds nothing of a machine"),
    ],
)
def test_what_does_not_fit_together_is_one_sentence_and_nothing_is_written(
    call: Call, machine: Path, tmp_path: Path, words: tuple[str, ...], mentions: str
) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "words").mkdir()
    (tmp_path / "words/a.txt").write_text("milk\n")
    (tmp_path / "stream.tar").write_bytes(stream())
    paths = {
        "MACHINE": machine,
        "NOWHERE": tmp_path / "nowhere",
        "STREAM": tmp_path / "stream.tar",
        "EMPTY": tmp_path / "empty",
        "WORDS": tmp_path / "words",
    }
    said = call("read", "--into", tmp_path / "half", *(paths.get(word, word) for word in words)).complaint()
    assert mentions in said
    assert not (tmp_path / "half").exists()


def test_a_folder_that_cannot_be_written_is_one_sentence(call: Call, machine: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    assert str(tmp_path) in call("read", "--from", machine, "--into", tmp_path / "file").complaint()
    assert (tmp_path / "file").read_text() == "mine"
    assert call("read", "--from", machine).code == 2  # no --into


# The privileged capture


@pytest.mark.parametrize(
    "kind",
    [
        "a symbolic link",
        "a name that climbs",
        "an absolute name",
        "a name with signs for the terminal",
        "a huge file",
        "a global pax header",
        "a packed stream",
        "nothing",
        "noise",
        "text",
    ],
)
def test_a_hostile_stream_is_one_sentence_and_no_reading(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(passing))
    (tmp_path / "stream.tar").write_bytes(HOSTILE[kind])
    words = ("read", "--into", tmp_path / "half", "--privileged", tmp_path / "stream.tar")
    for more in ((), ("--specimen",), ("--json",)):
        done = call(*words, *more)
        assert "the stream of the privileged capture" in done.complaint()
        assert done.out == ""
    assert not (tmp_path / "half").exists()
    assert list(passing.iterdir()) == [], "nothing is left behind"
    assert call(*words[:3], "--privileged", tmp_path / "nowhere.tar").code == 2


def test_a_hostile_stream_through_a_pipe_is_one_sentence_too(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "shipworthy", "read", "--into", "half", "--privileged", "-"]
    done = subprocess.run(
        command, input=HOSTILE["a hard link"], cwd=tmp_path, capture_output=True, timeout=60, check=False
    )
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.startswith(b"shipworthy: the stream of the privileged capture")
    assert len(done.stderr.splitlines()) == 1
    assert not (tmp_path / "half").exists()


def test_a_whole_stream_is_read_with_this_machine_and_leaves_nothing_else(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(passing))
    log = b"<5>[    0.000000] Linux version 6.12.1-bench (mason@forge) (gcc 13) #1 SMP\n"
    given = {"dmesg.txt": log, "replies/privileged.json": b'{"not_read": []}'}
    (tmp_path / "stream.tar").write_bytes(stream(given))
    done = call("read", "--into", tmp_path / "half", "--privileged", tmp_path / "stream.tar", "--json")
    assert done.code == 0, done.err
    rows = {row["id"]: row["outcome"] for row in json.loads(done.out)["sources"]}
    assert rows["dmesg.1"] == "read"
    assert list(passing.iterdir()) == []


# A specimen


def test_a_specimen_goes_into_its_own_folder_and_holds_no_serial(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    done = call("read", "--from", machine, "--into", tmp_path / "half", "--specimen")
    assert done.code == 0
    assert [p.name for p in (tmp_path / "half").iterdir()] == ["specimen"]
    for text in ("QR1TB000451", "QA4-0017", "HW-77-1031", "02:00:5e:10:00:01"):
        assert text not in done.out
        for file in (tmp_path / "half").rglob("*"):
            assert not file.is_file() or text.encode() not in file.read_bytes(), file
    told = call("read", "--from", tmp_path / "half/specimen", "--into", tmp_path / "again")
    assert told.code == 0, "a specimen can be read like any reading"


def test_a_specimen_of_reports_holds_no_host_name(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = fill(tmp_path / "reports")
    node = os.uname()
    monkeypatch.setattr(os, "uname", lambda: os.uname_result((node.sysname, "forge", *tuple(node)[2:])))
    assert call("read", "--from", folder, "--into", tmp_path / "half", "--specimen").code == 0
    for file in (tmp_path / "half").rglob("*"):
        data = file.read_bytes() if file.is_file() else b""
        assert b"forge" not in data and b"mason@" not in data, file


def test_a_folder_is_read_though_it_is_named_with_a_stroke_or_from_within(
    call: Call, machine: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(machine)
    assert call("read", "--from", ".", "--into", tmp_path / "one").code == 0
    assert call("read", "--from", f"{machine}/", "--into", tmp_path / "two").code == 0
    shutil.copytree(machine, tmp_path / "moved", symlinks=True)
    assert call("read", "--from", tmp_path / "moved", "--into", tmp_path / "three").code == 0
    digests = {json.dumps(reading_of(tmp_path / name)["configuration"]) for name in ("one", "two", "three")}
    assert len(digests) == 1


# How it shows the parts


def test_parts_of_an_order_come_first_and_the_others_are_counted(
    call: Call, machine: Path, tmp_path: Path
) -> None:
    done = call("read", "--from", machine, "--into", tmp_path / "half")
    lines = done.out.splitlines()
    assert [line.split("  ")[0] for line in lines[:4]] == ["processor", "board", "memory", "memory module"]
    assert "runs at 6,000 MT/s, serial 0A0B0C01  [smbios:DIMM_A2/BANK 1]" in done.out
    assert "empty           1 memory module: DIMM_A1/BANK 0" in lines
    (also,) = [line for line in lines if line.startswith("also")]
    assert "2 pci devices" in also and "--all" in also
    assert not [line for line in lines if line.startswith("pci device")]
    told = call("read", "--from", machine, "--into", tmp_path / "other", "--all").out.splitlines()
    assert len([line for line in told if line.startswith("pci device")]) == 2
    assert not [line for line in told if line.startswith(("also", "empty"))]
    reading = reading_of(tmp_path / "other")
    parts = reading["parts"]
    assert isinstance(parts, list) and len([line for line in told if line.endswith("]")]) >= len(parts)


def test_on_a_terminal_lines_are_broken_between_words(
    call: Call, machine: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setattr("shipworthy.cli.show.sys.stdout.isatty", lambda: True, raising=False)
    lines = call("read", "--from", machine, "--into", tmp_path / "other").out.splitlines()
    assert max(map(len, lines)) <= 60
    assert [line for line in lines if line.startswith(" " * 16)]
