"""How `burn-in` ends on the command line: what is said of it, once and each time it is asked for again."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.cli.show_findings import findings
from shipworthy.model.base import digest_of, encode, read_record
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Start, Stop
from shipworthy.model.words import Aspect, Category, Ending, EvidenceKind, Outcome
from tests.cli.calling import Call, caller


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


@pytest.fixture
def ended(call: Call, tmp_path: Path) -> Path:
    """A unit half's folder whose burn-in was completed."""
    folder = tmp_path / "look"
    assert call("read", "--into", folder).code == 0
    reading = read_record(folder / "reading" / "reading.json", Reading)
    start = Start(
        run_id="run",
        segment=1,
        nonce=None,
        at=reading.taken,
        seed=7,
        tool=reading.tool,
        plan_digest=digest_of(b"plan"),
        configuration=reading.configuration,
        simulated=False,
    )
    lines = (start, Stop(at=reading.taken, t_s=1.0, ending=Ending.COMPLETED))
    (folder / "burn-in").mkdir()
    (folder / "burn-in" / "log-001.jsonl").write_bytes(b"".join(encode(line) + b"\n" for line in lines))
    return folder


def test_one_that_has_ended_is_not_started_and_says_so(call: Call, ended: Path) -> None:
    done = call("burn-in", "--into", ended)
    assert done.code == 0
    assert f"Nothing was started: the burn-in in {ended} had come to its end." in done.err
    assert "smoke alarm" not in done.err, "what is not started needs no caution"
    assert "no verdict counts it" in done.out and "take" not in done.out
    assert "had come to its end" in call("burn-in", "--into", ended).err


def test_a_finding_says_its_outcome_where_and_what_apart(capsys: pytest.CaptureFixture[str]) -> None:
    found = Finding(
        code="fans.no-sensor",
        outcome=Outcome.CANNOT_TELL,
        category=Category.UNIT,
        aspect=Aspect.FANS,
        by=EvidenceKind.BURN_IN,
    )
    findings([found])
    first, second, _, last = capsys.readouterr().out.splitlines()
    assert first == "cannot tell  the unit: No source here shows the speed of a fan."
    assert second.startswith("             -> Look at every fan")
    assert last == "1 finding: 1 cannot be told."
