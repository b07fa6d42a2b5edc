"""SCSI pages, bridges by USB, and places on SAS and RAID controllers, of invented drives."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import ata as capture_ata
from shipworthy.machine.capture import block as capture_block
from shipworthy.machine.capture import scsi as capture_scsi
from shipworthy.machine.join import join
from shipworthy.machine.parse import block, scsi
from shipworthy.machine.parse.ata import source as ata
from shipworthy.machine.parse.usb.bridges import bridge_chip, bridge_name
from shipworthy.machine.parse.wiring import interface_of, storage_place, usb_device_folder
from shipworthy.machine.root import Root
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.drive_pages import AWAKE, sense, smart_data
from tests.machine.facts_of import facts_of
from tests.machine.recorded import ata_identify, link, write

USB = "sys/devices/pci0000:00/0000:00:14.0/usb2/2-4"
SAS = "sys/devices/pci0000:00/0000:01:00.0/host6/port-6:0/end_device-6:0/target6:0:0/6:0:0:0"


def inquiry(vendor: str = "TARN", product: str = "TN-15K", revision: str = "C3D0") -> bytes:
    return bytes([0, 0, 6, 2, 31, 0, 0, 0]) + b"".join(
        text.encode().ljust(size) for text, size in ((vendor, 8), (product, 16), (revision, 4))
    )


def page(number: int, body: bytes) -> bytes:
    return bytes([0, number]) + len(body).to_bytes(2, "big") + body


def disk(root: Path, folder: str, name: str, *, vendor: str, removable: str = "0") -> None:
    write(root, f"{folder}/vendor", f"{vendor:8}\n")
    write(root, f"{folder}/model", "Box of drives   \n")
    write(root, f"{folder}/rev", "0100\n")
    write(root, f"{folder}/block/{name}/size", "7814037168\n")
    write(root, f"{folder}/block/{name}/removable", f"{removable}\n")
    write(root, f"{folder}/block/{name}/queue/rotational", "1\n")
    link(root, f"{folder}/block/{name}/device", folder)
    link(root, f"sys/block/{name}", f"{folder}/block/{name}")


def test_the_pages_of_a_sas_drive_are_read_where_the_kernel_keeps_them(tmp_path: Path) -> None:
    disk(tmp_path, SAS, "sdb", vendor="TARN")
    write(tmp_path, f"{SAS}/inquiry", inquiry())
    write(tmp_path, f"{SAS}/vpd_pg80", page(0x80, b"8DG3J2ZD    "))
    designator = bytes([1, 3, 0, 8]) + bytes.fromhex("5000cca253066624")
    target = bytes([0x61, 0x93, 0, 8]) + bytes.fromhex("5000cca253066625")
    write(tmp_path, f"{SAS}/vpd_pg83", page(0x83, target + designator))
    write(tmp_path, f"{SAS}/vpd_pgb1", page(0xB1, bytes([0x1C, 0x20, 0, 2]) + bytes(56)))
    parsed = scsi.parse(tuple(capture_scsi.capture(Root(tmp_path))))
    assert parsed.remarks == ()
    assert parsed.sightings[0].place == "pci:0000:01:00.0/sas-0"
    assert facts_of(parsed.sightings[0].said) == {
        "maker": "TARN",
        "model": "TN-15K",
        "firmware_version": "C3D0",
        "serial": "8DG3J2ZD",
        "wwn": "0x5000cca253066624",
        "technology": "spinning",
        "rotation_rpm": 7200,
        "form_factor": "3.5 inch",
    }


def test_a_page_that_is_cut_short_is_named_and_not_believed(tmp_path: Path) -> None:
    disk(tmp_path, SAS, "sdb", vendor="TARN")
    write(tmp_path, f"{SAS}/vpd_pg80", bytes([0, 0x80, 0, 20]) + b"8DG3")
    parsed = scsi.parse(tuple(capture_scsi.capture(Root(tmp_path))))
    assert facts_of(parsed.sightings[0].said) == {"serial": Absent.IMPLAUSIBLE}
    assert [(r.kind, r.where, r.detail) for r in parsed.remarks] == [
        (RemarkKind.CUT_SHORT, "sdb", "page 80h")
    ]


def usb_box(root: Path) -> Path:
    disk(root, f"{USB}/2-4:1.0/host7/target7:0:0/7:0:0:0", "sdc", vendor="Norvik")
    for name, text in {
        "idVendor": "152d",
        "idProduct": "0578",
        "manufacturer": "Norvik",
        "product": "Box 35",
        "serial": "NB-000117",
    }.items():
        write(root, f"{USB}/{name}", f"{text}\n")
    return root


def test_a_drive_behind_a_bridge_is_itself_and_the_bridge_is_named(tmp_path: Path) -> None:
    root = usb_box(tmp_path)
    write(root, "replies/sdc/ata-power-mode.bin", sense(count=AWAKE))
    write(root, "replies/sdc/ata-identify.bin", ata_identify())
    write(root, "replies/sdc/ata-smart.bin", smart_data([(9, 100, 100, 2)]))
    sightings = [
        *block.parse(tuple(capture_block.capture(Root(root)))).sightings,
        *ata.parse(tuple(capture_ata.capture(Root(root)))).sightings,
    ]
    (drive,) = join(sightings)
    assert drive.place == "pci:0000:00:14.0/usb-2-4"
    assert (drive.value("interface"), drive.value("model")) == ("USB", "Quarrel Archive 4TB Spinner")
    assert (drive.value("serial"), drive.value("power_on_hours")) == ("QA4-0017", 2)
    assert drive.value("bridge") == "JMicron JMS578, Norvik Box 35 (152d:0578)"
    assert drive.value("bridge_serial") == "NB-000117"


def test_a_box_that_takes_no_ata_commands_is_no_ata_drive(tmp_path: Path) -> None:
    parsed = ata.parse(tuple(capture_ata.capture(Root(usb_box(tmp_path)))))
    assert parsed.sightings == ()


def test_a_stick_is_not_asked_with_ata_commands(tmp_path: Path) -> None:
    disk(tmp_path, f"{USB}/2-4:1.0/host7/target7:0:0/7:0:0:0", "sdc", vendor="Norvik", removable="1")
    assert [reply.id for reply in capture_ata.capture(Root(tmp_path))] == ["ata"]


def test_a_drive_that_its_host_calls_ata_is_asked(tmp_path: Path) -> None:
    disk(tmp_path, SAS, "sdb", vendor="ATA")
    write(tmp_path, "replies/sdb/ata-identify.bin", ata_identify())
    parsed = ata.parse(tuple(capture_ata.capture(Root(tmp_path))))
    assert parsed.sightings[0].place == "pci:0000:01:00.0/sas-0"


@pytest.mark.parametrize(
    ("path", "place", "interface"),
    [
        (f"/{SAS}/block/sdb", "pci:0000:01:00.0/sas-0", "SAS"),
        (
            "/sys/devices/pci0000:00/0000:01:00.0/host0/port-0:0/expander-0:0/port-0:0:3/end_device-0:0:3"
            "/target0:0:3/0:0:3:1/block/sdd",
            "pci:0000:01:00.0/sas-0:3/lun-1",
            "SAS",
        ),
        (
            "/sys/devices/pci0000:00/0000:02:00.0/host9/target9:2:1/9:2:1:0/block/sde",
            "pci:0000:02:00.0/scsi-2:1:0",
            "SCSI",
        ),
    ],
)
def test_a_place_on_a_controller_has_no_number_that_moves(path: str, place: str, interface: str) -> None:
    assert (storage_place(path), interface_of(path)) == (place, interface)


def test_the_folder_of_a_usb_device_is_found() -> None:
    path = f"/{USB}/2-4:1.0/host7/target7:0:0/7:0:0:0/block/sdc"
    assert usb_device_folder(path) == f"/{USB}"
    assert usb_device_folder(f"/{SAS}/block/sdb") is None


def test_bridges_by_their_ids() -> None:
    """smartmontools' drive database 7.3/5319."""
    assert bridge_chip(0x174C, 0x55AA) == "ASMedia"
    assert bridge_chip(0x0BDA, 0x9210) == "Realtek RTL9210"
    assert bridge_chip(0x0781, 0x5581) is None
    assert bridge_name(0x0781, 0x5581, "") == "0781:5581"


@given(st.binary(max_size=300))
def test_no_bytes_make_a_page_reader_raise(data: bytes) -> None:
    for read in (
        scsi.inquiry_facts,
        scsi.serial_facts,
        scsi.identification_facts,
        scsi.characteristics_facts,
    ):
        assert read(data)
    assert scsi.describe(data)


@given(st.binary(max_size=200))
def test_no_body_makes_the_reader_of_names_raise(body: bytes) -> None:
    assert scsi.identification_facts(page(0x83, body))
    assert scsi.describe(page(0xB1, body))
