"""A part list of an invented shop: siblings that are easily mistaken, and numbers that stand twice."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.model.base import digest_of, encode
from shipworthy.model.catalogue import (
    Alias,
    BoardFacts,
    CataloguePart,
    GraphicsFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
)
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import indexed
from shipworthy.orders.catalogue.lookup import Catalogue

GTIN = "2000000000015"
GIB = 2**30

QUIET_16 = CataloguePart(
    part_id="fennec-quiet-16",
    category=Category.MEMORY,
    maker="Fennec",
    name="Fennec Quiet 16GB (2x8GB) DDR5-6000",
    part_numbers=("FQ5-60-8X", "FQ5608X/K"),
    gtins=(GTIN,),
    facts=MemoryFacts(type="DDR5", modules=2, module_bytes=8 * GIB, speed_mt_s=6000),
)
QUIET_32 = CataloguePart(
    part_id="fennec-quiet-32",
    category=Category.MEMORY,
    maker="Fennec",
    name="Fennec Quiet 32GB (2x16GB) DDR5-6000",
    part_numbers=("FQ5-60-16X", "FQ5-SHARED"),
    facts=MemoryFacts(type="DDR5", modules=2, module_bytes=16 * GIB, speed_mt_s=6000),
)
QUIET_64 = CataloguePart(
    part_id="fennec-quiet-64",
    category=Category.MEMORY,
    maker="Fennec",
    name="Fennec Quiet 64GB (2x32GB) DDR5-6000",
    part_numbers=("FQ5-60-32X", "FQ5-SHARED"),
)
SIX_TI = CataloguePart(
    part_id="heron-670-ti",
    category=Category.GRAPHICS,
    maker="Sandpiper",
    name="Sandpiper Breeze Heron HX 670 Ti 12GB",
    part_numbers=("SB-HX670TI-12",),
    facts=GraphicsFacts(chip="Heron HX 670 Ti", memory_bytes=12 * GIB),
)
EIGHT = CataloguePart(
    part_id="heron-680",
    category=Category.GRAPHICS,
    maker="Sandpiper",
    name="Sandpiper Breeze Heron HX 680 16GB",
    part_numbers=("SB-HX680-16",),
    facts=GraphicsFacts(chip="Heron HX 680", memory_bytes=16 * GIB),
)
EIGHT_WHITE = CataloguePart(
    part_id="heron-680-white",
    category=Category.GRAPHICS,
    maker="Sandpiper",
    name="Sandpiper Breeze Heron HX 680 16GB White",
    part_numbers=("SB-HX680-16W",),
    facts=GraphicsFacts(chip="Heron HX 680", memory_bytes=16 * GIB),
)
CORE = CataloguePart(
    part_id="marlin-7600",
    category=Category.PROCESSOR,
    maker="Marlin",
    name="Marlin Core 7 7600K",
    part_numbers=("MC7-7600K-BOX",),
    facts=ProcessorFacts(socket="LGA 1700", cores=8, threads=16),
)
BOARD = CataloguePart(
    part_id="ibis-b660",
    category=Category.BOARD,
    maker="Ibis",
    name="Ibis B660M Terrace WIFI LGA1700 Micro ATX",
    names=("Terrace B660M (2nd edition)",),
    part_numbers=("IB-B660MTW",),
    facts=BoardFacts(socket="LGA 1700", form_factor="Micro ATX"),
)
DRIVE = CataloguePart(
    part_id="quarrel-1tb",
    category=Category.STORAGE,
    maker="Quarrel",
    name="Quarrel M2X 1TB NVMe SSD",
    part_numbers=("QM2X-1T0",),
    facts=StorageFacts(capacity_bytes=10**12, technology="solid state", interface="NVMe", link="PCIe 4.0 x4"),
)
PARTS = (QUIET_16, QUIET_32, QUIET_64, SIX_TI, EIGHT, EIGHT_WHITE, CORE, BOARD, DRIVE)


def catalogue(parts: Iterable[CataloguePart] = PARTS, aliases: Iterable[Alias] = ()) -> Catalogue:
    return Catalogue(indexed(parts, digest_of(b"")), "catalogue.jsonl", aliases)


def jsonl(parts: Iterable[CataloguePart] = PARTS) -> bytes:
    return b"".join(encode(part) + b"\n" for part in parts)
