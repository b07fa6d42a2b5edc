"""A folder of other tools' files becomes one reading: parts joined, and what was not read named."""

from __future__ import annotations

import json
import os
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from shipworthy.cli.main import app
from shipworthy.machine import reports
from shipworthy.machine.asking import LEFT_OVER
from shipworthy.machine.kinds import KINDS
from shipworthy.machine.reading import read_configuration, reread, take_reading
from shipworthy.machine.reports import known_sources, sources_of, tells_something
from shipworthy.machine.root import SIMULATED_MARK, Root
from shipworthy.machine.sources import SOURCES
from shipworthy.machine.specimen import take_specimen
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind, RemarkKind
from tests.machine.recorded import build, smbios_table
from tests.machine.reports_of_a_machine import DMIDECODE, FILES, LSBLK, LSHW, fill
from tests.machine.smbios_bytes import entry_point_64, structure
from tests.machine.test_machine_reading import Kept


def read(folder: Path, kept: Path) -> Reading:
    """Read a folder, and hold the reading made again from its raw files against it."""
    reading = take_reading(Root(folder), Kept(kept), nonce=None, clock=PretendClock())
    assert reread(kept) == reading
    return reading


def left_over(reading: Reading) -> dict[str, str]:
    return {r.where: r.detail for r in reading.remarks if r.source == LEFT_OVER}


def one(reading: Reading, kind: PartKind) -> Part:
    (part,) = reading.of_kind(kind)
    return part


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "reports"


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return tmp_path / "kept"


# One machine


def test_a_folder_of_reports_is_one_reading_of_one_machine(folder: Path, kept: Path) -> None:
    reading = read(fill(folder), kept)
    assert [row.source for row in reading.sources] == [
        *("dmidecode-text", "lshw-xml", "lspci-text", "lscpu-text"),
        *("lsblk-json", "sensors-json", "smartctl-json", "dmesg"),
    ]
    assert {row.locator for row in reading.sources} == {f"/{name}" for name in FILES}
    assert (reading.nonce, reading.simulated, reading.remarks) == (None, False, ())
    processor = one(reading, PartKind.PROCESSOR)
    assert (processor.value("model"), processor.value("socket")) == ("Tarn C5 4-Core Processor", "AM5")
    assert (processor.value("cores"), processor.value("max_mhz")) == (4, 5400)
    board = one(reading, PartKind.BOARD)
    assert (board.value("model"), board.value("serial")) == ("H1 Quiet", "HW-77-1031")
    assert one(reading, PartKind.KERNEL).value("release") == "6.12.1-bench"
    assert len(reading.of_kind(PartKind.SENSOR_CHIP)) == 2


def test_a_drive_of_two_reports_is_one_by_its_serial_whatever_nickname_each_start_gave_it(
    folder: Path, kept: Path
) -> None:
    drives = {d.text("serial"): d for d in read(fill(folder), kept).of_kind(PartKind.STORAGE)}
    assert set(drives) == {"QA4-0017", "QR1TB000451"}
    spinner, nvme = drives["QA4-0017"], drives["QR1TB000451"]
    assert (spinner.value("power_on_hours"), spinner.value("technology")) == (70, "spinning")
    assert (spinner.value("sata_now_gbit_s"), spinner.value("firmware_version")) == (6.0, "AA03")
    assert "pci:0000:04:00.0/nvme-ns-1" in (nvme.place, *nvme.also_at)
    assert (nvme.value("firmware_version"), nvme.value("size_bytes")) == ("2B4QR", 1_000_204_886_016)


def test_a_memory_module_is_one_by_its_slot_though_a_report_leaves_the_bank_out(
    folder: Path, kept: Path
) -> None:
    reading = read(fill(folder), kept)
    assert [part.place for part in reading.of_kind(PartKind.MEMORY_MODULE)] == [
        "smbios:DIMM A1/BANK 0",
        "smbios:DIMM A2/BANK 1",
    ]
    serial = reading.of_kind(PartKind.MEMORY_MODULE)[0].fact("serial")
    assert serial is not None and (serial.value, serial.rule) == ("0A0B0C01", "agreed")


def test_the_configuration_of_reports_rests_on_all_of_them(folder: Path, kept: Path) -> None:
    items = {i.key: i.value for i in read(fill(folder), kept).configuration.items}
    assert items["firmware/version"] == "B7"
    assert items["memory module/DIMM A1/BANK 0/serial"] == "0A0B0C01"
    assert items["pci/pci:0000:01:00.0"] == "5ab1:0042"
    assert "QR1TB000451" in items.values() and "QA4-0017" in items.values()


def test_which_reports_there_are_does_not_change_how_many_parts_they_tell_of(
    folder: Path, tmp_path: Path
) -> None:
    whole = {(p.kind, p.place) for p in read(fill(folder), tmp_path / "whole").parts}
    for number, name in enumerate(FILES):
        fewer = read(fill(tmp_path / f"r{number}", name), tmp_path / f"k{number}")
        for kind in (PartKind.STORAGE, PartKind.MEMORY_MODULE, PartKind.PROCESSOR, PartKind.BOARD):
            assert len(fewer.of_kind(kind)) <= sum(k is kind for k, _ in whole), name


def test_several_files_of_one_kind_are_rows_of_their_own(folder: Path, kept: Path) -> None:
    fill(folder)
    (folder / "again.txt").write_text(DMIDECODE.replace("B7", "B8"))
    reading = read(folder, kept)
    assert {"dmidecode-text.1", "dmidecode-text.2"} <= {row.id for row in reading.sources}
    version = one(reading, PartKind.FIRMWARE).fact("version")
    assert version is not None and version.disputed
    assert {version.value, *(w.value for w in version.witnesses)} == {"B7", "B8"}


# What is not read


def test_a_file_of_no_known_kind_is_named_and_so_is_what_cannot_be_read(folder: Path, kept: Path) -> None:
    fill(folder)
    (folder / "shopping.txt").write_text("milk, a case of screws\n")
    (folder / "empty.json").touch()
    (folder / "more").mkdir()
    (folder / "more" / "lscpu.txt").write_text(FILES["lscpu.txt"])
    os.mkfifo(folder / "pipe")
    (folder / "elsewhere").symlink_to("/etc/hostname")
    (folder / "dangling").symlink_to("nowhere")
    with (folder / "huge.bin").open("wb") as file:
        file.truncate(reports.MOST_BYTES + 1)
    told = left_over(read(folder, kept))
    assert told == {
        "shopping.txt": "a file of no known kind",
        "empty.json": "it is empty",
        "more": "a folder: name it by itself, or put its files beside the others",
        "pipe": "it could not be read: not a regular file",
        "elsewhere": "it could not be read: leads out of the machine's root",
        "dangling": "it could not be read: ENOENT",
        "huge.bin": f"it could not be read: more than {reports.MOST_BYTES} bytes",
    }
    assert not (kept / "raw" / "lscpu-text.2.txt").exists()


def test_names_that_no_record_can_hold_or_that_would_write_on_a_screen_are_shown_harmless(
    folder: Path, kept: Path
) -> None:
    folder.mkdir()
    (folder / os.fsdecode(b"\xff\xfe.json")).write_text(LSBLK)
    (folder / "two\nlines\x1b[2J.txt").write_text("nothing known\n")
    reading = read(folder, kept)
    assert len(reading.of_kind(PartKind.STORAGE)) == 2
    assert reading.sources[0].locator == "/??.json"
    assert list(left_over(reading)) == ["two?lines?[2J.txt"]


def test_more_files_than_are_read_are_counted_and_named(
    folder: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reports, "MOST_FILES", 5)
    folder.mkdir()
    for number in range(8):
        (folder / f"{number}.json").write_text(LSBLK)
    reading = read(folder, kept)
    assert len(reading.sources) == 6
    assert left_over(reading) == {"3 more": "at most 5 files of a folder are read"}


def test_five_hundred_files_and_one_end_soon(folder: Path, kept: Path) -> None:
    folder.mkdir()
    for number in range(501):
        (folder / f"{number:03}.json").write_text(LSBLK)
    began_s = time.monotonic()
    reading = read(folder, kept)
    assert time.monotonic() - began_s < 20
    assert len(reading.of_kind(PartKind.STORAGE)) == 2
    assert list(left_over(reading)) == ["1 more"]


def test_all_files_together_are_bounded(folder: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reports, "MOST_TOTAL_BYTES", len(LSBLK) + 100)
    folder.mkdir()
    for name in "ab":
        (folder / f"{name}.json").write_text(LSBLK)
    reading = read(folder, kept)
    assert [row.locator for row in reading.sources] == ["/a.json", "/"]
    assert list(left_over(reading)) == ["b.json"]


def test_a_folder_of_nothing_known_says_of_each_that_it_was_not_read(folder: Path, kept: Path) -> None:
    folder.mkdir()
    (folder / "a.txt").write_text("words\n")
    assert not tells_something(Root(folder))
    reading = read(folder, kept)
    assert left_over(reading) == {"a.txt": "a file of no known kind"}
    assert {row.outcome for row in reading.sources if row.source != LEFT_OVER} == {SourceOutcome.ABSENT}
    assert not tells_something(Root(folder / "not-there"))
    assert tells_something(Root(fill(folder)))


# Hostile XML

BOMB = '<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("bcdefgh", "cdefghi", strict=True)
)
HOSTILE = {
    "billion laughs": BOMB + "]>",
    "external entity": '<!DOCTYPE a [<!ENTITY i SYSTEM "file:///etc/passwd">]>',
    "external entity of a network": '<!DOCTYPE a [<!ENTITY i SYSTEM "http://192.0.2.1/x">]>',
    "external type": '<!DOCTYPE a SYSTEM "http://192.0.2.1/a.dtd">',
    "parameter entity": '<!DOCTYPE a [<!ENTITY % p SYSTEM "http://192.0.2.1/p">%p;]>',
}
REPORTS_OF_XML: dict[str, Callable[[str], str]] = {
    "lshw": lambda head: LSHW.replace("<list>", f"{head}<list>").replace("H1 Quiet", "H1 &i;"),
    "nvidia-smi": lambda head: (
        f'<?xml version="1.0"?>{head}<nvidia_smi_log><driver_version>&i;</driver_version>'
        '<gpu id="00000000:01:00.0"><product_name>&i;</product_name></gpu></nvidia_smi_log>'
    ),
}


@pytest.mark.parametrize("tool", REPORTS_OF_XML)
@pytest.mark.parametrize("kind", HOSTILE)
def test_hostile_xml_is_refused_by_name_without_a_network_or_the_machines_files(
    folder: Path, kept: Path, monkeypatch: pytest.MonkeyPatch, kind: str, tool: str
) -> None:
    def connecting(*words: object) -> None:
        raise AssertionError("a parser went to the network")

    monkeypatch.setattr(socket.socket, "connect", connecting)
    monkeypatch.setattr(socket, "getaddrinfo", connecting)
    fill(folder, "lshw.xml")
    (folder / "hostile.xml").write_text(REPORTS_OF_XML[tool](HOSTILE[kind]))
    reading = read(folder, kept)
    text = (kept / "reading.json").read_text()
    assert "root:" not in text and "bbbbbbbbbbbbbbbbbbbb" not in text
    if kind != "external type":  # of which nothing is fetched; the rest of the file may stand
        told = [r for r in reading.remarks if r.source.split(".")[0] in ("lshw-xml", "nvidia-smi-xml")]
        assert len(told) == 1 and told[0].detail
        assert told[0].kind in (RemarkKind.NOT_UNDERSTOOD, RemarkKind.BAD_VALUE)
    assert len(reading.of_kind(PartKind.STORAGE)) == 2


# A tree with reports beside it, and files of what a machine's own sources give too


def test_reports_beside_a_tree_are_witnesses_and_move_no_configuration(tmp_path: Path, kept: Path) -> None:
    tree = build(tmp_path / "tree")
    alone = read(tree, tmp_path / "alone")
    (tree / "dmidecode.txt").write_text(DMIDECODE)
    (tree / "smbios.bin").write_bytes(smbios_table())
    (tree / "notes.txt").write_text("words\n")
    reading = read(tree, kept)
    assert reading.configuration == alone.configuration
    assert reading.configuration == read_configuration(Root(tree), PretendClock())
    assert left_over(reading) == {"notes.txt": "a file of no known kind"}
    version = one(reading, PartKind.FIRMWARE).fact("version")
    assert version is not None
    assert version.source == "smbios.table"
    assert {"smbios-file.1", "dmidecode-text.1"} <= {w.source for w in version.witnesses}


@pytest.mark.parametrize("form", ["bare", "with its entry point", "with the header of Windows"])
def test_a_file_of_the_firmwares_table_alone_is_a_reading(folder: Path, kept: Path, form: str) -> None:
    table = smbios_table()
    folder.mkdir()
    (folder / "dump.bin").write_bytes(
        {
            "bare": table,
            "with its entry point": entry_point_64(table).ljust(32, b"\0") + table,
            "with the header of Windows": bytes([0, 3, 6, 0]) + len(table).to_bytes(4, "little") + table,
        }[form]
    )
    reading = read(folder, kept)
    assert [row.id for row in reading.sources] == ["smbios-file.1"]
    items = {item.key: item.value for item in reading.configuration.items}
    assert items["firmware/version"] == "B7"
    assert items["memory module/DIMM_A2/BANK 1/serial"] == "0A0B0C01"


def test_a_specimen_of_reports_has_no_strings_that_makers_use_as_they_like(
    tmp_path: Path, folder: Path
) -> None:
    """The firmware's table as a file beside the reports, behind its entry point."""
    fill(folder, "dmesg.txt")
    table = structure(11, 0x60, bytes([1]), "licence of Odile Marsh") + smbios_table()
    (folder / "dump.bin").write_bytes(entry_point_64(table).ljust(32, b"\0") + table)
    take_specimen(Root(folder), Kept(tmp_path / "specimen"), host="forge-4", clock=PretendClock())
    for file in (tmp_path / "specimen").rglob("*"):
        data = file.read_bytes() if file.is_file() else b""
        for text in (b"Odile", b"HW-77-1031", b"QR1TB000451", b"0A0B0C01"):
            assert text not in data, file.name
    assert (tmp_path / "specimen/raw/smbios-file.1.bin").is_file()
    assert reread(tmp_path / "specimen").parts


def test_the_mark_of_a_pretend_unit_is_no_report(folder: Path, kept: Path) -> None:
    fill(folder)
    (folder / SIMULATED_MARK).write_text("{}")
    reading = read(folder, kept)
    assert reading.simulated and left_over(reading) == {}


def test_every_kind_that_is_told_by_its_content_is_a_source_of_its_own_name() -> None:
    names = [source.name for source in known_sources()]
    assert len(set(names)) == len(names)
    own = {source.name for source in SOURCES}
    for kind in KINDS:
        if kind.recognises is not None:
            assert (f"{kind.name}-file" if kind.name in own else kind.name) in names


def test_of_a_tree_all_its_own_sources_are_asked_first(tmp_path: Path) -> None:
    tree = build(tmp_path / "tree")
    (tree / "lsblk.json").write_text(LSBLK)
    assert [s.name for s in sources_of(Root(tree))] == [*(s.name for s in SOURCES), "lsblk-json"]


# From the command line


def call(*words: object) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    return done.exit_code, done.output


def test_read_from_reports_names_what_it_did_not_read(folder: Path, tmp_path: Path) -> None:
    fill(folder)
    (folder / "shopping.txt").write_text("milk\n")
    code, said = call("read", "--from", folder, "--into", tmp_path / "half")
    assert code == 0
    assert "shopping.txt was not read: a file of no known kind" in said
    assert "QA4-0017" in said


@pytest.mark.parametrize("inner", ["reading", "."])
def test_a_reading_is_made_again_from_its_own_folder_and_is_equal(
    folder: Path, tmp_path: Path, inner: str
) -> None:
    fill(folder)
    call("read", "--from", folder, "--into", tmp_path / "half")
    code, _ = call("read", "--from", tmp_path / "half" / inner, "--into", tmp_path / "again")
    assert code == 0
    first, again = (
        json.loads((tmp_path / n / "reading/reading.json").read_text()) for n in ("half", "again")
    )
    assert first == again
    raw = sorted(p.name for p in (tmp_path / "half/reading/raw").iterdir())
    assert raw == sorted(p.name for p in (tmp_path / "again/reading/raw").iterdir())
