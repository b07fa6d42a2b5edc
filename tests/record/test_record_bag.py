"""Sealed records, held against RFC 8493 and the `bagit` library; and kills while sealing."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipworthy.model.attempt import Attempt, StepEvent, StepLine, StepName
from shipworthy.model.base import Trouble, digest_of
from shipworthy.model.time import PretendClock
from shipworthy.record.attempt import OpenAttempt, find_open, take_up
from shipworthy.record.bag import seal
from shipworthy.record.info import read_info
from shipworthy.record.keys import SigningKey, TrustList, load_key, make_key
from shipworthy.record.manifest import read_manifest, write_manifest
from shipworthy.record.sealed import Sealed
from shipworthy.record.verify import verify

Opener = Callable[..., OpenAttempt]


def test_the_library_finds_our_bag_complete_valid_and_of_version_1_0(sealed: Path) -> None:
    bag = bagit.Bag(str(sealed))
    bag.validate()  # raises for anything missing, unexpected or changed
    assert bag.version_info == (1, 0)
    assert bag.encoding == "UTF-8"
    assert bag.algorithms == ["sha512"]
    assert sorted(bag.payload_files()) == sorted(f"data/{name}" for name in Sealed(sealed).names())


def test_the_library_sees_a_changed_byte_in_our_bag(sealed: Path) -> None:
    file = sealed / "data/inspection/media/side.jpg"
    file.write_bytes(b"\x01" + file.read_bytes()[1:])
    with pytest.raises(bagit.BagValidationError, match=r"side\.jpg"):
        bagit.Bag(str(sealed)).validate()


def test_the_bag_has_the_five_tag_files_and_the_tag_manifest_lists_three(sealed: Path) -> None:
    assert sorted(entry.name for entry in sealed.iterdir()) == [
        "bag-info.txt", "bagit.txt", "data", "manifest-sha512.txt", "seal.jws", "tagmanifest-sha512.txt",
    ]  # fmt: skip
    listed = read_manifest((sealed / "tagmanifest-sha512.txt").read_bytes()).digests
    assert sorted(listed) == ["bag-info.txt", "bagit.txt", "manifest-sha512.txt"]
    # RFC 8493, section 2.1.1: exactly these two lines.
    assert (sealed / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def test_the_information_names_attempt_and_tool_and_no_customer(sealed: Path) -> None:
    labels = read_info((sealed / "bag-info.txt").read_bytes())
    assert labels is not None
    files = [path for path in (sealed / "data").rglob("*") if path.is_file()]
    assert dict(labels) == {
        "Bag-Software-Agent": "shipworthy 0.1.0",
        "Bagging-Date": "2026-03-02",
        "External-Identifier": Sealed(sealed).attempt.attempt_id,
        "Payload-Oxum": f"{sum(path.stat().st_size for path in files)}.{len(files)}",
        "Unit": "KD-0412-1",
        "Attempt": "1",
        "Simulated": "yes",
    }


def test_the_record_lies_under_its_unit_and_nothing_stays_open(sealed: Path, records: Path) -> None:
    assert sealed == records / "KD-0412-1" / "attempt-001"
    assert [entry.name for entry in (records / ".open").iterdir()] == [".lock"]
    assert find_open(records) == []


def test_a_sealed_record_verifies_and_says_what_it_is(sealed: Path, trust: TrustList) -> None:
    report = verify(sealed, trust)
    attempt = Sealed(sealed).attempt
    assert report.faults == ()
    assert report.sound
    assert (report.subject, report.signer) == ("record", "Kestrel Desk, bench")
    assert (report.unit_id, report.attempt_id, report.number) == ("KD-0412-1", attempt.attempt_id, 1)
    assert report.digest == digest_of((sealed / "tagmanifest-sha512.txt").read_bytes())
    assert report.files == len(Sealed(sealed).names())


def test_a_record_is_not_sealed_without_a_key(open_attempt: Opener, records: Path) -> None:
    with open_attempt() as attempt:
        with pytest.raises(Trouble, match="without a key"):
            seal(attempt, None)
        assert find_open(records) == [attempt.attempt]


def test_a_seal_broken_off_is_made_again(open_attempt: Opener, key: SigningKey, trust: TrustList) -> None:
    with open_attempt() as attempt:
        (attempt.root / "manifest-sha512.txt").write_bytes(b"of another content\n")
        (attempt.root / ".part-00").write_bytes(b"x")
        (attempt.folder / "empty" / "inner").mkdir(parents=True)
        folder = seal(attempt, key)
    assert verify(folder, trust).faults == ()
    assert not (folder / "data" / "empty").exists()


def test_a_record_is_never_replaced(open_attempt: Opener, key: SigningKey, records: Path) -> None:
    with open_attempt() as attempt:
        (records / "KD-0412-1" / "attempt-001").mkdir(parents=True)
        with pytest.raises(Trouble, match="there is a record already"):
            seal(attempt, key)
        assert find_open(records) == [attempt.attempt]


@pytest.mark.parametrize("kind", ["link", "folder link", "pipe", "bad name", "beside"])
def test_what_a_record_cannot_hold_is_not_sealed(open_attempt: Opener, key: SigningKey, kind: str) -> None:
    with open_attempt() as attempt:
        if kind == "link":
            (attempt.folder / "log").symlink_to("/etc/hostname")
        elif kind == "folder link":
            (attempt.folder / "logs").symlink_to("/etc")
        elif kind == "pipe":
            os.mkfifo(attempt.folder / "pipe")
        elif kind == "bad name":
            (attempt.folder / "a:b").write_bytes(b"x")
        else:
            (attempt.root / "notes.txt").write_bytes(b"x")
        with pytest.raises(Trouble, match="cannot be"):
            seal(attempt, key)


def test_the_sealed_reader_reads_strictly_and_sees_a_change(sealed: Path) -> None:
    record = Sealed(sealed)
    assert record.read("attempt.json", Attempt).unit_id == "KD-0412-1"
    assert [line.event for line in record.lines("steps.jsonl", StepLine)] == [
        StepEvent.BEGAN,
        StepEvent.ENDED,
    ]
    assert record.digest == digest_of((sealed / "tagmanifest-sha512.txt").read_bytes())
    with pytest.raises(Trouble, match="holds no reading/none"):
        record.bytes("reading/none")
    (record.path("reading/reading.json")).write_bytes(b'{"invented": false}\n')
    with pytest.raises(Trouble, match="not as it was sealed"):
        record.bytes("reading/reading.json")
    with (sealed / "manifest-sha512.txt").open("ab") as manifest:
        manifest.write(b"0" * 128 + b"  data/more\n")
    with pytest.raises(Trouble, match="not as it was sealed"):
        Sealed(sealed)


def test_an_open_attempt_is_no_sealed_record(open_attempt: Opener) -> None:
    with open_attempt() as attempt, pytest.raises(Trouble, match="not a sealed record"):
        Sealed(attempt.root)


def test_the_example_of_the_reference_data_has_our_line_form(reference: Path) -> None:
    vectors = json.loads((reference / "check-values" / "evidence-vectors.json").read_text())
    rows = [line.split("  ", 1) for line in vectors["bagit_example"]["manifest_sha256"]]
    lines = write_manifest((path, digest * 2) for digest, path in rows).decode().splitlines()
    assert lines == [f"{digest * 2}  {path}" for digest, path in rows]


@given(
    st.dictionaries(st.text(min_size=1).filter(str.strip), st.binary(min_size=64, max_size=64), max_size=8)
)
def test_a_list_reads_back_as_it_was_written_whatever_the_names(rows: dict[str, bytes]) -> None:
    # RFC 8493, section 2.1.3: CR, LF and % in names are percent-encoded.
    digests = {path: digest.hex() for path, digest in rows.items()}
    read = read_manifest(write_manifest(digests.items()))
    assert (dict(read.digests), read.malformed, read.doubled) == (digests, (), ())


@given(st.binary(max_size=400))
def test_no_bytes_make_the_readers_of_tag_files_fail(data: bytes) -> None:
    manifest = read_manifest(data)
    lines = data.count(b"\n") + (not data.endswith(b"\n") and data != b"")
    assert len(manifest.digests) + len(manifest.malformed) + len(manifest.doubled) == lines
    assert read_info(data) is None or data.endswith(b"\n") or data == b""


NAMES = st.lists(
    st.from_regex(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,6}[A-Za-z0-9_]", fullmatch=True), min_size=1, max_size=4
).map("/".join)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(names=st.lists(NAMES, max_size=8))
def test_whatever_may_be_stored_is_sealed_and_verifies(
    open_attempt: Opener, key: SigningKey, trust: TrustList, names: list[str]
) -> None:
    with open_attempt() as attempt:
        stored = set()
        for name in names:
            try:
                attempt.write(name, name.encode())
            except Trouble:
                continue  # a device's name, a collision, or a file where a folder is wanted
            stored.add(name)
        folder = seal(attempt, key)
    assert verify(folder, trust).faults == ()
    assert set(Sealed(folder).names()) == stored | {"attempt.json"}


SEALER = """
import sys
from pathlib import Path
from shipworthy.model.attempt import StepEvent, StepName
from shipworthy.model.reading import Tool
from shipworthy.model.time import SystemClock
from shipworthy.record.attempt import open_new
from shipworthy.record.bag import seal
from shipworthy.record.keys import load_key

records, key = Path(sys.argv[1]), load_key(Path(sys.argv[2]))
for n in range(10**6):
    attempt = open_new(records, unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
                       simulated=True, tool=Tool(name="shipworthy", version="0.1.0"), clock=SystemClock())
    number = attempt.attempt.number
    attempt.step(StepName.BURN_IN, StepEvent.BEGAN)
    for line in range(20):
        attempt.append("burn-in/log-001.jsonl", b"%d" % line)
        print("line", number, line, flush=True)
    for name in range(5):
        attempt.keep(f"reading/raw/{name}.bin", bytes(3000))
    attempt.step(StepName.BURN_IN, StepEvent.ENDED)
    print("ended", number, 0, flush=True)
    seal(attempt, key)
    print("sealed", number, 0, flush=True)
"""


def run_until_killed(records: Path, key_file: Path, after_s: float) -> list[tuple[str, int, int]]:
    """Let a process seal one attempt after another, kill it, and return what it said it had done."""
    with subprocess.Popen(
        [sys.executable, "-c", SEALER, str(records), str(key_file)], stdout=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        said = [child.stdout.readline()]
        time.sleep(after_s)
        child.send_signal(signal.SIGKILL)
        said += [line for line in child.stdout.read().split(b"\n") if line]
    rows = [line.decode().split() for line in said]
    return [(row[0], int(row[1]), int(row[2])) for row in rows if len(row) == 3]


@pytest.mark.slow
def test_a_kill_at_any_moment_leaves_open_attempts_that_resume_or_sealed_valid_bags(
    records: Path, tmp_path: Path, trust: TrustList
) -> None:
    make_key(tmp_path / "k", name="Kestrel Desk, bench")
    key = load_key(tmp_path / "k")
    trust = TrustList().add(key.public)
    moments = random.Random("1/kills while sealing")
    told: dict[int, list[int]] = {}
    for _ in range(int(os.environ.get("SHIPWORTHY_KILLS", "10"))):
        rows = run_until_killed(records, tmp_path / "k", moments.uniform(0.0, 0.12))
        for what, number, line in rows:
            lines = told.setdefault(number, [])
            lines += [line] if what == "line" else []
            folder = records / "KD-0412-1" / f"attempt-{number:03d}"
            assert what != "sealed" or verify(folder, trust).faults == ()
        for left_open in find_open(records):
            with take_up(records, left_open.attempt_id, PretendClock()) as attempt:
                attempt.step(StepName.BURN_IN, StepEvent.STOPPED)
                seal(attempt, key)
    bags = sorted((records / "KD-0412-1").iterdir())
    assert [bag.name for bag in bags] == [f"attempt-{number:03d}" for number in range(1, len(bags) + 1)]
    assert len(bags) >= max(told)
    for number, bag in enumerate(bags, 1):
        assert verify(bag, trust).faults == ()
        log = bag / "data" / "burn-in" / "log-001.jsonl"
        kept = [int(line) for line in log.read_bytes().split(b"\n")[:-1]] if log.exists() else []
        assert kept[: len(told.get(number, []))] == told.get(number, [])  # none lost, none doubled
        assert kept == list(range(len(kept)))


DIES_AT_EACH_MOMENT = """
import os, signal, sys
from pathlib import Path
from shipworthy.model.attempt import StepEvent, StepName
from shipworthy.model.reading import Tool
from shipworthy.model.time import SystemClock
from shipworthy.record.attempt import open_new
from shipworthy.record.bag import seal
from shipworthy.record.keys import load_key, sign_detached

key = load_key(Path(sys.argv[2]))
sign_detached(b"", key)  # what is imported on first use, is imported now


def job(records):
    attempt = open_new(records, unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
                       simulated=True, tool=Tool(name="shipworthy", version="0.1.0"), clock=SystemClock())
    attempt.step(StepName.READING, StepEvent.BEGAN)
    attempt.keep("reading/raw/a.bin", bytes(3000))
    attempt.write("reading/reading.json", b"{}")
    attempt.step(StepName.READING, StepEvent.ENDED)
    seal(attempt, key)


def die_at(moment):
    seen = 0
    def count(event, _):
        nonlocal seen
        if event != "os.kill" and (event == "open" or event.startswith(("os.", "fcntl.", "ctypes.dl"))):
            seen += 1
            if seen > moment:
                os.kill(os.getpid(), signal.SIGKILL)
    sys.addaudithook(count)


for moment in range(10_000):
    child = os.fork()
    if child == 0:
        die_at(moment)
        job(Path(sys.argv[1]) / str(moment))
        os._exit(0)
    status = os.waitpid(child, 0)[1]
    if status == 0:
        print(moment, flush=True)
        break
    if not os.WIFSIGNALED(status) or os.WTERMSIG(status) != signal.SIGKILL:
        sys.exit("the child ended by itself")
"""


def test_a_kill_before_each_single_touch_of_the_disk_leaves_nothing_half_done(
    tmp_path: Path, open_attempt: Opener
) -> None:
    make_key(tmp_path / "k", name="Kestrel Desk, bench")
    key = load_key(tmp_path / "k")
    trust = TrustList().add(key.public)
    ran = subprocess.run(
        [sys.executable, "-c", DIES_AT_EACH_MOMENT, str(tmp_path / "each"), str(tmp_path / "k")],
        capture_output=True, check=True, text=True,
    )  # fmt: skip
    outcomes = set()
    for moment in range(int(ran.stdout)):
        records = tmp_path / "each" / str(moment)
        outcomes.add(outcome_of(records, key, trust))
        with open_attempt(within=records) as attempt:
            assert attempt.attempt.number == len(list(records.glob("KD-0412-1/*"))) + 1
            assert {entry.name for entry in (records / ".open").iterdir()} == {
                ".lock", attempt.attempt.attempt_id, f"{attempt.attempt.attempt_id}.lock",
            }  # fmt: skip
    assert outcomes == {"nothing", "open", "sealed"}


def outcome_of(records: Path, key: SigningKey, trust: TrustList) -> str:
    """Check what a kill has left, and say which of the three it is."""
    sealed = list(records.glob("KD-0412-1/*"))
    left_open = find_open(records)
    assert len(sealed) + len(left_open) <= 1
    for attempt in left_open:
        with take_up(records, attempt.attempt_id, PretendClock()) as taken:
            taken.step(StepName.READING, StepEvent.BEGAN)
            sealed = [seal(taken, key)]
    for bag in sealed:
        assert verify(bag, trust).faults == ()
    if left_open:
        return "open"
    return "sealed" if sealed else "nothing"
