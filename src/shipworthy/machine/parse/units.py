"""Sizes as the kernel and its tools write them: a number and a letter, by powers of 1024."""

from __future__ import annotations

KIB, MIB, GIB = 1 << 10, 1 << 20, 1 << 30

BYTES_IN = {"": 1, "B": 1, "K": KIB, "M": MIB, "G": GIB, "T": 1 << 40, "P": 1 << 50, "E": 1 << 60}
"""By the first letter of a unit, in capitals: `32K`, `16 GB` and `1.5 MiB` are all counted so."""
