"""Which product a card is: the whole of AMD's list, and NVIDIA's own table against pci.ids."""

from __future__ import annotations

import csv
import lzma
from collections import defaultdict
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse.amdgpu_ids import read_products
from shipworthy.machine.parse.graphics import chip_and_products, name_card
from shipworthy.machine.parse.pci.source import read_names


def measure(folder: Path) -> Tally:
    """Hold every (device, revision) of amdgpu.ids; `folder` is the set `names`."""
    tally = Tally("amdgpu-names")
    text = (folder / "amdgpu.ids").read_text("utf-8")
    want: dict[tuple[str, str], list[str]] = defaultdict(list)
    devices: dict[str, set[str]] = defaultdict(set)
    for line in text.splitlines():
        fields = line.split(",\t")
        if len(fields) == 3 and not line.startswith("#"):
            want[fields[0], fields[1]].append(fields[2].strip())
            devices[fields[0]].add(fields[2].strip())
    products = read_products(text)
    for (device, revision), names in want.items():
        tally.items += 1
        item = f"{device} {revision}"
        try:
            naming = name_card(products.of(int(device, 16), int(revision, 16)), "", "", None)
            other = name_card(products.of(int(device, 16), 0xEE), "", "", None)
        except Exception as error:
            tally.crash(item, error)
            continue
        alone = names[0] if len(set(names)) == 1 else ""
        tally.hold(item, "model", alone, naming.model)
        tally.hold(item, "candidates", set() if alone else set(names), set(naming.candidates))
        if (device, "EE") not in want:  # a revision that is not listed is never named for sure
            tally.hold(item, "unlisted revision", ("", devices[device]), (other.model, set(other.candidates)))
    tally.notes["device_ids"] = len(devices)
    tally.notes["device_ids_with_several_products"] = sum(len(names) > 1 for names in devices.values())
    _nvidia(folder, tally)
    return tally


def _nvidia(folder: Path, tally: Tally) -> None:
    """Compare NVIDIA's own table with what pci.ids makes of the same device: two lists, so only counted."""
    names = read_names(lzma.decompress((folder / "pci.ids.xz").read_bytes()).decode("utf-8"))
    sold: dict[str, set[str]] = defaultdict(set)
    with (folder / "nvidia-product-to-pci-id.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            sold[row["device_id"].lower()].add(row["product_name"].removeprefix("NVIDIA "))
    counts = dict.fromkeys(("same", "among_candidates", "another", "not_listed"), 0)
    for device, products in sold.items():
        listed = names.get(("10de", device), "")
        naming = name_card(((), False), listed, "", None)
        if not listed:
            counts["not_listed"] += 1
        elif naming.model:
            counts["same" if products == {naming.model} else "another"] += 1
        else:
            counts["among_candidates" if products & set(chip_and_products(listed)[1]) else "another"] += 1
    for word, number in counts.items():
        tally.notes[f"nvidia_{word}"] = number
    tally.notes["nvidia_ids_with_several_products"] = sum(len(p) > 1 for p in sold.values())
