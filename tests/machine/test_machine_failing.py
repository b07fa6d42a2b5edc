"""Hardware that fails while it is read: what failed is named, nothing of it is a number, the rest stands."""

from __future__ import annotations

import errno
import json
import shutil
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from shipworthy.cli.main import app
from shipworthy.jobs.doctor import doctor
from shipworthy.jobs.errands import Bench
from shipworthy.machine import reading as reading_module
from shipworthy.machine.capture import files as capture_files
from shipworthy.machine.capture import nvidia_smi, smartctl
from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.parse.nvidia_smi import xml_report as nvidia_smi_xml
from shipworthy.machine.parse.smartctl import json_report as smartctl_json
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.reading import read_configuration, reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.machine.sources import SOURCES
from shipworthy.machine.unanswered import GONE, unanswered
from shipworthy.model.reading import Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, RemarkKind
from tests.machine import devices
from tests.machine.drive_pages import sense
from tests.machine.recorded import GPU, NIC, NVME, SATA, build, link, write
from tests.machine.test_machine_reading import Kept, row_of, steady, value

NVME_PLACE, SATA_PLACE = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:00:17.0/ata-2"
LIVE_ROOT = Root(Path("/"))


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def read(machine: Path) -> Reading:
    """Read, and hold the same reading made again from its raw files against it."""
    kept = machine.parent / "kept"
    shutil.rmtree(kept, ignore_errors=True)
    reading = take_reading(Root(machine), Kept(kept), nonce=None, clock=PretendClock())
    assert reread(kept) == reading
    return reading


def others(reading: Reading, *places: str) -> list[object]:
    """Return what is left of a reading without some parts, as it is whatever becomes of them."""
    return [p for p in reading.parts if not any(place in (p.place, *p.also_at) for place in places)]


def remarks_of(reading: Reading, *sources: str) -> list[tuple[RemarkKind, str, str]]:
    return [(r.kind, r.where, r.detail) for r in reading.remarks if r.source.split(".")[0] in sources]


# A device that goes while it is read


@pytest.mark.parametrize(
    ("folder", "device", "where", "gone"),
    [
        ("/sys/block", NVME, "/sys/block/nvme0n1", NVME_PLACE),
        ("/sys/block", SATA, "/sys/block/sda", SATA_PLACE),
        ("/sys/bus/pci/devices", GPU, "/sys/bus/pci/devices/0000:01:00.0", "pci:0000:01:00.0"),
        ("/sys/class/net", f"{NIC}/net", "/sys/class/net/enp6s0", "enp6s0"),
        ("/sys/class/hwmon", f"{NVME}/nvme/nvme0/hwmon", "/sys/class/hwmon/hwmon1", "hwmon1"),
    ],
)
def test_a_device_that_goes_between_being_listed_and_being_read_is_named(
    machine: Path, monkeypatch: pytest.MonkeyPatch, folder: str, device: str, where: str, gone: str
) -> None:
    before = read(machine)
    real = capture_files._list

    def listing(root: Root, asked: str) -> object:
        answer = real(root, asked)
        if asked == folder:
            shutil.rmtree(machine / device, ignore_errors=True)
        return answer

    monkeypatch.setattr(capture_files, "_list", listing)
    after = read(machine)
    named = {r.where for r in after.remarks if r.kind is RemarkKind.NOT_ANSWERED and r.detail == GONE}
    assert where in named
    processor = "socket:0"
    assert after.at(processor) == before.at(processor)
    assert {p.place for p in others(before)} - {p.place for p in after.parts} <= {
        place for place in (p.place for p in before.parts) if place.startswith(("pci:", "drm:", "hwmon:"))
    }
    assert len(after.parts) > len(before.parts) / 2


def test_a_machine_that_answers_for_everything_it_lists_has_no_such_remark(machine: Path) -> None:
    assert [r for r in read(machine).remarks if r.kind is RemarkKind.NOT_ANSWERED] == []


def test_lines_that_are_no_listing_tell_of_no_device() -> None:
    torn = Reply("x", "/x", SourceOutcome.READ, b'{"path": "/sys/block"\n', "", "jsonl")
    assert unanswered((torn, replace(torn, data=b"{}"), replace(torn, suffix="txt"))) == ()


# A file that gives an error of the bus


@pytest.mark.parametrize(
    ("ending", "place", "name"),
    [
        ("sda/size", None, None),
        ("0000:01:00.0/current_link_width", "pci:0000:01:00.0", "link_width"),
        ("enp6s0/speed", "pci:0000:06:00.0", "speed_mbit_s"),
        ("constraint_0_power_limit_uw", "socket:0", "power_limit_long_w"),
        ("card0-DP-1/edid", None, None),
        ("sda/removable", SATA_PLACE, "removable"),
        ("hwmon0/temp1_crit", None, None),
    ],
)
def test_a_file_of_sysfs_that_gives_eio_is_named_and_is_no_value(
    machine: Path, monkeypatch: pytest.MonkeyPatch, ending: str, place: str | None, name: str | None
) -> None:
    before = read(machine)
    devices.failing(monkeypatch, ending)
    after = read(machine)
    told = [r for r in after.remarks if r.kind is RemarkKind.NOT_ANSWERED and r.detail == "EIO"]
    assert told and all(r.where.endswith(ending.split("/")[-1]) for r in told)
    if place is not None and name is not None:
        assert value(before, place, name) not in (None, Absent.NOT_READABLE)
        assert value(after, place, name) is Absent.NOT_READABLE
    same = [p for p in after.parts if p in before.parts]
    assert len(same) >= len(before.parts) - 2


@pytest.mark.parametrize(
    ("ending", "row"),
    [
        ("/proc/cpuinfo", "cpuinfo"),
        ("/proc/meminfo", "meminfo"),
        ("/tables/DMI", "smbios.table"),
        ("/nvme0/smart-log.bin", "nvme.nvme0.smart-log"),
        ("/sda/ata-identify.bin", "ata.sda.identify"),
    ],
)
def test_a_reply_that_gives_eio_is_a_failed_row_with_the_systems_word(
    machine: Path, monkeypatch: pytest.MonkeyPatch, ending: str, row: str
) -> None:
    before = read(machine)
    devices.failing(monkeypatch, ending)
    after = read(machine)
    told = row_of(after, row)
    assert (told.outcome, told.error, told.file) == (SourceOutcome.FAILED, "EIO", None)
    assert len(after.parts) >= len(before.parts) - 6
    assert all(fact.value is None or fact.source != row for part in after.parts for fact in part.facts)


@pytest.mark.parametrize("error", [errno.EIO, errno.ENODEV, errno.EACCES, errno.ETIMEDOUT])
def test_whatever_every_file_gives_the_reading_ends_and_every_fact_has_a_reason(
    machine: Path, monkeypatch: pytest.MonkeyPatch, error: int
) -> None:
    devices.failing(monkeypatch, "", error)
    kept: dict[str, bytes] = {}
    reading = take_reading(
        Root(machine), lambda name, data: kept.update({name: data}), nonce=None, clock=PretendClock()
    )
    numbers = [
        (part.place, fact.name, fact.value)
        for part in reading.parts
        for fact in part.facts
        if isinstance(fact.value, int | float) and not isinstance(fact.value, bool)
    ]
    assert numbers == []
    assert {"reading.json", "raw/index.jsonl"} <= kept.keys()


# A drive that is dead, asleep, or answers with rubbish


REQUESTS = {
    "identify-controller": ("nvme0", 4096, NVME_PLACE),
    "smart-log": ("nvme0", 512, NVME_PLACE),
    "identify-namespace": ("nvme0n1", 4096, NVME_PLACE),
    "ata-identify": ("sda", 512, SATA_PLACE),
    "ata-device-statistics": ("sda", 512, SATA_PLACE),
}
COUNTERS = ("power_on_hours", "written_bytes", "power_cycles", "media_errors")


@pytest.mark.parametrize("state", ["absent", "empty", "cut short", "zeros", "ones"])
@pytest.mark.parametrize("request_name", REQUESTS)
def test_a_drives_answer_that_is_none_leaves_the_kernels_word_and_the_other_drive(
    machine: Path, request_name: str, state: str
) -> None:
    device, size, place = REQUESTS[request_name]
    before = read(machine)
    file = machine / f"replies/{device}/{request_name}.bin"
    good = file.read_bytes()
    file.write_bytes(
        {"absent": b"", "empty": b"", "cut short": good[:100], "zeros": bytes(size), "ones": b"\xff" * size}[
            state
        ]
    )
    if state == "absent":
        file.unlink()
    after = read(machine)
    serial = {NVME_PLACE: "QR1TB000451", SATA_PLACE: "QA4-0017"}[place]
    assert value(after, place, "serial") == serial
    assert value(after, place, "size_bytes") == value(before, place, "size_bytes")
    assert others(after, place) == others(before, place)
    if request_name in ("smart-log", "ata-device-statistics"):
        told = {value(after, place, name) for name in COUNTERS} - {None}
        reason = {
            "absent": Absent.NOT_ASKED,
            "empty": Absent.NOT_OFFERED,
            "zeros": Absent.NOT_OFFERED,
            "cut short": Absent.IMPLAUSIBLE,
            "ones": Absent.IMPLAUSIBLE,
        }[state]
        assert told == {reason}
    if state in ("cut short", "ones"):
        kind = RemarkKind.CUT_SHORT if state == "cut short" else RemarkKind.BAD_VALUE
        assert [remark[0] for remark in remarks_of(after, "nvme", "ata")] == [kind]


def test_a_drive_that_sleeps_is_named_and_not_woken_and_the_rest_stands(machine: Path) -> None:
    before = read(machine)
    write(machine, "replies/sda/ata-power-mode.bin", sense(count=0x00))
    after = read(machine)
    assert [(kind, detail) for kind, _, detail in remarks_of(after, "ata")] == [
        (RemarkKind.NOT_ANSWERED, "the drive sleeps and was not woken"),
        (RemarkKind.NOT_ANSWERED, "/sys/block/sda/device/vpd_pg89: not asked"),
    ]
    asked = {row.id for row in after.sources if row.source == "ata"}
    assert asked == {"ata", "ata.sda.power-mode", "ata.sda.identify"}
    assert value(after, SATA_PLACE, "serial") == "QA4-0017"
    assert value(after, SATA_PLACE, "power_on_hours") in (None, Absent.NOT_ASKED)
    assert others(after, SATA_PLACE) == others(before, SATA_PLACE)


def test_the_configuration_of_a_sleeping_drive_is_the_same_read_alone_or_with_everything(
    machine: Path,
) -> None:
    write(machine, "replies/sda/ata-power-mode.bin", sense(count=0x00))
    assert read_configuration(Root(machine), PretendClock()) == read(machine).configuration


# Tools that are not there, too old, or print rubbish


def tool(folder: Path, name: str, script: str) -> Path:
    file = folder / name
    file.write_text(f"#!/bin/sh\n{script}\n")
    file.chmod(0o755)
    return file


OLD = "echo 'smartctl 6.6 2016-05-31 r4324 [x86_64-linux-4.9.0]'; echo 'UNRECOGNIZED OPTION'; exit 1"
SMARTCTL = [
    ("too old", OLD, RemarkKind.NOT_UNDERSTOOD, "6.6"),
    ("rubbish", "head -c 3000 /dev/urandom", RemarkKind.CUT_SHORT, ""),
    ("half an answer", 'printf \'{"smartctl": {"version": [7, 4\'', RemarkKind.CUT_SHORT, ""),
    ("nothing", "exit 1", None, ""),
    ("killed", "kill -9 $$", None, ""),
    ("another tool's JSON", "echo '{\"blockdevices\": []}'", None, ""),
]


@pytest.mark.parametrize(
    ("script", "kind", "word"), [row[1:] for row in SMARTCTL], ids=[row[0] for row in SMARTCTL]
)
def test_smartctl_that_is_too_old_or_prints_rubbish_costs_only_its_own_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, kind: RemarkKind | None, word: str
) -> None:
    """The tool is found where a system keeps it, and its drive is one that only it can ask."""
    tool(tmp_path, "smartctl", script)
    monkeypatch.setattr(smartctl, "FOLDERS", (str(tmp_path),))
    monkeypatch.setattr(smartctl.os, "access", lambda path, mode: True)
    reply = smartctl._asked(LIVE_ROOT, "sdb", 0)
    assert reply.id == "smartctl.sdb"
    head = _head_of_a_drive_for_smartctl(tmp_path / "machine")
    parsed = smartctl_json.parse_live((head, reply))
    values = [said.value for sighting in parsed.sightings for said in sighting.said]
    assert not any(isinstance(value, int | float) and not isinstance(value, bool) for value in values)
    assert parsed.remarks, "what gave nothing is named"
    if kind is not None:
        assert parsed.remarks[0].kind is kind
        assert word in parsed.remarks[0].detail


def _head_of_a_drive_for_smartctl(root: Path) -> Reply:
    folder = "sys/devices/pci0000:00/0000:01:00.0/host6/port-6:0/end_device-6:0/target6:0:0/6:0:0:0"
    write(root, f"{folder}/vendor", "TARN\n")
    write(root, f"{folder}/block/sdb/removable", "0\n")
    link(root, f"{folder}/block/sdb/device", folder)
    link(root, "sys/block/sdb", f"{folder}/block/sdb")
    return smartctl.capture(Root(root))[0]


def test_smartctl_that_leaves_a_child_with_its_pipe_is_ended_in_its_time(tmp_path: Path) -> None:
    """The tool itself ends well; what it started holds its output open."""
    script = tool(tmp_path, "smartctl", "(sleep 60) & echo '{}'")
    began_s = time.monotonic()
    reply = smartctl.ask((str(script),), "smartctl.sdb", "smartctl", limit_s=0.4)
    assert (reply.outcome, reply.error) == (SourceOutcome.FAILED, "no answer in its time")
    assert time.monotonic() - began_s < 8


NVIDIA = [
    ("hangs", "sleep 60", SourceOutcome.FAILED, "no answer in its time"),
    ("floods", "head -c 90000 /dev/zero", SourceOutcome.FAILED, "more than 20000 bytes"),
    ("no driver", "echo 'NVIDIA-SMI has failed'; exit 9", SourceOutcome.FAILED, "exit status 9"),
    ("prints nothing", "exit 0", SourceOutcome.EMPTY, ""),
    ("prints rubbish", "head -c 900 /dev/urandom", SourceOutcome.READ, ""),
    ("stops in the middle", "printf '<?xml version=\"1.0\"?><nvidia_smi_log><gpu>'", SourceOutcome.READ, ""),
    (
        "an XML bomb",
        'echo \'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbbbbbbb"><!ENTITY c "&b;&b;&b;">]>\''
        "'<nvidia_smi_log>&c;</nvidia_smi_log>'",
        SourceOutcome.READ,
        "",
    ),
]


@pytest.mark.parametrize(("script", "outcome", "error"), [r[1:] for r in NVIDIA], ids=[r[0] for r in NVIDIA])
def test_nvidia_smi_that_hangs_floods_or_prints_rubbish_is_named_and_gives_no_card(
    tmp_path: Path, script: str, outcome: SourceOutcome, error: str
) -> None:
    file = tool(tmp_path, "nvidia-smi", script)
    began_s = time.monotonic()
    reply = nvidia_smi.ask((str(file), "-q", "-x"), 0.6, 20_000)
    assert time.monotonic() - began_s < 8
    assert (reply.outcome, reply.error) == (outcome, error)
    parsed = nvidia_smi_xml.parse((reply,))
    assert [word for s in parsed.sightings for word in s.said if word.value is not None] == []
    if outcome is SourceOutcome.READ:
        assert len(parsed.remarks) == 1


def test_nvidia_smi_that_cannot_be_run_or_is_not_there_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "nvidia-smi").write_text("no program")
    assert nvidia_smi.ask((str(tmp_path / "nvidia-smi"),), 1.0, 100).outcome is SourceOutcome.FAILED
    monkeypatch.setattr(nvidia_smi, "TOOLS", (str(tmp_path / "none"),))
    monkeypatch.setattr(nvidia_smi, "has_card", lambda root: True)
    (reply,) = nvidia_smi.capture(LIVE_ROOT)
    assert (reply.outcome, reply.error) == (SourceOutcome.ABSENT, "the tool is not installed")


# A mistake of a decoder of our own


def spoiled(replies: tuple[Reply, ...]) -> Parsed:
    raise IndexError("byte 7 of 3")


def with_spoiled(name: str) -> Callable[[Root], tuple[object, ...]]:
    return lambda root: tuple(replace(s, parse=spoiled) if s.name == name else s for s in SOURCES)


@pytest.mark.parametrize("name", [source.name for source in SOURCES])
def test_whichever_decoder_fails_it_is_one_remark_and_the_rest_stands(
    machine: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    clock = PretendClock()
    before = take_reading(Root(machine), lambda n, d: None, nonce=None, clock=clock)
    monkeypatch.setattr(reading_module, "_sources_of", with_spoiled(name))
    kept: dict[str, bytes] = {}
    after = take_reading(Root(machine), lambda n, d: kept.update({n: d}), nonce=None, clock=clock)
    (remark,) = [r for r in after.remarks if r.kind is RemarkKind.DECODER_FAILED]
    assert (remark.source, remark.where, remark.detail) == (name, name, "IndexError: byte 7 of 3")
    assert {row.file for row in after.sources if row.file} <= kept.keys(), (
        "the bytes are kept for a later one"
    )
    assert steady(before).sources == steady(after).sources
    spoken = {w for p in after.parts for f in p.facts for w in (f.source, *(x.source for x in f.witnesses))}
    assert name not in {word.split(".")[0] for word in spoken}


def test_read_shows_a_decoder_that_fails_and_doctor_names_it(
    machine: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading_module, "_sources_of", with_spoiled("meminfo"))
    done = CliRunner().invoke(app, ["read", "--from", str(machine), "--into", str(tmp_path / "half")])
    assert done.exit_code == 0, done.output
    assert "meminfo: a fault of this tool's decoder (IndexError: byte 7 of 3)" in done.output
    assert "processor" in done.output
    bench = Bench(
        tmp_path / "records",
        tmp_path / "packs",
        tmp_path / "key.json",
        tmp_path / "trust",
        clock=PretendClock(),
    )
    complaints = doctor(Root(machine), bench)
    (told,) = [c for c in complaints if c.code == "reading.decoder-failed"]
    assert {v.name: v.value for v in told.values}["source"] == "meminfo"


def test_what_fails_is_in_the_json_of_read_too(
    machine: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices.failing(monkeypatch, "/proc/meminfo")
    words = ["read", "--from", str(machine), "--into", str(tmp_path / "half"), "--json"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0
    rows = {row["id"]: row for row in json.loads(done.stdout)["sources"]}
    assert (rows["meminfo"]["outcome"], rows["meminfo"]["error"]) == ("failed", "EIO")


def test_a_folder_that_answered_in_part_has_not_gone() -> None:
    """An interface of a USB hub is no link of its own, and lacks some files by right."""
    rows = [
        ListingRow(path="/sys/bus/usb/devices", names=("1-0:1.0", "1-3")),
        ListingRow(path="/sys/bus/usb/devices/1-0:1.0/bInterfaceClass", text="09\n"),
        ListingRow(path="/sys/bus/usb/devices/1-0:1.0/interface", outcome=SourceOutcome.ABSENT),
        ListingRow(path="/sys/bus/usb/devices/1-3/idVendor", outcome=SourceOutcome.ABSENT),
    ]
    reply = Reply("usb", "/sys/bus/usb/devices", SourceOutcome.READ, encode_listing(rows), "", "jsonl")
    assert [remark.where for remark in unanswered((reply,))] == ["/sys/bus/usb/devices/1-3"]
