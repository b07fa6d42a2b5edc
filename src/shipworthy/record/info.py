"""`bagit.txt` and `bag-info.txt` (RFC 8493, sections 2.1.1 and 2.2.2). No customer data goes here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from shipworthy.model.attempt import Attempt

DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def write_info(attempt: Attempt, *, sealed_on: date, size_bytes: int, files: int) -> bytes:
    """Return `bag-info.txt`: reserved labels of the RFC, then ours for unit, number and pretend units."""
    rows = [
        ("Bag-Software-Agent", f"{attempt.tool.name} {attempt.tool.version}"),
        ("Bagging-Date", sealed_on.isoformat()),
        ("External-Identifier", attempt.attempt_id),
        ("Payload-Oxum", f"{size_bytes}.{files}"),
        *identity(attempt).items(),
    ]
    return "".join(f"{label}: {_one_line(value)}\n" for label, value in rows).encode("utf-8")


def identity(attempt: Attempt) -> dict[str, str]:
    """Return the labels that say which attempt of which unit this is."""
    return {
        "Unit": attempt.unit_id,
        "Attempt": str(attempt.number),
        "Simulated": "yes" if attempt.simulated else "no",
    }


def read_info(data: bytes) -> Mapping[str, str] | None:
    """Return the labels of `bag-info.txt`; None if it is not in the form that we write. Never raises."""
    try:
        lines = data.decode("utf-8").split("\n")
    except UnicodeDecodeError:
        return None
    rows = [line.partition(": ") for line in lines[:-1]]
    labels = {label: value for label, _, value in rows}
    well_formed = lines[-1] == "" and all(label and colon for label, colon, _ in rows)
    return labels if well_formed and len(labels) == len(rows) else None


def _one_line(text: str) -> str:
    return " ".join(text.split())
