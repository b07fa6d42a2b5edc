"""Write a JSON Schema (2020-12) for every kind of record that is stored, into `schemas/`.

`--check` changes nothing: it exits with 1, and one sentence for each fault, if a file is stale, missing
or belongs to no record. Run by `make schemas` and `make check`.
"""

from __future__ import annotations

import argparse
import inspect
import json
import sys
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.machine.listing import ListingRow
from shipworthy.model.analysis import Analysis
from shipworthy.model.attempt import Attempt, PackStatement, StepLine
from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.catalogue_used import CatalogueUsed
from shipworthy.model.findings import Comparison
from shipworthy.model.inspection import Answers, InspectionResult, Items, Observation
from shipworthy.model.known import Known
from shipworthy.model.orders import Order
from shipworthy.model.plan import Plan
from shipworthy.model.policy import Concession, Decision, Policy
from shipworthy.model.reading import RawRow, Reading
from shipworthy.model.runlog import LogLine
from shipworthy.record.keys import PublicKey, TrustList

FOLDER = Path(__file__).resolve().parent.parent / "schemas"
DIALECT = "https://json-schema.org/draft/2020-12/schema"
SUFFIX = ".schema.json"

STORED: dict[str, tuple[str, Any]] = {
    "order": (
        "An order, as received in JSON (or the same keys in TOML) and as kept with expectations",
        Order,
    ),
    "catalogue-part": ("A line of a shop's part list", CataloguePart),
    "alias": ("A line of aliases.jsonl: words learnt for a part, reviewed or undone", Alias),
    "catalogue-used": ("What of a shop's part list was used for an order, and what was asked", CatalogueUsed),
    "reading": ("A reading: what a machine says of itself at one moment", Reading),
    "raw-row": ("A line of raw/index.jsonl: one source asked", RawRow),
    "listing-row": ("A line of a raw file that holds many small files of the machine", ListingRow),
    "comparison": ("An order held against a reading", Comparison),
    "plan": ("A burn-in plan, in JSON or with the same keys in TOML", Plan),
    "run-log-line": ("A line of burn-in/log-NNN.jsonl", LogLine),
    "analysis": ("What a run log showed", Analysis),
    "items": ("The items of an inspection", Items),
    "observation": ("A line of inspection/observations.jsonl", Observation),
    "answers": ("Inspection answers prepared in a file, in JSON or with the same keys in TOML", Answers),
    "inspection-result": ("The findings that the observations give", InspectionResult),
    "known": ("What a bench knows of parts: its own gear, serials of other units, restocked parts.", Known),
    "policy": ("What a shop asks before it releases; kept as TOML with these keys", Policy),
    "decision": ("The verdict and all its reasons", Decision),
    "concession": ("What a concession's signature carries", Concession),
    "attempt": ("One numbered pass over a unit", Attempt),
    "step-line": ("A line of steps.jsonl", StepLine),
    "pack-statement": ("What pack.jws carries and signs", PackStatement),
    "public-key": ("A public key, as `key export` writes it", PublicKey),
    "trust-list": ("The public keys that signatures are held against", TrustList),
}
"""By the name of its file: a title, and the type. A kind of record that is stored has to stand here."""


def schema_of(name: str) -> bytes:
    """Return the schema file of one kind of record. The same code gives the same bytes."""
    title, kind = STORED[name]
    (top,), components = msgspec.json.schema_components([kind], ref_template="#/$defs/{name}")
    head = {"$schema": DIALECT, "$id": f"urn:shipworthy:schema:{name}:1", "title": title}
    body = {key: value for key, value in top.items() if key != "title"}
    document = {**head, **body, "$defs": dict(sorted(components.items()))}
    return json.dumps(_tidy(document), indent=2, ensure_ascii=False).encode("utf-8") + b"\n"


def _tidy(value: Any) -> Any:
    """Clean docstrings of their indentation, which Python 3.13 drops itself and older ones keep."""
    if isinstance(value, dict):
        return {
            key: inspect.cleandoc(item) if key == "description" and isinstance(item, str) else _tidy(item)
            for key, item in value.items()
        }
    return [_tidy(item) for item in value] if isinstance(value, list) else value


def faults(folder: Path = FOLDER) -> list[str]:
    """Return a sentence for every schema file that is not what the records say today."""
    expected = {f"{name}{SUFFIX}": schema_of(name) for name in STORED}
    found = {path.name: path.read_bytes() for path in folder.glob("*.json")}
    sentences = []
    for name in sorted(expected.keys() | found.keys()):
        if name not in found:
            sentences.append(f"schemas/{name} is missing: run `make schemas`.")
        elif name not in expected:
            sentences.append(f"schemas/{name} belongs to no kind of record: remove it.")
        elif found[name] != expected[name]:
            sentences.append(f"schemas/{name} is stale: run `make schemas`.")
    return sentences


def write(folder: Path = FOLDER) -> None:
    """Write every schema file."""
    folder.mkdir(exist_ok=True)
    for name in STORED:
        (folder / f"{name}{SUFFIX}").write_bytes(schema_of(name))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="change nothing; exit 1 if a file is stale")
    if not parser.parse_args().check:
        write()
        return 0
    found = faults()
    for line in found:
        print(line, file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
