"""Sealed records, made once for all tests of the room."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from shipworthy.record.keys import SigningKey
from tests.handover import records


@pytest.fixture(scope="session")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    return records.make_signing_key(tmp_path_factory.mktemp("key"))


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory, key: SigningKey) -> dict[str, Path]:
    """Folders of sealed records, by what is special about them."""
    cases = {
        "released": records.released(),
        "held": records.held(),
        "simulated": replace(records.released(), simulated=True),
        "hostile": records.hostile(),
        "wrong result": replace(records.released(), wrong_results=1),
        "no burn-in": replace(records.held(), burn_in=False, ports=False),
        "no temperatures": replace(records.released(), temperatures=False),
        "many sensors": replace(records.released(), sensors=11),
        "conceded": replace(records.released(), graphics_device="0x0110", conceded_by="Odile Marsh"),
        "unknown zone": replace(records.released(), zone="Elsewhere/Nowhere", clock_synchronised=None),
    }
    return {
        name: records.make_record(tmp_path_factory.mktemp("record"), case, key)
        for name, case in cases.items()
    }
