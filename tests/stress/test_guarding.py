"""The engine's end of the guard: when it counts as lost."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.model.plan import LoadRequest
from shipworthy.stress import guarding
from shipworthy.stress.guarding import GuardHandle, GuardLost
from shipworthy.stress.protocol import Job
from shipworthy.stress.wire import Begin, Child

SLOW_START_S = 1.5


@pytest.fixture
def slow_to_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """An interpreter that takes longer to start than a guard at work may be silent."""
    slow = tmp_path / "python"
    slow.write_text(f'#!/bin/sh\nsleep {SLOW_START_S}\nexec "{sys.executable}" "$@"\n')
    slow.chmod(0o755)
    monkeypatch.setattr("shipworthy.stress.guarding.sys.executable", str(slow))
    monkeypatch.setattr(guarding, "LOST_S", SLOW_START_S / 3)
    yield


def hear_until(guard: GuardHandle, until_s: float) -> None:
    while time.monotonic() < until_s:
        guard.next(0.05)


@pytest.mark.usefixtures("slow_to_start")
def test_a_guard_that_has_not_started_yet_is_not_lost() -> None:
    guard = GuardHandle()
    try:
        hear_until(guard, time.monotonic() + SLOW_START_S)  # three times as long as a silence may last
    finally:
        guard.end()


@pytest.mark.usefixtures("slow_to_start")
def test_a_guard_that_never_starts_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guarding, "START_S", SLOW_START_S / 2)
    guard = GuardHandle()
    try:
        with pytest.raises(GuardLost, match="no word"):
            hear_until(guard, time.monotonic() + SLOW_START_S)
    finally:
        guard.kill()
        guard.end()


def test_a_guard_that_takes_no_orders_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a machine of many cores is told of a step is more than a pipe holds."""
    monkeypatch.setattr(guarding, "LOST_S", 1.0)
    job = Job(
        step="s",
        load="matrix",
        target="cpu:0",
        request=LoadRequest(load="matrix"),
        seed=1,
        work_folder="/",
        memory_reserve_bytes=0,
        disk_reserve_bytes=0,
    )
    begin = Begin(step="s", seconds=1, children=(Child(entry="a:b", job=job),) * 400)
    guard = GuardHandle()
    signal.signal(signal.SIGALRM, lambda *_: pytest.fail("it waited for ever"))
    try:
        until_s = time.monotonic() + 20
        while not guard._spoke and time.monotonic() < until_s:
            guard.next(0.05)
        os.kill(guard.pid, signal.SIGSTOP)
        signal.alarm(10)
        with pytest.raises(GuardLost, match="no order was taken"):
            guard.order(begin)
    finally:
        signal.alarm(0)
        guard.kill()
        guard.end()
