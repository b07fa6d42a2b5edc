"""PCI functions below a recorded machine: registers, errors, sleep, the way to the root."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shipworthy.machine.capture import pci as capture
from shipworthy.machine.listing import Listing, ListingRow, encode_listing
from shipworthy.machine.parse.pci import source as pci
from shipworthy.machine.parse.pci.facts import aer_counts, bar_sizes, pieces_of
from shipworthy.machine.raw import Parsed
from shipworthy.machine.root import Root
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.facts_of import Facts, facts_at
from tests.machine.pci_spaces import graphics_card, root_port
from tests.machine.recorded import link, write

PORT, CARD = "0000:00:01.0", "0000:01:00.0"
AER = "RxErr 0\nBadTLP 3\nBadDLLP 1\nRollover 0\nTOTAL_ERR_COR 4\n"
RESOURCE = (
    "0x00000000f0000000 0x00000000ffffffff 0x000000000014220c\n"
    "0x0000000000000000 0x0000000000000000 0x0000000000000000\n"
    "0x000000000000e000 0x000000000000e0ff 0x0000000000040101\n"
)


def function(root: Path, folder: str, **attributes: str | bytes) -> None:
    for name, value in attributes.items():
        write(root, f"{folder}/{name}", value)
    link(root, f"sys/bus/pci/devices/{folder.rsplit('/', 1)[-1]}", folder)


def machine(root: Path, **of_card: str | bytes) -> Root:
    above = f"sys/devices/pci0000:00/{PORT}"
    ports: dict[str, str | bytes] = {
        "vendor": "0x7a52\n",
        "device": "0x0c71\n",
        "class": "0x060400\n",
        "current_link_speed": "2.5 GT/s PCIe\n",
        "current_link_width": "8\n",
        "max_link_speed": "16.0 GT/s PCIe\n",
        "max_link_width": "16\n",
        "config": root_port(),
    }
    card: dict[str, str | bytes] = {
        "vendor": "0x5ab1\n",
        "device": "0x0042\n",
        "class": "0x030000\n",
        "revision": "0xc1\n",
        "power_state": "D0\n",
        "subsystem_vendor": "0x7e5a\n",
        "subsystem_device": "0xb601\n",
        "current_link_speed": "2.5 GT/s PCIe\n",
        "current_link_width": "8\n",
        "max_link_speed": "16.0 GT/s PCIe\n",
        "max_link_width": "16\n",
        "aer_dev_correctable": AER,
        "aer_dev_fatal": "DLP 0\nTOTAL_ERR_FATAL 0\n",
        "resource": RESOURCE,
        "config": graphics_card(),
    }
    function(root, above, **ports)
    function(root, f"{above}/{CARD}", **(card | of_card))
    return Root(root)


def facts(root: Root, address: str = CARD) -> Facts:
    parsed = read(root)
    return facts_at(parsed, f"pci:{address}")


def read(root: Root) -> Parsed:
    return pci.parse(tuple(capture.capture(root)))


def test_a_card_says_what_its_registers_and_the_kernel_say(tmp_path: Path) -> None:
    found = facts(machine(tmp_path))
    assert (found["link_speed_gt_s"], found["link_width"], found["link_max_width"]) == (2.5, 8, 16)
    assert (found["path_width"], found["path_width_max"]) == (8, 16)
    assert found["path_narrowed_at"] == f"pci:{CARD}"
    assert found["port_type"] == "endpoint" and found["payload_bytes"] == 256
    assert found["link_target_speed_gt_s"] == 16.0
    assert found["pci_serial"] == "00-11-22-ff-fe-33-44-55"
    assert (found["aer_correctable"], found["aer_correctable_kinds"]) == (4, "BadTLP 3, BadDLLP 1")
    assert found["aer_fatal"] == 0 and "aer_fatal_kinds" not in found and "aer_nonfatal" not in found
    assert found["aer_correctable_status"] == "RxErr, BadTLP"
    assert found["largest_bar_bytes"] == 256 << 20
    assert found["resizable_bar"] == "off"
    assert found["revision_id"] == "0xc1"


def test_a_port_says_what_its_slot_can_give(tmp_path: Path) -> None:
    found = facts(machine(tmp_path), PORT)
    assert (found["port_type"], found["slot_number"], found["slot_power_w"]) == ("root port", 3, 75.0)
    assert "path_width" not in found


def test_only_what_is_decoded_is_read_of_the_registers(tmp_path: Path) -> None:
    reply = capture.capture(machine(tmp_path))[0]
    listing = Listing(reply.data)
    folder = f"{pci.DEVICES}/{CARD}"
    pieces = listing.names(f"{folder}/config")
    assert pieces[0] == "0x000" and "0x100" in pieces and "0x300" not in pieces
    assert sum(len(listing.data(f"{folder}/config@{piece}")) for piece in pieces) < 250


def test_a_piece_whose_offset_is_no_number_is_left_out() -> None:
    head = ListingRow(path=f"{CARD}/config@0x000", hex=graphics_card()[:64].hex())
    rows = (ListingRow(path=f"{CARD}/config", names=("0x000", "", "../..", "nan")), head)
    fetch = pieces_of(Listing(encode_listing(rows)), CARD)
    assert fetch(0, 64) == graphics_card()[:64]
    assert fetch(64, 4) == b""


def test_without_root_the_registers_are_not_readable_and_the_link_stands(tmp_path: Path) -> None:
    found = facts(machine(tmp_path, config=graphics_card()[:64]))
    assert found["port_type"] is Absent.NOT_READABLE
    assert found["link_width"] == 8 and found["path_width"] == 8


def test_a_kernel_without_link_attributes_leaves_it_to_the_registers(tmp_path: Path) -> None:
    root = machine(tmp_path)
    for name in ("current_link_speed", "current_link_width", "max_link_speed", "max_link_width"):
        (tmp_path / f"sys/devices/pci0000:00/{PORT}/{CARD}/{name}").unlink()
    found = facts(root)
    assert (found["link_speed_gt_s"], found["link_width"]) == (2.5, 8)
    assert (found["link_max_speed_gt_s"], found["link_max_width"]) == (16.0, 16)


def test_a_sleeping_device_is_not_woken_and_its_link_is_not_believed(tmp_path: Path) -> None:
    """But a graphics card is, by its registers: its link is of the configuration."""
    asleep = {"power_state": "D3cold\n", "current_link_width": "63\n"}
    other = machine(tmp_path / "other", **asleep, **{"class": "0x010802\n"})
    rows = Listing(capture.capture(other)[0].data)
    assert rows.row(f"{pci.DEVICES}/{CARD}/current_link_width") is None
    assert rows.names(f"{pci.DEVICES}/{CARD}/config") == ()
    root = machine(tmp_path / "card", **asleep)
    assert Listing(capture.capture(root)[0].data).names(f"{pci.DEVICES}/{CARD}/config") != ()
    found = facts(root)
    assert found["link_width"] is Absent.NOT_READABLE
    assert found["path_width"] is Absent.NOT_READABLE
    assert found["power_state"] == "D3cold"


def test_a_device_that_has_left_the_bus_is_named(tmp_path: Path) -> None:
    parsed = read(machine(tmp_path, config=b"\xff" * 4096))
    assert [(r.kind, r.where) for r in parsed.remarks] == [(RemarkKind.NOT_ANSWERED, f"{CARD} config")]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_refused_register_file_is_no_reason_to_stop(tmp_path: Path) -> None:
    root = machine(tmp_path)
    (tmp_path / f"sys/devices/pci0000:00/{PORT}/{CARD}/config").chmod(0)
    assert facts(root)["link_width"] == 8


def test_registers_that_are_a_pipe_or_a_link_out_are_left_alone(tmp_path: Path) -> None:
    root = machine(tmp_path / "unit")
    folder = tmp_path / "unit" / f"sys/devices/pci0000:00/{PORT}"
    (folder / "config").unlink()
    os.mkfifo(folder / "config")
    (tmp_path / "outside").write_bytes(graphics_card())
    (folder / CARD / "config").unlink()
    (folder / CARD / "config").symlink_to(tmp_path / "outside")
    assert "port_type" not in facts(root) and "port_type" not in facts(root, PORT)


def test_a_port_type_that_cannot_be_is_shown_as_its_number(tmp_path: Path) -> None:
    data = bytearray(graphics_card())
    data[0x62] = 0xF2
    assert facts(machine(tmp_path, config=bytes(data)))["port_type"] == "type 0xf"


@pytest.mark.parametrize(
    ("text", "want"),
    [
        (AER, (4, "BadTLP 3, BadDLLP 1")),
        ("", (None, "")),
        ("RxErr -1\nTOTAL_ERR_COR x\n", (None, "")),
        ("TOTAL_ERR_COR 0\n", (0, "")),
    ],
)
def test_error_counts(text: str, want: tuple[int | None, str]) -> None:
    assert aer_counts(text) == want


def test_only_memory_counts_as_a_bar() -> None:
    assert bar_sizes(RESOURCE) == (256 << 20,)
    assert bar_sizes("rubbish\n0x0 0x1\n") == ()


def test_a_count_that_is_rubbish_is_implausible(tmp_path: Path) -> None:
    assert facts(machine(tmp_path, aer_dev_nonfatal="\x00rubbish"))["aer_nonfatal"] is Absent.IMPLAUSIBLE


def test_the_names_of_cards_are_kept_and_told(tmp_path: Path) -> None:
    root = machine(tmp_path)
    write(
        tmp_path,
        "usr/share/misc/pci.ids",
        "5ab1  Sable\n\t0042  Ember [Norvik 12/14/14 XT]\n\t\t7e5a b601  Tarn Storm 14\n\t\t7e5a b602  No\n"
        "7e5a  Holloway\n",
    )
    replies = {reply.id: reply for reply in capture.capture(root)}
    assert b"Tarn Storm 14" in replies["pci.names"].data and b"b602" not in replies["pci.names"].data
    found = facts(root)
    assert found["card_model"] == "Tarn Storm 14"
    assert found["card_maker"] == "Holloway" and found["maker"] == "Sable"
    assert found["chip"] == "Ember"
    assert found["model"] is Absent.NOT_OFFERED
    assert found["model_candidates"] == "Norvik 12 | Norvik 14 | Norvik 14 XT"


def test_kinds_and_places_are_those_of_the_bus(tmp_path: Path) -> None:
    kinds = {s.place: s.kind for s in read(machine(tmp_path)).sightings}
    assert kinds == {f"pci:{PORT}": PartKind.PCI_DEVICE, f"pci:{CARD}": PartKind.GRAPHICS}


def test_every_function_of_this_machine_is_a_part() -> None:
    if not Path(pci.DEVICES).is_dir():
        pytest.skip("this machine has no PCI")
    parsed = pci.parse(tuple(capture.capture(Root(Path("/")))))
    assert {s.place for s in parsed.sightings} == {f"pci:{e.name}" for e in Path(pci.DEVICES).iterdir()}
