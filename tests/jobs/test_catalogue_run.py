"""A whole run with a part list: what it took from the list is sealed, and the pack is made as ever."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipworthy.model.base import encode, read_record
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.catalogue_used import CatalogueUsed, Decided
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Order
from shipworthy.model.words import Aspect, Category
from tests.jobs.live import Shop, open_shop

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    shop = open_shop(tmp_path_factory.mktemp("shop"))
    part = CataloguePart(
        part_id="tern-100",
        category=Category.COOLER,
        maker="Tern",
        name="Tern Glide 100",
        part_numbers=("TG-100-A", "TG-100-B"),
    )
    (shop.folder / "parts.jsonl").write_bytes(encode(part) + b"\n")
    with (shop.folder / "order.toml").open("a", encoding="utf-8") as order:
        order.write(
            '\n[[lines]]\nline_id = "cooler"\ncategory = "cooler"\ntext = "Tern Glide 100 CPU cooler"\n'
        )
        order.write('\n[[lines]]\nline_id = "fan"\ncategory = "fan"\ntext = "Tern Breeze"\n')
    return shop


@pytest.fixture(scope="module")
def record(shop: Shop) -> Path:
    shop.call("catalogue", "import", "parts.jsonl")
    done = shop.call(*shop.run_words(), "--json", check=1)
    return shop.folder / json.loads(done.stdout)["record"]


def test_the_sealed_record_holds_what_was_used_of_the_list(record: Path, shop: Shop) -> None:
    used = read_record(record / "data/order/catalogue-used.json", CatalogueUsed)
    lines = {line.line: line for line in used.lines}
    assert lines["cooler"].part is not None and lines["cooler"].part.part_id == "tern-100"
    assert lines["fan"].decided is Decided.NONE
    shop.call("verify", str(record))
    assert "order/catalogue-used.json" in (record / "data/steps.jsonl").read_text()


def test_what_the_list_added_is_asked_for_in_the_unit(record: Path) -> None:
    line = read_record(record / "data/order/order.json", Order).line("cooler")
    assert line is not None
    number = line.wanted(Aspect.PART_NUMBER)
    assert number is not None and number.wants == ("TG-100-A", "TG-100-B")
    comparison = read_record(record / "data/comparison.json", Comparison)
    asked = [finding for finding in comparison.findings if finding.line == "cooler"]
    assert Aspect.PART_NUMBER in {finding.aspect for finding in asked}


def test_the_pack_is_made(record: Path, shop: Shop) -> None:
    packs = list((shop.folder / "records-packs").rglob("report.html"))
    assert len(packs) == 1
    assert "Tern Glide 100" in packs[0].read_text("utf-8")
