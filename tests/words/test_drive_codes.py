"""Drives that name themselves by a code: what the code says, what contradicts it, and what it leaves open."""

from __future__ import annotations

import json
import lzma
from collections import Counter
from pathlib import Path

import pytest

from shipworthy.words.drive_codes import contradicts_family, read_drive_codes
from shipworthy.words.drive_names import (
    codes_within,
    drive_likeness,
    number_likeness,
    speaks_in_code,
)
from shipworthy.words.forms import find_drive_forms, same_form
from shipworthy.words.likeness import Likeness

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY


@pytest.mark.parametrize(
    ("sold", "said", "expected"),
    [
        ("970 EVO", "Samsung SSD 970 EVO 1TB", SAME),
        ("970 EVO", "Samsung SSD 970 EVO Plus 1TB", OTHER),
        ("970 EVO Plus", "Samsung SSD 970 EVO 1TB", OTHER),
        ("870 QVO", "Samsung SSD 870 EVO 1TB", OTHER),
        ("870 EVO", "Samsung SSD 870 QVO 1TB", OTHER),
        ("980", "Samsung SSD 980 PRO 1TB", OTHER),
        ("SN850", "WD_BLACK SN850X 1TB", OTHER),
        ("A400", "KINGSTON SA400S37240G", SAME),
        ("A400", "KINGSTON SA2000M8500G", OTHER),
        ("KC3000", "KINGSTON SKC3000S1024G", SAME),
        ("KC300", "KINGSTON SKC3000S1024G", OTHER),  # one figure more is another model
        ("DC500R", "KINGSTON SEDC500R3840G", SAME),
        ("DC500M", "KINGSTON SEDC500R3840G", OTHER),
        ("NV1", "KINGSTON SNVS1000G", PARTLY),  # the code wraps no token
        ("BX500", "CT240BX500SSD1", SAME),
        ("BX200", "CT240BX500SSD1", OTHER),
        ("P3 Plus", "CT1000P3PSSD8", SAME),
        ("P3", "CT1000P3PSSD8", OTHER),
        ("SSD230S", "TS512GSSD230S", SAME),
        ("110S", "TS512GMTE110S", SAME),
        ("220S", "TS512GMTE110S", OTHER),
        ("Red Plus", "WDC WD40EFPX-68C6CN0", PARTLY),  # the family, and not which of it
        ("Red", "WDC WD10PURZ-85U8XY0", OTHER),  # Purple
        ("Blue", "WDC WDS500G2B0A-00SM50", PARTLY),
        ("Blue", "WDC WDS500G2G0A-00JH30", OTHER),  # Green: one letter
        ("IronWolf", "ST4000VX007-2DT166", OTHER),
        ("BarraCuda", "ST2000DM008-2FR102", PARTLY),
        ("FireCuda 120", "Seagate BarraCuda SSD ZA500CM10002", OTHER),
        ("ST250DM001/HD253GJ", "SAMSUNG HD253GJ", SAME),  # two numbers of one drive
        ("ST2000DM008", "ST2000DM008-2FR102", SAME),
        ("ST2000DM008", "ST2000DM006-2DM164", OTHER),
        ("A400", "", PARTLY),
        ("A400", "Unknown", PARTLY),
        ("OS850X", "OSIER OS850X", SAME),
        ("OS850X", "OSIER OS850X HS", PARTLY),  # a model's number that looks like a part number
        ("OS8200", "OSIER OS8200 Pro", OTHER),
        ("MK3276GSX", "TOSHIBA MK3276GSX H", SAME),  # a part number is one drive, whatever stands behind it
    ],
)
def test_a_model_sold_against_what_the_drive_calls_itself(sold: str, said: str, expected: Likeness) -> None:
    assert drive_likeness(sold, said, sold) is expected


@pytest.mark.parametrize(
    ("text", "said", "expected"),
    [
        ("T500 with heatsink", "CT1000T500SSD5", SAME),
        ("T500 with heatsink", "CT1000T500SSD8", OTHER),
        ("T500 mit Kühlkörper", "CT1000T500SSD8", OTHER),
        ("T500 avec dissipateur", "CT1000T500SSD5", SAME),
        ("T500 ohne Kühlkörper", "CT1000T500SSD8", SAME),
        ("T500 sans dissipateur", "CT1000T500SSD5", PARTLY),
        ("T500", "CT1000T500SSD8", SAME),
        ("T500", "CT1000T500SSD5", PARTLY),  # a text often leaves it out
    ],
)
def test_a_heatsink_that_the_code_tells(text: str, said: str, expected: Likeness) -> None:
    assert drive_likeness("T500", said, text) is expected


@pytest.mark.parametrize(
    ("sold", "said", "expected"),
    [
        ("ST2000DM008", "ST2000DM008-2FR102", SAME),
        ("ST2000DM008", "ST2000DM006-2DM164", OTHER),
        ("ST8000NE001", "ST8000VN0002-1Z8112", OTHER),
        ("WDS500G2B0A", "WDC WDS500G2B0B-00YS70", OTHER),  # one letter: another form
        ("WD40EFAX", "WDC WD40EFRX-68N32N0", OTHER),  # one letter: another way to record
        ("WDBRPG5000ANC-WRSN", "WDC WDS500G3X0C-00SJG0", PARTLY),  # the box has a number of its own
        ("SA400M8/240G", "KINGSTON SA400M8240G", SAME),
        ("SKC600MS/256G", "KINGSTON SKC600256G", OTHER),
        ("0F30141", "HGST HUH721212ALN600", PARTLY),
        ("MQ01ABD050V", "TOSHIBA MQ01ABD050", OTHER),
        ("MG04ACA100N", "TOSHIBA MQ04ABF100", OTHER),
        ("HDWD110UZSVA", "TOSHIBA HDWD110", PARTLY),  # the box, and not another drive
        ("HDWD110UZSVA", "TOSHIBA HDWD120", OTHER),
        ("ST3500418AS", "ST500DM002-1BD142", OTHER),  # old and new codes of one house
        ("MZVPV512HDGL-00000", "SAMSUNG MZVLV512HCJH-000L2", OTHER),
        ("SSDSC2KB480G801", "INTEL SSDSC2KB480G8", PARTLY),  # the box has more behind it
        ("SSDSC2KB480G801", "INTEL SSDSC2KB960G8", OTHER),
        ("SD8SBAT-128G-1122", "SanDisk SD8SBAT128G1122", SAME),
        ("ST2000DM008", "", PARTLY),
    ],
)
def test_a_part_number_sold_against_a_code(sold: str, said: str, expected: Likeness) -> None:
    assert number_likeness(sold, said) is expected


@pytest.mark.parametrize(
    ("said", "maker", "technology", "form"),
    [
        ("ST9120822AS", "seagate", "spinning", '2.5"'),
        ("ST3500418AS", "seagate", "spinning", '3.5"'),
        ("ST500VT000-1BS142", "seagate", "spinning", ""),
        ("ST480FP0021", "seagate", "", ""),  # 600 Pro: without a disk
        ("ST900MM0006", "seagate", "spinning", ""),
        ("WDC WD800JD-75MSA3", "wdc", "spinning", ""),
        ("WDC WD40E31X-00HY4A0", "wdc", "spinning", ""),
        ("Hitachi HTS541612J9SA00", "hitachi", "spinning", '2.5"'),
        ("HGST HUS728T8TALE6L4", "hitachi", "spinning", ""),
        ("WDC  WUH721818ALN604", "hitachi", "spinning", '3.5"'),
        ("TOSHIBA MK5059GSXP", "toshiba", "spinning", ""),
        ("TOSHIBA MG08ACA16TE", "toshiba", "spinning", '3.5"'),
        ("SAMSUNG HM160HI", "samsung", "spinning", '2.5"'),
        ("ST1000LM024 HN-M101MBB", "seagate", "spinning", '2.5"'),
        ("MAXTOR STM3250310AS", "maxtor", "spinning", ""),
        ("SAMSUNG MZVLB1T0HALR-00000", "samsung", "solid state", ""),
        ("KXG60ZNV256G KIOXIA", "toshiba", "solid state", ""),
        ("WDC PC SN730 SDBPNTY-512G", "sandisk", "solid state", ""),
        ("SHGP31-1000GM-2", "sk hynix", "solid state", ""),
    ],
)
def test_codes_that_tell_the_maker_and_how_it_stores(
    said: str, maker: str, technology: str, form: str
) -> None:
    code = read_drive_codes(said)[0]
    assert (code.maker, code.technology, code.form) == (maker, technology, form)


@pytest.mark.parametrize(
    "said", ["WUS4BB038D7P3E3", "HUSMM1640ASS204", "SP256GBSS3A55S25", "PC401 NVMe", "MQ01ABD-V", "HD 1000"]
)
def test_what_only_looks_like_a_code_of_hard_disks_is_none(said: str) -> None:
    """Ultrastar drives without a disk have other codes than those with one (WUS4, HUSMM)."""
    assert read_drive_codes(said) == ()


def test_a_code_that_shares_no_word_with_the_box_is_told_from_a_name_that_says_too_little() -> None:
    assert speaks_in_code("BarraCuda", "ST2000DM008-2FR102")
    assert not speaks_in_code("970 EVO Plus", "Samsung SSD 970 EVO")
    assert not speaks_in_code("BarraCuda", "Disk")


def test_words_that_look_like_part_numbers() -> None:
    assert codes_within("A400 240GB SA400M8/240G Increase") == ("SA400M8/240G", "SA400M8")
    assert codes_within("970 EVO Plus 2.5 MX500") == ()


def test_codes_agree_with_the_open_records(reference: Path) -> None:
    """A grammar that reads a family or a form wrong would refuse right drives. Records have errors: 3 %."""
    read: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    text = lzma.decompress((reference / "names" / "open-db" / "Storage.jsonl.xz").read_bytes()).decode(
        "utf-8"
    )
    for record in map(json.loads, text.splitlines()):
        forms = find_drive_forms(record.get("form_factor") or "")
        for number in record["metadata"].get("part_numbers") or ():
            for code in read_drive_codes(number):
                read["family"] += bool(code.families)
                wrong["family"] += contradicts_family(record["metadata"]["name"], code)
                told = bool(code.form and forms)
                read["form"] += told
                wrong["form"] += told and not any(same_form(form.meaning, code.form) for form in forms)
    assert read["family"] > 300 and read["form"] > 300
    assert {field: wrong[field] for field in read if wrong[field] > 0.03 * read[field]} == {}, read


@pytest.mark.parametrize("sold", ["T500 without heatsink", "T500 (no heatsink)", "T500 non-heatsink", "T500"])
def test_a_drive_sold_without_a_heatsink_is_the_one_without(sold: str) -> None:
    """Crucial: SSD8 is the drive without a heatsink, SSD5 the one with (from names in open data)."""
    assert drive_likeness("T500", "CT2000T500SSD8", sold) is SAME
    assert drive_likeness("T500", "CT2000T500SSD8", "T500 with heatsink") is OTHER
