"""The unit half needs no key, no order and no database; the nonce binds it to the bench half's attempt."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipworthy.model.base import read_record
from shipworthy.model.policy import Decision
from shipworthy.model.reading import Reading
from tests.jobs.live import Shop, open_shop

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return open_shop(tmp_path_factory.mktemp("shop"))


def _reasons(record: Path) -> set[str]:
    return {r.code for r in read_record(record / "data/decisions/001.json", Decision).reasons}


def test_a_folder_from_the_unit_half_becomes_a_sealed_record(shop: Shop) -> None:
    begun = json.loads(shop.call("begin", "order.toml", "--json").stdout)
    shop.call("read", "--into", "stick", "--nonce", begun["nonce"])
    shop.call("burn-in", "--into", "stick", "--plan", "tiny.toml")
    shop.call("take", "stick")
    done = shop.call("run", "order.toml", "--seal-unanswered", "--json", check=1)
    record = shop.folder / json.loads(done.stdout)["record"]
    reading = read_record(record / "data/reading/reading.json", Reading)
    assert reading.nonce == begun["nonce"]
    for name in ("reading/reading.json", "reading-after/reading.json", "burn-in/log-001.jsonl"):
        assert (record / "data" / name).read_bytes() == (shop.folder / "stick" / name).read_bytes()
    about_the_run = {code for code in _reasons(record) if code.startswith(("binding.", "burn-in."))}
    assert about_the_run == {"burn-in.too-short"}  # a plan of seconds is too short for the shipped policy
    shop.call("verify", str(record))


def test_a_unit_half_made_without_a_nonce_is_refused_and_nothing_is_lost(shop: Shop) -> None:
    shop.call("read", "--into", "no-nonce")
    shop.call("begin", "order.toml", "--records", "strict")
    assert "carries no nonce" in shop.call("take", "no-nonce", "--records", "strict", check=2).stderr
    assert (shop.folder / "no-nonce/reading/reading.json").exists()


def test_a_raw_file_that_a_stick_has_spoiled_is_named(shop: Shop) -> None:
    begun = json.loads(shop.call("begin", "order.toml", "--records", "spoiled", "--json").stdout)
    shop.call("read", "--into", "bad-stick", "--nonce", begun["nonce"])
    raw = next(p for p in (shop.folder / "bad-stick/reading/raw").iterdir() if p.suffix != ".jsonl")
    raw.write_bytes(raw.read_bytes() + b"x")
    assert raw.name in shop.call("take", "bad-stick", "--records", "spoiled", check=2).stderr


def test_a_burn_in_without_a_reading_is_refused(shop: Shop) -> None:
    assert "no reading" in shop.call("burn-in", "--into", "nothing-here", check=2).stderr


def test_the_unit_half_makes_no_key(shop: Shop, tmp_path: Path) -> None:
    import subprocess

    environment = {**shop.environment, "SHIPWORTHY_HOME": str(tmp_path / "home")}
    words = shop.command("read", "--into", str(tmp_path / "unit"))
    subprocess.run(words, env=environment, check=True, capture_output=True, timeout=60)
    assert not (tmp_path / "home").exists()
