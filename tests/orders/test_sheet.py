"""The build sheet: every order line on it, places only where something tells them, a code that scans."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.jobs.sheet import sheet_of
from shipworthy.model.base import Trouble, encode
from shipworthy.model.catalogue import (
    BoardFacts,
    CardFacts,
    CaseFacts,
    CataloguePart,
    CoolerFacts,
    Facts,
    GraphicsFacts,
    M2Place,
    ProcessorFacts,
    RadiatorPlace,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import order_toml
from shipworthy.orders.fit.facts import build_of
from shipworthy.orders.sheet import Sheet, build_sheet, sheet_page
from shipworthy.orders.sheet.barcode import QUIET_MODULES, code_128
from shipworthy.orders.sheet.page import SIZES_PT, size_pt
from shipworthy.verdict.policies import parse_policy, shipped_policy

C = Category


def order(*lines: tuple[Category, str], units: tuple[str, ...] = ("BL-1-1",), quantity: int = 1) -> Order:
    return with_expectations(
        Order(
            order_id="BL-1",
            shop="Brack Lane Computers",
            units=units,
            due=date(2026, 12, 4),
            lines=tuple(
                OrderLine(line_id=str(number), category=category, text=text, quantity=quantity)
                for number, (category, text) in enumerate(lines, 1)
            ),
        )
    )


def sheet(
    *lines: tuple[Category, str], facts: dict[str, Facts | None] | None = None, quantity: int = 1
) -> Sheet:
    made, known = order(*lines, quantity=quantity), facts or {}

    def looked_up(line: OrderLine) -> CataloguePart | None:
        found = known.get(line.line_id)
        return CataloguePart(part_id="a", category=line.category, name="a", facts=found) if found else None

    return build_sheet(made, "BL-1-1", build_of(made, looked_up))


def places(made: Sheet, line: str) -> str:
    return " ".join(next(part.places for part in made.parts if part.line == line))


def rows(made: Sheet) -> dict[str, str]:
    return {setting.name: setting.to for setting in made.settings}


@given(st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,40}", fullmatch=True))
def test_the_barcode_says_the_unit_when_it_is_scanned(unit: str) -> None:
    code = code_128(unit)
    row = np.full(code.width, 255, np.uint8)
    for at, length in re.findall(r"M(\d+) 0h(\d+)", code.path):
        row[int(at) : int(at) + int(length)] = 0
    image = np.repeat(np.repeat(row[None, :], 60, 0), 3, 1)
    (read,) = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.Code128)
    assert read.text == unit
    assert (row[:QUIET_MODULES] == 255).all() and (row[-QUIET_MODULES:] == 255).all()


def test_code_128_is_as_the_standard_draws_it() -> None:
    # start, text (two digits are one sign), check sign: 11 modules each; the stop has 13 (ISO/IEC 15417)
    for unit, signs in (("9999", 4), ("99", 3), ("Ab", 4)):
        assert code_128(unit).width - 2 * QUIET_MODULES == 11 * signs + 13


def test_code_128_of_what_is_no_ascii_is_refused() -> None:
    for text in ("", "Müller", "a\nb"):
        with pytest.raises(ValueError, match="Code 128"):
            code_128(text)


def test_every_line_of_an_order_stands_on_the_sheet() -> None:
    lines = [(category, f"a thing of {category.value}") for category in C if category is not C.UNIT]
    page = sheet_page(sheet(*lines)).decode("utf-8")
    assert all(page.count(text) == 1 for _, text in lines)


def test_text_of_an_order_is_shown_and_never_run() -> None:
    page = sheet_page(sheet((C.CASE, "<script>alert(1)</script> & Sons"))).decode("utf-8")
    assert "<script" not in page and "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Sons" in page


def test_two_modules_of_four_slots_go_into_the_second_and_the_fourth() -> None:
    lines = ((C.MEMORY, "32GB (2x16GB) DDR5-6000"), (C.BOARD, "Holloway Q"))
    known = {"2": BoardFacts(memory_slots=4)}
    assert "second and fourth" in places(sheet(*lines, facts=known), "1")
    full = sheet((C.MEMORY, "64GB (4x16GB) DDR5-6000"), lines[1], facts=known)
    assert "All 4 slots" in places(full, "1")
    # two kits of two fill four slots; without a board's record nobody says which two
    assert "All 4 slots" in places(sheet(*lines, lines[0], facts=known), "1")
    assert "second" not in places(sheet(*lines), "1")


def test_drives_go_into_the_fastest_places_first_and_what_a_place_switches_off_is_said() -> None:
    board = BoardFacts(
        m2=(
            M2Place(interface="PCIe 4.0 x4"),
            M2Place(interface="PCIe 5.0 x4"),
            M2Place(interface="PCIe 3.0 x2", shares_with=("SATA 5", "SATA 6")),
        )
    )
    lines = (
        (C.BOARD, "Holloway Q"),
        (C.STORAGE, "Osier N 2TB M.2 NVMe"),
        (C.STORAGE, "Osier S 1TB SATA SSD"),
    )
    made = sheet(*lines, (C.STORAGE, "Osier N 1TB NVMe SSD"), facts={"1": board})
    assert "M.2 place 2 " in places(made, "2") and "SATA port" in places(made, "3")
    assert "M.2 place 1 " in places(made, "4")
    three = sheet(*lines[:2], facts={"1": board}, quantity=3)
    assert "switches off: SATA 5, SATA 6" in places(three, "2")
    assert "nearest the processor" in places(sheet(*lines), "2")


def test_a_sata_drive_in_m2_form_goes_where_its_form_says() -> None:
    line = (C.STORAGE, "Osier S 500GB SATA SSD")
    assert "SATA port" in places(sheet(line), "1")
    assert "M.2 place" in places(sheet(line, facts={"1": StorageFacts(form_factor="M.2-2280")}), "1")


NVME = StorageFacts(interface="NVMe", link="PCIe 4.0 x4", form_factor="M.2-2280")
SATA_M2 = StorageFacts(interface="SATA", form_factor="M.2-2280")


def placed_on(*board: M2Place, drives: tuple[StorageFacts, ...]) -> list[str]:
    lines = [(C.STORAGE, f"Osier drive {number}") for number, _ in enumerate(drives)]
    facts: dict[str, Facts | None] = {str(number): drive for number, drive in enumerate(drives, 2)}
    made = sheet((C.BOARD, "Holloway Q"), *lines, facts={"1": BoardFacts(m2=board), **facts})
    return [places(made, line) for line in facts]


def test_a_drive_goes_where_fit_found_that_it_goes() -> None:
    wireless = M2Place(interface="PCIe 5.0 x1", key="E", lengths=(30, 80))
    fast = M2Place(interface="PCIe 5.0 x4", key="M", lengths=(80,))
    both = M2Place(interface="PCIe 4.0 x4, SATA", key="M", lengths=(80,))
    short = M2Place(interface="PCIe 5.0 x4", key="M", lengths=(30,))
    assert placed_on(wireless, both, drives=(NVME,)) == [
        "M.2 place 2 of the board's list (PCIe 4.0 x4, SATA)."
    ]
    assert "M.2 place 2 " in placed_on(fast, both, drives=(SATA_M2,))[0]
    assert "M.2 place 2 " in placed_on(short, both, drives=(NVME,))[0]
    first, second = placed_on(fast, both, drives=(SATA_M2, NVME))
    assert "M.2 place 2 " in first and "M.2 place 1 " in second
    (none,) = placed_on(wireless, drives=(NVME,))  # what does not fit has no place
    assert "of the board's list" not in none


def test_what_sits_in_a_slot_wants_no_lead() -> None:
    def leads(text: str, facts: StorageFacts | None = None, category: Category = C.STORAGE) -> str:
        made = sheet((category, text), facts={"1": facts} if facts else None)
        return " ".join(text for text in made.tray if "SATA data leads" in text)

    assert "1 fitted" in leads("Osier S 1TB SATA SSD")
    assert "1 fitted" in leads("Osier S", StorageFacts(interface="SATA", form_factor='2.5"'))  # by the list
    assert "1 fitted" in leads("DVD writer", category=C.OPTICAL_DRIVE)
    assert not leads("Osier S 1TB", SATA_M2)
    assert not leads("Osier S 1TB mSATA SSD")


def test_each_plug_of_a_card_has_a_lead_of_its_own() -> None:
    line = (C.GRAPHICS, "Corrie card")
    two = GraphicsFacts(plugs=("8-pin", "8-pin"))
    assert "2 × 8-pin: a lead of its own" in places(sheet(line, facts={"1": two}), "1")
    for plug in ("12V-2x6", "12VHPWR", "16-pin", "12+4-pin", "H++"):
        one = GraphicsFacts(plugs=(plug,))
        assert "no bend" in places(sheet(line, facts={"1": one}), "1"), plug
    assert "Count its power plugs" in places(sheet(line), "1")


def test_a_radiator_is_placed_only_where_the_case_is_known_to_take_it() -> None:
    lines = ((C.COOLER, "Tern 360 mm AIO"), (C.CASE, "Osprey Fold"))
    case = CaseFacts(
        radiators=(RadiatorPlace(place="top", longest_mm=240), RadiatorPlace(place="front", longest_mm=360))
    )
    cooler = CoolerFacts(liquid=True, radiator_mm=360)
    said = places(sheet(*lines, facts={"1": cooler, "2": case}), "1")
    assert "360 mm: front." in said
    assert "where this case takes" in places(sheet(*lines, facts={"1": cooler}), "1")
    wide = CoolerFacts(liquid=True, radiator_mm=280)  # of 140 mm fans: longer places may be too narrow
    said = places(sheet((C.COOLER, "Tern 280 mm AIO"), lines[1], facts={"1": wide, "2": case}), "1")
    assert "where this case takes" in said and "front" not in said


def test_settings_follow_what_was_sold() -> None:
    memory = (C.MEMORY, "32GB (2x16GB) DDR5-6000")
    made = rows(sheet(memory, (C.PROCESSOR, "Tarn C7")))
    assert made["Memory profile:"].startswith("on; 6,000 MT/s") and "Resizable BAR:" not in made
    assert "own drives" in made["Boot order:"]
    more = sheet(memory, (C.GRAPHICS, "Corrie card"), (C.SYSTEM_SOFTWARE, "A system"))
    assert "Resizable BAR:" in rows(more) and "drive with the system" in rows(more)["Boot order:"]
    limited = sheet((C.PROCESSOR, "Tarn C7"), facts={"1": ProcessorFacts(limit_w=253)})
    assert "at most 253 W" in rows(limited)["Processor power limits:"]


def test_a_revision_of_the_board_is_no_version_of_its_firmware() -> None:
    assert "Firmware version:" not in rows(sheet((C.BOARD, "Holloway H8-Pro rev. 1.1, ATX")))
    asked = rows(sheet((C.BOARD, "Holloway H8-Pro rev. 1.1, BIOS F14 or later")))
    assert asked["Firmware version:"].startswith("at least F14;")


def test_each_piece_with_a_serial_has_a_line_to_write_it_on() -> None:
    made = sheet(
        (C.MEMORY, "Fennec 64GB (2x32GB) DDR5-5600"), (C.STORAGE, "Osier D7 8TB"), (C.FAN, "Tern"), quantity=2
    )
    assert {part.kind: part.serials for part in made.parts} == {"memory": 4, "storage": 2, "fan": 1}
    assert sheet_page(made).decode().count('<span class="serial">') == 7
    many = sheet((C.STORAGE, "Osier D7 8TB"), quantity=40)
    assert many.parts[0].serials == 8


def test_the_tray_holds_what_comes_loose_and_names_a_sold_cord_once() -> None:
    lines = ((C.POWER_SUPPLY, "Ampere 650W"), (C.BOARD, "Holloway Q WIFI"))
    assert any("antennas" in text for text in sheet(*lines).tray)
    assert not any("antennas" in text for text in sheet(lines[0], (C.BOARD, "Holloway Q")).tray)
    assert sum("cord" in text.casefold() for text in sheet(*lines, (C.CABLE, "Cord set, type G")).tray) == 1
    mouse = sheet(*lines, (C.ACCESSORY, "Cordless mouse")).tray
    assert any(text.startswith("power cord") for text in mouse)


def test_leads_that_are_fixed_to_the_supply_lie_in_no_bag() -> None:
    def both(modular: str) -> tuple[bool, bool]:
        made = sheet((C.POWER_SUPPLY, "Ampere 650W"), facts={"1": SupplyFacts(modular=modular)})
        return any("spare leads" in text for text in made.tray), "own box" in places(made, "1")

    assert both("Full") == both("Semi-Modular") == (True, True)
    assert both("Non-Modular") == (False, False)
    assert both("") == (False, True)


def test_antennas_are_laid_out_for_what_is_wireless_by_text_or_list() -> None:
    def antennas(*lines: tuple[Category, str], facts: dict[str, Facts | None] | None = None) -> bool:
        return any("antennas" in text for text in sheet(*lines, facts=facts).tray)

    assert antennas((C.NETWORK, "Loom wireless card"))
    assert antennas((C.NETWORK, "Loom card"), facts={"1": CardFacts(wireless=True)})
    assert not antennas((C.BOARD, "Holloway Q without WiFi"))
    assert not antennas((C.BOARD, "Holloway Q, no wireless"))


def test_a_custom_loop_is_minded_and_a_sealed_cooler_is_not_opened() -> None:
    loop = sheet((C.COOLER, "Custom loop, hardline tubes")).cautions
    assert any("board unpowered" in text for text in loop)
    sealed = sheet((C.COOLER, "Tern 240 AIO"), facts={"1": CoolerFacts(liquid=True)}).cautions
    assert any("never open a sealed cooler" in text for text in sealed)


def test_more_text_is_printed_smaller_and_never_below_what_is_read() -> None:
    few = sheet((C.CASE, "Osprey"))
    many = sheet(
        *((C.CUSTOMISATION, f"Lead {n} in rust red, with cream combs, as agreed") for n in range(60))
    )
    endless = sheet(*((C.STORAGE, f"Drive {n} 1TB SATA SSD, label side up") for n in range(200)))
    assert SIZES_PT[0] == size_pt(few) > size_pt(many) > size_pt(endless) == SIZES_PT[-1]


def test_each_box_can_be_ticked_on_a_phone_and_is_named_by_its_row() -> None:
    lines = [(category, f"a thing of {category.value}") for category in C if category is not C.UNIT]
    made = sheet(*lines)
    page = sheet_page(made).decode("utf-8")
    rows_ = len(made.parts) + len(made.customisations) + len(made.services) + len(made.tray) + len(made.steps)
    assert page.count('type="checkbox"') == rows_ + 2 * len(made.settings)
    named = re.findall(r'aria-labelledby="([^"]+)"', page)
    assert len(set(named)) == rows_ == sum(f'id="{name}"' in page for name in named)


def test_the_page_stands_alone() -> None:
    page = sheet_page(sheet((C.CASE, "Osprey"))).decode("utf-8")
    assert "<script" not in page and "http" not in page and "url(" not in page


def written(folder: Path, made: Order) -> Path:
    path = folder / "order.toml"
    path.write_text(order_toml(made), "utf-8")
    return path


def test_checks_to_come_follow_the_policy_and_the_reader(tmp_path: Path) -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    made = sheet_of(written(tmp_path, order((C.PROCESSOR, "Tarn C7"), (C.CASE, "Osprey Fold"))), None, policy)
    checks = {check.by: " ".join(check.what) for check in made.checks}
    assert "processor: model, cores" in checks["By the machine's own reading"]
    assert "the whole PC: same PC from start to end" in checks["By the machine's own reading"]
    assert "processor: right results under load" in checks["By the burn-in"]
    assert "case: that it is there, condition" in checks["By a person"]
    assert "case:" in checks["By a person"] and "case:" not in checks["By the machine's own reading"]


def test_what_does_not_fit_and_what_is_open_stands_first(tmp_path: Path) -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    lines = ((C.BOARD, "Holloway Q LGA1700 DDR5"), (C.MEMORY, "32GB (2x16GB) DDR4-3200 CL16"))
    made = sheet_of(written(tmp_path, order(*lines, (C.STORAGE, "1TB SSD"))), None, policy)
    kinds = [trouble.kind for trouble in made.troubles]
    assert kinds[0] == "Does not fit." and "DDR4" in made.troubles[0].say and "Ask." in kinds
    page = sheet_page(made).decode("utf-8")
    assert page.index(made.troubles[0].kind) < page.index("Parts and places")


def test_a_sheet_of_paper_has_no_marks_of_a_terminal(tmp_path: Path) -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    parts = [
        CataloguePart(part_id=f"calder-{grade}", category=C.POWER_SUPPLY, name=f"Calder Still 550W {grade}")
        for grade in ("Gold", "Bronze")
    ]
    listed = tmp_path / "parts.jsonl"
    listed.write_bytes(b"".join(encode(part) + b"\n" for part in parts))
    made = sheet_of(written(tmp_path, order((C.POWER_SUPPLY, "Calder Still 550W"))), None, policy, listed)
    asked = [trouble.do for trouble in made.troubles if "catalogue learn" in trouble.do]
    assert asked and all('"shipworthy catalogue learn"' in do and "`" not in do for do in asked)


def test_a_unit_has_to_be_named_where_there_are_several(tmp_path: Path) -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    path = written(tmp_path, order((C.CASE, "Osprey"), units=("A", "B")))
    with pytest.raises(Trouble, match="2 units"):
        sheet_of(path, None, policy)
    with pytest.raises(Trouble, match="no unit C"):
        sheet_of(path, "C", policy)
    assert b"unit 2 of 2" in sheet_page(sheet_of(path, "B", policy))
