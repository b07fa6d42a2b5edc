"""Bad input gets one clear sentence, exit code 2, and loses nothing. No traceback reaches anybody."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.jobs.live import Shop, open_shop

HEADER = 'schema = 1\norder_id = "KD-9"\nshop = "Kestrel Desk"\nunits = ["U-1"]\n'
LINE = '[[lines]]\ncategory = "memory"\ntext = "Fennec 16GB DDR5-6000"\n'

BAD_ORDERS = {
    "a wrong key": (HEADER + LINE + 'colour_of_box = "red"\n').encode(),
    "a wrong unit": (
        HEADER + LINE + 'expectations = [{ aspect = "speed", want = 6000, unit = "MegaHurtz" }]\n'
    ).encode(),
    "a negative count": (HEADER + LINE + "quantity = -2\n").encode(),
    "a million lines": (HEADER + LINE * 1_000_000).encode(),
    "not UTF-8": b"\xff\xfe" + HEADER.encode("utf-16-le"),
    "not TOML": b"= = =",
    "empty": b"",
    "no lines": HEADER.encode(),
    "two lines of one id": (HEADER + (LINE + 'line_id = "1"\n') * 2).encode(),
    "another schema version": (HEADER.replace("schema = 1", "schema = 9") + LINE).encode(),
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return open_shop(tmp_path_factory.mktemp("shop"))


def assert_one_sentence(done: subprocess.CompletedProcess[str], *mentions: str) -> None:
    """One line of complaint that says what and where, and no traceback."""
    lines = [line for line in done.stderr.splitlines() if line.startswith("shipworthy:")]
    assert len(lines) == 1, done.stderr
    assert "fault of the tool" not in lines[0]
    assert lines[0].endswith((".", ".)"))
    for mention in mentions:
        assert mention in lines[0], lines[0]


@pytest.mark.parametrize("name", BAD_ORDERS)
def test_a_bad_order_is_told_in_one_sentence(shop: Shop, name: str) -> None:
    path = shop.folder / "bad-order.toml"
    path.write_bytes(BAD_ORDERS[name])
    for verb in (("order", "check"), ("begin",)):
        done = shop.call(*verb, "bad-order.toml", check=2)
        assert_one_sentence(done, "bad-order.toml")
    assert not (shop.folder / "records").exists(), "nothing may be begun for a bad order"


def test_an_order_that_is_not_there_is_named(shop: Shop) -> None:
    assert_one_sentence(shop.call("run", "nowhere.toml", check=2), "nowhere.toml")


def test_a_pipe_in_place_of_an_order_is_refused_and_not_waited_for(shop: Shop) -> None:
    os.mkfifo(shop.folder / "pipe.toml")
    assert_one_sentence(shop.call("order", "check", "pipe.toml", check=2), "pipe.toml")


def test_a_missing_key_is_found_before_the_work(shop: Shop) -> None:
    done = shop.call("run", "order.toml", "--key", "no-key.json", "--records", "keyless", check=2)
    assert_one_sentence(done, "no-key.json")
    assert not (shop.folder / "keyless").exists()


def test_an_unknown_plan_is_named(shop: Shop) -> None:
    assert_one_sentence(shop.call("run", "order.toml", "--plan", "no-such-plan", check=2), "no-such-plan")


def test_a_reading_is_never_written_over(shop: Shop) -> None:
    before = (shop.folder / "first-look/reading/reading.json").read_bytes()
    assert_one_sentence(shop.call("read", "--into", "first-look", check=2), "first-look")
    assert (shop.folder / "first-look/reading/reading.json").read_bytes() == before


def test_a_recorded_machine_cannot_carry_a_nonce(shop: Shop) -> None:
    (shop.folder / "recorded/proc").mkdir(parents=True)
    done = shop.call("read", "--from", "recorded", "--into", "from-files", "--nonce", "n", check=2)
    assert_one_sentence(done, "nonce")


def test_two_processes_on_one_attempt_are_refused(shop: Shop) -> None:
    from shipworthy.model.time import SystemClock
    from shipworthy.record.attempt import find_open, take_up

    shop.call("begin", "order.toml", "--records", "shared")
    records = shop.folder / "shared"
    (attempt,) = find_open(records, "UNIT-1")
    with take_up(records, attempt.attempt_id, SystemClock()):
        done = shop.call("run", "order.toml", "--records", "shared", check=2)
        assert_one_sentence(done, str(os.getpid()))
    assert len(find_open(records, "UNIT-1")) == 1


def test_an_open_attempt_is_not_run_with_another_order_text(shop: Shop) -> None:
    shop.call("begin", "order.toml", "--records", "other-text")
    changed = (shop.folder / "order.toml").read_text("utf-8") + "\n# one more word\n"
    (shop.folder / "order-changed.toml").write_text(changed, "utf-8")
    done = shop.call("run", "order-changed.toml", "--records", "other-text", check=2)
    assert_one_sentence(done, "another order text")


def test_a_folder_of_another_attempt_is_not_taken_in(shop: Shop) -> None:
    shop.call("begin", "order.toml", "--records", "takes")
    done = shop.call("take", "first-look", "--records", "takes", check=2)
    assert_one_sentence(done, "nonce")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 200 KiB; needs the right to mount."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=200k", "none", str(place)], capture_output=True
    )
    if mounted.returncode != 0:
        pytest.skip("mounting a small tmpfs needs root's rights")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_is_told_and_nothing_before_is_lost(shop: Shop, small_disk: Path) -> None:
    (small_disk / "filler").write_bytes(b"x" * 150_000)
    done = shop.call("run", "order.toml", "--plan", "tiny.toml", "--records", str(small_disk / "r"), check=2)
    assert_one_sentence(done, "disk is full")
    for record in small_disk.rglob("*.json"):
        assert record.read_bytes().endswith(b"\n")


def test_a_read_only_disk_is_told(shop: Shop, small_disk: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    done = shop.call("begin", "order.toml", "--records", str(small_disk / "r"), check=2)
    assert_one_sentence(done, "read-only")


@pytest.fixture(scope="module")
def sealed(shop: Shop) -> Path:
    done = shop.call(*shop.run_words("sealed"), check=None)
    assert done.returncode in (0, 1), done.stderr
    return shop.folder / "sealed/UNIT-1/attempt-001"


def _byte_changed(record: Path) -> None:
    path = record / "data/comparison.json"
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def _file_added(record: Path) -> None:
    (record / "data/note.txt").write_text("all is well")


def _file_gone(record: Path) -> None:
    (record / "data/analysis.json").unlink()


def _leaves_the_folder(record: Path) -> None:
    manifest = record / "manifest-sha512.txt"
    manifest.write_text(manifest.read_text() + "0" * 128 + "  data/../../../secret\n")


def _link(record: Path) -> None:
    path = record / "data/attempt.json"
    copy = record.parent / "attempt-copy.json"
    copy.write_bytes(path.read_bytes())
    path.unlink()
    path.symlink_to(copy)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("spoil", "kind", "names"),
    [
        (_byte_changed, "changed", "data/comparison.json"),
        (_file_added, "unexpected", "data/note.txt"),
        (_file_gone, "missing", "data/analysis.json"),
        (_leaves_the_folder, "unsafe path", "secret"),
        (_link, "link", "data/attempt.json"),
    ],
)
def test_a_spoiled_record_is_told_by_kind_and_gives_no_pack(
    shop: Shop, sealed: Path, spoil: object, kind: str, names: str
) -> None:
    assert callable(spoil)
    copy = shop.folder / "spoiled/UNIT-1/attempt-001"
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(sealed, copy)
    spoil(copy)
    told = shop.call("verify", str(copy), check=1).stdout
    assert any(line.startswith(kind) and names in line for line in told.splitlines()), told
    done = shop.call("pack", str(copy), "--packs", "spoiled-packs", check=2)
    assert_one_sentence(done, "the record has")
    assert not (shop.folder / "spoiled-packs").exists()


@pytest.mark.slow
def test_a_good_record_is_valid_and_its_digest_tells_another_attempt(shop: Shop, sealed: Path) -> None:
    told = shop.call("verify", str(sealed)).stdout
    assert "sealed by Test Bench" in told
    digest = told.splitlines()[-1].removeprefix("Digest: ")
    shop.call("verify", str(sealed), "--expect", digest)
    other = digest.replace("/1/", "/2/")
    assert "other attempt" in shop.call("verify", str(sealed), "--expect", other, check=1).stdout
