"""What several measurements share: where the reference data lies, what is in it, and how sure a share is."""

from __future__ import annotations

import sys
from pathlib import Path

from shipworthy.orders.catalogue.open_records import KINDS

REFERENCE = Path(__file__).resolve().parents[2] / "shared" / "reference"
NAMES = REFERENCE / "names"
FILES = {name: category for name, (category, _) in KINDS.items()}
"""Of each file of the open part records: the category of what is in it."""


def need(folder: Path, *parts: str) -> None:
    """End with one line and exit code 2 where a folder lacks one of these, files or folders."""
    for part in parts:
        if not (folder / part).exists():
            print(f"{folder} has no {part}: name a folder laid out as ../shared/reference", file=sys.stderr)
            raise SystemExit(2)


def bound(hits: int, of: int) -> float | None:
    """Return the upper 95 % bound of a share (Clopper and Pearson 1934, one-sided); None of nothing."""
    from scipy.stats import beta

    if not of:
        return None
    return 1.0 if hits == of else float(beta.ppf(0.95, hits + 1, of - hits))


def rounded(share: float | None) -> float | None:
    return None if share is None else round(share, 5)
