"""The report of lspci in its forms: made by hand, printed here by lspci, and that of a real server."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.lspci_text import source as lspci_text
from shipworthy.machine.raw import Parsed
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_at, file
from tests.machine.pci_spaces import graphics_card, hex_dump, root_port

VERBOSE = """\
00:01.0 PCI bridge [0604]: Tarn Corporation Port [7a52:0c71] (rev 01) (prog-if 00 [Normal decode])
\tControl: I/O+ Mem+ BusMaster+ SpecCycle- MemWINV- VGASnoop- ParErr- Stepping- SERR- FastB2B- DisINTx+
\tBus: primary=00, secondary=01, subordinate=01, sec-latency=0
\tCapabilities: [40] Express (v2) Root Port (Slot+), MSI 00
\t\tLnkCap:\tPort #2, Speed 16GT/s, Width x16, ASPM L1, Exit Latency L1 <4us
\t\tLnkSta:\tSpeed 8GT/s (downgraded), Width x8 (downgraded)

01:00.0 VGA compatible controller [0300]: Norvik [NV] Vale 22 [Norvik RX 6700/6700 XT] [7b10:73df] (rev c1)
\tSubsystem: Holloway Storm [7e5a:b601]
\tControl: I/O+ Mem+ BusMaster+ SpecCycle- MemWINV- VGASnoop- ParErr- Stepping- SERR- FastB2B- DisINTx+
\tRegion 0: Memory at e0000000 (64-bit, prefetchable) [size=256M]
\tRegion 2: Memory at f0000000 (64-bit, prefetchable) [size=2M]
\tCapabilities: [64] Express (v2) Legacy Endpoint, MSI 00
\t\tLnkCap:\tPort #0, Speed 16GT/s, Width x16, ASPM L1
\t\tLnkSta:\tSpeed 8GT/s (downgraded), Width x8 (downgraded)
\tKernel driver in use: norvik

02:00.0 Non-Volatile memory controller [0108]: Quarrel Device [70de:2004] (prog-if 02 [NVM Express])
\tControl: I/O- Mem+ BusMaster+ SpecCycle- MemWINV- VGASnoop- ParErr- Stepping- SERR- FastB2B- DisINTx+
\tCapabilities: <access denied>

03:00.0 Ethernet controller [0200]: Drakeline [4b44:2500] (rev ff) (prog-if ff)
\t!!! Unknown header type 7f
"""


def read(data: bytes) -> Parsed:
    return lspci_text.parse((file(data, "/lspci.txt", "lspci-text.1"),))


def facts(parsed: Parsed, address: str) -> Facts:
    return facts_at(parsed, f"pci:{address}")


def test_a_verbose_report() -> None:
    parsed = read(VERBOSE.encode())
    card = facts(parsed, "0000:01:00.0")
    assert (card["vendor_id"], card["device_id"], card["revision_id"]) == ("0x7b10", "0x73df", "0xc1")
    assert (card["subsystem_vendor_id"], card["subsystem_device_id"]) == ("0x7e5a", "0xb601")
    assert card["class"] == "0x030000" and card["driver"] == "norvik"
    assert (card["link_speed_gt_s"], card["link_width"], card["link_max_width"]) == (8.0, 8, 16)
    assert (card["path_width"], card["path_width_max"]) == (8, 16)
    assert card["path_narrowed_at"] == "pci:0000:01:00.0"
    assert card["largest_bar_bytes"] == 256 << 20
    assert card["model"] is Absent.NOT_OFFERED
    assert card["model_candidates"] == "Norvik RX 6700 | Norvik RX 6700 XT"
    assert facts(parsed, "0000:00:01.0")["port_type"] == "root port"
    assert [s.kind for s in parsed.sightings] == [
        PartKind.PCI_DEVICE,
        PartKind.GRAPHICS,
        PartKind.PCI_DEVICE,
        PartKind.NETWORK,
    ]


@pytest.mark.parametrize(
    ("printed", "maker"),
    [
        ("Holloway Device [7e5a:b601]", "Holloway"),
        ("Holloway Works, Ltd. Device b601", "Holloway Works, Ltd."),
        ("Holloway Storm [7e5a:b601]", None),  # nobody can tell where the maker's name ends
        ("Device [7e5a:b601]", None),
    ],
)
def test_a_card_that_the_list_does_not_name_tells_its_maker(printed: str, maker: str | None) -> None:
    card = facts(read(VERBOSE.replace("Holloway Storm [7e5a:b601]", printed).encode()), "0000:01:00.0")
    assert card.get("card_maker") == maker


def test_what_was_printed_without_root_is_not_readable() -> None:
    drive = facts(read(VERBOSE.encode()), "0000:02:00.0")
    assert drive["link_width"] is Absent.NOT_READABLE
    assert drive["class"] == "0x010802" and "description" not in drive


def test_a_device_that_does_not_answer_is_named() -> None:
    parsed = read(VERBOSE.encode())
    assert [(r.kind, r.where) for r in parsed.remarks] == [(RemarkKind.NOT_ANSWERED, "0000:03:00.0")]
    assert facts(parsed, "0000:03:00.0")["revision_id"] is Absent.IMPLAUSIBLE


TAGGED = """\
Slot:\t01:00.0
Class:\tVGA compatible controller [0300]
Vendor:\tNorvik, Inc. [7b10]
Device:\tVale 22 [Norvik RX 6700/6700 XT] [73df]
SVendor:\tHolloway [7e5a]
SDevice:\tHolloway RX 6700 XT Storm [b601]
Rev:\tc1
Driver:\tnorvik

Slot:\t00:1f.3
Class:\tAudio device
Vendor:\tTarn Corporation
Device:\tDevice 0c75
"""


def test_a_report_by_tags() -> None:
    parsed = read(TAGGED.encode())
    card = facts(parsed, "0000:01:00.0")
    assert (card["maker"], card["card_maker"], card["chip"]) == ("Norvik, Inc.", "Holloway", "Vale 22")
    assert card["card_model"] == "Holloway RX 6700 XT Storm"
    assert (card["vendor_id"], card["subsystem_device_id"]) == ("0x7b10", "0xb601")
    sound = facts(parsed, "0000:00:1f.3")
    assert parsed.sightings[1].kind is PartKind.SOUND
    assert sound["maker"] == "Tarn Corporation" and "model" not in sound
    assert sound["vendor_id"] is Absent.NOT_OFFERED


@pytest.mark.parametrize(
    "head",
    [VERBOSE, TAGGED, "0001:00:00.0 3D controller: Norvik A1\n", "00:00.0 0600: 8086:0d57\n", f"\n{VERBOSE}"],
)
def test_reports_are_recognised(head: str) -> None:
    assert lspci_text.recognises("any", head.encode()[:4096])


@pytest.mark.parametrize(
    "head", [b"", b"\xff\xfe", b"{}", b"12:00:01.5 the clock: struck\n", b"Device:\tsda\n", b"eth0: up\n"]
)
def test_other_files_are_not(head: bytes) -> None:
    assert not lspci_text.recognises("lspci.txt", head)


def test_lines_that_belong_to_no_function_are_counted() -> None:
    parsed = read(b"00:00.0 Host bridge: Tarn\nrubbish\nmore\n")
    assert [(r.kind, r.count) for r in parsed.remarks] == [(RemarkKind.NOT_UNDERSTOOD, 2)]


def test_every_form_that_lspci_prints_is_read(tmp_path: Path) -> None:
    if shutil.which("lspci") is None:
        pytest.skip("lspci is not installed")
    dump = tmp_path / "dump.txt"
    dump.write_text(hex_dump("00:01.0", root_port()) + hex_dump("01:00.0", graphics_card()))
    for form in ("-n", "-nn", "-v", "-vv", "-vvnn", "-vvn", "-D", "-mm", "-vmm", "-vmmnn", "-vmmn"):
        told = subprocess.run(["lspci", "-F", dump, form], capture_output=True, check=True).stdout
        if form == "-mm":  # one line of quoted words: another form, and not read
            assert not lspci_text.recognises("x", told)
            continue
        assert lspci_text.recognises("x", told[:4096]), form
        places = [s.place for s in read(told).sightings]
        assert places == ["pci:0000:00:01.0", "pci:0000:01:00.0"], form
        if form not in ("-vmm",):
            assert facts(read(told), "0000:01:00.0")["device_id"] == "0x0c71", form


def test_the_report_of_a_real_server(reference: Path) -> None:
    data = (reference / "lshw-lspci" / "gpud" / "lspci.nn.a100.txt").read_bytes()
    assert lspci_text.recognises("x", data[:4096])
    parsed = read(data)
    lines = data.decode().splitlines()
    assert len(parsed.sightings) == len(lines) and parsed.remarks == ()
    graphics = [s for s in parsed.sightings if s.kind is PartKind.GRAPHICS]
    assert len(graphics) == sum("3D controller" in line for line in lines)
    for sighting, line in zip(parsed.sightings, lines, strict=True):
        vendor, device = re.findall(r"\[(\w{4}):(\w{4})\]", line)[-1]
        assert sighting.place == "pci:" + line.split()[0]
        said = {f.name: f.value for f in sighting.said}
        assert (said["vendor_id"], said["device_id"]) == (f"0x{vendor}", f"0x{device}")
    assert {f.value for s in graphics for f in s.said if f.name == "model"} == {"A100 SXM4 80GB"}


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2500), st.text(max_size=20), st.integers(0, 40))
def test_a_spoiled_report_raises_nothing(at: int, piece: str, cut: int) -> None:
    for whole in (VERBOSE, TAGGED):
        read((whole[:at] + piece + whole[at + cut :]).encode("utf-8", "surrogatepass"))


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=2000))
def test_no_bytes_raise(data: bytes) -> None:
    lspci_text.recognises("x", data)
    read(data)


def test_a_long_report_takes_no_time_that_grows_with_its_square() -> None:
    block = VERBOSE.split("\n\n")[1] + "\n\n"
    data = "".join(block.replace("01:00.0 VGA", f"{n:02x}:00.0 VGA") for n in range(256)).encode()
    assert len(ends(lambda: read(data)).sightings) == 256
    hostile = b"00:00.0 a: " + b"[[0000:" * 20_000 + b"\n\t" + b"MaxPayload " * 20_000
    ends(lambda: read(hostile))
    blank, spaces = VERBOSE.split("\n\n")[1] + "\n" + "\t\n" * 30_000, " " * 200_000
    ends(lambda: read(blank.encode()))
    ends(
        lambda: read(
            f"00:00.0 VGA compatible controller [0300]: Norvik{spaces}x [Aurora] [1234:5678]".encode()
        )
    )
