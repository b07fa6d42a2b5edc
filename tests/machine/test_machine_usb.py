"""USB: the tree, speeds against abilities, ports, names, and descriptors of any bytes whatever."""

from __future__ import annotations

import random
import struct
from functools import partial
from pathlib import Path

import pytest

from shipworthy.machine.capture import usb as capture_usb
from shipworthy.machine.parse.usb import descriptors as usb_descriptors
from shipworthy.machine.parse.usb import file as usb_file
from shipworthy.machine.parse.usb import source as usb
from shipworthy.machine.parse.usb.descriptors import capability_mbit_s, describe, self_powered, split
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.devices import by_place, failing, files, read
from tests.machine.recorded import link, write

XHCI = "sys/devices/pci0000:00/0000:00:14.0"
PLACE = "pci:0000:00:14.0"


def device_descriptor(version: int = 0x0210, vendor: int = 0x0BDA, product: int = 0x8153) -> bytes:
    return struct.pack("<BBHBBBBHHHBBBB", 18, 1, version, 0, 0, 0, 64, vendor, product, 0x3100, 1, 2, 3, 1)


def configuration(attributes: int = 0xA0, value: int = 1) -> bytes:
    interface = struct.pack("<BBBBBBBBB", 9, 4, 0, 0, 1, 8, 6, 0x50, 0)
    endpoint = struct.pack("<BBBBHB", 7, 5, 0x81, 2, 512, 0)
    total = 9 + len(interface) + len(endpoint)
    return struct.pack("<BBHBBBBB", 9, 2, total, 1, value, 0, attributes, 250) + interface + endpoint


def bos(supported: int = 0b1110, lanes: tuple[tuple[int, int], ...] = ()) -> bytes:
    """supported: bits of wSpeedsSupported. lanes: (exponent, mantissa) of SuperSpeedPlus sublinks."""
    capabilities = [struct.pack("<BBBI", 7, 16, 2, 6)]
    capabilities.append(struct.pack("<BBBBHBBH", 10, 16, 3, 0, supported, 1, 10, 2047))
    if lanes:
        words = [exponent << 4 | mantissa << 16 | 1 << 14 for exponent, mantissa in lanes]
        head = struct.pack("<BBBBIHH", 12 + 4 * len(lanes), 16, 10, 0, len(lanes) - 1, 0x1100, 0)
        capabilities.append(head + struct.pack(f"<{len(words)}I", *words))
    body = b"".join(capabilities)
    return struct.pack("<BBHB", 5, 15, 5 + len(body), len(capabilities)) + body


def add(root: Path, path: str, **texts: str | bytes) -> None:
    """Add a device at a path below the controller, with its link in the bus's folder."""
    files(root, f"{XHCI}/{path}", texts)
    link(root, f"sys/bus/usb/devices/{path.rsplit('/', 1)[-1]}", f"{XHCI}/{path}")


def root_hub(root: Path, bus: int, speed: str, ports: int = 4) -> None:
    add(
        root,
        f"usb{bus}",
        idVendor="1d6b",
        idProduct="0002",
        version=" 2.00",
        speed=speed,
        bDeviceClass="09",
        maxchild=str(ports),
    )
    add(root, f"usb{bus}/{bus}-0:1.0", bInterfaceClass="09")
    for port in range(1, ports + 1):
        folder = f"{XHCI}/usb{bus}/{bus}-0:1.0/usb{bus}-port{port}"
        kind = "hotplug" if port < 4 else "hardwired"
        files(root, folder, {"connect_type": kind, "over_current_count": "0", "location": "0x80000001"})


def peers(root: Path, port: int) -> None:
    for one, other in ((1, 2), (2, 1)):
        folder = f"{XHCI}/usb{one}/{one}-0:1.0/usb{one}-port{port}"
        link(root, f"{folder}/peer", f"{XHCI}/usb{other}/{other}-0:1.0/usb{other}-port{port}")


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A controller with a USB 2 and a USB 3 bus, whose ports 1 to 3 are one connector each."""
    root_hub(tmp_path, 1, "480")
    root_hub(tmp_path, 2, "10000")
    for port in (1, 2, 3):
        peers(tmp_path, port)
    add(
        tmp_path,
        "usb1/1-1",
        idVendor="0bda",
        idProduct="8153",
        bcdDevice="3100",
        version=" 2.10",
        speed="480",
        rx_lanes="1",
        bDeviceClass="00",
        bDeviceSubClass="00",
        bDeviceProtocol="00",
        bMaxPower="500mA",
        bConfigurationValue="1",
        manufacturer="Holloway",
        product="Fast Stick",
        serial="HW-0001",
        removable="removable",
        maxchild="0",
        descriptors=device_descriptor() + configuration(),
        bos_descriptors=bos(),
    )
    add(tmp_path, "usb1/1-1/1-1:1.0", bInterfaceClass="08", bInterfaceSubClass="06", bInterfaceProtocol="50")
    write(tmp_path, "sys/bus/usb/drivers/usb-storage/uevent", "")
    link(tmp_path, f"{XHCI}/usb1/1-1/1-1:1.0/driver", "sys/bus/usb/drivers/usb-storage")
    return tmp_path


def test_a_device_tells_what_it_is_and_root_hubs_are_no_parts(machine: Path) -> None:
    parsed = read(machine, capture_usb.capture, usb.parse)
    devices = [s for s in parsed.sightings if s.kind is PartKind.USB_DEVICE]
    assert [s.place for s in devices] == [f"{PLACE}/usb-1-1"]
    told = by_place(parsed)[f"{PLACE}/usb-1-1"]
    assert told == {
        "kernel_name": "1-1",
        "vendor_id": "0x0bda",
        "device_id": "0x8153",
        "maker": "Holloway",
        "model": "Fast Stick",
        "serial": "HW-0001",
        "device_release": "31.00",
        "usb_version": "2.10",
        "class": "0x000000",
        "functions": "mass storage",
        "driver": "usb-storage",
        "speed_mbit_s": 480,
        "speed_max_mbit_s": 5000,
        "below_capability": True,
        "port_speed_max_mbit_s": 10000,
        "lanes": 1,
        "power_max_ma": 500,
        "self_powered": False,
        "removable": True,
        "ports": Absent.NOT_OFFERED,
    }
    assert by_place(parsed)[PLACE] == {"usb_speed_max_mbit_s": 10000, "usb_over_current_events": 0}


@pytest.mark.parametrize(
    ("version", "speed", "capabilities", "most", "below"),
    [
        (" 2.10", "480", b"", Absent.NOT_OFFERED, Absent.NOT_OFFERED),  # must not be guessed from its version
        (" 2.10", "480", bos(0b0110), 480, False),
        (" 2.00", "480", b"", 480, False),
        (" 2.00", "12", b"", Absent.NOT_OFFERED, Absent.NOT_OFFERED),  # full speed only, or slowed down
        (" 1.10", "1.5", b"", 1.5, False),
        (" 3.00", "480", b"", 5000, True),
        (" 3.00", "5000", b"", 5000, False),
        (" 3.20", "5000", b"", Absent.NOT_OFFERED, Absent.NOT_OFFERED),
        (" 3.20", "5000", bos(0b1110, ((3, 10),)), 10000, True),
        (" 3.20", "10000", bos(0b1110, ((3, 10),)), 10000, False),
        (" 3.20", "20000", bos(0b1110, ((3, 10),)), 20000, False),  # two lanes, which BOS does not tell
    ],
)
def test_a_device_is_slow_only_where_its_own_words_prove_it(
    machine: Path, version: str, speed: str, capabilities: bytes, most: object, below: object
) -> None:
    texts: dict[str, str | bytes] = {"version": version, "speed": speed, "bos_descriptors": capabilities}
    files(machine, f"{XHCI}/usb1/1-1", texts)
    told = by_place(read(machine, capture_usb.capture, usb.parse))[f"{PLACE}/usb-1-1"]
    assert (told["speed_max_mbit_s"], told["below_capability"]) == (most, below)


@pytest.mark.parametrize(("twin", "below"), [(True, False), (False, True)])
def test_the_slow_half_of_a_fast_hub_is_no_fault_while_the_fast_half_is_there(
    machine: Path, twin: bool, below: bool
) -> None:
    hub = {"idVendor": "05e3", "idProduct": "0610", "bDeviceClass": "09", "version": " 2.10"}
    add(machine, "usb1/1-2", **hub, speed="480", maxchild="2", bos_descriptors=bos())
    if twin:
        add(machine, "usb2/2-2", **hub, speed="5000", maxchild="2", bos_descriptors=bos())
    told = by_place(read(machine, capture_usb.capture, usb.parse))
    assert told[f"{PLACE}/usb-1-2"]["below_capability"] is below
    if twin:
        assert told[f"{PLACE}/usb-2-2"]["below_capability"] is False


def test_a_device_behind_a_hub_has_its_place_and_its_ports_speed(machine: Path) -> None:
    add(machine, "usb1/1-2", speed="480", version=" 2.00", bDeviceClass="09", maxchild="4")
    add(machine, "usb1/1-2/1-2:1.0", bInterfaceClass="09")
    files(machine, f"{XHCI}/usb1/1-2/1-2:1.0/1-2-port3", {"connect_type": "unknown"})
    add(machine, "usb1/1-2/1-2.3", speed="12", version=" 1.10", bDeviceClass="00", maxchild="0")
    told = by_place(read(machine, capture_usb.capture, usb.parse))
    assert told[f"{PLACE}/usb-1-2"]["ports"] == 4
    assert told[f"{PLACE}/usb-1-2.3"]["port_speed_max_mbit_s"] == 480


def test_connectors_are_the_ports_that_the_firmware_calls_so_each_once(machine: Path) -> None:
    files(machine, f"{XHCI}/usb1/1-0:1.0/usb1-port2/physical_location", {"panel": "front"})
    ports = read(machine, capture_usb.capture, usb.parse).ports
    assert [(p.place, p.label, p.occupied_by) for p in ports] == [
        (f"{PLACE}/usb-1-1", "usb1-port1", f"{PLACE}/usb-1-1"),
        (f"{PLACE}/usb-1-2", "usb1-port2 (front)", ""),
        (f"{PLACE}/usb-1-3", "usb1-port3", ""),
    ]
    assert {p.connector for p in ports} == {"USB"}


def test_a_fast_device_occupies_the_connector_that_its_slow_peer_stands_for(machine: Path) -> None:
    add(machine, "usb2/2-3", speed="5000", version=" 3.00", bDeviceClass="00", maxchild="0")
    ports = read(machine, capture_usb.capture, usb.parse).ports
    assert [p.occupied_by for p in ports][2] == f"{PLACE}/usb-2-3"


def test_ports_that_drew_too_much_are_counted_at_their_controller(machine: Path) -> None:
    files(machine, f"{XHCI}/usb2/2-0:1.0/usb2-port1", {"over_current_count": "3"})
    assert by_place(read(machine, capture_usb.capture, usb.parse))[PLACE]["usb_over_current_events"] == 3


def test_placeholders_are_no_serials_and_a_serial_of_two_devices_is_named(machine: Path) -> None:
    same = {"idVendor": "abcd", "idProduct": "1234", "speed": "480", "version": " 2.00", "bDeviceClass": "00"}
    for path, serial in (("usb1/1-2", "0123456789"), ("usb1/1-3", "CLONE-1"), ("usb1/1-4", "CLONE-1")):
        add(machine, path, **same, serial=serial)
    parsed = read(machine, capture_usb.capture, usb.parse)
    assert by_place(parsed)[f"{PLACE}/usb-1-2"]["serial"] is Absent.NOT_OFFERED
    assert [(r.kind, r.where, r.count) for r in parsed.remarks] == [(RemarkKind.REPEATED, "0xabcd:0x1234", 2)]


def test_names_come_from_the_systems_list_and_only_of_what_is_fitted(machine: Path) -> None:
    text = (
        "# a list\n0bd\n0bda  Quarrel\n\t8153  Link 1000\n\t\t00  an interface\n\t9999  Other\n0bdb  Nobody\n"
    )
    write(machine, "usr/share/misc/usb.ids", text)
    replies = capture_usb.capture(Root(machine))
    assert replies[1].data == b"0bda  Quarrel\n\t8153  Link 1000\n"
    named = [s for s in usb.parse(tuple(replies)).sightings if s.source == "usb.names"]
    assert [(w.name, w.value) for s in named for w in s.said] == [
        ("maker", "Quarrel"),
        ("model", "Link 1000"),
    ]


def test_a_machine_without_usb_has_no_parts_of_it(tmp_path: Path) -> None:
    (tmp_path / "sys").mkdir()
    replies = capture_usb.capture(Root(tmp_path))
    assert [reply.outcome for reply in replies] == [SourceOutcome.ABSENT]
    assert usb.parse(tuple(replies)).sightings == ()


def test_a_file_that_fails_costs_its_own_field_alone(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, "1-1/speed")
    told = by_place(read(machine, capture_usb.capture, usb.parse))[f"{PLACE}/usb-1-1"]
    assert told["speed_mbit_s"] is Absent.NOT_READABLE
    assert told["below_capability"] is Absent.NOT_OFFERED
    assert (told["model"], told["serial"]) == ("Fast Stick", "HW-0001")


def test_a_file_that_is_a_folder_is_not_readable(machine: Path) -> None:
    (machine / f"{XHCI}/usb1/1-1/product").unlink()
    (machine / f"{XHCI}/usb1/1-1/product").mkdir()
    told = by_place(read(machine, capture_usb.capture, usb.parse))[f"{PLACE}/usb-1-1"]
    assert told["model"] is Absent.NOT_READABLE


@pytest.mark.parametrize(
    ("data", "kind", "where"),
    [
        (device_descriptor()[:10], RemarkKind.CUT_SHORT, "1-1 descriptors at 0"),
        (device_descriptor() + b"\x00\x02", RemarkKind.BAD_LENGTH, "1-1 descriptors at 18"),
        (device_descriptor() + b"\x01", RemarkKind.BAD_LENGTH, "1-1 descriptors at 18"),
    ],
)
def test_descriptors_that_break_off_are_named(
    machine: Path, data: bytes, kind: RemarkKind, where: str
) -> None:
    files(machine, f"{XHCI}/usb1/1-1", {"descriptors": data})
    parsed = read(machine, capture_usb.capture, usb.parse)
    assert [(r.kind, r.where) for r in parsed.remarks] == [(kind, where)]
    assert by_place(parsed)[f"{PLACE}/usb-1-1"]["model"] == "Fast Stick"


def test_descriptors_are_described_field_by_field() -> None:
    sections = describe(device_descriptor() + configuration() + bytes([4, 0x41, 1, 2]))
    assert [s.title for s in sections] == ["device", "configuration", "interface", "endpoint", "kind 0x41"]
    device, told = dict(sections[0].fields), dict(sections[3].fields)
    assert (device["bcdUSB"], device["idVendor"], device["bcdDevice"]) == ("2.10", "0x0bda", "31.00")
    assert told["bEndpointAddress"] == "0x81 endpoint 1 in"
    assert told["bmAttributes"] == "0x02 bulk"
    assert sections[4].fields == (("bytes", "04 41 01 02"),)
    titles = [s.title for s in describe(bos(0b1110, ((3, 10),)))]
    assert titles == [
        "BOS",
        "capability: USB 2.0 extension",
        "capability: SuperSpeed",
        "capability: SuperSpeedPlus",
    ]


def test_a_file_of_descriptors_is_recognised_and_read(machine: Path) -> None:
    data = device_descriptor() + configuration()
    assert usb_file.recognises("anything", data)
    assert not usb_file.recognises("descriptors", data[:17])
    assert not usb_file.recognises("descriptors", bos() + bytes(20))
    reply = Reply("usb-descriptors.1", "file", SourceOutcome.READ, data + b"\x09\x02", suffix="bin")
    parsed = usb_file.parse((reply,))
    live = by_place(read(machine, capture_usb.capture, usb.parse))[f"{PLACE}/usb-1-1"]
    (told,) = by_place(parsed).values()
    assert told == {name: live[name] for name in told}
    assert len(told) == 7
    assert [(r.kind, r.where) for r in parsed.remarks] == [(RemarkKind.CUT_SHORT, "descriptor at 43")]


def test_a_configuration_says_who_feeds_the_device() -> None:
    two = device_descriptor() + configuration(0xC0, 1) + configuration(0x80, 2)
    assert (self_powered(two, 1), self_powered(two, 2), self_powered(two, 3)) == (True, False, None)
    assert self_powered(b"", None) is None


@pytest.mark.parametrize(
    ("lanes", "most"),
    [(((3, 5), (3, 10)), 10000), (((2, 5000),), 5000), (((1, 60000),), 5000), (((0, 1),), 5000), ((), 5000)],
)
def test_a_lanes_speed_has_an_exponent(lanes: tuple[tuple[int, int], ...], most: float) -> None:
    assert capability_mbit_s(bos(0b1110, lanes)) == most


def test_any_bytes_whatever_are_taken() -> None:
    chance = random.Random(20)
    seeds = (device_descriptor() + configuration(), bos(0b1110, ((3, 10), (3, 5))))
    for _ in range(4000):
        data = bytearray(chance.choice(seeds))
        for _ in range(chance.randrange(6)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        spoiled = bytes(data[: chance.randrange(len(data) + 1)])
        for look in (split, describe, capability_mbit_s):
            ends(partial(look, spoiled))
        ends(partial(self_powered, spoiled, 1))
    assert len(split(bytes([2, 0]) * 32768)[0]) == usb_descriptors.MOST_DESCRIPTORS
