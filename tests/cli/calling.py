"""Call the command line in this process, as `main` is called, and take what it says and how it ends."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from shipworthy.cli.main import main

Call = Callable[..., "Done"]


@dataclass(frozen=True)
class Done:
    """How a call ended."""

    code: int
    out: str
    err: str

    def complaint(self) -> str:
        """Return the one sentence of a refusal; no other is said, and none of it is a traceback."""
        assert self.code == 2, (self.code, self.out, self.err)
        (line,) = self.err.strip().splitlines()
        assert "Traceback" not in line and "fault of the tool" not in line
        assert line.startswith("shipworthy: ") and line.endswith((".", ".)"))
        assert line.isprintable()
        return line.removeprefix("shipworthy: ")


def caller(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    def call(*words: object) -> Done:
        monkeypatch.setattr(sys, "argv", ["shipworthy", *map(str, words)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main()
        told = capsys.readouterr()
        code = ended.value.code
        assert isinstance(code, int)
        return Done(code, told.out, told.err)

    return call
