"""SPD of memory modules: images of our own making, the reference decoder, spoiled images, and joining."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.parse import jep106
from shipworthy.machine.parse.spd import common as spd_common
from shipworthy.machine.parse.spd import source as spd
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind
from tests.machine import decode_dimms_text, spd_bytes
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_of

IMAGES: dict[str, Callable[[], bytes]] = {
    "DDR3": spd_bytes.ddr3,
    "DDR4": spd_bytes.ddr4,
    "DDR5": spd_bytes.ddr5,
}
GIB = 1 << 30


def values(said: tuple[Said, ...]) -> Facts:
    assert len({field.name for field in said}) == len(said), "a field stands there twice"
    return facts_of(said)


def facts(image: bytes) -> Facts:
    return values(spd.decode(image).said)


def test_a_ddr3_image_gives_its_module() -> None:
    found = facts(spd_bytes.ddr3())
    assert found == {
        "type": "DDR3",
        "spd_revision": "1.3",
        "module_type": "UDIMM",
        "form_factor": "DIMM",
        "size_bytes": 4 * GIB,
        "rank": 1,
        "device_width_bits": 8,
        "data_width_bits": 64,
        "total_width_bits": 64,
        "nominal_voltage_mv": 1500,
        "thermal_sensor": False,
        "tck_min_ps": 1250,
        "taa_min_ps": 13750,
        "trcd_min_ps": 13750,
        "trp_min_ps": 13750,
        "tras_min_ps": 35000,
        "trc_min_ps": 48750,
        "cas_latencies": "6, 7, 8, 9, 10, 11",
        "jedec_speed_mt_s": 1600,
        "rated_speed_mt_s": 1600,
        "maker_code": "JEP106 bank 2 code 0x18",
        "serial": "0BADF00D",
        "manufactured": "2016-W23",
        "part_number": "NORVIK-3U1600C11",
        "dram_maker_code": "JEP106 bank 1 code 0x4E",
    }
    assert spd.decode(spd_bytes.ddr3()).faults == ()


def test_a_ddr4_image_gives_its_module() -> None:
    found = facts(spd_bytes.ddr4())
    wanted = {
        "type": "DDR4",
        "size_bytes": 16 * GIB,
        "rank": 2,
        "data_width_bits": 64,
        "total_width_bits": 72,
        "nominal_voltage_mv": 1200,
        "thermal_sensor": True,
        "tck_min_ps": 833,
        "taa_min_ps": 13750,
        "tras_min_ps": 32000,
        "trc_min_ps": 45750,
        "jedec_speed_mt_s": 2400,
        "rated_speed_mt_s": 2400,
        "serial": "DEADBE01",
        "manufactured": "2021-W07",
        "part_number": "TARN4E2400C17/16",
    }
    assert found | wanted == found


def test_a_ddr5_image_gives_its_module() -> None:
    found = facts(spd_bytes.ddr5())
    wanted = {
        "type": "DDR5",
        "form_factor": "DIMM",
        "size_bytes": 16 * GIB,
        "rank": 1,
        "device_width_bits": 8,
        "data_width_bits": 64,
        "total_width_bits": 64,
        "nominal_voltage_mv": 1100,
        "tck_min_ps": 357,
        "taa_min_ps": 16000,
        "trc_min_ps": 48000,
        "cas_latencies": "22, 26, 28, 30, 32, 36, 40, 42, 46, 50",
        "jedec_speed_mt_s": 5600,
        "rated_speed_mt_s": 5600,
        "maker_code": "JEP106 bank 2 code 0x18",
        "serial": "5CA1AB1E",
        "manufactured": "2025-W41",
        "part_number": "HOLLOWAY-5U5600C46-16",
    }
    assert found | wanted == found
    assert spd.decode(spd_bytes.ddr5()).faults == ()


def test_the_check_values_module_is_read_as_they_say(reference: Path) -> None:
    """memory.md, the worked SPD: what decode-dimms 4.3 printed of it."""
    image = bytes.fromhex((reference / "check-values" / "spd-ddr4-example.hex").read_text())
    found = facts(image)
    wanted = {
        "module_type": "UDIMM",
        "jedec_speed_mt_s": 2666,
        "size_bytes": 16384 << 20,
        "rank": 2,
        "device_width_bits": 8,
        "data_width_bits": 64,
        "taa_min_ps": 13750,
        "nominal_voltage_mv": 1200,
        "maker_code": "JEP106 bank 2 code 0x18",
        "manufactured": "2024-W17",
        "serial": "1A2B3C4D",
        "part_number": "TEST2666C19D8/16G",
    }
    assert found | wanted == found
    for at in range(126):
        spoiled = bytearray(image)
        spoiled[at] ^= 0x10 if at != 2 else 0x01
        kinds = {fault.kind for fault in spd.decode(bytes(spoiled)).faults}
        assert kinds & {RemarkKind.BAD_CHECKSUM, RemarkKind.BAD_HEADER}, at


def test_the_checksum_is_the_published_one_by_both_ways() -> None:
    """Check values, memory.md: `123456789` gives 0x31C3."""
    assert spd_common.crc16(b"123456789") == spd_bytes.crc(b"123456789") == 0x31C3
    noise = random.Random("spd/crc").randbytes(510)
    assert spd_common.crc16(noise) == spd_bytes.crc(noise)


@pytest.mark.parametrize("generation", IMAGES)
def test_every_flipped_byte_under_the_checksum_is_found(generation: str) -> None:
    image = IMAGES[generation]()
    covered = {"DDR3": 117, "DDR4": 126, "DDR5": 510}[generation]
    for at in (*range(covered), {"DDR5": 510}.get(generation, 126)):
        if at in (0, 2):  # how far the checksum reaches, and what it is an image of
            continue
        spoiled = bytearray(image)
        spoiled[at] ^= 0x41
        decoded = spd.decode(bytes(spoiled))
        assert next(f.kind for f in decoded.faults) is RemarkKind.BAD_CHECKSUM, at
        found = values(decoded.said)
        assert found["size_bytes"] is found["jedec_speed_mt_s"] is Absent.IMPLAUSIBLE
        assert found["part_number"] == facts(image)["part_number"]  # what no checksum covers still stands


def _spell(name: str, rng: random.Random) -> tuple[bytes, str]:
    """Return an image of that generation with seeded, legal values where the layout and the times lie."""
    image = bytearray(IMAGES[name]())
    medium = (12, 16, 17, 18, 19, 20, 26, 27) if name == "DDR3" else (18, 24, 25, 26, 38, 39, 40)
    fine = (34, 35, 36, 37, 38) if name == "DDR3" else (117, 118, 119, 120, 121, 122, 123, 125)
    for at in medium:
        image[at] = rng.randrange(5, 24) if at == medium[0] else rng.randrange(40, 160)
    for at in fine:
        image[at] = rng.randrange(256)
    image[3] = rng.choice((1, 2, 3))
    density_at, width_at, bus_at = (4, 7, 8) if name == "DDR3" else (4, 12, 13)
    image[density_at] = image[density_at] & 0xF0 | rng.randrange(2, 7)
    image[width_at] = rng.randrange(3) | rng.randrange(4) << 3
    image[bus_at] = rng.choice((0x03, 0x0B, 0x02))
    upper, low = (21, 22) if name == "DDR3" else (27, 28)
    image[upper] = rng.choice((0x11, 0x21, 0x31))
    put = spd_bytes.put
    put(image, low, rng.randbytes(2))
    put(image, 14 if name == "DDR3" else 20, rng.randbytes(2))
    serial_at, part_at = (122, 128) if name == "DDR3" else (325, 329)
    put(image, serial_at, rng.randbytes(4))
    put(image, part_at, f"SKOG-{rng.randrange(1 << 30):X}".ljust(18).encode())
    return spd_bytes.sealed(bytes(image)), f"{name} {image.hex()}"


@pytest.mark.parametrize("generation", ["DDR3", "DDR4"])
def test_the_reference_decoder_reads_the_same(generation: str, tmp_path: Path) -> None:
    """decode-dimms 4.3 on the image of our own and on 20 seeded others with other sizes and times."""
    rng = random.Random(f"spd/{generation}")
    images = [(IMAGES[generation](), generation), *(_spell(generation, rng) for _ in range(20))]
    compared = 0
    for image, label in images:
        lines = decode_dimms_text.run(image, tmp_path)
        assert any("CRC" in key and text.startswith("OK") for key, text in lines.items()), lines
        wanted = decode_dimms_text.fields(lines)
        decoded = spd.decode(image)
        found = values(decoded.said) | dict(decoded.further)
        assert {name: found.get(name) for name in wanted} == wanted, label
        compared += len(wanted)
    assert compared > 20 * 20


def test_the_reference_decoder_names_the_makers_of_our_codes(reference: Path, tmp_path: Path) -> None:
    """The code of the image, by the check values' list, is the maker that decode-dimms prints."""
    lines = decode_dimms_text.run(spd_bytes.ddr4(), tmp_path)
    rows = (reference / "check-values" / "jep106-examples.csv").read_text().splitlines()[1:]
    names = {str(jep106.MakerCode(int(r[1]), int(r[2], 16))): r[0] for r in (x.split(",") for x in rows)}
    found = facts(spd_bytes.ddr4())
    assert names[str(found["maker_code"])] == lines["Module Manufacturer"]
    assert names[str(found["dram_maker_code"])] == lines["DRAM Manufacturer"]


def test_the_profiles_of_ddr3_give_their_speed_and_the_module_is_rated_by_the_fastest() -> None:
    decoded = spd.decode(spd_bytes.ddr3_with_profiles())
    found = values(decoded.said)
    assert found["profiles"] == "XMP 1.2"
    assert found["profile_count"] == 2
    assert found["jedec_speed_mt_s"] == 1600
    assert found["profile_speed_mt_s"] == found["rated_speed_mt_s"] == 2400
    further = dict(decoded.further)
    assert (further["profile_1_voltage_mv"], further["profile_2_voltage_mv"]) == (1500, 1650)
    assert (further["profile_1_tck_min_ps"], further["profile_1_taa_min_ps"]) == (1071, 10000)
    assert [f.kind for f in decoded.faults] == [RemarkKind.NOT_UNDERSTOOD]


def test_a_later_revision_of_them_may_correct_times_so_no_speed_is_told() -> None:
    found = facts(spd_bytes.ddr3_with_profiles(revision=0x13))
    assert found["profiles"] == "XMP 1.3"
    assert "profile_speed_mt_s" not in found and "rated_speed_mt_s" not in found


@pytest.mark.parametrize(
    ("generation", "at", "block", "name"),
    [
        ("DDR4", 384, b"\x0c\x4a\x01\x20", "XMP 2.0"),
        ("DDR5", 640, b"\x0c\x4a\x30\x01", "XMP 3.0"),
        ("DDR5", 832, b"EXPO\x10", "EXPO"),
    ],
)
def test_a_block_of_profiles_that_is_not_decoded_is_named_and_leaves_the_rated_speed_open(
    generation: str, at: int, block: bytes, name: str
) -> None:
    image = bytearray(IMAGES[generation]())
    spd_bytes.put(image, at, block)
    decoded = spd.decode(bytes(image))
    found = values(decoded.said)
    assert found["profiles"] == name
    assert found["jedec_speed_mt_s"] in (2400, 5600) and "rated_speed_mt_s" not in found
    assert any(f.kind is RemarkKind.NOT_UNDERSTOOD and name in f.detail for f in decoded.faults)


@pytest.mark.parametrize("generation", IMAGES)
def test_user_data_that_nobody_knows_leaves_the_rated_speed_open(generation: str) -> None:
    image = bytearray(IMAGES[generation]())
    image[-1] = 0x5A
    decoded = spd.decode(bytes(image))
    assert "rated_speed_mt_s" not in values(decoded.said)
    assert [f.detail for f in decoded.faults] == ["user data"]


@pytest.mark.parametrize("generation", IMAGES)
def test_an_image_cut_short_gives_what_is_there(generation: str) -> None:
    image = IMAGES[generation]()
    for size in range(len(image)):
        decoded = spd.decode(image[:size])
        assert RemarkKind.CUT_SHORT in {f.kind for f in decoded.faults}, size
    half = facts(image[: len(image) // 2])
    assert half["jedec_speed_mt_s"] == facts(image)["jedec_speed_mt_s"]
    assert half["part_number"] is Absent.NOT_READABLE


def test_no_bytes_whatever_raise_or_have_no_end() -> None:
    rng = random.Random("spd/noise")
    bases = [make() for make in IMAGES.values()] + [spd_bytes.ddr3_with_profiles()]
    for turn in range(3000):
        image = bytearray(rng.choice(bases))
        for _ in range(rng.randrange(1, 12)):
            image[rng.randrange(len(image))] = rng.randrange(256)
        spoiled = bytes(image[: rng.choice((len(image), rng.randrange(len(image) + 1)))])
        noise = (
            rng.randbytes(2) + bytes((rng.choice((0x0B, 0x0C, 0x12)),)) + rng.randbytes(rng.randrange(1100))
        )
        whole = spd_bytes.sealed(bytes(image)) if turn % 100 == 0 else noise
        for data in (spoiled, noise, whole):
            ends(lambda data=data: spd.describe(data))


@pytest.mark.parametrize(
    ("year", "week", "wanted"),
    [
        (0x24, 0x17, "2024-W17"),
        (0x24, 0x00, "2024"),
        (0x18, 0x35, "2018-W35"),
        (24, 0x1B, "2024-W27"),  # 0x1B is no decimal, so both are plain numbers: 24 and 27
        (0x00, 0x00, Absent.NOT_OFFERED),
        (0xFF, 0xFF, Absent.NOT_OFFERED),
        (0x98, 0x10, Absent.IMPLAUSIBLE),  # DDR3 in 1998
        (0x24, 0x60, Absent.IMPLAUSIBLE),
        (0xAB, 0xCD, Absent.IMPLAUSIBLE),
    ],
)
def test_a_date_is_a_year_and_a_week_of_this_century(year: int, week: int, wanted: str | Absent) -> None:
    assert spd_common.manufactured(year, week) == wanted


@pytest.mark.parametrize(
    ("cycle_ps", "thirds", "hundreds"),
    [
        (1250, 1600, 1600),
        (1071, 1866, None),
        (938, 2133, None),
        (937, 2133, None),
        (833, 2400, 2400),
        (750, 2666, None),
        (682, 2933, None),
        (625, 3200, 3200),
        (416, None, 4800),
        (384, None, 5200),
        (357, None, 5600),
        (333, None, 6000),
        (312, None, 6400),
        (277, None, 7200),
    ],
)
def test_a_cycle_in_whole_picoseconds_is_the_rate_of_the_standard(
    cycle_ps: int, thirds: int | None, hundreds: int | None
) -> None:
    """Rates of check values, ddr-bandwidth.csv and memory.md."""
    if thirds is not None:
        assert spd_common.speed_of_thirds(cycle_ps) == thirds
    if hundreds is not None:
        assert spd_common.speed_of_hundreds(cycle_ps) == hundreds


def test_other_kinds_of_memory_are_named_and_not_decoded() -> None:
    decoded = spd.decode(bytes((0x23, 0x11, 0x11)) + b"\x01" * 509)
    assert values(decoded.said) == {"type": "LPDDR4X"}
    assert [f.kind for f in decoded.faults] == [RemarkKind.NOT_UNDERSTOOD]
    assert [f.kind for f in spd.decode(b"\x01\x02\x77" + b"\x01" * 253).faults] == [RemarkKind.BAD_HEADER]


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ((4, 0x04 | 2 << 5), 2 * 16 * GIB),  # two dies in a package
        ((6, 0x00), 2 * 16 * GIB),  # x4: twice as many devices
        ((234, 0x08), 2 * 16 * GIB),  # two ranks
        ((4, 0x05), 24 * GIB),  # 24 Gbit dies
        ((235, 0x02), 8 * GIB),  # one sub-channel
        ((235, 0x2A), 16 * GIB),  # four bits of check on each holds no data
        ((4, 0x1F), Absent.IMPLAUSIBLE),
        ((234, 0x40), Absent.NOT_OFFERED),  # ranks that are not alike
    ],
)
def test_the_capacity_of_ddr5_is_the_rule_of_the_standard(
    change: tuple[int, int], wanted: int | Absent
) -> None:
    """JESD400-5, capacity: check values, memory.md."""
    image = bytearray(spd_bytes.ddr5())
    image[change[0]] = change[1]
    assert facts(spd_bytes.sealed(image))["size_bytes"] == wanted


def test_people_are_shown_every_field_and_what_was_left() -> None:
    sections = spd.describe(spd_bytes.ddr3_with_profiles())
    assert [s.title for s in sections] == ["memory module", "other timings", "faults and bytes not decoded"]
    assert ("part_number", "NORVIK-3U1600C11") in sections[0].fields
    assert re.search("XMP 1.2", str(sections[2].fields))
    assert spd.describe(b"")[0].fields == ()


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("1A2B3C4D", "1a2b3c4d"),
        ("1A2B3C4D", "0x1A2B3C4D"),
        ("1A2B3C4D", " 1A-2B-3C-4D "),
        ("1A2B3C4D", "4D3C2B1A"),  # the firmware read it as a number of the other byte order
        ("1A2B3C4D", "439041101"),  # decimal
        ("1A2B3C4D", "1295788826"),  # decimal, of the other byte order
        ("0A2B3C4D", "A2B3C4D"),  # printed without leading zeros
        ("0000002A", "2A"),
        ("1A2B3C4D", "0198042417 1A2B3C4D"),  # maker, place, date, serial
        ("KD-0412-X", "kd0412x"),
    ],
)
def test_spellings_of_one_serial_are_the_same(a: str, b: str) -> None:
    assert spd.same_serial(a, b) and spd.same_serial(b, a)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("15C774EF", "15C774EB"),  # two modules of one kit
        ("00000000", "00000000"),  # placeholders are no serials
        ("FFFFFFFF", "FFFFFFFF"),
        ("12345678", "12345678"),
        ("Not Specified", "Not Specified"),
        ("", ""),
        ("-", "-"),
        ("00000100", "00010000"),  # small numbers: the reverse may be another module's
        ("10", "16"),  # short numbers are hexadecimal alone
        ("1A2B3C4D", "KD-0412-X"),
        ("1A2B3C4D", "99999999999999999999"),
        ("9999999999", "540BE3FF"),  # more than four bytes hold
    ],
)
def test_other_serials_are_not(a: str, b: str) -> None:
    assert not spd.same_serial(a, b) and not spd.same_serial(b, a)
