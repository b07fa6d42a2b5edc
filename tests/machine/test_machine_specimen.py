"""A specimen holds nothing personal, and still tells the same machine."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipworthy.machine.join import join
from shipworthy.machine.personal import Scrubber, personal_texts, scrubbed_files, spellings
from shipworthy.machine.pseudonyms import Pseudonyms
from shipworthy.machine.reading import reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.machine.scrubbing import scrub_edid, scrub_smbios, scrub_spd
from shipworthy.machine.specimen import take_specimen
from shipworthy.model.base import Trouble
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind
from tests.machine import recorded
from tests.machine.smbios_bytes import end, structure
from tests.machine.spd_bytes import ddr3, sealed

NAMES = Pseudonyms(b"a key of this test")


class Kept:
    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, name: str, data: bytes) -> None:
        file = self.folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return recorded.build(tmp_path / "machine")


def specimen_of(machine: Path, folder: Path) -> Reading:
    return take_specimen(Root(machine), Kept(folder), host="tarn-bench-4", clock=PretendClock())


def original_of(machine: Path) -> Reading:
    return take_reading(Root(machine), lambda name, data: None, nonce=None, clock=PretendClock())


def personal_values(reading: Reading) -> set[str]:
    facts = [fact for part in reading.parts for fact in part.facts if isinstance(fact.value, str)]
    ends = ("serial", "uuid", "mac", "wwn", "asset")
    return {str(fact.value) for fact in facts if fact.name.endswith(ends) and len(str(fact.value)) > 3}


def test_nothing_personal_of_the_machine_stands_in_any_file(machine: Path, tmp_path: Path) -> None:
    known = personal_values(original_of(machine))
    assert len(known) > 5
    specimen_of(machine, tmp_path / "specimen")
    for file in (tmp_path / "specimen").rglob("*"):
        data = file.read_bytes() if file.is_file() else b""
        for text in known:
            for spelling in spellings(text):
                assert spelling not in data, f"{text} in {file.name}"


def test_a_specimen_tells_the_same_machine_by_other_names(machine: Path, tmp_path: Path) -> None:
    before, after = original_of(machine), specimen_of(machine, tmp_path / "specimen")
    assert [(p.kind, p.place) for p in after.parts] == [(p.kind, p.place) for p in before.parts]
    changed = {
        fact.name
        for was, now in zip(before.parts, after.parts, strict=True)
        for fact, other in zip(was.facts, now.facts, strict=True)
        if fact.value != other.value or fact.absent != other.absent
    }
    assert changed <= {"serial", "uuid", "mac", "permanent_mac", "asset", "wwn", "pci_serial"}
    assert "serial" in changed
    disputed = [[f.name for p in r.parts for f in p.facts if f.disputed] for r in (before, after)]
    assert disputed[0] == disputed[1]  # joins hold: who agreed agrees, who did not does not


def test_a_specimen_can_be_read_again_like_any_reading(machine: Path, tmp_path: Path) -> None:
    specimen = specimen_of(machine, tmp_path / "specimen")
    assert reread(tmp_path / "specimen") == specimen


def test_each_specimen_has_names_of_its_own(machine: Path, tmp_path: Path) -> None:
    one, other = (specimen_of(machine, tmp_path / name) for name in ("one", "other"))
    assert personal_values(one).isdisjoint(personal_values(other))


def test_what_texts_look_like_is_found_without_any_fact() -> None:
    files = {
        "raw/lshw-xml.1.xml": b'<node id="computer"><serial>QX-77120 B</serial> owner: mette@bench.example\n',
        "raw/dmesg.1.txt": b"eth0: 02:11:22:33:44:5F\nUUID=1b4e28ba-2fa1-11d2-883f-0016d3cca427\n"
        b"hostname: fjord-pc\n",
        "raw/nvme.bin": b"Serial: NOT-A-TEXT-FILE",
    }
    assert personal_texts((), files, "tarn-bench-4") == {
        "QX-77120 B",
        "mette@bench.example",
        "mette",
        "02:11:22:33:44:5F",
        "1b4e28ba-2fa1-11d2-883f-0016d3cca427",
        "fjord-pc",
        "tarn-bench-4",
    }


def test_names_of_people_networks_and_machines_are_found_where_texts_say_that_they_are() -> None:
    files = {
        "raw/dmesg.1.txt": b'wlan0: ESSID:"Fjordnet 5G"\nmounted /home/mette/work\nlogin: ingrid\n',
        "raw/lshw-xml.1.xml": b'<node id="tarn-desk" claimed="true" class="system" handle="DMI:0001">\n',
        "raw/smartctl-text.1.txt": b"Device Model: X\nLU WWN Device Id: 5 000c50 0a1b2c3d4\n",
    }
    assert personal_texts((), files, "pc") == {
        *("Fjordnet 5G", "mette", "ingrid", "tarn-desk", "5 000c50 0a1b2c3d4")
    }
    assert Scrubber(["5 000c50 0a1b2c3d4"], NAMES).left_in(b"wwn 0x5000c500a1b2c3d4")


def test_placeholders_and_short_texts_are_no_secrets() -> None:
    files = {"raw/a.txt": b"Serial Number: To Be Filled By O.E.M.\nSerial Number: None\nSerial: 7\n"}
    assert personal_texts((), files, "pc") == frozenset()


def test_a_hardware_address_is_replaced_in_every_spelling() -> None:
    scrubber = Scrubber(["02:57:53:31:00:7b"], NAMES)
    raw = bytes.fromhex("02575331007b")
    data = b"|".join((b"02:57:53:31:00:7B", b"02575331007b", raw, raw[::-1], raw.hex().encode()))
    clean = scrubber.scrub("x.txt", data)
    assert not scrubber.left_in(clean)
    text = NAMES.text("02:57:53:31:00:7b")
    bare = text.replace(":", "")
    new = bytes.fromhex(bare)
    assert clean == b"|".join((text.upper().encode(), bare.encode(), new, new[::-1], bare.encode()))


def test_a_pseudonym_keeps_the_form_and_does_not_know_case() -> None:
    name = NAMES.text("S5GX-12ab")
    assert re.fullmatch(r"[A-Z]\d[A-Z]{2}-\d{2}[a-z]{2}", name) and name != "S5GX-12ab"
    assert NAMES.text("0a1b2c3d").upper() == NAMES.text("0A1B2C3D")
    assert re.fullmatch(r"[0-9A-F]{8}", NAMES.text("0A1B2C3D"))
    assert bytes.fromhex(NAMES.text("3E2C1B0A"))[::-1] == bytes.fromhex(NAMES.text("0A1B2C3E"))
    assert NAMES.number(0, 4) == 0


def test_ata_text_with_turned_bytes_is_replaced_and_the_sum_is_right_again() -> None:
    page = bytearray(512)
    serial = b"QK9-004417".ljust(20)
    page[20:40] = b"".join(serial[i + 1 : i + 2] + serial[i : i + 1] for i in range(0, 20, 2))
    page[510] = 0xA5
    page[511] = -sum(page[:511]) % 256
    clean = Scrubber(["QK9-004417"], NAMES).scrub("raw/ata.sda.identify.bin", bytes(page))
    assert sum(clean) % 256 == 0 and clean[20:30] != page[20:30]


def test_an_edid_loses_both_its_serials_and_keeps_its_sum() -> None:
    block = bytearray(128)
    block[:8] = bytes.fromhex("00ffffffffffff00")
    block[12:16] = (451).to_bytes(4, "little")
    block[54:72] = b"\0\0\0\xff\0" + b"TQ2700451\n   "
    block[127] = -sum(block) % 256
    clean = scrub_edid(bytes(block), NAMES)
    assert sum(clean) % 256 == 0
    assert clean[12:16] != block[12:16] and b"TQ2700451" not in clean
    block[127] ^= 1
    assert sum(scrub_edid(bytes(block), NAMES)) % 256 != 0  # a fault stays a fault


def test_a_makers_own_strings_and_structures_are_blanked() -> None:
    oem = structure(11, 5, b"\x01", "owner: Mette")
    own = structure(0x85, 6, b"\x12\x34\x56", "licence 4711")
    board = structure(2, 7, b"\x01\x02\0\0\0", "Holloway", "HB650")
    clean = scrub_smbios(oem + own + board + end(8))
    assert b"Mette" not in clean and b"4711" not in clean and b"\x12\x34\x56" not in clean
    assert b"Holloway" in clean and len(clean) == len(oem + own + board + end(8))


def test_the_serial_in_a_piece_of_a_configuration_space_is_replaced() -> None:
    row = b'{"path":"/sys/bus/pci/devices/0000:03:00.0/config@0x140","hex":"030001007b003133ff535702"}\n'
    texts = personal_texts((), {"raw/pci.jsonl": row}, "pc") | {"02-57-53-ff-33-31-00-7b"}
    assert texts == {"02-57-53-ff-33-31-00-7b"}  # the piece's name is none of a person
    clean = Scrubber(texts, NAMES).scrub("raw/pci.jsonl", row)
    assert b"7b003133ff535702" not in clean and b"config@0x140" in clean and b"03000100" in clean


def test_the_serial_of_a_module_is_replaced_and_its_checksum_is_right_again() -> None:
    image = bytearray(ddr3())
    image[0] &= 0x7F  # now the checksum covers the serial
    clean = scrub_spd(sealed(bytes(image)), NAMES)
    assert clean[122:126] == bytes.fromhex(NAMES.text("0BADF00D")) and clean == sealed(clean)


def test_what_would_be_left_is_trouble_and_no_specimen() -> None:
    class Idle(Scrubber):
        def scrub(self, name: str, data: bytes) -> bytes:
            return data

    with pytest.raises(Trouble, match=r"something personal is left in this file \(raw/a.txt\)"):
        scrubbed_files({"raw/a.txt": b"serial WX-7712"}, Idle(["WX-7712"], NAMES))


def test_no_part_means_no_secret_but_the_hosts_name() -> None:
    nothing: tuple[Part, ...] = join(())
    assert personal_texts(nothing, {}, "tarn-bench-4") == {"tarn-bench-4"}
    assert not [part for part in nothing if part.kind is PartKind.SYSTEM]


def test_every_form_of_text_has_as_many_spellings_as_its_pseudonym() -> None:
    """Also where a pseudonym looks like a hexadecimal number and the text does not."""
    for number in range(300):
        for text in (
            f"SKG-{number:04}",
            f"0x5000c500a1b2{number:04}",
            f"eui.0025385{number:09}",
            f"WD{number:06}",
        ):
            Scrubber([text], Pseudonyms(number.to_bytes(2, "big")))
    assert NAMES.text("0x5000c500a1b2c3d4").startswith("0x")
    assert re.fullmatch(r"eui\.[0-9a-f]{16}", NAMES.text("eui.0025385711b2c3d4"))
