"""The live reading, in a real kernel on a machine whose parts these tests chose."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.personal import spellings
from shipworthy.machine.reading import take_reading
from shipworthy.machine.root import Root
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.reading import Privilege, Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.bench import monitor, parts
from tests.bench.conftest import Bench

pytestmark = [pytest.mark.bench, pytest.mark.slow]

NVME, DISK, SSD = "pci:0000:01:00.0/nvme-ns-1", "pci:0000:00:1f.2/ata-1", "pci:0000:00:1f.2/ata-2"
MOVING = (
    "temperature",
    "power_on",
    "busy",
    "read_",
    "written",
    "host_",
    "commands",
    "minutes",
    "usable_bytes",
)
"""Beginnings or pieces of the names of facts that are another value a moment later."""


@pytest.fixture(scope="module")
def reading(bench: Bench) -> Reading:
    return bench.reading("root")


def part(reading: Reading, kind: PartKind, place: str) -> Part:
    return next(p for p in reading.of_kind(kind) if p.place == place)


def facts(reading: Reading) -> dict[tuple[str, str, str], Scalar]:
    """Return the values of facts that stand still, by kind, place and name."""
    return {
        (p.kind.value, p.place, f.name): f.value
        for p in reading.parts
        for f in p.facts
        if f.value is not None and not any(piece in f.name for piece in MOVING)
    }


def values(found: Part, *names: str) -> tuple[Scalar | Absent | None, ...]:
    return tuple(
        found.value(name) if found.value(name) is not None else found.why_absent(name) for name in names
    )


def test_every_reading_ended_well(bench: Bench) -> None:
    codes = {said["reading"]: said["exit"] for said in bench.said if "reading" in said}
    assert codes == dict.fromkeys(
        ("root", "privileged", "user", "specimen", "changed", "vanishing", "gone"), 0
    )


def test_no_source_fails_and_no_decoder_does(reading: Reading) -> None:
    """QEMU's drives have no device statistics (a refusal by status). All else is read, absent or empty."""
    failed = {row.id: row.error for row in reading.sources if row.outcome is SourceOutcome.FAILED}
    assert failed == dict.fromkeys(
        ("ata.sda.statistics", "ata.sdb.statistics"), "SCSI status 0x02, host 0x00"
    )
    assert not [row.id for row in reading.sources if row.outcome is SourceOutcome.REFUSED]
    silent = [remark.source for remark in reading.remarks if remark.kind is RemarkKind.NOT_ANSWERED]
    assert set(silent) == {"spd.0-0050", "spd.0-0051"}  # which the board's bus announces, and nobody serves
    assert not [remark for remark in reading.remarks if remark.kind is RemarkKind.DECODER_FAILED]


def test_what_was_read_is_read_again_from_the_raw_files(bench: Bench, reading: Reading) -> None:
    assert bench.again("root") == reading


def test_the_firmwares_words_are_those_put_in(reading: Reading) -> None:
    board, case, system = (
        part(reading, kind, kind.value) for kind in (PartKind.BOARD, PartKind.CHASSIS, PartKind.SYSTEM)
    )
    assert values(board, "maker", "model", "version", "serial", "asset") == tuple(parts.BOARD.values())
    assert values(case, "maker", "version", "serial", "asset") == tuple(parts.CASE.values())[:4]
    assert values(system, "maker", "model", "version", "serial", "uuid", "sku", "family") == tuple(
        parts.SYSTEM.values()
    )
    firmware = part(reading, PartKind.FIRMWARE, "firmware")
    assert values(firmware, "maker", "version", "date", "revision", "mode") == (
        *parts.FIRMWARE.values(),
        "legacy",
    )
    assert firmware.value("virtual_machine") is True


def test_the_processor_has_the_cores_put_in(reading: Reading) -> None:
    (processor,) = reading.of_kind(PartKind.PROCESSOR)
    assert values(processor, "model", "cores", "threads", "smt", "socket") == (
        parts.PROCESSOR,
        2,
        4,
        "on",
        "SKT 0",
    )


def test_each_slot_holds_what_was_put_in_and_its_own_word_agrees(reading: Reading) -> None:
    """Firmware and SPD, real drivers both, are witnesses of one module; one serial is spelled in reverse."""
    assert len(reading.of_kind(PartKind.MEMORY_MODULE)) == len(parts.MODULES)
    assert reading.of_kind(PartKind.UNPLACED_MODULE) == ()
    for module in parts.MODULES:
        found = part(reading, PartKind.MEMORY_MODULE, module.place)
        if not module.size_mib:
            assert found.why_absent("size_bytes") is Absent.NOT_FITTED
            continue
        assert values(found, "size_bytes", "type", "part_number", "configured_speed_mt_s") == (
            module.size_mib * parts.MIB,
            "DDR3",
            module.part_number,
            module.configured_mt_s,
        )
        assert found.value("jedec_speed_mt_s") == module.speed_mt_s
        fact = found.fact("serial")
        assert fact is not None and fact.value in parts.SPD_SERIALS and not fact.disputed
        assert {"spd", "smbios"} <= {
            s.split(".")[0] for f in found.facts for s in (f.source, *(w.source for w in f.witnesses))
        }
    assert part(reading, PartKind.MEMORY, "memory").value("fitted_bytes") == parts.MEMORY_BYTES


def test_the_drives_are_those_put_in_wherever_the_kernel_names_them(reading: Reading) -> None:
    for place, drive, technology in (
        (NVME, parts.NVME, "NVMe"),
        (DISK, parts.DISK, "spinning"),
        (SSD, parts.SSD, "solid state"),
    ):
        found = part(reading, PartKind.STORAGE, place)
        assert values(found, "model", "serial", "size_bytes", "technology", "health_passed") == (
            drive.model,
            drive.serial,
            drive.size_bytes,
            technology,
            True,
        )
        assert isinstance(found.value("power_on_hours"), int)
    disk = part(reading, PartKind.STORAGE, DISK)
    assert values(disk, "firmware_version", "wwn", "rotation_rpm", "reallocated_sectors") == (
        parts.DISK_FIRMWARE,
        parts.DISK_WWN,
        7200,
        0,
    )


def test_a_stick_and_its_bridge_are_told_apart(reading: Reading) -> None:
    stick = next(p for p in reading.of_kind(PartKind.STORAGE) if p.value("interface") == "USB")
    assert stick.value("size_bytes") == parts.STICK.size_bytes and stick.value("removable") is True
    assert stick.why_absent("technology") is Absent.NOT_OFFERED
    assert stick.value("bridge_serial") == parts.STICK.serial
    device = next(p for p in reading.of_kind(PartKind.USB_DEVICE) if p.text("serial") == parts.STICK.serial)
    assert values(device, "speed_mbit_s", "functions", "below_capability") == (5000, "mass storage", False)


def test_the_optical_drive_is_no_storage(reading: Reading) -> None:
    (drive,) = reading.of_kind(PartKind.OPTICAL_DRIVE)
    assert values(drive, "model", "media_profile", "reads_dvd", "writes_bd") == (
        "QEMU DVD-ROM",
        Absent.NOT_FITTED,
        True,
        False,
    )
    assert all(p.value("technology") != "optical" for p in reading.of_kind(PartKind.STORAGE))


def test_the_link_below_its_ports_capability_is_seen(reading: Reading) -> None:
    """The port can do 8 GT/s on 4 lanes, its device 2.5 GT/s on one: the lower end is what counts."""
    port = part(reading, PartKind.PCI_DEVICE, "pci:0000:00:03.0")
    assert values(port, "port_type", "link_max_width", "link_width") == ("root port", 4, 1)
    device = part(reading, PartKind.PCI_DEVICE, "pci:0000:01:00.0")
    assert values(device, "path_width", "path_width_max", "path_narrowed_at") == (1, 1, "none")


def test_the_network_card_keeps_its_address_and_its_silence(reading: Reading) -> None:
    card = part(reading, PartKind.NETWORK, "pci:0000:03:00.0")
    assert values(card, "permanent_mac", "mac_origin", "speed_max_mbit_s", "carrier", "driver") == (
        parts.CARD_MAC,
        "permanent",
        1000,
        Absent.NOT_READABLE,  # an interface that is down gives an error, not a value
        "e1000e",
    )


def test_sound_and_graphics_are_there(reading: Reading) -> None:
    (sound,) = reading.of_kind(PartKind.SOUND)
    assert values(sound, "driver", "codec") == ("snd_hda_intel", "QEMU Generic")
    (graphics,) = reading.of_kind(PartKind.GRAPHICS)
    assert values(graphics, "vendor_id", "device_id") == ("0x1234", "0x1111")


def test_another_monitor_is_another_display(bench: Bench, reading: Reading) -> None:
    (before,), (after,) = (r.of_kind(PartKind.DISPLAY) for r in (reading, bench.reading("changed")))
    assert values(before, "maker_code", "width_px", "height_px") == ("RHT", *parts.SCREEN)
    assert values(after, "maker_code", "model", "serial", "width_px", "height_px", "manufactured") == (
        monitor.MAKER_CODE,
        monitor.NAME,
        monitor.SERIAL,
        monitor.WIDTH,
        monitor.HEIGHT,
        f"{monitor.YEAR}-W{monitor.WEEK:02}",
    )


def test_the_sensors_follow_what_is_planted(bench: Bench) -> None:
    """A fan that stands, a hot input of the board's chip, a hot zone of the firmware."""
    before, after = bench.sample("before"), bench.sample("after")

    def of(row: dict[str, float | None], place: str, channel: str) -> float | None:
        return next(value for key, value in row.items() if place in key and key.endswith(f" {channel}"))

    assert of(before, "002e", "fan1") == pytest.approx(1200, abs=2) and of(after, "002e", "fan1") == 0
    assert of(before, "002e", "temp1") == 30 and of(after, "002e", "temp1") == 97
    assert of(before, "thermal_zone0", "temp1") == pytest.approx(30, abs=0.2)
    assert of(after, "thermal_zone0", "temp1") == pytest.approx(90, abs=0.2)


def test_a_drive_that_warns_says_so(bench: Bench) -> None:
    drive = part(bench.reading("changed"), PartKind.STORAGE, NVME)
    assert values(drive, "critical_warning", "health_passed") == (4, False)


def test_a_device_that_vanishes_during_the_reading_costs_nothing_else(bench: Bench, reading: Reading) -> None:
    during = facts(bench.reading("vanishing"))
    stays = {key: value for key, value in facts(reading).items() if not _vanishes(key)}
    changed = {key for key, value in stays.items() if during.get(key) != value}
    assert {kind for kind, _, _ in changed} <= {"display"}  # another one was plugged in before


def test_what_is_gone_is_gone_and_the_configuration_says_so(bench: Bench, reading: Reading) -> None:
    gone = bench.reading("gone")
    assert not [p for p in gone.parts if p.place == NVME]
    changes = {key: (was, now) for key, was, now in reading.configuration.changes_to(gone.configuration)}
    assert changes[f"storage/{NVME}/serial"] == (parts.NVME.serial, None)
    # a stick is of no configuration, nor is a display; the port's link has gone with its device
    assert all("0000:01:00.0" in key or key == "link/pci:0000:00:03.0/width" for key in changes)


def _vanishes(key: tuple[str, str, str]) -> bool:
    return any(place in key[1] for place in ("0000:01:00.0", "0000:00:03.0", "usb-2-2"))


def test_without_rights_what_is_readable_is_read_and_the_rest_is_refused(
    bench: Bench, reading: Reading
) -> None:
    user = bench.reading("user")
    whole, found = facts(reading), facts(user)
    other = {key: (value, whole.get(key)) for key, value in found.items() if whole.get(key) != value}
    assert {place for _, place, _ in other} <= {
        "i2c:1-0050",
        "i2c:1-0051",
    }  # no slots are told to put them in
    board = part(user, PartKind.BOARD, "board")
    assert (
        board.value("model") == parts.BOARD["product"] and board.why_absent("serial") is Absent.NOT_READABLE
    )
    refused = {row.source for row in user.sources if row.outcome is SourceOutcome.REFUSED}
    assert refused == {"smbios", "nvme", "ata", "optical"}
    assert (
        part(user, PartKind.STORAGE, DISK).value("serial") == parts.DISK.serial
    )  # the kernel shows that to all


def test_one_file_as_root_gives_an_account_without_rights_the_same_reading(
    bench: Bench, reading: Reading
) -> None:
    helped = bench.reading("privileged")
    whole, found = facts(reading), facts(helped)
    assert {key: value for key, value in found.items() if whole.get(key, value) != value} == {}
    assert whole.keys() - found.keys() == set()
    by_root = {row.source for row in helped.sources if row.privilege is Privilege.ROOT}
    assert by_root >= {"smbios", "nvme", "ata", "optical", "pci"}
    assert {row.source for row in helped.sources if row.privilege is Privilege.USER} >= {"cpuinfo", "block"}


def test_other_tools_reports_of_it_tell_the_same_machine(bench: Bench, reading: Reading) -> None:
    """dmidecode, lspci, lscpu, lsblk, lshw, smartctl and the kernel's log, read from their files alone."""
    told = take_reading(
        Root(bench.share / "reports"), lambda name, data: None, nonce=None, clock=PretendClock()
    )
    assert not [remark for remark in told.remarks if remark.kind is RemarkKind.DECODER_FAILED]
    assert "left-over" not in {row.source for row in told.sources}
    serials = {p.text("serial") for p in told.of_kind(PartKind.STORAGE)}
    assert {parts.NVME.serial, parts.DISK.serial, parts.SSD.serial} <= serials
    for module in parts.FITTED:
        assert (
            part(told, PartKind.MEMORY_MODULE, module.place).value("size_bytes")
            == module.size_mib * parts.MIB
        )
    whole, found = facts(reading), facts(told)
    both = {key for key in found if key in whole}
    assert len(both) > 150
    assert {key for key in both if found[key] != whole[key]} == OTHERWISE_TOLD


OTHERWISE_TOLD = {
    # the firmware's reversed spelling, where no SPD is there to tell
    ("memory module", parts.FITTED[1].place, "serial"),
    # lscpu counts one for each thread, as this virtual processor has it; a core has one
    ("processor", "socket:0", "l1d_bytes"),
    # lshw takes the drive's name for that of its bus function
    ("pci device", "pci:0000:01:00.0", "model"),
    # of sensors' output nobody can tell whether a label came from the driver or from its configuration
    ("sensor chip", "pci:0000:01:00.0", "temp1_label_origin"),
}


def test_a_specimen_of_it_holds_nothing_of_its_own(bench: Bench, reading: Reading) -> None:
    personal = [parts.SYSTEM["serial"], parts.SYSTEM["uuid"], parts.BOARD["serial"], parts.CASE["serial"]]
    personal += [drive.serial for drive in parts.DRIVES] + [
        *parts.SPD_SERIALS,
        parts.CARD_MAC,
        parts.DISK_WWN,
    ]
    for file in sorted(bench.folder("specimen").rglob("*")):
        data = file.read_bytes() if file.is_file() else b""
        for text in personal:
            assert not [s for s in spellings(text) if s in data], f"{text} in {file.name}"
    specimen = bench.reading("specimen")
    assert [(p.kind, p.place) for p in specimen.parts] == [(p.kind, p.place) for p in reading.parts]
    assert not [f.name for p in specimen.parts for f in p.facts if f.disputed and f.name == "serial"]


def test_the_guests_time_is_told(
    bench: Bench, reading: Reading, record_property: pytest.FixtureRequest
) -> None:
    """No goal: an emulated processor is some fifty times slower. For the log of the test run."""
    seconds = {said["reading"]: said["seconds"] for said in bench.said if "reading" in said}
    print(f"reading in the guest: {reading.took_s:.2f} s; whole commands: {seconds}")
    assert 0 < reading.took_s <= seconds["root"]


def test_the_share_holds_what_the_guest_wrote(bench: Bench) -> None:
    files = {path.name for path in Path(bench.share / "reports").iterdir()}
    assert {"dmidecode.txt", "lspci.txt", "lshw.xml", "dmesg.txt", "smartctl-nvme0.json"} <= files
