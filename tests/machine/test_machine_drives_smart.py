"""SMART pages, registers and what a drive is asked: the newness of drives without device statistics."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import ata as capture_ata
from shipworthy.machine.capture.files import Answer
from shipworthy.machine.parse.ata import file as ata_file
from shipworthy.machine.parse.ata import pages as ata_pages
from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata import source as ata
from shipworthy.machine.parse.ata.smart import Attribute, attribute_facts, attributes_of
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.drive_pages import ASLEEP, AWAKE, sense, smart_data, statistics, thresholds
from tests.machine.facts_of import Facts, facts_of
from tests.machine.recorded import ata_identify, build, write

NEW = [(9, 100, 100, 3), (12, 100, 100, 11), (5, 100, 100, 0), (197, 100, 100, 0), (194, 67, 50, 33)]
PLACE = "pci:0000:00:17.0/ata-2"


def machine(tmp_path: Path, replies: dict[str, bytes]) -> Path:
    """The recorded machine, whose SATA drive answers only what is given."""
    root = build(tmp_path / "machine")
    for file in (root / "replies/sda").iterdir():
        file.unlink()
    for name, data in replies.items():
        write(root, f"replies/sda/{name}.bin", data)
    return root


def read(root: Path) -> Parsed:
    return ata.parse(tuple(capture_ata.capture(Root(root))))


def facts(parsed: Parsed) -> Facts:
    """What all sightings say; the first word counts, and a value before a reason."""
    found: Facts = {}
    for sighting in parsed.sightings:
        assert sighting.place == PLACE
        for name, value in facts_of(sighting.said).items():
            if name not in found or isinstance(found[name], Absent):
                found[name] = value
    return found


def test_a_drive_without_device_statistics_is_shown_to_be_new_by_its_attributes(tmp_path: Path) -> None:
    replies = {
        "ata-identify": ata_identify(),
        "ata-power-mode": sense(count=AWAKE),
        "ata-smart": smart_data(NEW),
        "ata-smart-thresholds": thresholds([(5, 10), (197, 0)]),
        "ata-smart-status": sense(mid=0x4F, high=0xC2),
    }
    parsed = read(machine(tmp_path, replies))
    told = facts(parsed)
    assert (told["power_on_hours"], told["power_cycles"], told["temperature_c"]) == (3, 11, 33)
    assert (told["reallocated_sectors"], told["pending_sectors"], told["health_passed"]) == (0, 0, True)
    assert (told["attributes_failing_now"], told["attributes_failed_past"]) == (0, 0)
    assert told["self_test_last"] == "completed or none run"
    assert parsed.remarks == ()


def test_a_drive_that_sleeps_is_asked_nothing_more_and_that_is_said(tmp_path: Path) -> None:
    replies = {
        "ata-identify": ata_identify(),
        "ata-power-mode": sense(count=ASLEEP),
        "ata-smart": smart_data(NEW),
    }
    parsed = read(machine(tmp_path, replies))
    assert parsed.remarks[0].kind is RemarkKind.NOT_ANSWERED
    assert "sleeps" in parsed.remarks[0].detail
    assert "power_on_hours" not in facts(parsed)


def test_a_drive_that_gives_no_answer_in_its_time_is_asked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def silent(node: str, command: int, **more: int) -> Answer:
        asked.append(f"{command:02X}")
        return Answer(SourceOutcome.FAILED, error="SCSI status 0x00, host 0x03")

    monkeypatch.setattr(capture_ata, "ata_sense", silent)
    monkeypatch.setattr(capture_ata, "ata_in", silent)
    replies = capture_ata._all_of(LIVE, "sdzz")
    assert asked == ["E5"]
    assert [reply.outcome for reply in replies] == [SourceOutcome.FAILED] * 2


def test_the_commands_of_smart_are_those_of_the_standard(monkeypatch: pytest.MonkeyPatch) -> None:
    """ACS: SMART B0h with D0h, D1h, DAh and C24Fh in the address; READ LOG EXT 2Fh of log 04h."""
    asked: list[tuple[str, int, dict[str, int]]] = []

    def answer(node: str, command: int, **more: int) -> Answer:
        asked.append((node, command, more))
        data = sense(count=AWAKE) if command == 0xE5 else ata_identify()
        return Answer(SourceOutcome.READ, data)

    monkeypatch.setattr(capture_ata, "ata_sense", answer)
    monkeypatch.setattr(capture_ata, "ata_in", answer)
    capture_ata._all_of(LIVE, "sdzz")
    commands = [(command, more.get("feature", more.get("page", 0))) for _, command, more in asked]
    assert commands[:3] == [(0xE5, 0), (0xEC, 0), (0x2F, 1)]
    assert commands[3:7] == [(0x2F, 4), (0x2F, 5), (0x2F, 6), (0x2F, 7)]
    assert commands[7:] == [(0xB0, 0xD0), (0xB0, 0xD1), (0xB0, 0xDA)]
    assert {more["lba"] for _, command, more in asked if command == 0xB0} == {0xC24F00}


def test_where_smart_is_off_it_is_not_asked() -> None:
    page = bytearray(ata_identify())
    for number, value in {82: 1, 83: 0x4400, 85: 0, 87: 0x4000}.items():
        page[2 * number : 2 * number + 2] = value.to_bytes(2, "little")
    assert not ata_pages.smart_is_on(bytes(page))
    assert ata_pages.smart_is_on(ata_identify())
    assert ata_pages.smart_is_on(b"")


@pytest.mark.parametrize(
    ("spoiled", "kind"),
    [("ata-smart", RemarkKind.BAD_CHECKSUM), ("ata-smart-thresholds", RemarkKind.BAD_CHECKSUM)],
)
def test_a_page_whose_sum_is_wrong_is_named_and_not_believed(
    tmp_path: Path, spoiled: str, kind: RemarkKind
) -> None:
    replies = {
        "ata-identify": ata_identify(),
        "ata-smart": smart_data([(5, 5, 5, 8), *NEW[:2]]),
        "ata-smart-thresholds": thresholds([(5, 10)]),
    }
    page = bytearray(replies[spoiled])
    page[100] ^= 1
    parsed = read(machine(tmp_path, {**replies, spoiled: bytes(page)}))
    told = facts(parsed)
    assert [remark.kind for remark in parsed.remarks] == [kind]
    if spoiled == "ata-smart":
        assert told["power_on_hours"] is Absent.IMPLAUSIBLE
    else:
        assert told["power_on_hours"] == 3
        assert "attributes_failing_now" not in told


def test_statistics_are_believed_before_attributes_and_pages_are_told_apart(tmp_path: Path) -> None:
    replies = {
        "ata-identify": ata_identify(),
        "ata-smart": smart_data(NEW),
        "ata-device-statistics": statistics(1, {8: 9, 16: 5, 24: 2000, 40: 1000}),
        "ata-device-statistics-04": statistics(4, {8: 2}),
        "ata-device-statistics-05": statistics(5, {8: 41}),
        "ata-device-statistics-06": statistics(1, {24: 7}),
        "ata-device-statistics-07": bytes(512),
    }
    told = facts(read(machine(tmp_path, replies)))
    assert (told["power_on_hours"], told["written_bytes"], told["media_errors"]) == (5, 1_024_000, 2)
    assert told["temperature_c"] == 41
    assert told["interface_crc_errors"] is Absent.IMPLAUSIBLE
    assert "percentage_used" not in told  # a page of zeros is an empty answer


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        ("SCSI status 0x02, host 0x00", Absent.NOT_OFFERED),
        ("SCSI status 0x00, host 0x07", Absent.NOT_READABLE),
        ("EACCES", Absent.NOT_READABLE),
    ],
)
def test_a_command_that_the_drive_does_not_know_is_not_offered(
    tmp_path: Path, error: str, reason: Absent
) -> None:
    replies = [
        reply if reply.id != "ata.sda.statistics" else Reply(reply.id, "x", SourceOutcome.FAILED, error=error)
        for reply in capture_ata.capture(Root(machine(tmp_path, {"ata-identify": ata_identify()})))
    ]
    assert facts(ata.parse(tuple(replies)))["written_bytes"] is reason


# Attributes


@pytest.mark.parametrize(
    ("value", "worst", "limit", "state"),
    [
        (100, 100, 10, ""),
        (10, 10, 10, "now"),
        (100, 9, 10, "past"),
        (0, 0, 10, ""),
        (1, 1, 0, ""),
        (1, 1, None, ""),
        (254, 254, 255, ""),
    ],
)
def test_an_attribute_fails_at_or_below_a_threshold_that_is_not_0(
    value: int, worst: int, limit: int | None, state: str
) -> None:
    """The rule of check-values/storage.md; normalised values are 1 to 253."""
    assert Attribute(5, value, worst, limit, 0).failing == state


@pytest.mark.parametrize(
    ("model", "raw", "hours"),
    [
        ("Quarrel Q1", 1380, 1380),
        ("Quarrel Q1", 0x00ABCD_000564, 1380),  # parts of an hour above the lowest 24 bits
        ("FUJITSU MHV2080BH PL", 3600 * 77 + 5, 77),
        ("TOSHIBA MK3276GSX", 60 * 12, 12),
        ("SAMSUNG SP0411N", 1_152_645, 9605),  # its error log says 9604 (smart-text, EF2413665BD1)
        ("SAMSUNG HM160HI", 10_814, 10_814),  # a neighbour that counts hours (520FB60E7436)
        ("Quarrel Q1", 0xFFFFFF, Absent.IMPLAUSIBLE),
    ],
)
def test_hours_are_read_as_the_maker_counts_them(model: str, raw: int, hours: object) -> None:
    assert ata_smart.hours(Attribute(9, 100, 100, 0, raw), model) == hours


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("18221", 18221),
        ("796h+11m+24.770s", 796),
        ("16h+05m", 16),
        ("14212 (21 5 0)", 14212),
        ("0x00ff", Absent.NOT_OFFERED),
        ("", 0),
    ],
)
def test_hours_as_a_report_prints_them(text: str, hours: object) -> None:
    assert ata_smart.hours(Attribute(9, 100, 100, 0, 0, text=text), "Quarrel Q1") == hours


@pytest.mark.parametrize(
    ("model", "raw", "size"),
    [
        ("Samsung SSD 870 EVO 1TB", 2_000_000, 1_024_000_000),
        ("INTEL SSDSC2KB480GZ", 10, 10 * 32 << 20),
        ("KINGSTON SA400S37240G", 7, 7 << 30),
        ("SK hynix SC311 SATA 128GB", 1000, 512_000),
        ("SAMSUNG MZNLN128HAHQ-000H1", 1000, Absent.NOT_OFFERED),  # 16 MiB in one, 1 GiB in another
        ("Quarrel Q1", 1000, Absent.NOT_OFFERED),
    ],
)
def test_what_was_written_is_told_only_where_the_unit_is_known(model: str, raw: int, size: object) -> None:
    fields, left = attribute_facts((Attribute(241, 100, 100, None, raw),), model)
    assert facts_of(fields) == {"written_bytes": size}
    assert len(left) == (1 if size is Absent.NOT_OFFERED else 0)


def test_packed_raw_values_are_no_counts() -> None:
    fields, left = attribute_facts(
        (
            Attribute(5, 100, 100, None, 0x0001_0002_0003),
            Attribute(198, 110, 110, None, 28183575396352),
            Attribute(194, 60, 60, None, 0x0014_0032_0000_2D00 >> 8 & 0xFFFFFFFFFFFF),
            Attribute(190, 60, 60, None, 0),
        ),
        "Quarrel Q1",
    )
    told = facts_of(fields)
    assert told["reallocated_sectors"] == 3
    assert told["uncorrectable_sectors"] is Absent.NOT_OFFERED
    assert told["temperature_c"] == 45
    assert len(left) == 1


def test_a_name_in_a_report_says_what_an_attribute_is() -> None:
    rows = (
        Attribute(5, 100, 100, 0, text="4", name="Runtime_Bad_Block"),
        Attribute(197, 100, 100, 0, text="3", name="Bogus_Current_Pend_Sect"),
        Attribute(198, None, None, None, text="529749265", name="Read_Sectors_Tot_Ct"),
        Attribute(218, 100, 100, 50, text="2", name="CRC_Error_Count"),
    )
    told = facts_of(attribute_facts(rows, "Quarrel Q1")[0])
    assert set(told) == {"interface_crc_errors", "attributes_failing_now", "attributes_failed_past"}


# Registers


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize(("count", "sleeps"), [(0x00, True), (0x01, True), (0x80, False), (0xFF, False)])
def test_the_power_mode_is_told_by_the_count(count: int, sleeps: bool, fixed: bool) -> None:
    """ACS, CHECK POWER MODE: 00h and 01h standby, 80h idle, FFh active or idle (from memory)."""
    assert ata_pages.asleep(sense(count=count, fixed=fixed)) is sleeps


def test_health_is_told_by_the_address() -> None:
    assert ata_pages.health_passed(sense(mid=0x4F, high=0xC2)) is True
    assert ata_pages.health_passed(sense(mid=0xF4, high=0x2C)) is False
    assert ata_pages.health_passed(sense(mid=0, high=0)) is None
    assert ata_pages.health_passed(b"\x70" + bytes(17)) is None


def test_registers_are_looked_for_within_a_senses_length() -> None:
    head, registers = sense()[:8], sense(mid=0x4F, high=0xC2)[8:]
    assert ata_pages.health_passed(head + b"\2\0" * 115 + registers) is True
    assert ata_pages.health_passed(head + b"\2\0" * 300_000 + registers) is None


# Any bytes


@given(st.binary(max_size=1100))
def test_no_bytes_make_the_reader_of_attributes_raise(data: bytes) -> None:
    attributes = attributes_of(data, data[512:])
    attribute_facts(attributes, "Samsung SSD 8")
    assert ata_file.describe_smart(data)
    assert ata_file.describe_identify(data) and ata_file.describe_statistics(data)


@given(st.binary(max_size=600), st.sampled_from(sorted(capture_ata.REQUESTS)))
def test_no_reply_makes_the_parser_raise(data: bytes, request_name: str) -> None:
    from shipworthy.machine.listing import ListingRow, encode_listing

    path = "/sys/devices/pci0000:00/0000:00:17.0/ata5/host4/target4:0:0/4:0:0:0/block/sda"
    rows = [ListingRow(path="/sys/block", names=("sda",)), ListingRow(path="/sys/block/sda", link=path)]
    replies = [
        Reply("ata", "/sys/block", SourceOutcome.READ, encode_listing(rows)),
        Reply("ata.sda.identify", "x", SourceOutcome.READ, ata_identify()),
        Reply(f"ata.sda.{request_name}", "x", SourceOutcome.READ, data),
    ]
    assert ata.parse(tuple(replies)).sightings


def test_pages_in_files_of_their_own() -> None:
    page = Reply("ata-smart.1", "/smart.bin", SourceOutcome.READ, smart_data(NEW) + thresholds([(9, 0)]))
    parsed = ata_file.parse_smart((page,))
    assert facts_of(parsed.sightings[0].said)["power_on_hours"] == 3
    cut = Reply("ata-smart.2", "/smart.bin", SourceOutcome.READ, b"ab")
    assert [remark.kind for remark in ata_file.parse_smart((cut,)).remarks] == [RemarkKind.CUT_SHORT]
    whole = Reply("ata-identify.1", "/i.bin", SourceOutcome.READ, ata_identify())
    assert facts_of(ata_file.parse_identify((whole,)).sightings[0].said)["serial"] == "QA4-0017"
    titles = [section.title for section in ata_file.describe_smart(smart_data(NEW))]
    assert titles[:2] == ["SMART data", "attribute 9 Power-on hours"]
