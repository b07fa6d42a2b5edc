"""One thing has many spellings, and what only looks like it is none: a table for each finder."""

from __future__ import annotations

from typing import Any

import pytest

from shipworthy.model.words import Category
from shipworthy.words.cooling import find_fan_sizes, find_packs, find_radiators
from shipworthy.words.counts import find_refresh_rates, find_resolutions, find_revisions
from shipworthy.words.forms import (
    find_board_forms,
    find_drive_forms,
    find_modularity,
    find_module_forms,
    find_supply_forms,
    same_form,
)
from shipworthy.words.kinds import (
    find_card_memory,
    find_error_correction,
    find_interfaces,
    find_memory_types,
    find_pci_links,
)
from shipworthy.words.power import find_grades, find_watts
from shipworthy.words.rotation import find_rotations
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.sockets import find_sockets
from shipworthy.words.speeds import find_memory_speeds, find_network_speeds
from shipworthy.words.suffixes import find_suffixes
from shipworthy.words.timings import find_timings, find_volts, fullest
from shipworthy.words.versions import (
    find_sata_rates,
    find_supply_versions,
    find_wifi,
)

GIB = 2**30


def meanings(words: tuple[Any, ...]) -> list[str]:
    return [word.meaning for word in words]


# Sizes and kits


@pytest.mark.parametrize(
    "text",
    [
        *(
            "2x16GB",
            "2 x 16 GB",
            "2×16GB",
            "2 X 16GB",
            "2*16GB",
            "16GBx2",
            "16GB x 2",
            "(16GX2)",
            "16GB (x2)",
        ),
        *("32GB (2x16)", "32GB Kit (16x2)", "32 (2x16)", "16GB + 16GB", "2 modules of 16GB", "2 sticks 16GB"),
        *("2\u00a0×\u00a016\u202fGB", "２ｘ１６ＧＢ"),
    ],
)
def test_a_kit_of_two_modules_of_16_gib(text: str) -> None:
    assert [(kit.count, kit.module_bytes) for kit in find_kits(text)] == [(2, 16 * GIB)]


@pytest.mark.parametrize(
    "text",
    [
        "32GB kit of 2",
        "32GB dual kit",
        "32GB twin pack",
        "32GB 2-module set",
        "set of 2, 32GB",
        "32GB pair of sticks",
    ],
)
def test_a_kit_that_gives_only_its_number(text: str) -> None:
    assert [(kit.count, kit.module_bytes) for kit in find_kits(text)] == [(2, None)]


@pytest.mark.parametrize(
    "text",
    [
        *("8GB 1Rx8", "16GB 2Gx8", "16GB 2Rx4", "PCIe 4.0 x4 1TB", "DDR5 2x16", "24GB (2x16)", "16GB + 32GB"),
        *("Memory kit 8 GB", "CL 30 DIMM 16GB", "DDR4 DIMM 16GB", "CL 16 x 16GB"),
        *("1920x1080", "2x SFP+", "CL16-18-18-38", "16GB DDR5-4800", "2x2.5GbE"),
    ],
)
def test_ranks_chips_lanes_and_numbers_that_do_not_add_up_are_no_kit(text: str) -> None:
    assert find_kits(text) == ()


@pytest.mark.parametrize(
    ("text", "size_bytes"),
    [
        ("1.000 GB", 10**12),
        ("1,000 GB", 10**12),
        ("1'000 GB", 10**12),
        ("1 000 GB", 10**12),
        ("1\u202f000\u00a0GB", 10**12),
        ("1.024TB", 1024 * 10**9),
        ("1,92 TB", 1920 * 10**9),
        ("７.６８ＴＢ", 7680 * 10**9),
        ("Slate 3 500GB", 500 * 10**9),
        ("1TB, 256MB cache", 10**12),
        ("4TB with 512 MB of DRAM cache", 4 * 10**12),
        ("1TB, 600TB written", 10**12),
        ("Legend MAX 4TB", 4 * 10**12),
    ],
)
def test_a_drives_size_however_its_thousands_are_parted(text: str, size_bytes: int) -> None:
    assert [size.size_bytes for size in find_sizes(text, Base.DECIMAL)] == [size_bytes]


@pytest.mark.parametrize(
    "text",
    ["SN850X", "X570", "13900K", "RX-480G", "7300MB/s", "6 Gb/s", "up to 192GB", "256MB cache", "V5.3"],
)
def test_numbers_in_names_rates_and_caches_are_no_size(text: str) -> None:
    assert find_sizes(text, Base.DECIMAL) == ()


def test_a_card_is_sold_in_no_kit_so_its_cooler_named_2x_leaves_its_size() -> None:
    assert [s.size_bytes for s in find_sizes("Squall 2X 16GB", Base.BINARY, kits=False)] == [16 * GIB]
    assert find_sizes("Squall 2X 16GB", Base.BINARY) == ()


# Memory


@pytest.mark.parametrize(
    ("text", "rates"),
    [
        ("DDR5-6000C30", [6000]),
        ("DDR5 6000 CL30", [6000]),
        ("DDR5@6000", [6000]),
        ("6.000 MHz", [6000]),
        ("6,000MT/s", [6000]),
        ("6000 MTs", [6000]),
        ("6.4 GT/s", [6400]),
        ("PC4 25600", [3200]),
        ("PC4-25600U", [3200]),
        ("PC3L-12800S", [1600]),
        ("PC4-3200AA", [3200]),
        ("PC5-4800B", [4800]),
        ("SODIMM-5600", [5600]),
        ("2x16GB 6000 CL30", [6000]),
        ("DDR400", [400]),
        ("DDR5-4800 up to 6000MHz", [4800, 6000]),
        ("DDR4 16GB", []),
        ("CMX32 5M2B6000C36", []),
        ("DDR5 7200rpm", []),
    ],
)
def test_a_speed_in_mhz_mt_s_and_by_a_modules_name(text: str, rates: list[int]) -> None:
    assert [speed.speed_mt_s for speed in find_memory_speeds(text)] == rates


@pytest.mark.parametrize(
    ("text", "cas", "row"),
    [
        ("CL30", 30, "CL30"),
        ("CL 30", 30, "CL30"),
        ("C30", 30, "CL30"),
        ("CAS 30", 30, "CL30"),
        ("CAS latency 16", 16, "CL16"),
        ("DDR5-6000C30", 30, "CL30"),
        ("30-36-36-76", 30, "30-36-36-76"),
        ("CL30-38-38-96", 30, "30-38-38-96"),
        ("CL16-20-20", 16, "16-20-20"),
        ("CL2.5", 2.5, "CL2.5"),
    ],
)
def test_timings_by_latency_or_in_a_row(text: str, cas: float, row: str) -> None:
    assert [(one.cas, one.all) for one in find_timings(text)] == [(cas, row)]


@pytest.mark.parametrize(
    "text", ["F4-3200C16D", "2026-11-26-01", "0-0-0-0", "AC1200", "SOLACL30X", "16-99-2-4"]
)
def test_what_only_looks_like_timings_is_none(text: str) -> None:
    assert find_timings(text) == ()


def test_of_timings_that_agree_the_fullest_is_taken_and_of_others_none() -> None:
    best = fullest(find_timings("CL30 (30-36-36-76)"))
    assert best is not None and best.all == "30-36-36-76"
    assert fullest(find_timings("CL30 or CL36")) is None
    assert fullest(find_timings("30-36-36-76 or 30-38-38-96")) is None


def test_volts_have_a_point_or_a_comma() -> None:
    assert [v.volts for v in find_volts("1.35V, 1,4 V, 230V")] == [1.35, 1.4, 230]
    assert find_volts("V2 SV300") == ()


def test_a_modules_name_tells_the_type_too() -> None:
    assert meanings(find_memory_types("PC4-25600")) == ["DDR4"]
    assert meanings(find_memory_types("PC3L-12800")) == ["DDR3L"]
    assert find_memory_types("GDDR6 HBM2") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("ECC RDIMM", ["ECC"]),
        ("Non-ECC", ["non-ECC"]),
        ("non ECC", ["non-ECC"]),
        ("on-die ECC", ["on-die ECC"]),
        ("RECCO", []),
    ],
)
def test_error_correction_of_the_module_is_not_that_within_a_chip(text: str, said: list[str]) -> None:
    assert meanings(find_error_correction(text)) == said


def test_a_cards_memory_is_told_whole() -> None:
    assert meanings(find_card_memory("12GB GDDR6X")) == ["GDDR6X"]
    assert meanings(find_card_memory("GDDR6")) == ["GDDR6"]
    assert meanings(find_card_memory("HBM2e")) == ["HBM2e"]
    assert find_card_memory("DDR5") == ()


# Forms


@pytest.mark.parametrize(
    ("text", "form"),
    [
        ("ATX", "ATX"),
        *(
            (text, "Micro ATX")
            for text in ("Micro ATX", "Micro-ATX", "MicroATX", "mATX", "m-ATX", "µATX", "μATX", "uATX")
        ),
        *((text, "Mini-ITX") for text in ("Mini-ITX", "Mini ITX", "mITX", "ITX")),
        *((text, "E-ATX") for text in ("E-ATX", "EATX", "E ATX", "Extended ATX")),
        ("XL-ATX", "XL-ATX"),
        ("Flex ATX", "Flex ATX"),
        ("SSI EEB", "SSI EEB"),
        ("SSI-CEB", "SSI CEB"),
        ("Thin Mini-ITX", "Thin Mini-ITX"),
    ],
)
def test_forms_of_boards(text: str, form: str) -> None:
    assert meanings(find_board_forms(f"Holloway B6, {text}, black")) == [form]


@pytest.mark.parametrize("text", ["Mini ATX", "Stryker M ATX", "Z77E-ITX", "ATXH", "B6-ATX", "matt"])
def test_names_that_hold_a_form_or_could_mean_two_are_none(text: str) -> None:
    assert find_board_forms(text) == ()


def test_forms_of_supplies_and_the_version_beside_them() -> None:
    assert meanings(find_supply_forms("SFX-L, SFX, TFX, Flex ATX, ATX")) == [
        "SFX-L",
        "SFX",
        "TFX",
        "Flex ATX",
        "ATX",
    ]
    assert meanings(find_supply_forms("SFX ATX 3.1 850W")) == ["SFX"]
    assert meanings(find_supply_versions("SFX ATX 3.1 850W")) == ["ATX 3.1"]
    assert meanings(find_modularity("Fully modular, semi-modular, non modular")) == [
        "Full",
        "Semi-Modular",
        "Non-Modular",
    ]


def test_forms_of_modules() -> None:
    assert meanings(find_module_forms("SODIMM")) == meanings(find_module_forms("262-pin")) == ["SO-DIMM"]
    assert meanings(find_module_forms("SO-DIMM 260 pin")) == ["SO-DIMM", "SO-DIMM"]
    assert meanings(find_module_forms("288-pin UDIMM")) == ["DIMM"]


@pytest.mark.parametrize(
    ("text", "form"),
    [
        *(
            (text, '2.5"')
            for text in ('2.5"', "2,5 inch", "2.5-inch", "2.5″", "2.5 SSD", "2.5''", "2,5 Zoll")
        ),
        *((text, "M.2-2280") for text in ("M.2 2280", "M.2-2280", "NVMe 2280", "M.2 (2280)")),
        ("M.2", "M.2"),
        ("M.2 22110", "M.2-22110"),
        ("mSATA", "mSATA"),
        ("U.2", "U.2"),
        ('3.5" SATA', '3.5"'),
    ],
)
def test_forms_of_drives(text: str, form: str) -> None:
    assert meanings(find_drive_forms(f"Quarrel {text}")) == [form]


@pytest.mark.parametrize("text", ["12.5 inch", "USB 2.5", "22800", "2280MB", "GR2280X"])
def test_other_numbers_are_no_form_of_a_drive(text: str) -> None:
    assert find_drive_forms(text) == ()


def test_a_drives_form_without_its_length_is_the_same_form() -> None:
    assert same_form("M.2", "M.2-2280") and same_form("M.2-2242", "M.2")
    assert not same_form("M.2-2242", "M.2-2280")
    assert not same_form('2.5"', "M.2")


# Sockets, power, turns


@pytest.mark.parametrize(
    ("text", "socket"),
    [
        *(
            (text, "LGA 1700")
            for text in ("LGA1700", "LGA 1700", "LGA-1700", "S1700", "Socket 1700", "lga1700")
        ),
        *((text, "LGA 2011-3") for text in ("LGA2011-3", "LGA 2011-v3", "2011-3", "2011-v3")),
        ("LGA2011", "LGA 2011"),
        ("LGA1151-V2", "LGA 1151"),
        ("Socket AM5", "AM5"),
        ("AM4", "AM4"),
        ("FM2+", "FM2+"),
        ("FM2", "FM2"),
        ("sTR5", "sTR5"),
        ("STRX4", "sTRX4"),
        ("TR4", "TR4"),
        ("sWRX8", "sWRX8"),
        ("Socket SP5", "SP5"),
        ("sAM4", "AM4"),
    ],
)
def test_sockets(text: str, socket: str) -> None:
    assert meanings(find_sockets(f"Holloway B6 {text} DDR5")) == [socket]


@pytest.mark.parametrize(
    ("text", "sockets"),
    [
        ("LGA1851/1700/1200, AM5/AM4", ["LGA 1851", "LGA 1700", "LGA 1200", "AM5", "AM4"]),
        ("LGA 1700 / 115X", ["LGA 1700", "LGA 1150", "LGA 1151", "LGA 1155", "LGA 1156"]),
        ("LGA2066/2011-3/LGA1700", ["LGA 2066", "LGA 2011-3", "LGA 1700"]),
        ("LGA1700/12", ["LGA 1700"]),
        ("LGA1700, 1200 rpm", ["LGA 1700"]),
        ("LGA1700/1200W", ["LGA 1700"]),
    ],
)
def test_sockets_in_a_list_behind_slashes(text: str, sockets: list[str]) -> None:
    assert meanings(find_sockets(f"Corrie cooler for {text}")) == sockets


@pytest.mark.parametrize("text", ["1700", "1700 MHz", "GX1700", "B6-AM4", "AM450", "SP500", "RM1200"])
def test_names_with_a_sockets_number_are_no_socket(text: str) -> None:
    assert find_sockets(text) == ()


@pytest.mark.parametrize(
    ("text", "watts"),
    [
        ("850W", 850),
        ("850 W", 850),
        ("850-Watt", 850),
        ("850 watts", 850),
        ("1.2kW", 1200),
        ("1,2 kW", 1200),
        ("1,000W", 1000),
        ("1.000 W", 1000),
        ("850W, 12V-2x6 600W", 850),
        ("850W with a 600W 12VHPWR cable", 850),
    ],
)
def test_watts(text: str, watts: int) -> None:
    assert [found.watts for found in find_watts(f"Calder Still {text} supply")] == [watts]


@pytest.mark.parametrize("text", ["RM850x", "CX450", "850WX", "TOP-400W80", "WiFi 6", "230V", "0W"])
def test_a_models_number_is_no_watts(text: str) -> None:
    assert find_watts(text) == ()


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        *(
            (text, "80 PLUS Gold")
            for text in ("80+ Gold", "80 PLUS Gold", "80 Plus® Gold", "80PLUS gold", "80+Gold")
        ),
        ("Gold 80+", "80 PLUS Gold"),
        ("850W Gold", "80 PLUS Gold"),
        ("80+ Platinum Certified", "80 PLUS Platinum"),
        ("80+", "80 PLUS"),
        ("80 PLUS White", "80 PLUS"),
        ("80+ Certified, 80+ Bronze", "80 PLUS Bronze"),
    ],
)
def test_grades(text: str, grade: str) -> None:
    assert meanings(find_grades(text)) == [grade]


@pytest.mark.parametrize(
    "text",
    ["Cybenetics Gold", "80+ Silver / Black", "Golden", "850W Silver", "180+", "80 mm", "Silver/Black"],
)
def test_other_marks_and_colours_are_no_grade(text: str) -> None:
    assert find_grades(text) == ()


@pytest.mark.parametrize(
    ("text", "rpm"),
    [
        ("7200RPM", [7200]),
        ("7.200 rpm", [7200]),
        ("5,400-RPM", [5400]),
        ("10K rpm", [10_000]),
        ("500-1800 RPM", [1800]),
        ("2TB HDD 7200", [7200]),
        ("2TB SSD 7200", []),
        ("HDD 7000", []),
        ("7200 MB/s", []),
    ],
)
def test_turns_a_minute(text: str, rpm: list[int]) -> None:
    assert [found.rpm for found in find_rotations(text)] == rpm


# Cooling


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        *(
            (text, [360])
            for text in ("360mm AIO", "AIO 360", "360 AIO", "Liquid Heron 360", "Heron 360mm", "water 360 mm")
        ),
        ("120mm AIO", [120]),
        ("Heron tower cooler 158 mm", []),
        ("Heron 120mm tower", []),
        ("Heron 360 tower", []),
        ("AIO 360W", []),
    ],
)
def test_radiators(text: str, mm: list[float]) -> None:
    assert [found.mm for found in find_radiators(text)] == mm


@pytest.mark.parametrize(
    ("text", "mm", "packs"),
    [
        ("120 mm", [120], []),
        ("3-pack 120mm", [120], [3]),
        ("3x 140 mm", [140], [3]),
        ("pack of 5, 120mm x 25mm", [120], [5]),
        ("Triple pack 140mm", [140], [3]),
        ("1500 mm cable", [], []),
    ],
)
def test_fans_and_their_packs(text: str, mm: list[float], packs: list[int]) -> None:
    assert [found.mm for found in find_fan_sizes(text)] == mm
    assert [found.count for found in find_packs(text)] == packs


# Interfaces and their generations


@pytest.mark.parametrize(
    ("text", "link"),
    [
        *(
            (text, (4, 4))
            for text in (
                "PCIe 4.0 x4",
                "PCIe Gen4 x4",
                "PCIe Gen 4x4",
                "Gen4 x4",
                "PCI-E 4.0 x4",
                "PCIe4.0 x4",
            )
        ),
        ("PCI Express 5.0 x16", (5, 16)),
        ("PCIe 3.0", (3, None)),
    ],
)
def test_links(text: str, link: tuple[int, int | None]) -> None:
    assert [(found.generation, found.width) for found in find_pci_links(text)] == [link]


@pytest.mark.parametrize(
    "text", ["USB 3.2 Gen 2", "USB 3.2 Gen 2x2", "PCIe x16", "13th Gen", "GEN44", "PCIe 400"]
)
def test_other_generations_are_no_link(text: str) -> None:
    assert find_pci_links(text) == ()


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        *(
            (text, 6)
            for text in ("SATA III", "SATA 6Gb/s", "SATA 6.0 Gb/s", "SATA3", "SATA III 6Gb/s", "6Gb/s SATA")
        ),
        ("SATA 3.0 Gb/s", 3),
        ("SATA II", 3),
        ("SATA 1.5 Gb/s", 1.5),
    ],
)
def test_sata_rates(text: str, rate: float) -> None:
    assert [found.gbit_s for found in find_sata_rates(text)] == [rate]
    assert set(meanings(find_interfaces(text))) <= {"SATA"}


def test_wireless_and_wired_standards() -> None:
    assert meanings(find_wifi("Wi-Fi 6E, WiFi 7, 802.11ax, 802.11ac, 802.11b/g/n")) == [
        *("Wi-Fi 6E", "Wi-Fi 7", "Wi-Fi 6", "Wi-Fi 5", "Wi-Fi 4"),
    ]
    assert find_wifi("WIFI") == ()
    assert [s.speed_mbit_s for s in find_network_speeds("2x 2.5GbE")] == [2500]


def test_a_standards_version_is_no_revision_of_a_board() -> None:
    assert find_revisions("Bluetooth v5.3, HDMI v2.1") == ()
    assert [found.revision for found in find_revisions("Holloway B6-Q v1.3")] == ["1.3"]


# Screens


@pytest.mark.parametrize(
    ("text", "pixels"),
    [
        ('27" 1440p', (2560, 1440)),
        ('34" 1440p', (None, 1440)),
        ('34" UWQHD', (3440, 1440)),
        ("3440×1440", (3440, 1440)),
        ('32" 4K', (3840, 2160)),
        ("ultrawide WQHD", (None, 1440)),
        ("Dual QHD", (5120, 1440)),
    ],
)
def test_a_named_resolution_of_a_wide_screen_tells_the_rows_alone(
    text: str, pixels: tuple[int | None, int]
) -> None:
    assert [(r.width_px, r.height_px) for r in find_resolutions(text)] == [pixels]


def test_refresh_rates() -> None:
    assert [r.hertz for r in find_refresh_rates("165Hz, 59,94 Hz, 6000MHz")] == [165, 59.94]


# Suffixes


@pytest.mark.parametrize(
    ("category", "text", "suffixes"),
    [
        (Category.PROCESSOR, "Tarn Core i9-13900KF", ["KF"]),
        (Category.PROCESSOR, "Tarn 7800X3D", ["X3D"]),
        (Category.PROCESSOR, "Tarn i5-13400", []),
        (Category.PROCESSOR, "Tarn C7", []),
        (Category.GRAPHICS, "Sable 4070 Ti SUPER OC", ["Ti", "SUPER", "OC"]),
        (Category.GRAPHICS, "Sable 7900XTX", ["XTX"]),
        (Category.GRAPHICS, "Sable 4070", []),
        (Category.BOARD, "Holloway B6-Q DDR4 WIFI6E rev. 1.2", ["D4", "WIFI6E", "V1.2"]),
        (Category.BOARD, "Holloway B6-Q AX V2", ["AX", "V2"]),
        (Category.STORAGE, "Quarrel Q7 V2", ["V2"]),
    ],
)
def test_suffixes_that_make_a_model_another_one(category: Category, text: str, suffixes: list[str]) -> None:
    assert meanings(find_suffixes(text, category)) == suffixes
