"""No raw key stands in the report's table of limits where we have words for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.handover.kept import Kept, keep
from shipworthy.handover.limits import limits_table, quantity_words
from shipworthy.handover.view import Table
from shipworthy.messages import known_codes
from shipworthy.record.sealed import Sealed
from shipworthy.verdict.policies import LIMIT_UNITS


@pytest.fixture
def kept(made: dict[str, Path]) -> Kept:
    return keep(Sealed(made["released"]))


def test_every_limit_that_a_policy_can_set_has_words() -> None:
    codes = {f"handover.quantity.{key.replace('/', '.').replace('_', '-')}" for key in LIMIT_UNITS}
    assert codes <= known_codes()


def test_the_table_names_drives_and_sensors_in_words(kept: Kept) -> None:
    (table,) = limits_table(kept)
    assert isinstance(table, Table)
    named = [row[0] for row in table.rows]
    assert not [name for name in named if name.startswith(("storage/", "temperature/"))]
    assert "hours of a new drive under power" in named
    assert any("Composite" in name and "pci:0000:04:00.0/nvme-ns-1 temp1" in name for name in named)


def test_a_quantity_without_words_stays_as_it_is(kept: Kept) -> None:
    assert quantity_words(kept, "brightness") == "brightness"
