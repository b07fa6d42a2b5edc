"""Seeds: every random stream is made of the run's seed and a purpose."""

from __future__ import annotations

import hashlib


def seed_of(purpose: str) -> int:
    """Return 64 bits that depend on the whole purpose, the same on every machine."""
    return int.from_bytes(hashlib.sha512(purpose.encode()).digest()[:8], "little")
