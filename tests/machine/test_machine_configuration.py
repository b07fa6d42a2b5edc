"""What evidence depends on: the same value read quickly or with everything, and what changed is named."""

from __future__ import annotations

import json
import shutil
import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from shipworthy.cli.main import app
from shipworthy.jobs.compare import Change, compare_readings
from shipworthy.machine import reading as reading_module
from shipworthy.machine.configuration import configuration_of
from shipworthy.machine.join import join
from shipworthy.machine.listing import said
from shipworthy.machine.raw import Reply
from shipworthy.machine.reading import read_configuration, reread, take_reading
from shipworthy.machine.root import LIVE, Root
from shipworthy.machine.sources import SOURCES, Capture, Source
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Configuration
from shipworthy.model.time import PretendClock, SystemClock
from shipworthy.model.words import PartKind
from tests.machine.recorded import GPU, build, identify_controller, link, smbios_table, write
from tests.machine.smbios_bytes import entry_point_64
from tests.machine.test_machine_reading import Kept

Unpack = Callable[[str], Path]
GHW, UTIL = "linux-sysfs/ghw", "linux-sysfs/util-linux/dumps"
HWLOC = "linux-sysfs/hwloc/linux"
CPU = "sys/devices/system/cpu"
EFIVARS = "sys/firmware/efi/efivars"
GLOBAL = "8be4df61-93ca-11d2-aa0d-00e098032b8c"
TREES = [
    f"{GHW}/linux-amd64-amd-ryzen-1600.tar.gz",
    f"{GHW}/linux-amd64-offlineCPUs.tar.gz",
    f"{GHW}/linux-amd64-accel.tar.gz",
    f"{UTIL}/simple-nvme.tar.xz",
    f"{UTIL}/simple-lvm.tar.xz",
    f"{HWLOC}/20em64t-hybrid-1p6c2t+2ca4co1t.tar.bz2",
    f"{HWLOC}/32intel64-2p8co2t+8ve.tar.bz2",
]
ASKED = [source.name for source in SOURCES if source.configuration is not None]


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    folder = build(tmp_path / "machine")
    secure_boot(folder, on=True)
    write(folder, f"{CPU}/smt/control", "on\n")
    write(folder, f"{CPU}/cpufreq/boost", "1\n")
    return folder


def secure_boot(folder: Path, *, on: bool) -> None:
    """A variable of the firmware: four bytes of attributes, then its value."""
    write(folder, f"{EFIVARS}/SecureBoot-{GLOBAL}", bytes([6, 0, 0, 0, on]))
    write(folder, f"{EFIVARS}/SetupMode-{GLOBAL}", bytes([6, 0, 0, 0, 0]))


def whole(folder: Path) -> Configuration:
    reading = take_reading(Root(folder), lambda name, data: None, nonce=None, clock=PretendClock())
    return reading.configuration


def quick(folder: Path) -> Configuration:
    return read_configuration(Root(folder), PretendClock())


# The same, read alone or with everything


def test_it_is_the_same_of_the_recorded_machine(machine: Path) -> None:
    assert whole(machine) == quick(machine)
    keys = {item.key for item in quick(machine).items}
    assert {"firmware/secure_boot", "processor/smt", "processor/boost"} <= keys


@pytest.mark.parametrize("name", TREES)
def test_it_is_the_same_of_real_machines(unpacked: Unpack, name: str) -> None:
    folder = unpacked(name)
    assert len(quick(folder).items) > 5
    assert whole(folder) == quick(folder)


def test_it_is_the_same_of_this_machine() -> None:
    clock = SystemClock()
    reading = take_reading(LIVE, lambda name, data: None, nonce=None, clock=clock)
    assert reading.configuration == read_configuration(LIVE, clock)


def failing(root: Root) -> list[Reply]:
    raise OSError(5, "Input/output error")


def with_failing(name: str) -> tuple[Source, ...]:
    def failed(source: Source) -> Source:
        ask: Capture | None = None if source.configuration is None else failing
        return replace(source, capture=failing, configuration=ask) if source.name == name else source

    return tuple(failed(source) for source in SOURCES)


@pytest.mark.parametrize("name", [source.name for source in SOURCES])
def test_it_is_the_same_whichever_source_fails_and_another_only_where_it_rests_on_that(
    machine: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    before = quick(machine)
    monkeypatch.setattr(reading_module, "SOURCES", with_failing(name))
    monkeypatch.setattr(reading_module, "_sources_of", lambda root: with_failing(name))
    after = quick(machine)
    assert whole(machine) == after
    assert {item.key for item in after.items} <= {item.key for item in before.items}, "a failure adds nothing"
    if name not in ASKED:
        assert after == before


@pytest.mark.parametrize("name", [TREES[0], TREES[3]])
def test_it_is_the_same_of_real_machines_whichever_source_fails(
    unpacked: Unpack, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    folder = unpacked(name)
    for source in ASKED:
        monkeypatch.setattr(reading_module, "SOURCES", with_failing(source))
        monkeypatch.setattr(reading_module, "_sources_of", lambda root, s=source: with_failing(s))
        assert whole(folder) == quick(folder), source


def test_it_is_the_same_made_again_from_the_raw_files(machine: Path, tmp_path: Path) -> None:
    take_reading(Root(machine), Kept(tmp_path / "kept"), nonce=None, clock=PretendClock())
    assert reread(tmp_path / "kept").configuration == quick(machine)


def test_its_digest_is_of_its_items_alone_and_their_order_is_fixed(machine: Path) -> None:
    first, again = quick(machine), quick(machine)
    assert (first, first.digest) == (again, again.digest)
    assert [item.key for item in first.items] == sorted(item.key for item in first.items)
    mixed = Configuration.of(dict(reversed([(item.key, item.value) for item in first.items])))
    assert mixed == first
    write(machine, f"{CPU}/smt/control", "off\n")
    assert quick(machine).digest != first.digest


# What changed is named


def table_with(old: bytes, new: bytes) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        table = smbios_table().replace(old, new)
        write(folder, "sys/firmware/dmi/tables/DMI", table)
        write(folder, "sys/firmware/dmi/tables/smbios_entry_point", entry_point_64(table))

    return change


def slower_memory(folder: Path) -> None:
    """Both modules run at 4800: offsets 15h and 20h of type 17 (DSP0134 7.18)."""
    table = bytearray(smbios_table())
    at = 0
    while (at := table.find(struct.pack("<H", 6000), at)) >= 0:
        table[at : at + 2] = struct.pack("<H", 4800)
    write(folder, "sys/firmware/dmi/tables/DMI", bytes(table))


def another_slot(folder: Path) -> None:
    """The card of 01:00.0 hangs below another port, as its function 02:00.0."""
    new = "sys/devices/pci0000:00/0000:00:03.0/0000:02:00.0"
    (folder / new).parent.mkdir(parents=True)
    shutil.move(folder / GPU, folder / new)
    (folder / "sys/bus/pci/devices/0000:01:00.0").unlink()
    link(folder, "sys/bus/pci/devices/0000:02:00.0", new)


LIMIT = "sys/class/powercap/intel-rapl:0/constraint_0_power_limit_uw"
MODULE = "memory module/DIMM_A2/BANK 1"
NVME = "storage/pci:0000:04:00.0/nvme-ns-1"
CHANGES: dict[str, tuple[Callable[[Path], object], dict[str, tuple[Scalar | None, Scalar | None]]]] = {
    "firmware version": (table_with(b"B7\0", b"B9\0"), {"firmware/version": ("B7", "B9")}),
    "board": (table_with(b"HW-77-1031", b"HW-77-9999"), {"board/serial": ("HW-77-1031", "HW-77-9999")}),
    "memory speed": (
        slower_memory,
        {
            f"{MODULE}/configured_speed_mt_s": (6000, 4800),
            "memory module/DIMM_B2/BANK 3/configured_speed_mt_s": (6000, 4800),
        },
    ),
    "memory module": (table_with(b"0A0B0C01", b"0A0B0CFE"), {f"{MODULE}/serial": ("0A0B0C01", "0A0B0CFE")}),
    "power limit": (
        lambda folder: write(folder, LIMIT, "125000000\n"),
        {"processor/power_limit_long_w": (88.0, 125.0)},
    ),
    "drive": (
        lambda folder: write(
            folder, "replies/nvme0/identify-controller.bin", identify_controller(serial="QR1TB000777")
        ),
        {f"{NVME}/serial": ("QR1TB000451", "QR1TB000777")},
    ),
    "drive's firmware": (
        lambda folder: write(
            folder, "replies/nvme0/identify-controller.bin", identify_controller(firmware="2B5QR")
        ),
        {f"{NVME}/firmware_version": ("2B4QR", "2B5QR")},
    ),
    "card in another slot": (
        another_slot,
        {
            "pci/pci:0000:01:00.0": ("5ab1:0042", None),
            "pci/pci:0000:02:00.0": (None, "5ab1:0042"),
            "link/pci:0000:01:00.0/width": (8, None),
            "link/pci:0000:02:00.0/width": (None, 8),
        },
    ),
    "link width": (
        lambda folder: write(folder, f"{GPU}/current_link_width", "4\n"),
        {"link/pci:0000:01:00.0/width": (8, 4)},
    ),
    "secure boot": (lambda folder: secure_boot(folder, on=False), {"firmware/secure_boot": (True, False)}),
    "threads": (
        lambda folder: write(folder, f"{CPU}/smt/control", "off\n"),
        {"processor/smt": ("on", "off")},
    ),
    "boost": (
        lambda folder: write(folder, f"{CPU}/cpufreq/boost", "0\n"),
        {"processor/boost": (True, False)},
    ),
    "drive taken out": (
        lambda folder: (folder / "sys/block/sda").unlink(),
        {
            f"storage/pci:0000:00:17.0/ata-2/{name}": (value, None)
            for name, value in (
                ("model", "Quarrel Archive 4TB Spinner"),
                ("serial", "QA4-0017"),
                ("firmware_version", "AA03"),
            )
        },
    ),
}


@pytest.mark.parametrize("what", CHANGES)
def test_comparing_two_readings_names_what_changed_and_nothing_else(
    machine: Path, tmp_path: Path, what: str
) -> None:
    change, expected = CHANGES[what]
    take_reading(Root(machine), Kept(tmp_path / "before"), nonce=None, clock=PretendClock())
    change(machine)
    take_reading(Root(machine), Kept(tmp_path / "now"), nonce=None, clock=PretendClock())
    changes = compare_readings(tmp_path / "before", tmp_path / "now")
    assert {c.key: (c.was, c.now) for c in changes} == expected
    assert compare_readings(tmp_path / "now", tmp_path / "before") == tuple(
        Change(c.key, c.now, c.was) for c in changes
    )
    assert compare_readings(tmp_path / "now", tmp_path / "now") == ()


def test_the_verb_says_was_and_is_now_also_of_what_is_off_or_gone(machine: Path, tmp_path: Path) -> None:
    for name in ("before", "now"):
        take_reading(Root(machine), Kept(tmp_path / name), nonce=None, clock=PretendClock())
        secure_boot(machine, on=False)
        (machine / "sys/block/sda").unlink(missing_ok=True)
    words = ["compare", str(tmp_path / "before"), str(tmp_path / "now")]
    done = CliRunner().invoke(app, words)
    lines = [" ".join(line.split()) for line in done.output.splitlines()]
    assert done.exit_code == 1
    assert "firmware/secure_boot True False" in lines
    assert "storage/pci:0000:00:17.0/ata-2/serial QA4-0017 nothing" in lines
    told = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    assert {"key": "firmware/secure_boot", "was": True, "now": False} in told
    assert CliRunner().invoke(app, ["compare", words[1], words[1]]).exit_code == 0


# Parts of which a machine has several


def seen(kind: PartKind, place: str, **facts: Scalar) -> Sighting:
    fields = tuple(said(name, value) for name, value in facts.items())
    return Sighting(kind=kind, place=place, source="smbios.table", said=fields)


@pytest.mark.parametrize(
    ("kind", "places"),
    [
        (PartKind.BOARD, ("board", "board#2")),
        (PartKind.PROCESSOR, ("socket:0", "socket:1")),
        (PartKind.GRAPHICS, ("pci:0000:01:00.0", "pci:0000:02:00.0")),
        (PartKind.MEMORY_MODULE, ("smbios:A1", "smbios:A2")),
    ],
)
def test_of_several_parts_of_a_kind_each_has_its_own_items(kind: PartKind, places: tuple[str, ...]) -> None:
    name = {
        PartKind.PROCESSOR: "microcode",
        PartKind.GRAPHICS: "vbios_version",
    }.get(kind, "serial")
    parts = join([seen(kind, place, **{name: place}) for place in places])
    values = [item.value for item in configuration_of(parts).items]
    assert sorted(map(str, values)) == sorted(places)
