"""What a proof says, beside whether it is genuine."""

from __future__ import annotations

from pathlib import Path

from shipworthy.model.policy import Decision
from shipworthy.record.sealed import Sealed


def verdict_in(folder: Path) -> str:
    """Return the last verdict of a sealed record; of a pack, where it stands."""
    if not (folder / "data").is_dir():
        return "see the report"
    sealed = Sealed(folder)
    name = max(name for name in sealed.names() if name.startswith("decisions/"))
    decision = sealed.read(name, Decision)
    return decision.verdict.value + (" (a simulated unit)" if decision.simulated else "")
