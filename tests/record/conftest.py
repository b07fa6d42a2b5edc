"""A shop's records, its key and its trust list, all invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.model.attempt import StepEvent, StepName
from shipworthy.model.reading import Tool
from shipworthy.model.time import PretendClock
from shipworthy.record.attempt import OpenAttempt, open_new
from shipworthy.record.bag import seal
from shipworthy.record.keys import SigningKey, TrustList, load_key, make_key

Opener = Callable[..., OpenAttempt]


@pytest.fixture
def records(tmp_path: Path) -> Path:
    return tmp_path / "records"


@pytest.fixture
def clock() -> PretendClock:
    return PretendClock()


@pytest.fixture(scope="session")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    path = tmp_path_factory.mktemp("keys") / "bench.jwk"
    make_key(path, name="Kestrel Desk, bench")
    return load_key(path)


@pytest.fixture(scope="session")
def trust(key: SigningKey) -> TrustList:
    return TrustList().add(key.public)


@pytest.fixture
def open_attempt(records: Path, clock: PretendClock) -> Opener:
    def opened(unit_id: str = "KD-0412-1", within: Path = records) -> OpenAttempt:
        return open_new(
            within,
            unit_id=unit_id,
            order_id="KD-0412",
            nonce="n-7f3a",
            zone="Europe/Lisbon",
            simulated=True,
            tool=Tool(name="shipworthy", version="0.1.0"),
            clock=clock,
        )

    return opened


@pytest.fixture
def sealed(open_attempt: Opener, key: SigningKey) -> Path:
    """A small sealed record."""
    with open_attempt() as attempt:
        attempt.step(StepName.READING, StepEvent.BEGAN)
        attempt.keep("reading/raw/proc-cpuinfo.txt", b"model name : Tarn 8\n" * 2000)
        attempt.write("reading/reading.json", b'{"invented": true}\n')
        attempt.append("burn-in/log-001.jsonl", b'{"row": 1}')
        attempt.write("inspection/media/side.jpg", bytes(range(256)) * 40)
        attempt.step(StepName.READING, StepEvent.ENDED, wrote=("reading/reading.json",))
        return seal(attempt, key)
