"""A load of another package, as a user would install one: written to a folder that Python finds."""

from __future__ import annotations

from pathlib import Path

import pytest

MODULE = '''
"""Loads that misbehave in one way each."""
import os, signal, time
from shipworthy.model.base import Trouble
from shipworthy.stress.loads.matrix import MatrixLoad, MatrixWork


class FlippingWork(MatrixWork):
    """Every third product loses one bit between computing and checking: the data, not the checker."""
    products = 0

    def multiply(self):
        super().multiply()
        self.products += 1
        if self.products % 3 == 0:
            self.c.view("u8")[11, 7] ^= 1 << 51


class Flipping(MatrixLoad):
    name = "flipping"
    def open(self, job):
        return FlippingWork(job)


class Dying(MatrixLoad):
    name = "dying"
    def open(self, job):
        os.kill(os.getpid(), signal.SIGSEGV)


class Refusing(MatrixLoad):
    name = "refusing"
    def open(self, job):
        raise Trouble("there is nothing to work on", "the bench", "Bring something.")


class Crashing(MatrixLoad):
    name = "crashing"
    def open(self, job):
        raise KeyError("a fault of its own")


class DeafWork(MatrixWork):
    """Does not hear SIGTERM, like a process at work deep inside a library."""
    def block(self):
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        time.sleep(3600)


class Deaf(MatrixLoad):
    name = "deaf"
    def open(self, job):
        return DeafWork(job)


class OtherProtocol(MatrixLoad):
    name = "newer"
    protocol = 3


FLIPPING, DYING, REFUSING, CRASHING, DEAF, NEWER = (
    Flipping(), Dying(), Refusing(), Crashing(), Deaf(), OtherProtocol()
)
'''
NAMES = ("flipping", "dying", "refusing", "crashing", "deaf", "newer")


def install_outside_loads(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put the package where this process and the processes it starts will find it."""
    info = folder / "kestrel_loads-1.2.dist-info"
    info.mkdir(parents=True)
    (folder / "kestrel_loads.py").write_text(MODULE, "utf-8")
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: kestrel-loads\nVersion: 1.2\n", "utf-8")
    rows = "".join(f"{name} = kestrel_loads:{name.upper()}\n" for name in NAMES)
    (info / "entry_points.txt").write_text(f"[shipworthy.loads]\n{rows}", "utf-8")
    (info / "RECORD").write_text("kestrel_loads.py,,\n", "utf-8")
    monkeypatch.syspath_prepend(str(folder))
    monkeypatch.setenv("PYTHONPATH", str(folder))
