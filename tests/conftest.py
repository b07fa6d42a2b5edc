"""What all tests share: the reference data beside the checkout, which a lone clone does not have."""

from __future__ import annotations

from pathlib import Path

import pytest

REFERENCE = Path(__file__).resolve().parent.parent.parent / "shared" / "reference"


@pytest.fixture(scope="session")
def reference() -> Path:
    """The folder of reference data; tests that need it skip where it is not there."""
    if not REFERENCE.is_dir():
        pytest.skip("the reference data is not beside this checkout (../shared/reference)")
    return REFERENCE
