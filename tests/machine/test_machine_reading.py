"""A whole reading of a recorded machine: what it says, what it keeps, and that it can be made again."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from importlib import metadata
from pathlib import Path

import msgspec
import pytest

from shipworthy.machine import sources
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.reading import read_configuration, reread, take_reading
from shipworthy.machine.root import LIVE, Root
from shipworthy.machine.sources import SOURCES, Source
from shipworthy.model.base import Trouble, digest_of, encode_pretty
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import PortState, Privilege, RawRow, Reading, SourceOutcome, Tool
from shipworthy.model.time import PretendClock, SystemClock
from shipworthy.model.words import Absent, PartKind
from tests.machine.recorded import build, link, write


class Kept:
    """Keeps the files of a reading in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, name: str, data: bytes) -> None:
        file = self.folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(tmp_path_factory.mktemp("machine"))


@pytest.fixture
def own_machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


@pytest.fixture(scope="module")
def kept(machine: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kept")
    read(machine, folder)
    return folder


def read(machine: Path, folder: Path, also: tuple[str, ...] = ()) -> Reading:
    return take_reading(Root(machine), Kept(folder), nonce="n-1", clock=PretendClock(), also=also)


def row_of(reading: Reading, name: str) -> RawRow:
    return next(row for row in reading.sources if row.id == name)


def value(reading: Reading, place: str, name: str) -> object:
    part = reading.at(place)
    assert part is not None, place
    fact = part.fact(name)
    return None if fact is None else fact.value if fact.absent is None else fact.absent


def steady(reading: Reading) -> Reading:
    """Blank what differs by time, account and release."""
    rows = tuple(msgspec.structs.replace(row, privilege=Privilege.ROOT) for row in reading.sources)
    tool = Tool(name="shipworthy", version="any")
    return msgspec.structs.replace(reading, reading_id="any", sources=rows, tool=tool)


def test_the_recorded_machine_reads_as_its_golden_file(
    kept: Path, golden: Callable[[str, bytes], None]
) -> None:
    golden("recorded-machine.json", encode_pretty(steady(reread(kept))))


def test_a_reading_can_be_made_again_from_its_raw_files_alone(machine: Path, tmp_path: Path) -> None:
    copy = tmp_path / "machine"
    shutil.copytree(machine, copy, symlinks=True)
    first = read(copy, tmp_path / "kept")
    shutil.rmtree(copy)
    assert reread(tmp_path / "kept") == first


def test_each_row_names_the_bytes_that_are_kept(kept: Path) -> None:
    reading = reread(kept)
    lines = (kept / "raw/index.jsonl").read_bytes().splitlines()
    assert len(lines) == len(reading.sources)
    for row in reading.sources:
        if row.file is not None:
            data = (kept / row.file).read_bytes()
            assert (row.size_bytes, row.digest) == (len(data), digest_of(data))
    named = {row.file for row in reading.sources if row.file}
    assert {f"raw/{f.name}" for f in (kept / "raw").iterdir()} == named | {"raw/index.jsonl"}


def test_every_fact_names_a_row_of_the_index(kept: Path) -> None:
    reading = reread(kept)
    rows = {row.id for row in reading.sources}
    for part in reading.parts:
        for fact in part.facts:
            assert {fact.source, *(w.source for w in fact.witnesses)} <= rows
    assert {port.source for port in reading.ports} <= rows


def test_a_drive_is_told_by_its_wiring_and_its_own_word(kept: Path) -> None:
    reading = reread(kept)
    nvme, sata = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:00:17.0/ata-2"
    assert value(reading, nvme, "serial") == "QR1TB000451"
    assert value(reading, nvme, "size_bytes") == 1_000_204_886_016
    assert value(reading, nvme, "written_bytes") == 512_000_000_000
    assert value(reading, nvme, "power_on_hours") == 3
    assert value(reading, sata, "model") == "Quarrel Archive 4TB Spinner"
    assert value(reading, sata, "rotation_rpm") == 5400
    assert value(reading, sata, "technology") == "spinning"
    assert value(reading, sata, "power_on_hours") == 5
    assert {part.place for part in reading.of_kind(PartKind.STORAGE)} == {nvme, sata}


def test_the_kernels_cut_copy_of_a_name_is_no_dispute(kept: Path) -> None:
    part = reread(kept).at("pci:0000:00:17.0/ata-2")
    assert part is not None
    model = part.fact("model")
    assert model is not None and not model.disputed
    assert model.witnesses == ()


def test_a_dispute_keeps_both_words_and_says_by_which_rule_one_is_believed(kept: Path) -> None:
    firmware = reread(kept).at("firmware")
    assert firmware is not None
    version = firmware.fact("version")
    assert version is not None
    assert (version.value, version.disputed, version.rule) == ("B7", True, "the table over the kernel's copy")
    assert [(w.source, w.value) for w in version.witnesses] == [("dmi-id", "B6")]


def test_placeholders_of_firmware_are_silence(kept: Path) -> None:
    reading = reread(kept)
    assert value(reading, "system", "maker") is Absent.NOT_OFFERED
    assert value(reading, "system", "model") is Absent.NOT_OFFERED
    assert value(reading, "smbios:DIMM_B2/BANK 3", "serial") is Absent.NOT_OFFERED
    assert value(reading, "smbios:DIMM_A1/BANK 0", "serial") is Absent.NOT_FITTED


def test_the_processor_of_firmware_and_of_kernel_is_one_part(kept: Path) -> None:
    (processor,) = reread(kept).of_kind(PartKind.PROCESSOR)
    assert processor.place == "socket:0"
    assert (processor.value("model"), processor.value("socket")) == ("Tarn C5 4-Core Processor", "AM5")
    assert (processor.value("cores"), processor.value("threads"), processor.value("max_mhz")) == (2, 4, 5400)
    assert not any(fact.disputed for fact in processor.facts)


def test_a_link_that_runs_narrower_than_it_could_is_told(kept: Path) -> None:
    reading = reread(kept)
    assert value(reading, "pci:0000:01:00.0", "link_width") == 8
    assert value(reading, "pci:0000:01:00.0", "link_max_width") == 16
    assert value(reading, "pci:0000:01:00.0", "link_speed_gt_s") == 16.0
    assert value(reading, "pci:0000:00:17.0", "link_width") is Absent.NOT_OFFERED


def test_names_come_from_the_machines_own_list_and_only_for_what_is_fitted(kept: Path) -> None:
    reading = reread(kept)
    assert value(reading, "pci:0000:01:00.0", "model") == "Ember 12G"
    assert value(reading, "pci:0000:01:00.0", "maker") == "Sable"
    names = (kept / "raw/pci.names.txt").read_text()
    assert "Not fitted" not in names and "Nobody" not in names


def test_a_port_is_to_be_used_only_where_a_display_proves_it(kept: Path) -> None:
    ports = {port.place: port for port in reread(kept).ports}
    assert ports["drm:card0-DP-1"].state is PortState.USE
    assert ports["drm:card0-DP-1"].occupied_by == "drm:card0-DP-1"
    assert ports["drm:card0-HDMI-A-1"].state is PortState.UNTESTED
    assert ports["pci:0000:06:00.0"].connector == "Ethernet"
    assert "drm:card0-Writeback-1" not in ports


def test_with_a_second_card_no_port_is_recommended(own_machine: Path, tmp_path: Path) -> None:
    write(own_machine, "sys/class/drm/card1-HDMI-A-2/status", "disconnected\n")
    reading = read(own_machine, tmp_path / "kept")
    assert {port.state for port in reading.ports} == {PortState.UNTESTED}


def test_the_configuration_is_the_same_read_alone_or_with_everything(machine: Path, kept: Path) -> None:
    alone = read_configuration(Root(machine), PretendClock())
    assert alone == reread(kept).configuration
    items = {item.key: item.value for item in alone.items}
    assert items["firmware/version"] == "B7"
    assert items["memory module/DIMM_A2/BANK 1/configured_speed_mt_s"] == 6000
    assert items["storage/pci:0000:04:00.0/nvme-ns-1/serial"] == "QR1TB000451"
    assert items["pci/pci:0000:01:00.0"] == "5ab1:0042"
    assert items["link/pci:0000:01:00.0/width"] == 8
    assert items["processor/power_limit_long_w"] == 88.0


def test_nothing_that_moves_by_itself_is_in_the_configuration(own_machine: Path) -> None:
    before = read_configuration(Root(own_machine), PretendClock())
    for path, text in (
        ("sys/class/powercap/intel-rapl:0/energy_uj", "777"),
        ("sys/devices/pci0000:00/0000:00:01.0/0000:01:00.0/current_link_speed", "2.5 GT/s PCIe"),
        ("sys/class/net/enp6s0/carrier", "0"),
        ("sys/class/hwmon/hwmon0/temp1_input", "71000"),
        ("proc/stat", "cpu0 1 2 3 4"),
        ("replies/nvme0/smart-log.bin", "x" * 512),
    ):
        (own_machine / path).write_text(text + "\n")
    assert read_configuration(Root(own_machine), PretendClock()) == before


def test_a_stick_that_is_plugged_in_is_a_part_and_changes_no_configuration(
    own_machine: Path, tmp_path: Path
) -> None:
    before = read_configuration(Root(own_machine), PretendClock())
    stick = "sys/devices/pci0000:00/0000:00:14.0/usb1/1-4/1-4:1.0/host9/target9:0:0/9:0:0:0"
    write(own_machine, f"{stick}/model", "Stick\n")
    write(own_machine, f"{stick}/block/sdb/size", "60000000\n")
    write(own_machine, f"{stick}/block/sdb/removable", "1\n")
    link(own_machine, f"{stick}/block/sdb/device", stick)
    link(own_machine, "sys/block/sdb", f"{stick}/block/sdb")
    reading = read(own_machine, tmp_path / "kept")
    assert value(reading, "pci:0000:00:14.0/usb-1-4", "model") == "Stick"
    assert reading.configuration == before


def test_another_drive_in_the_same_place_is_another_configuration(own_machine: Path) -> None:
    from tests.machine.recorded import identify_controller

    before = read_configuration(Root(own_machine), PretendClock())
    write(own_machine, "replies/nvme0/identify-controller.bin", identify_controller(serial="QR1TB000999"))
    after = read_configuration(Root(own_machine), PretendClock())
    assert before.changes_to(after) == (
        ("storage/pci:0000:04:00.0/nvme-ns-1/serial", "QR1TB000451", "QR1TB000999"),
    )


def test_an_empty_folder_is_a_machine_of_which_nothing_can_be_told(tmp_path: Path) -> None:
    reading = read(tmp_path / "nothing", tmp_path / "kept")
    assert {row.outcome for row in reading.sources} == {SourceOutcome.ABSENT}
    assert all(fact.value is None for part in reading.parts for fact in part.facts)
    assert reread(tmp_path / "kept") == reading


def test_refused_absent_failed_and_empty_are_told_apart(own_machine: Path, tmp_path: Path) -> None:
    (own_machine / "proc/cpuinfo").unlink()
    (own_machine / "proc/meminfo").unlink()
    (own_machine / "proc/meminfo").mkdir()  # opens, and is no file
    (own_machine / "sys/firmware/dmi/tables/DMI").write_bytes(b"")
    reading = read(own_machine, tmp_path / "kept")
    assert row_of(reading, "cpuinfo").outcome is SourceOutcome.ABSENT
    assert row_of(reading, "meminfo").outcome is SourceOutcome.FAILED
    assert row_of(reading, "smbios.table").outcome is SourceOutcome.EMPTY
    assert value(reading, "memory", "usable_bytes") is Absent.NOT_READABLE
    assert value(reading, "memory", "modules") is Absent.NOT_OFFERED


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another account")
def test_what_another_account_may_not_read_is_refused_and_not_absent(own_machine: Path) -> None:
    """Root reads everything, so an account without rights is asked in a process of its own."""
    (own_machine / "sys/firmware/dmi/tables/DMI").chmod(0o400)
    for folder in (own_machine, *own_machine.parents):
        # pytest's own folders are for their owner
        if folder.name.startswith(("pytest-", "popen-", "test_", "machine")):
            folder.chmod(0o755)
    code = (
        "import sys; from pathlib import Path; import os\n"
        "from shipworthy.machine.capture.firmware import capture_smbios\n"
        "from shipworthy.machine.root import Root\n"
        "os.setgid(65534); os.setuid(65534)\n"
        "for r in capture_smbios(Root(Path(sys.argv[1]))):\n"
        "    print(r.id, r.outcome.value, r.error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, own_machine], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == ["smbios.entry-point read ", "smbios.table refused EACCES"]


def test_a_loop_of_links_is_a_failure_and_not_a_hang(own_machine: Path, tmp_path: Path) -> None:
    (own_machine / "proc/cpuinfo").unlink()
    (own_machine / "proc/cpuinfo").symlink_to("cpuinfo")
    (own_machine / "sys/block/sdz").symlink_to("sdz")
    reading = read(own_machine, tmp_path / "kept")
    assert row_of(reading, "cpuinfo").outcome is SourceOutcome.FAILED
    assert row_of(reading, "cpuinfo").error == "ELOOP"
    assert len(reading.of_kind(PartKind.STORAGE)) == 2


def test_a_link_that_leads_out_of_the_machine_is_not_followed(own_machine: Path, tmp_path: Path) -> None:
    secret = tmp_path / "outside.txt"
    secret.write_text("MemTotal:       1 kB\n")
    (own_machine / "proc/meminfo").unlink()
    (own_machine / "proc/meminfo").symlink_to(secret)
    (own_machine / "sys/class/drm/card9-DP-9").symlink_to("/proc/self")
    reading = read(own_machine, tmp_path / "kept")
    assert row_of(reading, "meminfo").outcome is SourceOutcome.FAILED
    assert row_of(reading, "meminfo").error == "leads out of the machine's root"
    assert all("card9" not in port.place or port.occupied_by == "" for port in reading.ports)


def test_a_pipe_where_a_file_belongs_is_a_failure_and_not_a_hang(own_machine: Path, tmp_path: Path) -> None:
    (own_machine / "proc/cpuinfo").unlink()
    os.mkfifo(own_machine / "proc/cpuinfo")
    reading = read(own_machine, tmp_path / "kept")
    assert row_of(reading, "cpuinfo").error == "not a regular file"


def test_a_file_without_end_is_a_failure(own_machine: Path, tmp_path: Path) -> None:
    with (own_machine / "proc/cpuinfo").open("wb") as file:
        file.truncate(64 << 20)
    reading = read(own_machine, tmp_path / "kept")
    assert row_of(reading, "cpuinfo").outcome is SourceOutcome.FAILED
    assert row_of(reading, "cpuinfo").file is None


def test_a_reading_ends_whatever_single_file_of_the_machine_is_spoiled(
    own_machine: Path, tmp_path: Path
) -> None:
    """Each file in turn is cut to half and turned over: every fact has a value or a reason, none crashes."""
    for index, file in enumerate(
        sorted(f for f in own_machine.rglob("*") if f.is_file() and not f.is_symlink())
    ):
        good = file.read_bytes()
        file.write_bytes(bytes(byte ^ 0xFF for byte in good[: len(good) // 2]))
        reading = take_reading(Root(own_machine), lambda name, data: None, nonce=None, clock=PretendClock())
        assert reading.parts, f"{index} {file}"
        file.write_bytes(good)
    assert steady(read(own_machine, tmp_path / "kept")).parts


def test_a_changed_raw_file_is_trouble(kept: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(kept, copy)
    file = copy / "raw/meminfo.txt"
    file.write_bytes(file.read_bytes().replace(b"3", b"4", 1))
    with pytest.raises(Trouble, match=r"a raw file is not what the index says \(raw/meminfo.txt\)"):
        reread(copy)


def test_a_raw_file_that_is_gone_is_trouble(kept: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(kept, copy)
    (copy / "raw/meminfo.txt").unlink()
    with pytest.raises(Trouble, match="cannot be read"):
        reread(copy)


def test_the_names_of_sources_are_unique_and_in_the_docs_form() -> None:
    names = [source.name for source in SOURCES]
    assert len(set(names)) == len(names)
    assert {source.protocol for source in SOURCES} == {sources.PROTOCOL}


def test_this_machine_is_read_without_numpy_and_without_another_process() -> None:
    code = (
        "import sys\n"
        "from shipworthy.machine.reading import take_reading\n"
        "from shipworthy.machine.root import LIVE\n"
        "from shipworthy.model.time import SystemClock\n"
        "starts = ('subprocess.Popen', 'os.posix_spawn', 'os.fork', 'os.exec', 'os.system')\n"
        "sys.addaudithook(lambda event, _: sys.exit(event) if event in starts else None)\n"
        "r = take_reading(LIVE, lambda n, d: None, nonce=None, clock=SystemClock())\n"
        "print(len(r.parts), 'numpy' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    parts, numpy = done.stdout.split()
    assert int(parts) > 5
    assert numpy == "False"


def test_this_machine_reads_the_same_again_from_its_raw_files(tmp_path: Path) -> None:
    reading = take_reading(LIVE, Kept(tmp_path), nonce=None, clock=SystemClock())
    assert reread(tmp_path) == reading
    (memory,) = reading.of_kind(PartKind.MEMORY)
    assert memory.number("usable_bytes") == os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")


def lights_capture(root: Root) -> list[Reply]:
    file = root.path("/lights.txt")
    return [Reply("lights", "/lights.txt", SourceOutcome.READ, file.read_bytes())]


def lights_parse(replies: tuple[Reply, ...]) -> Parsed:
    from shipworthy.machine.listing import said

    if not replies[0].read:
        return Parsed()
    text = replies[0].data.decode().strip()
    fields = (said("lights", text),)
    return Parsed((Sighting(kind=PartKind.CHASSIS, place="chassis", source=replies[0].id, said=fields),))


LIGHTS = Source("lights", lights_capture, lights_parse)
OLD_LIGHTS = Source("old-lights", lights_capture, lights_parse, protocol=0)


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A package that adds two sources, on the path as an installed one would be."""
    info = tmp_path / "site" / "lights-1.2.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: lights\nVersion: 1.2\n")
    (info / "entry_points.txt").write_text(
        f"[shipworthy.sources]\nlights = {__name__}:LIGHTS\nold-lights = {__name__}:OLD_LIGHTS\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path / "site"))
    assert metadata.version("lights") == "1.2"
    yield


@pytest.mark.usefixtures("installed")
def test_a_source_of_another_package_works_when_it_is_named(own_machine: Path, tmp_path: Path) -> None:
    write(own_machine, "lights.txt", "amber\n")
    reading = read(own_machine, tmp_path / "kept", also=("lights",))
    assert value(reading, "chassis", "lights") == "amber"
    origin = json.loads((tmp_path / "kept/raw/lights.origin.json").read_bytes())
    assert (origin["package"], origin["version"]) == ("lights", "1.2")
    assert origin["digest"].startswith("sha512:")
    assert reread(tmp_path / "kept") == reading
    assert value(read(own_machine, tmp_path / "without"), "chassis", "lights") is None


@pytest.mark.usefixtures("installed")
def test_a_source_of_another_package_that_fails_costs_nothing_else(own_machine: Path, tmp_path: Path) -> None:
    reading = read(own_machine, tmp_path / "kept", also=("lights",))
    assert row_of(reading, "lights").outcome is SourceOutcome.FAILED
    assert row_of(reading, "lights").error.startswith("FileNotFoundError")
    assert reading.parts == read(own_machine, tmp_path / "without").parts
    assert reread(tmp_path / "kept") == reading


@pytest.mark.usefixtures("installed")
def test_a_source_for_another_protocol_or_that_nobody_offers_is_trouble(
    own_machine: Path, tmp_path: Path
) -> None:
    with pytest.raises(Trouble, match="protocol 0"):
        read(own_machine, tmp_path / "kept", also=("old-lights",))
    with pytest.raises(Trouble, match="no installed package offers"):
        read(own_machine, tmp_path / "kept", also=("no-such",))
