"""The least that a drive of its kind reads: by the words in which readings tell kinds."""

from __future__ import annotations

import pytest

from shipworthy.analysis.rates import FLOORS_BYTES_S
from shipworthy.machine.parse.ata.pages import identify_facts
from shipworthy.model.words import Outcome
from tests.analysis.heated import Heated
from tests.analysis.logs import DRIVE

ROTATION_WORD = 217  # of IDENTIFY DEVICE (ACS-3, 7.12.7.86): 1 is solid state, above 0400h the rate a minute


def technology(rotation: int) -> str:
    """Return the kind as the reading of an ATA drive tells it."""
    page = bytearray(512)
    page[2 * ROTATION_WORD : 2 * ROTATION_WORD + 2] = rotation.to_bytes(2, "little")
    return next(str(said.value) for said in identify_facts(bytes(page)) if said.name == "technology")


@pytest.mark.parametrize("kind", ["NVMe", technology(1), technology(7200)])
def test_every_kind_that_a_reading_tells_has_its_floor(kind: str) -> None:
    for share, found in ((0.9, True), (1.1, False)):
        rate = share * FLOORS_BYTES_S[kind]
        analysis = Heated(rate=lambda t_s, rate=rate: rate, technology=kind).analysis()  # type: ignore[misc]
        slow = [f for f in analysis.findings if f.code == "storage.slow"]
        assert [(f.part, f.outcome) for f in slow] == ([(DRIVE, Outcome.DIFFERS)] if found else [])
