"""Parts of the board that an SMBIOS table tells of: each type by its own bytes, from DSP0134's layout."""

from __future__ import annotations

import struct

from shipworthy.machine.parse.smbios import describe as smbios_describe
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.raw import Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.facts_of import facts_of
from tests.machine.smbios_bytes import array, end, module, structure

H = struct.Struct("<H").pack


def parts(*structures: bytes) -> list[Sighting]:
    table = b"".join(structures) + end()
    return list(smbios.parse((Reply("smbios.table", "", SourceOutcome.READ, table, suffix="bin"),)).sightings)


def only(kind: PartKind, *structures: bytes) -> dict[str, object]:
    (found,) = [s for s in parts(*structures) if s.kind is kind]
    return facts_of(found.said)


def processor(handle: int, l1: int, l2: int, l3: int) -> bytes:
    area = bytes([1, 3, 0xFE, 2]) + bytes(8) + bytes([3, 0x8C]) + H(100) + H(5050) + H(4700)
    area += bytes([0x41, 0x49]) + H(l1) + H(l2) + H(l3) + bytes([0, 0, 0, 16, 16, 32]) + H(0xFC) + H(0x6B)
    return structure(
        4, handle, area + H(16) + H(16) + H(32), "AM5", "Advanced Micro Devices, Inc.", "Tarn C7  X"
    )


def cache(handle: int, level: int, short_kb: int, long_kb: int, label: str = "L1 - Cache") -> bytes:
    area = bytes([1]) + H(0x180 | level - 1) + H(short_kb) + H(short_kb) + H(0x10) + H(0x10)
    return structure(7, handle, area + bytes([0, 5, 5, 7]) + struct.pack("<II", long_kb, long_kb), label)


def test_a_processor_tells_its_socket_and_its_family() -> None:
    facts = only(PartKind.PROCESSOR, processor(4, 0xFFFF, 0xFFFF, 0xFFFF))
    assert facts["socket_type"] == "Socket AM5"
    assert facts["processor_family"] == "Zen"
    assert (facts["maker"], facts["model"]) == ("AMD", "Tarn C7 X")
    assert (facts["cores"], facts["threads"]) == (16, 32)


def test_a_cache_belongs_to_the_processor_that_names_it() -> None:
    facts = only(PartKind.CACHE, processor(4, 7, 0xFFFF, 0xFFFF), cache(7, 1, 1024, 1024))
    assert facts["processor"] == "smbios-processor:0"
    assert (facts["level"], facts["size_bytes"], facts["max_bytes"]) == (1, 1 << 20, 1 << 20)
    assert (facts["type"], facts["associativity"], facts["enabled"]) == (
        "Unified",
        "8-way Set-associative",
        True,
    )
    assert facts["error_correction"] == "Single-bit ECC"
    assert facts["speed_ns"] is Absent.NOT_OFFERED


def test_a_caches_longer_size_counts_unless_it_is_left_at_0() -> None:
    """7.8.1: the word cannot tell 2 GB; some firmware fills in the word alone."""
    assert only(PartKind.CACHE, cache(7, 3, 0xFFFF, 0x80010000))["size_bytes"] == 4 << 30
    assert only(PartKind.CACHE, cache(7, 3, 0x8000 | 512, 0))["size_bytes"] == 32 << 20


def test_caches_of_one_name_stay_two() -> None:
    found = parts(cache(7, 1, 32, 32), cache(8, 1, 64, 64), cache(9, 2, 1, 1, "Unknown"))
    assert [s.place for s in found] == ["smbios:L1 - Cache", "smbios:L1 - Cache#2", "smbios:cache"]


def test_a_connector_is_named_by_what_is_outside_else_by_what_is_inside() -> None:
    outside = structure(8, 8, bytes([1, 0, 2, 0x0B, 0x1F]), "J_LAN", "LAN rear")
    inside = structure(8, 9, bytes([1, 0xFF, 0, 0, 0xFF]), "J9 TPM header")
    found = parts(outside, inside)
    assert [s.place for s in found] == ["smbios:LAN rear", "smbios:J9 TPM header"]
    facts = only(PartKind.CONNECTOR, outside)
    assert (facts["label"], facts["internal_label"]) == ("LAN rear", "J_LAN")
    assert (facts["connector"], facts["internal_connector"], facts["type"]) == (
        "RJ-45",
        "None",
        "Network Port",
    )


def slot(kind: int, width: int, usage: int, where: bytes, tail: bytes = b"") -> bytes:
    return structure(9, 9, bytes([1, kind, width, usage, 4]) + H(1) + bytes([4, 1]) + where + tail, "PCIEX16")


def test_a_slot_tells_its_lanes_and_what_sits_there() -> None:
    facts = only(PartKind.SLOT, slot(0xBD, 0x0D, 4, H(0) + bytes([1, 0x00])))
    assert (facts["type"], facts["lanes"], facts["generation"]) == ("PCI Express 4 x16", 16, 4)
    assert (facts["in_use"], facts["device_place"]) == (True, "pci:0000:01:00.0")
    assert (facts["length"], facts["slot_id"], facts["label"]) == ("Long", 1, "PCIEX16")
    assert facts["width_bits"] is Absent.NOT_OFFERED
    old = only(PartKind.SLOT, slot(0x06, 0x05, 3, H(0xFFFF) + b"\xff\xff"))
    assert (old["width_bits"], old["lanes"], old["in_use"]) == (32, Absent.NOT_OFFERED, False)
    assert old["device_place"] is Absent.NOT_OFFERED


def test_a_slots_address_that_cannot_be_is_silence() -> None:
    for where in (H(0) + b"\0\0", H(0) + b"\xff\x08", H(0) + b"\1\xff"):
        assert only(PartKind.SLOT, slot(0xBD, 0x0D, 4, where))["device_place"] is Absent.NOT_OFFERED


def test_a_slots_generation_stands_behind_its_peers_since_3_4() -> None:
    peer = H(0) + bytes([2, 0x08, 4])
    facts = only(
        PartKind.SLOT, slot(0xA5, 0x0D, 4, H(0) + b"\1\0", bytes([16, 1]) + peer + bytes([5, 0x0D]) + H(2032))
    )
    assert facts["generation"] == 5
    section = smbios_describe.describe(
        slot(0xA5, 0x0D, 4, H(0) + b"\1\0", bytes([16, 1]) + peer + bytes([5, 0x0D]) + H(2032))
    )
    fields = dict(section[-1].fields)
    assert (fields["peer_devices"], fields["pitch_mm"]) == ("0000:02:01.0 x4", 20.32)


def test_a_range_of_addresses_names_the_module_that_answers() -> None:
    whole = structure(19, 0x20, struct.pack("<IIHB", 0, (16 << 20) - 1, 0x10, 2))
    of_one = structure(20, 0x21, struct.pack("<IIHHBBB", 0, (16 << 20) - 1, 0x11, 0x20, 1, 1, 2))
    found = parts(
        array(), module(0x11, 0x4000, "DIMM_A1", "BANK 0", "Holloway", "1A", "-", "P"), whole, of_one
    )
    ranges = {s.place: {f.name: f.value for f in s.said} for s in found if s.kind is PartKind.MEMORY_RANGE}
    assert set(ranges) == {"address:0x0", "address:0x0/smbios:DIMM_A1/BANK 0"}
    assert ranges["address:0x0"]["size_bytes"] == 16 << 30
    assert ranges["address:0x0"]["last_address"] == "0x3ffffffff"
    one = ranges["address:0x0/smbios:DIMM_A1/BANK 0"]
    assert (one["module"], one["interleave_position"], one["interleave_depth"]) == (
        "smbios:DIMM_A1/BANK 0",
        1,
        2,
    )


def test_long_addresses_are_bytes_and_a_range_that_ends_before_it_begins_is_none() -> None:
    far = structure(
        19, 0x20, struct.pack("<IIHBQQ", 0xFFFFFFFF, 0xFFFFFFFF, 0x10, 1, 1 << 42, (1 << 42) + 1023)
    )
    facts = only(PartKind.MEMORY_RANGE, far)
    assert (facts["first_address"], facts["size_bytes"]) == ("0x40000000000", 1024)
    wrong = structure(19, 0x20, struct.pack("<IIHB", 9, 3, 0x10, 1))
    assert only(PartKind.MEMORY_RANGE, wrong)["size_bytes"] is Absent.IMPLAUSIBLE


def battery(chemistry: int, multiplier: int, texts: int) -> bytes:
    area = bytes([1, 2, texts, texts, 4, chemistry]) + H(4400) + H(11_400) + bytes([0, 2])
    return structure(
        22,
        22,
        area + H(0x1A2B) + H(45 << 9 | 3 << 5 | 17) + bytes([5, multiplier]) + bytes(4),
        "Rear",
        "Norvik",
        "none",
        "NB-50",
        "LiP",
    )


def test_a_smart_battery_tells_numbers_where_another_tells_texts() -> None:
    smart = only(PartKind.BATTERY, battery(2, 10, 0))
    assert (smart["serial"], smart["manufactured"], smart["chemistry"]) == ("1A2B", "2025-03-17", "LiP")
    assert (smart["design_capacity_mwh"], smart["design_voltage_mv"]) == (44_000, 11_400)
    assert (smart["label"], smart["maker"], smart["model"]) == ("Rear", "Norvik", "NB-50")
    plain = only(PartKind.BATTERY, battery(6, 1, 3))
    assert (plain["serial"], plain["chemistry"]) == (Absent.NOT_OFFERED, "Lithium Ion")
    assert plain["design_capacity_mwh"] == 4400


def probe(kind: int, most: int, least: int, nominal: int) -> bytes:
    fields = struct.pack("<HHHHHI", most & 0xFFFF, least & 0xFFFF, 0x8000, 0x8000, 0x8000, 0)
    return structure(kind, kind, bytes([1, 0x63]) + fields + H(nominal & 0xFFFF), "CPU0")


def test_a_probe_is_what_the_maker_wrote_down_and_a_value_that_cannot_be_is_named() -> None:
    heat = only(PartKind.PROBE, probe(28, 1000, -100, 0x8000))
    assert (heat["measures"], heat["location"], heat["status"]) == ("temperature", "Processor", "OK")
    assert (heat["max_temperature_c"], heat["min_temperature_c"]) == (100.0, -10.0)
    assert heat["nominal_temperature_c"] is Absent.NOT_OFFERED
    table = probe(28, 32_000, -100, 300) + end()
    parsed = smbios.parse((Reply("smbios.table", "", SourceOutcome.READ, table, suffix="bin"),))
    bad = [(r.where, r.detail) for r in parsed.remarks if r.kind is RemarkKind.BAD_VALUE]
    assert bad == [("probe smbios:CPU0", "max_temperature_c")]
    assert only(PartKind.PROBE, probe(26, 1350, 900, 1100))["nominal_voltage_mv"] == 1100
    assert only(PartKind.PROBE, probe(29, 9000, -5, 1))["min_current_ma"] == -5


def test_a_cooling_device_has_a_nominal_speed_only() -> None:
    fan = structure(27, 27, H(0xFFFF) + bytes([0x65, 1]) + bytes(4) + H(1500) + b"\1", "CPU fan")
    facts = only(PartKind.PROBE, fan)
    assert (facts["measures"], facts["type"], facts["nominal_speed_rpm"]) == ("cooling", "Chip Fan", 1500)
    still = structure(27, 27, H(0xFFFF) + bytes([0x68, 1]) + bytes(4) + H(0x8000) + b"\1", "Pipe")
    assert only(PartKind.PROBE, still)["nominal_speed_rpm"] is Absent.NOT_OFFERED
    wild = structure(27, 27, H(0xFFFF) + bytes([0x65, 1]) + bytes(4) + H(65_261) + b"\1", "Fan")
    assert only(PartKind.PROBE, wild)["nominal_speed_rpm"] is Absent.IMPLAUSIBLE


def supply(bits: int, watts: int = 750) -> bytes:
    texts = ("Bay 1", "Tarn 750", "Norvik", "PS-1", "", "T750P", "B")
    return structure(39, 39, bytes([1, 1, 2, 3, 4, 0, 5, 6]) + H(watts) + H(bits), *[t for t in texts if t])


def test_a_power_supply_that_is_not_there_is_not_fitted() -> None:
    there = only(PartKind.POWER_SUPPLY, supply(1 << 10 + 2 | 3 << 7 | 2))
    assert (there["max_power_w"], there["type"], there["status"]) == (750, "Switching", "OK")
    assert (there["plugged"], there["hot_replaceable"], there["part_number"]) == (True, False, "T750P")
    gone = only(PartKind.POWER_SUPPLY, supply(0))
    assert (gone["label"], gone["max_power_w"]) == ("Bay 1", Absent.NOT_FITTED)
    assert only(PartKind.POWER_SUPPLY, supply(2, 0x8000))["max_power_w"] is Absent.NOT_OFFERED


def test_an_onboard_device_tells_its_place_and_whether_it_is_on() -> None:
    device = structure(41, 41, bytes([1, 0x85, 1]) + H(0) + bytes([3, 0]), "Onboard LAN")
    facts = only(PartKind.ONBOARD_DEVICE, device)
    assert (facts["label"], facts["type"], facts["enabled"], facts["instance"]) == (
        "Onboard LAN",
        "Ethernet",
        True,
        1,
    )
    assert facts["device_place"] == "pci:0000:03:00.0"


def test_a_security_module_tells_its_version_and_stands_beside_the_kernels() -> None:
    area = b"NVK\0" + bytes([2, 0]) + struct.pack("<II", 0x0006_0002, 0) + b"\1" + bytes(8) + bytes(4)
    (found,) = [s for s in parts(structure(43, 43, area, "TPM 2.0")) if s.kind is PartKind.SECURITY_MODULE]
    facts = {field.name: field.value for field in found.said}
    assert (found.place, found.also_at) == ("smbios:tpm", ("tpm:0",))
    assert (facts["maker"], facts["tpm_version"], facts["firmware_version"]) == ("NVK", "2.0", "6.2")


def test_the_hosting_board_comes_first_and_the_others_stay() -> None:
    riser = structure(2, 2, bytes([1, 2, 0, 0, 0, 8]), "Norvik", "Riser 2")
    main = structure(2, 3, bytes([1, 2, 0, 0, 0, 9]), "Norvik", "Board B6")
    found = {s.place: s.said[1].value for s in parts(riser, main)}
    assert found == {"board": "Board B6", "board#2": "Riser 2"}


def test_the_makers_own_texts_are_shown_and_become_no_fact() -> None:
    texts = structure(11, 11, b"\2", "LAN 02:00:5e:00:53:01", "x")
    assert parts(texts) == []
    fields = dict(smbios_describe.describe(texts + end())[0].fields)
    assert (fields["text_1"], fields["text_2"]) == ("LAN 02:00:5e:00:53:01", "x")


def test_a_module_tells_its_technology_and_its_makers_code() -> None:
    raw = bytearray(module(0x11, 0x4000, "A", "B", "Holloway", "1A2B3C4D", "-", "P"))
    raw[0x28], raw[0x13:0x15], raw[0x2C:0x2E] = 3, H(0x4080), H(0x9E02)
    facts = only(PartKind.MEMORY_MODULE, bytes(raw))
    assert (facts["technology"], facts["type_detail"]) == ("DRAM", "Synchronous; Unbuffered")
    assert facts["maker_code"] == "JEP106 bank 3 code 0x1E"  # check-values/smbios.md: 0x9E02 is bank 3, 0x9E
    assert facts["maker"] == "Holloway"


def test_a_code_in_the_place_of_a_makers_name_is_a_code() -> None:
    facts = only(PartKind.MEMORY_MODULE, module(0x11, 0x4000, "A", "B", "029E", "1A2B3C4D", "-", "P"))
    assert facts["maker"] is Absent.NOT_OFFERED
    assert facts["maker_code"] == "JEP106 bank 3 code 0x1E"
