"""Part numbers of memory by their makers' grammars: each against the open records, and siblings apart."""

from __future__ import annotations

import json
import lzma
from collections import Counter
from pathlib import Path

import pytest

from shipworthy.words.likeness import Likeness
from shipworthy.words.memory_codes import module_likeness, read_memory_code
from shipworthy.words.speeds import same_rate


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        ("CMK32GX5M2B6400C32", ("DDR5", 6400, 32, 16, 2)),
        ("F4-3200C16D-32GVK", ("DDR4", 3200, 16, 16, 2)),
        ("F4-3200C16-16GVK", ("DDR4", 3200, 16, 16, None)),  # what one module of it says
        ("F3-12800CL9D-8GBXL", ("DDR3", 1600, 9, 4, 2)),
        ("F5-6000J3038F16GX2-TZ5N", ("DDR5", 6000, 30, 16, 2)),
        ("KF432C16BBK2/16", ("DDR4", 3200, 16, 8, 2)),
        ("KVR26N19S8/8", ("DDR4", 2666, 19, 8, 1)),
        ("CT2K8G4DFS8266", ("DDR4", 2666, None, 8, 2)),
        ("CT16G4SFRA32A.C8FE", ("DDR4", 3200, None, 16, 1)),
        ("CT51264BD160B", ("DDR3", 1600, None, 4, 1)),
        ("TF4D416G3200HC16FDC01", ("DDR4", 3200, 16, 8, 2)),
        ("PSD34G13332", ("DDR3", 1333, None, None, None)),
        ("M378A1K43CB2-CTD", ("DDR4", 2666, None, 8, 1)),
        ("M378B5273EB0-CK0", ("DDR3", 1600, None, 4, 1)),
        ("HMA81GU6AFR8N-UH", ("DDR4", 2400, None, 8, 1)),
        ("HMT325U6CFR8C-PB", ("DDR3", 1600, None, 2, 1)),
        ("VS2GB1333D3", ("DDR3", 1333, None, 2, 1)),
        ("KCP424NS6/4", ("DDR4", 2400, None, 4, 1)),
        ("CT2KIT51264BD160B", ("DDR3", 1600, None, 4, 2)),
        ("BLS2K8G4D26BFSBK", ("DDR4", 2666, None, 8, 2)),
        ("BLS8G4D240FSB", ("DDR4", 2400, None, 8, 1)),
        ("BLS4G3D1609DS1S00", ("DDR3", 1600, 9, 4, 1)),
        ("SP004GBLTU160N02", ("DDR3", 1600, None, 4, 1)),
        ("SP016GBLFU320X22", ("DDR4", 3200, None, 8, 2)),
        ("SP032GXLWU60AFDH", ("DDR5", 6000, None, None, None)),
        ("PVV516G56C36", ("DDR5", 5600, 36, None, None)),
        ("KD5AGUA80-60A300M", ("DDR5", 6000, 30, None, None)),
        ("R009D408GX2-3600C18B", ("DDR4", 3600, 18, 8, 2)),
        ("MRP5T480FGGD16G18X2", ("DDR5", 4800, None, 16, 2)),
        ("16G-D4-2400-MR", ("DDR4", 2400, None, None, None)),
    ],
)
def test_fields_stand_where_the_maker_puts_them(number: str, expected: tuple[object, ...]) -> None:
    code = read_memory_code(number)
    assert code is not None
    assert (code.type, code.speed_mt_s, code.cas, code.module_gib, code.modules) == expected


@pytest.mark.parametrize(
    "number", ["", "Unknown", "859B", "FQ5-60-16X", "0x0000", "CMK", "99U5471-012.A00LF"]
)
def test_what_no_grammar_reads_says_nothing(number: str) -> None:
    assert read_memory_code(number) is None


@pytest.mark.parametrize(
    ("sold", "said", "expected"),
    [
        ("F4-3200C16D-32GVK", "F4-3200C16-16GVK", Likeness.SAME),  # the kit, and one of its modules
        ("F4-3200C16Q-64GVK", "F4-3200C16-16GVK", Likeness.SAME),  # the same module in a kit of four
        ("F4-3200C16D-32GVK", "F4-3600C16-16GVK", Likeness.OTHER),
        ("F4-3200C16D-32GVK", "F4-3200C14-16GVK", Likeness.OTHER),
        ("F4-3200C16D-32GVK", "F4-3200C16-8GVK", Likeness.OTHER),
        ("F4-3200C16D-32GVK", "F4-3200C16-16GTZ", Likeness.OTHER),  # another series
        ("KF432C16BBK2/16", "KHX3200C16D4/8GX", Likeness.PARTLY),  # figures agree, the series is not told
        ("KF432C16BBK2/16", "KHX2666C16D4/8GX", Likeness.OTHER),
        ("KF426C16BB/8", "KVR26N19S8/8", Likeness.OTHER),
        ("KVR26N19S8/8", "KF426C16BB/8", Likeness.OTHER),
        ("CMK16GX4M2B3200C16", "CMW16GX4M2B3200C16", Likeness.OTHER),
        ("BLS2K8G4D240FSC", "BLS8G4D240FSC", Likeness.SAME),
        ("BLS2K8G4D240FSC", "BLS8G4D240FSB", Likeness.OTHER),  # another colour
        ("BLS2K8G4D240FSC", "BLS8G4D26BFSCK", Likeness.OTHER),
        ("BLS4G3D1609DS1S00CEU", "BLS4G3D1609DS1S00", Likeness.PARTLY),
        ("SP016GBLFU320X22", "SP008GBLFU320X02", Likeness.SAME),
        ("SP016GBLFU320X22", "SP016GBLFU320X02", Likeness.OTHER),  # a module of twice the size
        ("SP016GBLFU320X22", "SP008GBLFU266X02", Likeness.OTHER),
        ("SP016GBLFU320X22", "SP008GBSFU320X02", Likeness.OTHER),  # for laptops
        ("M378A1K43CB2-CTD", "M378A2K43CB1-CTD", Likeness.OTHER),
        ("M378B5273EB0-CK0", "M378B5173EB0-CK0", Likeness.OTHER),  # as large, of other chips
        ("KCP424NS6/4", "KVR24N17S6/4", Likeness.OTHER),
        ("KD4AGU880-36A180U", "KD4AGU880-32A160U", Likeness.OTHER),
        ("R009D408GX2-3600C18B", "R019D408GX2-3600C18B", Likeness.OTHER),  # another series
        ("CMW16GX4M2C3200C16-TUF", "CMW16GX4M2C3200C18", Likeness.OTHER),
        ("CMK16GX4M2B3200C16", "Unknown", Likeness.PARTLY),
        ("CMK16GX4M2B3200C16", "859B", Likeness.PARTLY),
        ("CMK16GX4M2B3200C16", "", Likeness.PARTLY),
        ("CMK16GX4M2B3200C16", "M378A1K43CB2-CTD", Likeness.PARTLY),  # firmware may name the chips' maker
    ],
)
def test_a_kit_against_what_a_module_says(sold: str, said: str, expected: Likeness) -> None:
    assert module_likeness(sold, said) is expected


def test_grammars_agree_with_the_open_records(reference: Path) -> None:
    """A grammar that reads a field wrong would refuse right kits. Records have errors of their own: 2 %."""
    read: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    text = lzma.decompress((reference / "names" / "open-db" / "RAM.jsonl.xz").read_bytes()).decode("utf-8")
    for record in map(json.loads, text.splitlines()):
        for number in record["metadata"].get("part_numbers") or ():
            code = read_memory_code(number)
            if code is None:
                continue
            told = {
                "type": (code.type, record["ram_type"].removesuffix("L")),
                "each": (code.module_gib, record["modules"]["capacity_gb"]),
                "count": (code.modules, record["modules"]["quantity"]),
            }
            for field, (got, want) in told.items():
                read[field] += got is not None
                wrong[field] += got is not None and got != want
            read["speed"] += code.speed_mt_s is not None
            wrong["speed"] += code.speed_mt_s is not None and not same_rate(code.speed_mt_s, record["speed"])
    assert all(read[field] > 1000 for field in ("type", "each", "count", "speed"))
    assert {field: wrong[field] / read[field] for field in read if wrong[field] > 0.02 * read[field]} == {}
