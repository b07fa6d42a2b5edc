"""A small burn-in to run."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.model.base import digest_of
from shipworthy.model.plan import Plan
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.runlog import LogLine
from shipworthy.model.time import SystemClock
from shipworthy.stress.engine import run_plan
from shipworthy.stress.protocol import Ground
from tests.stress.small_burn_ins import Run


@pytest.fixture
def bare_root(tmp_path: Path) -> Root:
    """A machine without a single sensor."""
    folder = tmp_path / "machine"
    (folder / "proc").mkdir(parents=True)
    return Root(folder)


@pytest.fixture
def work_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "work"
    folder.mkdir()
    return folder


@pytest.fixture
def burn_in(bare_root: Root, work_folder: Path) -> Callable[..., Run]:
    """Run a plan; `on_line` sees every line as it is written, with the event that stops the run."""

    def go(
        plan: Plan,
        *,
        root: Root = bare_root,
        on_line: Callable[[LogLine, threading.Event], None] | None = None,
        outside_loads: tuple[str, ...] = (),
        first_step: int = 0,
    ) -> Run:
        run, stop, clock = Run(), threading.Event(), SystemClock()

        def write(line: LogLine) -> None:
            run.lines.append(line)
            if on_line:
                on_line(line, stop)

        run.ending = run_plan(
            plan,
            root=root,
            clock=clock,
            nonce="n-1",
            segment=1,
            first_step=first_step,
            seed=5,
            run_id="run-1",
            tool=Tool(name="test", version="0"),
            write=write,
            show=run.shown.append,
            ground=Ground(work_folders=(str(work_folder),)),
            read_configuration=lambda: Configuration(items=(), digest=digest_of(b"")),
            stop=stop,
            outside_loads=outside_loads,
        )
        return run

    return go
