"""Which house a drive is of and how it stores, by what was sold and by what the drive calls itself."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from shipworthy.words.drive_houses import (
    are_kin,
    are_two_houses,
    are_two_technologies,
    drive_origin,
    is_of_system_maker,
)
from shipworthy.words.makers import maker_key


def two(sold: str, said: str, **known: str) -> bool:
    one, other = drive_origin(sold, **known), drive_origin(said)
    return are_two_houses(one, other) or are_two_technologies(one, other)


@pytest.mark.parametrize(
    ("sold", "said"),
    [
        ("Seagate BarraCuda 1TB", "WDC WD10EZEX-00BN5A0"),
        ("ST1000DM010", "WDC WD10EZEX-00BN5A0"),  # the code alone tells the house
        ("WD Blue 1TB", "ST1000DM010-2EP102"),
        ("Western Digital Blue 500GB", "CT500MX500SSD1"),
        ("Crucial MX500 500GB", "Samsung SSD 870 EVO 500GB"),
        ("Kingston A400 240GB", "WDC WDS240G2G0A-00JH30"),
        ("Samsung 970 EVO", "KINGSTON SNVS1000G"),
        ("Toshiba P300 HDWD110UZSVA", "ST1000DM010-2EP102"),
        ("Gigabyte GP-GSTFS31120GNTD", "HFS120G32TND-N1A2A"),
        ("Seagate Exos 8TB", "ATA     WDC WD8003FRYZ-0"),  # as SCSI tells it
        ("SK hynix Gold P31", "MKNSSDPE1TB"),
    ],
)
def test_a_drive_that_names_another_house_is_another_drive(sold: str, said: str) -> None:
    assert two(sold, said)


@pytest.mark.parametrize(
    ("sold", "said"),
    [
        ("WDC WD10EZEX-22MFCA0", "Samsung SSD 860 EVO 1TB"),
        ("Samsung SSD 840 EVO 250GB", "SAMSUNG HD251HJ"),  # one house, and a hard disk
        ("80GB SSD", "SAMSUNG HD081GJ"),
        ("V Series SATA SSD 120GB", "ST9120822AS"),
        ("Hitachi HDS721010CLA332", "SanDisk SSD PLUS 1TB"),
        ("WDC WD1002F9YZ-09H1JL1", "WDC WDS100T2B0A-00SM50"),
        ("Seagate FireCuda 2TB SSHD", "Seagate BarraCuda SSD ZA2000CM10002"),
    ],
)
def test_a_drive_that_stores_in_another_way_is_another_drive(sold: str, said: str) -> None:
    assert two(sold, said)


@pytest.mark.parametrize(
    ("sold", "said"),
    [
        ("Western Digital Ultrastar DC HC520 12TB", "HGST HUH721212ALE600"),
        ("Hitachi Ultrastar 4TB", "WDC  WUH721814ALE6L4"),
        ("Western Digital Blue 500GB SSD", "SanDisk SDSSDH3500G"),
        ("Seagate Spinpoint M8 1TB HDD", "SAMSUNG HN-M101MBB"),
        ("Samsung Spinpoint F3 1TB HDD", "ST1000DM005"),
        ("Maxtor DiamondMax 250GB", "ST3250310AS"),
        ("KIOXIA XG6 512GB", "KXG60ZNV512G NVMe TOSHIBA 512GB"),
        ("Crucial P1 1TB", "Micron_2200_MTFDHBA512TCK"),
        ("Intel 670p 1TB", "Solidigm SSDPFKNU010TZ"),
        ("Plextor PX-256M8PeG", "KXG50ZNV256G TOSHIBA"),
    ],
)
def test_houses_that_sold_each_others_drives_are_not_told_apart(sold: str, said: str) -> None:
    assert are_kin(drive_origin(sold), drive_origin(said))
    assert not two(sold, said)


def test_seagate_took_over_samsungs_hard_disks_and_nothing_else() -> None:
    assert two("Seagate BarraCuda 120 1TB SSD", "Samsung SSD 860 EVO 1TB")
    assert two("Samsung 870 EVO 1TB SSD", "Seagate BarraCuda SSD ZA1000CM10002")


@pytest.mark.parametrize(
    ("sold", "said"),
    [
        ("Dell 1TB HDD", "WDC WD10EZEX-75WN4A0"),  # a system maker labels drives of any house
        ("Lenovo ThinkSystem 480GB SSD", "SAMSUNG MZ7LH480HAHQ-00005"),
        ("Samsung SM256 256GB SSD", "APPLE SSD SM0256G"),
        ("HP 256GB SSD", "Micron_1100_MTFDDAK256TBN"),
        ("Quarrel Field 1TB HDD", "ST1000DM010-2EP102"),  # a brand of which nothing is known
        ("Seagate BarraCuda 1TB", "Quarrel F2"),
        ("Seagate BarraCuda 1TB", ""),
        ("", "ST1000DM010-2EP102"),
        ("AMD Radeon R3 120GB SSD", "GeIL ZENITH R3_120GB"),
    ],
)
def test_what_one_side_does_not_tell_speaks_against_no_drive(sold: str, said: str) -> None:
    assert not two(sold, said)


def test_a_hybrid_turns_and_a_dual_drive_says_nothing() -> None:
    assert drive_origin("FireCuda 1TB Solid State Hybrid Drive").technology == "hybrid"
    assert not two("Seagate Desktop 1TB HDD", "ST1000DX001-1CM162")  # often sold as a hard disk
    assert not two("Seagate FireCuda 1TB SSHD", "ST1000LM035-1RK172")
    assert drive_origin("WD Black2 Dual Drive 120GB SSD + 1TB HDD").technology == ""


def test_what_is_known_besides_the_name_comes_first() -> None:
    known = drive_origin("ST1000DM010", maker="Dell", technology="NVMe")
    assert (known.houses, known.technology) == (frozenset(), "solid state")
    virtual = drive_origin("", technology="virtual")
    assert not are_two_technologies(virtual, drive_origin("Samsung SSD 870 EVO"))


def test_a_word_within_another_names_no_house() -> None:
    assert drive_origin("Teamwork 1TB").houses == frozenset()
    assert drive_origin("WD_BLACK SN850X").houses == {"wdc"}
    assert drive_origin("OCZ-VERTEX4").houses == {"ocz"}
    assert is_of_system_maker("Hewlett-Packard") and not is_of_system_maker("Hpster")


def test_a_house_is_known_under_every_spelling_of_its_maker() -> None:
    for name in ("Western Digital Blue 1TB", "WDC WDS100T2B0A", "WD Green"):
        assert drive_origin(name).houses == {maker_key(name)} == {"wdc"}
    assert drive_origin("", maker="GIGA-BYTE Technology").houses == {"gigabyte"}
    assert drive_origin("AORUS NVMe Gen4 SSD").houses == {"gigabyte"}
    assert are_two_houses(drive_origin("Giga-Byte 480GB"), drive_origin("Samsung SSD 870 EVO"))


def test_no_real_name_tells_another_technology_than_the_drive(reference: Path) -> None:
    """Names of drives against their own rate of rotation, in smartctl's reports."""
    told, wrong = 0, []
    for path in sorted((reference / "smart-json").rglob("*.json")):
        report = json.loads(path.read_text("utf-8", errors="replace"))
        model, rpm = report.get("model_name", ""), report.get("rotation_rate")
        stores = drive_origin(model).technology
        if rpm is not None and stores:
            told += 1
            wrong += [model] if (stores == "solid state") != (rpm == 0) else []
    assert told > 50
    assert wrong == []


def test_no_real_pair_is_of_two_houses_or_technologies(reference: Path) -> None:
    """Names in shops against what real drives say: a house or a code read wrong would refuse right drives."""
    path = reference / "names" / "storage-retail-to-device-pairs.tsv"
    told, refused = 0, []
    with path.open(encoding="utf-8", newline="") as rows:
        for row in csv.DictReader(rows, delimiter="\t"):
            sold = drive_origin(row["retail_name"], row["retail_manufacturer"])
            said = drive_origin(row["device_model_string"])
            told += bool(sold.houses and said.houses)
            if are_two_houses(sold, said) or are_two_technologies(sold, said):
                refused.append((row["retail_name"], row["device_model_string"]))
    assert told > 600
    assert refused == []
