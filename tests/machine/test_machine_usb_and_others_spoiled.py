"""Every source of devices on files that hold anything whatever: no exception, no long wait, no odd number."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import msgspec
import pytest

from shipworthy.machine.capture import battery as capture_battery
from shipworthy.machine.capture import bluetooth as capture_bluetooth
from shipworthy.machine.capture import edac as capture_edac
from shipworthy.machine.capture import firmware as capture_firmware
from shipworthy.machine.capture import network as capture_network
from shipworthy.machine.capture import optical as capture_optical
from shipworthy.machine.capture import security as capture_security
from shipworthy.machine.capture import sound as capture_sound
from shipworthy.machine.capture import usb as capture_usb
from shipworthy.machine.capture import wireless as capture_wireless
from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.parse import battery, bluetooth, edac, firmware, security, sound, wireless
from shipworthy.machine.parse.network import source as network
from shipworthy.machine.parse.optical import source as optical
from shipworthy.machine.parse.usb import source as usb
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from tests.machine import (
    test_machine_battery,
    test_machine_edac,
    test_machine_network,
    test_machine_security,
    test_machine_sound,
    test_machine_usb,
)
from tests.machine.bounded import ends
from tests.machine.devices import Capture, Parse, files
from tests.machine.recorded import link

SOURCES: dict[str, tuple[Capture, Parse]] = {
    "usb": (capture_usb.capture, usb.parse),
    "network": (capture_network.capture, network.parse),
    "wireless": (capture_wireless.capture, wireless.parse),
    "bluetooth": (capture_bluetooth.capture, bluetooth.parse),
    "sound": (capture_sound.capture, sound.parse),
    "security": (capture_security.capture, security.parse),
    "battery": (capture_battery.capture, battery.parse),
    "optical": (capture_optical.capture, optical.parse),
    "edac": (capture_edac.capture, edac.parse),
    "boot": (capture_firmware.capture_boot, firmware.parse_boot),
}
ODD = (
    "",
    "-1",
    "0",
    "0x",
    "٣",
    "²",
    "9" * 19,
    "9" * 25,
    "nan",
    "1e9",
    "\ufffd\0",
    "a:b:c",
    "[",
    "1.5",
    "ff",
    "x" * 5000,
)
OUTCOMES = (SourceOutcome.REFUSED, SourceOutcome.FAILED, SourceOutcome.ABSENT, SourceOutcome.EMPTY)


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One of everything."""
    root = tmp_path_factory.mktemp("devices")
    test_machine_usb.root_hub(root, 1, "480")
    test_machine_usb.root_hub(root, 2, "5000")
    test_machine_usb.peers(root, 1)
    texts = {"version": " 2.10", "speed": "480", "idVendor": "0bda", "idProduct": "8153", "serial": "A-1"}
    for port in (1, 2):
        test_machine_usb.add(
            root, f"usb1/1-{port}", **texts, bDeviceClass="09", bos_descriptors=test_machine_usb.bos()
        )
    test_machine_network.interface(
        root, test_machine_network.NIC, "enp6s0", speed="1000", addr_assign_type="0"
    )
    test_machine_network.adapter(root)
    test_machine_sound.card(root, 0, test_machine_sound.HDA, "PCH", "eld#2.0")
    test_machine_sound.codec(
        root, test_machine_sound.HDA, "hdaudioC0D0", vendor_id="0x10ec1168", chip_name="SK1"
    )
    disk = "sys/devices/pci0000:00/0000:00:17.0/ata7/host6/target6:0:0/6:0:0:0"
    files(root, disk, {"vendor": "Tarn", "model": "BD-RE", "rev": "1.02", "block/sr0/size": "4"})
    link(root, f"{disk}/block/sr0/device", disk)
    link(root, "sys/block/sr0", f"{disk}/block/sr0")
    radio = f"{test_machine_network.RADIO}/ieee80211/phy0"
    files(root, radio, {"macaddress": "f4:00:00:00:00:01", "rfkill0/soft": "0", "rfkill0/hard": "0"})
    link(root, f"{radio}/device", test_machine_network.RADIO)
    link(root, "sys/class/ieee80211/phy0", radio)
    test_machine_security.module(root, tpm_version_major="2")
    test_machine_security.uefi(root)
    test_machine_battery.supply(root, "BAT0", **test_machine_battery.TEXTS)
    test_machine_edac.controller(root, ce_count="1")
    test_machine_edac.module(root, "dimm0", dimm_label="DIMM_A1")
    return root


def spoiled(replies: Sequence[Reply], chance: random.Random) -> tuple[Reply, ...]:
    """Return replies of which some rows hold something else, or nothing."""
    changed: list[Reply] = []
    for reply in replies:
        if reply.suffix != "jsonl" or not reply.read:
            data = bytes(chance.choice((byte, chance.randrange(256))) for byte in reply.data)
            changed.append(_with(reply, data))
            continue
        rows = [msgspec.json.decode(line, type=ListingRow) for line in reply.data.splitlines()]
        changed.append(_with(reply, encode_listing(_spoiled_row(row, chance) for row in rows)))
    return tuple(changed)


def _with(reply: Reply, data: bytes) -> Reply:
    return Reply(reply.id, reply.locator, reply.outcome, data, reply.error, reply.suffix)


def _spoiled_row(row: ListingRow, chance: random.Random) -> ListingRow:
    if chance.random() > 0.3 or row.names is not None:
        return row
    if row.link is not None:
        return ListingRow(
            path=row.path, link=chance.choice(("/", "/sys", "/sys/devices/virtual/x", row.link + "/y"))
        )
    if chance.random() < 0.3:
        return ListingRow(path=row.path, outcome=chance.choice(OUTCOMES), error="EIO")
    if row.hex is not None:
        return ListingRow(path=row.path, hex=chance.randbytes(chance.randrange(40)).hex())
    return ListingRow(path=row.path, text=chance.choice(ODD))


@pytest.mark.parametrize("name", SOURCES)
def test_anything_whatever_in_its_files_spoils_no_source(machine: Path, name: str) -> None:
    capture, parse = SOURCES[name]
    replies = capture(Root(machine))
    chance = random.Random(name)
    for _ in range(150):
        wrong = spoiled(replies, chance)
        parsed = ends(partial(parse, wrong))
        msgspec.json.encode(
            (parsed.sightings, parsed.ports, parsed.remarks)
        )  # a number that no record can hold


def test_the_machine_has_one_of_everything(machine: Path) -> None:
    silent = {
        name
        for name, (capture, parse) in SOURCES.items()
        if not parse(tuple(capture(Root(machine)))).sightings
    }
    assert silent == set()
