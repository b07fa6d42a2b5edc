"""Money and persons are known by shape; part numbers, sizes and versions are neither."""

from __future__ import annotations

import pytest

from shipworthy.orders.intake.private import without_private

PRIVATE = [
    ("Fan 12,90 €", "price"),
    ("Fan €12.90", "price"),
    ("Fan EUR 1.299,00", "price"),
    ("Fan 1'299.00 CHF", "price"),
    ("Fan $5", "price"),
    ("Fan £1,299", "price"),
    ("Fan 99,- €", "price"),
    ("Fan   12.90", "price"),
    ("Fan 12,90", "price"),
    ("Fan 12,90 25,80", "price"),
    ("Fan (each 12.90)", "price"),
    ("Fan     included", "price"),
    ("mail ada.marsh+x@post.example now", "e-mail address"),
    ("+49 (30) 123 45 67", "phone number"),
    ("Tel. 030 / 1234567", "phone number"),
    ("01632 960118", "phone number"),
    ("01 99 00 12 34", "phone number"),
    ("ring us on 07700 900123", "phone number"),
    ("IBAN DE89 3704 0044 0532 0130 00", "bank account"),
    ("GB82WEST12345698765432", "bank account"),
    ("VAT no. GB 999 9999 73", "VAT id"),
    ("ATU12345678", "VAT id"),
]


@pytest.mark.parametrize(("row", "kind"), PRIVATE)
def test_it_is_cut_and_named(row: str, kind: str) -> None:
    bare, named, kinds = without_private(row)
    assert kinds == (kind,)
    assert f"[{kind}]" in named
    assert not any(character.isdigit() for character in bare.replace("Fan", ""))


KEPT = [
    "CMK32GX5M2B6000C30",
    "90MB1CX0-M1EAY0",
    "BX80677I77600T",
    "0761345-12345",
    "100-100000910WOF",
    "2000000000015",
    "USB 3.20",
    "HDMI 2.10",
    "rev 1.02",
    "Ubuntu 24.04",
    "Linux Mint 22.10",
    "Fan each 12.90 mm thick",
    "Case halogen free",
    "0815-4711",
    "PCIe 4.0 x16",
    "DDR5-6000 CL30-36-36-76",
    "27 inch 2560x1440 165 Hz",
    "SSD 1.92 TB",
    "GT1030-2GH",
    "DE12 3456 7890 1234 5678 90",  # like a bank account, with wrong check digits
    "FN-1.200,00",
    "AM3+ 1200",
    "80+ 750 W",
    "EURO plug",
    "ST8000NE001-2M7101",
]


@pytest.mark.parametrize("row", KEPT)
def test_what_is_neither_stays(row: str) -> None:
    bare, named, kinds = without_private(row)
    assert (bare, named, kinds) == (row, row, ())


def test_real_part_numbers_and_names_lose_nothing(reference: object) -> None:
    """Of all retail names and part numbers of the open part records, none is taken for money or a person."""
    import json
    import lzma
    from pathlib import Path

    assert isinstance(reference, Path)
    seen, cut = 0, []
    for file in sorted((reference / "names" / "open-db").glob("*.xz")):
        with lzma.open(file, "rt", encoding="utf-8") as lines:
            for line in lines:
                told = json.loads(line)["metadata"]
                for text in (told["name"] or "", *(told.get("part_numbers") or ())):
                    seen += 1
                    if without_private(str(text))[2]:
                        cut.append(text)
    assert seen > 30_000
    assert len(cut) / seen < 0.0005, cut[:20]
