"""The live reading, in a real kernel on a machine whose parts these tests chose."""

from __future__ import annotations

import pytest

from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind
from tests.bench import parts
from tests.bench.conftest import Bench

pytestmark = [pytest.mark.bench, pytest.mark.slow]


def drive(reading: Reading, serial: str):
    return next(part for part in reading.of_kind(PartKind.STORAGE) if part.text("serial") == serial)


def test_it_ran(bench: Bench) -> None:
    print(bench.said)
    reading = bench.reading("root")
    for part in reading.parts:
        print(part.kind, part.place, {f.name: (f.value if f.value is not None else f.absent) for f in part.facts})
    for row in reading.sources:
        print(row.id, row.outcome, row.error)
    assert drive(reading, parts.NVME.serial)
