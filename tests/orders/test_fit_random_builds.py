"""Builds drawn at random from open part records: none ends in an error, and the words stay honest."""

from __future__ import annotations

from pathlib import Path

from bench import fit as bench
from shipworthy.model.base import encode
from shipworthy.model.words import Outcome


def test_two_hundred_builds_pass_without_an_error(reference: Path) -> None:
    parts = bench.parts_in(reference / "names")
    found = list(bench.builds(parts, 200, 5))
    assert len(found) == 200
    words = {finding.outcome for _, fit in found for finding in fit.findings}
    assert words == set(Outcome)
    for _, fit in found:
        assert encode(fit)
        for finding in fit.findings:
            assert not finding.missing or finding.outcome is Outcome.CANNOT_TELL


def test_the_same_seed_draws_the_same_builds(reference: Path) -> None:
    parts = bench.parts_in(reference / "names")
    one, other = ([encode(fit) for _, fit in bench.builds(parts, 12, 7)] for _ in range(2))
    assert one == other
