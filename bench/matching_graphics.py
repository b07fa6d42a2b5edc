"""Graphics cards for `bench/matching.py`: retail records, and what a machine with such a card says of itself.

Two machines are made of each record: one whose driver names the product and tells its memory, and one
without a driver, which knows ids alone: then lists of ids (`pci.ids`, `amdgpu.ids`) leave one product or
several. The ids of a product are those of NVIDIA's own table and of `amdgpu.ids`; a product that neither has
is left out of the second. What a record calls its chipset is taken for the truth, and is wrong now and then;
what no driver says of a product (its memory, and that it mines slowly) is left out of it.
"""

from __future__ import annotations

import csv
import json
import lzma
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from matching_tables import Device, Pair, Retail, Table, part

from shipworthy.machine.parse.amdgpu_ids import Products, read_products
from shipworthy.machine.parse.graphics import Naming, name_card
from shipworthy.machine.parse.pci.source import read_names
from shipworthy.model.words import Category, PartKind

Row = dict[str, str]
# In lists of ids: another kind of machine, or one size of several. Retail cards of such are left out.
_OTHER_KIND = re.compile(r"Mobile|Max-Q|\b\d+ ?GB\b", re.IGNORECASE)
_UNSAID = re.compile(r"\s*(?:\bLHR\b|\bG?DDR\dX?\b|\b\d+ ?GB\b)", re.IGNORECASE)


TITLES = ("graphics, with a driver", "graphics, by ids alone")


def table_of(folder: Path, title: str) -> Table:
    """Return the table of cards that are known in one of the two ways."""
    rows = driven(folder) if title == TITLES[0] else by_ids(folder)
    pairs = tuple(Pair(_retail(row), _device(row)) for row in rows)
    return Table(title, Category.GRAPHICS, tuple(pair.retail for pair in pairs), pairs)


def _retail(row: Row) -> Retail:
    facts = (("chip", row["chipset"]), *((("size", int(row["memory"])),) if row["memory"] else ()))
    return Retail(row["opendb_id"], row["retail_manufacturer"], row["retail_name"], facts=facts)


def _device(row: Row) -> Device:
    memory = int(row["memory"]) if row["memory"] else None
    card = part(
        PartKind.GRAPHICS,
        "pci:0000:01:00.0",
        model=row["model"] or None,
        model_candidates=row["candidates"] or None,
        memory_bytes=None if memory is None else memory * 2**30,
    )
    states = ((("chip", row["model"]),) if row["model"] else ()) + (
        () if memory is None else (("size", memory),)
    )
    return Device((row["model"] + row["candidates"],), states, (card,))


def driven(folder: Path) -> list[Row]:
    """Return the records, each with the name that its driver gives."""
    return [row | {"model": row["chipset"], "candidates": ""} for row in _records(folder)]


def by_ids(folder: Path) -> list[Row]:
    """Return the records of which ids are known, each with what the lists make of these."""
    found: list[Row] = []
    for row in _records(folder):
        naming = _naming(folder, row["chip_maker"], row["chipset"])
        if naming is not None and (naming.model or naming.candidates):
            told = {"model": naming.model, "candidates": " | ".join(naming.candidates), "memory": ""}
            found.append(row | told)
    return found


def _records(folder: Path) -> Iterator[Row]:
    text = lzma.decompress((folder / "open-db" / "GPU.jsonl.xz").read_bytes()).decode("utf-8")
    for line in text.splitlines():
        record = json.loads(line)
        said = record["metadata"]
        if record.get("chipset") and said.get("name"):
            yield {
                "opendb_id": record["opendb_id"],
                "retail_manufacturer": said.get("manufacturer") or "",
                "retail_name": said["name"][:500],
                "retail_part_numbers": "",
                "chip_maker": record.get("chipset_manufacturer") or "",
                "chipset": _UNSAID.sub("", record["chipset"]).strip(),
                "memory": str(record.get("memory") or ""),
            }


@cache
def _naming(folder: Path, chip_maker: str, chipset: str) -> Naming | None:
    names, products = _lists(folder)
    if chip_maker == "NVIDIA":
        devices = _nvidia(folder).get(f"NVIDIA {chipset}".casefold(), ())
        listed = [name for device in devices if (name := names.get(("10de", device), ""))]
        desktop = [name for name in listed if not _OTHER_KIND.search(name)]
        return name_card(((), False), desktop[0], "", None) if desktop else None
    wanted = {f"amd {chipset}".casefold(), f"amd {chipset} series".casefold()}
    for number, revision, name in _amd(folder):
        if name.casefold() in wanted:
            family = names.get(("1002", f"{number:04x}"), "")
            return name_card(products.of(number, revision), family, "", None)
    return None


@cache
def _lists(folder: Path) -> tuple[dict[tuple[str, str], str], Products]:
    ids = lzma.decompress((folder / "pci.ids.xz").read_bytes()).decode("utf-8")
    return read_names(ids), read_products((folder / "amdgpu.ids").read_text("utf-8"))


@cache
def _nvidia(folder: Path) -> dict[str, tuple[str, ...]]:
    """Device ids by product: one name stands for several, those of notebooks among them."""
    found: dict[str, tuple[str, ...]] = {}
    with (folder / "nvidia-product-to-pci-id.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            name = row["product_name"].casefold()
            found[name] = (*found.get(name, ()), row["device_id"].lower())
    return found


@cache
def _amd(folder: Path) -> tuple[tuple[int, int, str], ...]:
    lines = (folder / "amdgpu.ids").read_text("utf-8").splitlines()
    rows = (line.split(",\t") for line in lines if not line.startswith("#"))
    return tuple((int(r[0], 16), int(r[1], 16), r[2].strip()) for r in rows if len(r) == 3)
