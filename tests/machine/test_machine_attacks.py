"""A stranger's machine, folder or stream, and what a specimen must not tell of its owner."""

from __future__ import annotations

import json
import os
import re
import time
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.cli.visible import visible, visible_json
from shipworthy.machine.any_of import any_of
from shipworthy.machine.capture.child import run
from shipworthy.machine.personal import Scrubber, personal_texts, spellings
from shipworthy.machine.pseudonyms import Pseudonyms
from shipworthy.machine.reading import reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.machine.scrubbing import scrub_container_id, scrub_smbios, scrub_structures
from shipworthy.machine.scrubbing_reports import clean_file_name, scrub_report
from shipworthy.machine.specimen import take_specimen
from shipworthy.model.base import digest_of
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind, RemarkKind
from tests.cli.calling import Call, caller
from tests.machine import planted, recorded
from tests.machine.smbios_bytes import end, structure
from tests.machine.test_machine_specimen import Kept

BAD = "\x1b]0;owned\x07\x1b[2J\x9b31m\u202e\u2028\u200b"
"""What a terminal would obey, and signs that turn or hide the writing."""
NAMES = Pseudonyms(b"a key of this test")


@pytest.mark.parametrize(
    ("build", "words"), [(planted.machine, planted.MACHINE), (planted.reports, planted.REPORTS)]
)
def test_no_planted_text_is_left_in_any_spelling_of_any_file_or_name(
    build: Callable[[Path], Path], words: dict[str, str], tmp_path: Path
) -> None:
    folder = build(tmp_path / "machine")
    before = b"".join(file.read_bytes() for file in folder.rglob("*") if file.is_file())
    specimen = take_specimen(
        Root(folder), Kept(tmp_path / "specimen"), host=planted.HOST, clock=PretendClock()
    )
    assert not [r for r in specimen.remarks if r.kind is RemarkKind.DECODER_FAILED]
    assert len(before) > 7_000
    for what, text in {"this host": planted.HOST, **words}.items():
        for file in (tmp_path / "specimen").rglob("*"):
            assert text.lower() not in file.name.lower(), what
            data = file.read_bytes() if file.is_file() else b""
            left = [one for one in spellings(text) if len(one) > 3 and one in data]
            assert not left, f"{what}: {left} in {file.name}"
    assert reread(tmp_path / "specimen") == specimen


def test_a_specimen_of_reports_still_tells_the_machine(tmp_path: Path) -> None:
    folder = planted.reports(tmp_path / "reports")
    specimen = take_specimen(Root(folder), Kept(tmp_path / "s"), host="pc", clock=PretendClock())
    drives = specimen.of_kind(PartKind.STORAGE)
    assert {"Quarrel Archive 4TB Spinner", "Quarrel M2 1TB"} <= {drive.text("model") for drive in drives}
    (spinner,) = [drive for drive in drives if "Archive" in drive.text("model")]
    names = spinner.fact("wwn")
    assert names is not None and names.value and not names.disputed  # numbers and text became the same name
    assert specimen.of_kind(PartKind.BOARD)[0].text("model") == "H1 Quiet"
    locators = {row.locator for row in specimen.sources}
    assert "/smartctl-sda.txt" in locators and "/lshw.xml" in locators
    assert any(re.fullmatch(r"/[A-Z][a-z]+-[a-z]{2}-dmidecode\.txt", one) for one in locators)


@pytest.mark.parametrize(
    ("data", "personal"),
    [
        (b"read:00:1b:21:aa:bb:cc-x", "00:1b:21:aa:bb:cc"),
        (b"00-1b-21-ff-fe-77-66-55", "00-1b-21-ff-fe-77-66-55"),
        (b"mac 001b.21aa.bbcc.", "001b.21aa.bbcc"),
        (b"GPU-1f0b2c6e-97d3-4a51-8c0e-6d5b4a392817", "1f0b2c6e-97d3-4a51-8c0e-6d5b4a392817"),
        (b"id-1f0b2c6e-97d3-4a51-8c0e-6d5b4a392817", "1f0b2c6e-97d3-4a51-8c0e-6d5b4a392817"),
        (b"Linux version 6.1 (mason@forge)", "mason@forge"),
        (b"from mette@7fjord, mette@84.1.2.3", "mette@84.1.2.3"),
        (b"Set hostname to <skovsgaard>.", "skovsgaard"),
        (b'{"hostname": "skovsgaard"}', "skovsgaard"),
        (b'{"owner": "hvidtfeldt"}', "hvidtfeldt"),
        (b"ping skovsgaard.local (", "skovsgaard"),
        (b"SSID: Fjordnettet", "Fjordnettet"),
        (rb"C:\Users\hvidtfeldt\x", "hvidtfeldt"),
        (b"Asset Tag: INV-2207", "INV-2207"),
        (b"machine-id: 0123456789abcdef0123456789abcdef", "0123456789abcdef0123456789abcdef"),
        (b"BTRFS: device label Fotos2024 devid 1", "Fotos2024"),
        (b"root=LABEL=Fotos2024 ro", "Fotos2024"),
    ],
)
def test_what_a_text_says_is_found(data: bytes, personal: str) -> None:
    assert personal in personal_texts((), {"raw/dmesg.1.txt": data}, "pc")


@pytest.mark.parametrize(
    "data",
    [
        b"SecureBoot-8be4df61-93ca-11d2-aa0d-00e098032b8c",
        b"firmware 2024.0101.1200, driver 535.104.05",
        b"pci 0000:01:00.0: [1002:744c]",
        b"pci@0000:00:1f.0 scsi@2:0.0.0 nvme@0:1 hostb0@pci0:0:0:0: port@0xcafe",
        b"at 0xffffffff81000000, 12:30:55 today",
        b'"owner": "root", "group": "disk"',
    ],
)
def test_what_is_on_every_machine_is_left_as_it_is(data: bytes) -> None:
    assert personal_texts((), {"raw/dmesg.1.txt": data}, "pc") == frozenset()


def test_a_text_is_found_as_json_xml_and_udev_write_it() -> None:
    scrubber = Scrubber(['Jørgen "J" & Co'], NAMES)
    forms = (rb"J\u00f8rgen \"J\" & Co", b'J\xc3\xb8rgen "J" &amp; Co', 'Jørgen_"J"_&_Co'.encode())
    for form in forms:
        assert b"rgen" not in scrubber.scrub("x.txt", b"<" + form + b">")
    assert NAMES.text("AB &amp; CD").split("&amp;")[1].startswith(" ")


def test_a_list_of_many_texts_is_one_quick_pattern() -> None:
    texts = [b"SER-%06d" % number for number in range(20_000)] + [b"SER", b"SER-000001X"]
    pattern = any_of(texts)
    assert pattern is not None and any_of([]) is None
    assert pattern.findall(b"a SER-000001X b SER-000001 c SER-9 d SE") == [
        b"SER-000001X",
        b"SER-000001",
        b"SER",
    ]
    began_s = time.process_time()
    pattern.sub(b"", b"SER-0199" * 100_000)
    assert time.process_time() - began_s < 5


def test_a_host_that_is_called_like_a_source_spoils_no_name(tmp_path: Path) -> None:
    machine = planted.machine(tmp_path / "machine")
    for host in ("smbios", "table", "names", "path", "storage", "desk", "identify-controller"):
        specimen = take_specimen(Root(machine), Kept(tmp_path / host), host=host, clock=PretendClock())
        assert specimen.of_kind(PartKind.MEMORY_MODULE) and specimen.of_kind(PartKind.STORAGE)


def test_what_lies_beside_the_structures_of_a_table_is_blanked() -> None:
    own = structure(0x85, 6, b"\x12\x34\x56", "licence 4711")
    controller = structure(42, 7, b"\x40\x40secret-host")
    table = own + controller + end(8) + b"\x11STALE-SERIAL\0\0"
    clean = scrub_smbios(table)
    assert len(clean) == len(table)
    for text in (b"4711", b"secret", b"STALE", b"SERIAL"):
        assert text not in clean
    broken = table[:1] + b"\x02" + table[2:]  # a length that cannot be: nothing can be walked
    assert b"STALE" not in scrub_smbios(broken) and b"licence" not in scrub_smbios(broken)


def test_a_container_id_is_replaced_and_a_descriptor_cut_short_is_left() -> None:
    whole = bytes([5, 15, 25, 0, 1, 20, 16, 4, 0]) + bytes(range(16))
    clean = scrub_container_id(whole, NAMES)
    assert clean[:9] == whole[:9] and clean[9:] != whole[9:] and len(clean) == len(whole)
    assert scrub_container_id(whole[:12], NAMES) == whole[:12]


def test_names_of_a_drives_ports_are_replaced_too_and_agree_with_the_texts() -> None:
    drive, port = bytes.fromhex("5000c500a1b2c3d4"), bytes.fromhex("5000c500a1b2c3d5")
    page = bytes([0, 0x83, 0, 40, 1, 3, 0, 8]) + drive + bytes([0x61, 0x93, 0, 8]) + port
    page += bytes([3, 0xA8, 0, 12]) + b"naa.5000c50\0" + b"\x02\x01\0\xff" + b"cut short"
    row = {"path": "/sys/block/sda/device/vpd_pg83", "hex": page.hex()}
    clean = scrub_structures("raw/scsi.jsonl", json.dumps(row).encode() + b"\n", NAMES)
    told = bytes.fromhex(json.loads(clean)["hex"])
    assert len(told) == len(page) and told[:8] == page[:8]
    assert told[8:16].hex() == NAMES.text("5000c500a1b2c3d4")
    assert told[20:28].hex() == NAMES.text("5000c500a1b2c3d5") and told[32:36] == b"naa."
    assert b"5000c50" not in told


def test_a_files_name_keeps_only_words_of_the_trade() -> None:
    assert clean_file_name("smartctl-sda.txt", NAMES) == "smartctl-sda.txt"
    assert clean_file_name("edid-card0-HDMI-A-1.bin", NAMES) == "edid-card0-HDMI-A-1.bin"
    assert re.fullmatch(r"[A-Z][a-z]{5} [a-z]{3}-dmesg\.txt", clean_file_name("Mettes lap-dmesg.txt", NAMES))


def test_lsblks_json_and_lshws_xml_stay_well_formed() -> None:
    row = {"label": 'a"b\\c\u2028', "mountpoints": ['/media/x/y \\ " z', "/boot/efi", None], "name": "sda"}
    told = json.loads(scrub_report("lsblk-json.1.json", json.dumps(row).encode(), NAMES))
    assert told["name"] == "sda" and told["mountpoints"][1:] == ["/boot/efi", None]
    xml = b'<setting id="label" value="A&amp;B &lt;C" /><logicalname>/mnt/M&amp;M</logicalname>'
    clean = scrub_report("lshw-xml.1.xml", xml, NAMES)
    assert re.fullmatch(
        rb'<setting id="label" value="[^"&<]+" /><logicalname>/mnt/[^&<]+</logicalname>', clean
    )


# Terminals


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


def commands_in(text: str) -> list[str]:
    return [sign for sign in text if sign != "\n" and unicodedata.category(sign) in ("Cc", "Cf", "Zl", "Zp")]


def test_what_a_device_says_commands_no_terminal(call: Call, tmp_path: Path) -> None:
    machine = recorded.build(tmp_path / "machine")
    for name in ("board_name", "bios_version", "sys_vendor"):
        recorded.write(machine, f"sys/class/dmi/id/{name}", f"Holloway {BAD}\n")
    (machine / "sys/firmware/dmi/tables/DMI").unlink()
    (machine / f"a{BAD[:-3]}.txt").write_text("milk\n")
    said = call("read", "--from", machine, "--into", tmp_path / "half", "--all")
    assert said.code == 0 and "Holloway" in said.out
    assert commands_in(said.out + said.err) == []
    told = call("read", "--from", machine, "--into", tmp_path / "other", "--json")
    assert commands_in(told.out) == []
    boards = [part for part in json.loads(told.out)["parts"] if part["kind"] == "board"]
    assert any("\u202e" in str(fact.get("value")) for fact in boards[0]["facts"])


def test_a_files_name_commands_no_terminal(call: Call, tmp_path: Path) -> None:
    file = tmp_path / f"x{BAD}\n.bin"
    file.write_text("milk\n")
    for words in (("decode", "any", file), ("decode", "edid", file), ("decode", f"edid{BAD}", file)):
        done = call(*words)
        assert commands_in(done.out + done.err) == []
    assert commands_in(call(f"rea{BAD}").err) == []
    assert commands_in(call("read", "--from", tmp_path / BAD, "--into", tmp_path / "y").err) == []
    assert visible(f"a{BAD}b").strip("a\ufffd]0;owned[2J31mb") == ""
    assert json.loads(visible_json(json.dumps(BAD, ensure_ascii=False))) == BAD


# Folders of a stranger's


def test_a_strangers_reading_writes_and_reads_nothing_outside_of_itself(call: Call, tmp_path: Path) -> None:
    gift = tmp_path / "gift/a/b"
    call("read", "--from", recorded.build(tmp_path / "machine"), "--into", gift)
    index = gift / "reading/raw/index.jsonl"
    rows = [json.loads(line) for line in index.read_text().splitlines()]
    evil = b"alias ls='rm -r ~'\n"
    (tmp_path / "gift/evil").write_bytes(evil)
    row = next(row for row in rows if row["file"])
    row |= {"file": "../../../evil", "digest": digest_of(evil), "size_bytes": len(evil)}
    index.write_text("".join(json.dumps(one, separators=(",", ":")) + "\n" for one in rows))
    into = tmp_path / "home/x/y"
    assert "not a valid RawRow" in call("read", "--from", gift, "--into", into).complaint()
    assert not list(tmp_path.glob("home/**/evil")) and not into.exists()
    row["file"] = "raw/link.txt"
    (gift / "reading/raw/link.txt").symlink_to(tmp_path / "gift/evil")
    index.write_text("".join(json.dumps(one, separators=(",", ":")) + "\n" for one in rows))
    assert "leads out" in call("read", "--from", gift, "--into", into).complaint()
    with (gift / "reading/reading.json").open("wb") as file:
        file.truncate(64 << 30)
    assert "larger than any" in call("read", "--from", gift, "--into", into).complaint()
    assert not into.exists()


def test_a_folder_of_links_pipes_and_large_files_is_read_without_following_or_waiting(
    call: Call, tmp_path: Path
) -> None:
    folder = planted.reports(tmp_path / "reports")
    secret = tmp_path / "secret.txt"
    secret.write_text("[    0.000000] Linux version 6.1 (root@elsewhere)\n")
    (folder / "out.txt").symlink_to(secret)
    (folder / "absolute.xml").symlink_to("/etc/passwd")
    (folder / "zero").symlink_to("/dev/zero")
    (folder / "loop").symlink_to("loop")
    os.mkfifo(folder / "pipe.txt")
    for number in range(40):
        with (folder / f"large-{number}.img").open("wb") as file:
            file.write(b"x")
            file.truncate(8 << 30)
    (folder / os.fsdecode(b"\xff\xfe\n.txt")).write_text("milk\n")
    began_s = time.monotonic()
    done = call("read", "--from", folder, "--into", tmp_path / "half")
    assert done.code == 0 and time.monotonic() - began_s < 20
    for said in (
        "out.txt was not read",
        "pipe.txt was not read",
        "zero was not read",
        "large-39.img was not",
    ):
        assert said in done.out
    for file in (tmp_path / "half").rglob("*"):
        assert not file.is_file() or b"elsewhere" not in file.read_bytes()


def test_a_folder_whose_proc_leads_to_this_machine_gives_nothing_of_it(tmp_path: Path) -> None:
    folder = tmp_path / "tree"
    folder.mkdir()
    for name in ("proc", "sys"):
        (folder / name).symlink_to(f"/{name}")
    kept = Kept(tmp_path / "kept")
    reading = take_reading(Root(folder), kept, nonce=None, clock=PretendClock())
    values = [fact.value for part in reading.parts for fact in part.facts if fact.value is not None]
    assert values == [] and not [row.id for row in reading.sources if row.file]


def test_a_hundred_thousand_files_are_counted_and_not_looked_at(call: Call, tmp_path: Path) -> None:
    folder = planted.reports(tmp_path / "reports")
    for number in range(20_000):
        os.close(os.open(folder / f"zz-{number}", os.O_CREAT))
    began_s = time.monotonic()
    done = call("read", "--from", folder, "--into", tmp_path / "half")
    assert "more was not read: at most 500 files" in done.out
    assert time.monotonic() - began_s < 20


@pytest.mark.parametrize("name", ["a.xml", "b.json"])
def test_a_report_that_is_a_trap_costs_neither_time_nor_a_fault(
    call: Call, tmp_path: Path, name: str
) -> None:
    lshw = '<?xml version="1.0"?>\n<!-- generated by lshw-B.02.19.2 -->\n'
    grow = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    traps = {
        "a.xml": (
            lshw + "<list>" + '<node id="a" class="system">' * 50_000 + "</node>" * 50_000 + "</list>",
            f'<?xml version="1.0"?>\n<!DOCTYPE list [<!ENTITY e0 "aaaa">{grow}]>\n'
            '<!-- generated by lshw --><list><node id="a" class="system">&e9;</node></list>',
            '<?xml version="1.0"?>\n<!DOCTYPE list [<!ENTITY x SYSTEM "file:///etc/passwd">]>\n'
            '<!-- generated by lshw --><list><node id="a" class="system">&x;</node></list>',
        ),
        "b.json": (
            '{"blockdevices":' + "[" * 100_000,
            '{"json_format_version":[1,0],"smartctl":{},"device":' + '{"a":' * 50_000 + "1" + "}" * 50_001,
        ),
    }
    for trap in traps[name]:
        (tmp_path / name).write_text(trap)
        began_s = time.process_time()
        done = call("decode", "any", tmp_path / name)
        assert time.process_time() - began_s < 5
        assert "fault" not in done.out + done.err and "root:" not in done.out


def test_a_tool_that_hangs_is_left_behind_in_time(tmp_path: Path) -> None:
    tool = tmp_path / "tool"
    tool.write_text("#!/bin/sh\ntrap '' TERM\nsleep 60 & sleep 60\n")
    tool.chmod(0o755)
    began_s = time.monotonic()
    assert run((str(tool),), 0.3, 100).trouble == "no answer in its time"
    assert run(("/bin/sh", "-c", "exec sleep 60 >&-"), 0.3, 100).trouble == "it did not end"
    assert run(("/bin/sh", "-c", "yes"), 5, 1000).trouble == "more than 1000 bytes"
    assert run((str(tmp_path / "nothing"),), 1, 100).trouble == "No such file or directory"
    assert time.monotonic() - began_s < 10
