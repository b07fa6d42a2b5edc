"""Network, radios and Bluetooth: what sysfs and the drivers say, and what they do not."""

from __future__ import annotations

import errno
import random
import re
import struct
from pathlib import Path

import pytest

from shipworthy.machine.capture import bluetooth as capture_bluetooth
from shipworthy.machine.capture import network as capture_network
from shipworthy.machine.capture import wireless as capture_wireless
from shipworthy.machine.parse import bluetooth, wireless
from shipworthy.machine.parse.network import ethtool as network_ethtool
from shipworthy.machine.parse.network import source as network
from shipworthy.machine.root import LIVE
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.devices import by_place, failing, files, read
from tests.machine.facts_of import facts_of
from tests.machine.recorded import link, write

NIC = "sys/devices/pci0000:00/0000:00:1c.0/0000:06:00.0"
RADIO = "sys/devices/pci0000:00/0000:00:14.3"
STICK = "sys/devices/pci0000:00/0000:00:14.0/usb1/1-14/1-14:1.0"
PLACE = "pci:0000:06:00.0"


def interface(root: Path, device: str, name: str, **texts: str) -> str:
    folder = f"{device}/net/{name}"
    files(root, folder, {"type": "1", "address": "02:00:5e:10:00:01", "flags": "0x1003", **texts})
    link(root, f"{folder}/device", device)
    link(root, f"sys/class/net/{name}", folder)
    return folder


def settings(supported: tuple[int, ...], port: int = 0, words_each: int = 3) -> bytes:
    """An answer to ETHTOOL_GLINKSETTINGS: the head of 48 bytes, then three masks."""
    head = struct.pack("<IIBBBBBBBb", 0x4C, 2500, 1, port, 0, 1, 0, 0, 0, words_each).ljust(48, b"\0")
    mask = sum(1 << bit for bit in supported).to_bytes(4 * words_each, "little")
    return head + mask + bytes(8 * words_each)


def permanent(mac: str) -> bytes:
    address = bytes.fromhex(mac.replace(":", ""))
    return struct.pack("<II", 0x20, len(address)) + address.ljust(32, b"\0")


def test_a_port_tells_what_it_can_do_and_the_address_its_maker_gave(tmp_path: Path) -> None:
    interface(tmp_path, NIC, "enp6s0", addr_assign_type="3", operstate="up", carrier="1", speed="1000")
    answers = "replies/enp6s0/ethtool"
    write(tmp_path, f"{answers}-link-settings.bin", settings((1, 3, 5, 6, 7, 13, 47)))
    write(tmp_path, f"{answers}-permanent-address.bin", permanent("00:1b:21:0a:0b:0c"))
    parsed = read(tmp_path, capture_network.capture, network.parse)
    told = by_place(parsed)[PLACE]
    assert (told["mac"], told["mac_origin"], told["permanent_mac"]) == (
        "02:00:5e:10:00:01",
        "set",
        "00:1b:21:0a:0b:0c",
    )
    assert (told["speed_mbit_s"], told["speed_max_mbit_s"]) == (1000, 2500)
    assert (told["technology"], told["enabled"], told["operating_state"]) == ("Ethernet", True, "up")
    assert [(p.place, p.connector) for p in parsed.ports] == [(PLACE, "RJ-45")]
    assert parsed.remarks == ()


@pytest.mark.parametrize(
    ("port", "modes", "connector"),
    [(0, (5, 7), "RJ-45"), (0, (5,), "Ethernet"), (3, (10, 44), "fibre module"), (0xFF, (5, 7), "Ethernet")],
)
def test_a_jack_is_named_where_port_and_modes_agree_on_it(
    tmp_path: Path, port: int, modes: tuple[int, ...], connector: str
) -> None:
    """A driver that does not know leaves 0 there, which is the number of twisted pair."""
    interface(tmp_path, NIC, "enp6s0")
    write(tmp_path, "replies/enp6s0/ethtool-link-settings.bin", settings(modes, port))
    assert [p.connector for p in read(tmp_path, capture_network.capture, network.parse).ports] == [connector]


def test_a_recorded_machine_without_answers_asks_for_nothing_more(tmp_path: Path) -> None:
    interface(tmp_path, NIC, "enp6s0", addr_assign_type="0")
    parsed = read(tmp_path, capture_network.capture, network.parse)
    assert [s.source for s in parsed.sightings] == ["network"]
    assert by_place(parsed)[PLACE]["permanent_mac"] == "02:00:5e:10:00:01"
    assert [p.connector for p in parsed.ports] == ["Ethernet"]


@pytest.mark.parametrize(
    ("origin", "word", "told"),
    [
        ("0", "permanent", "02:00:5e:10:00:01"),
        ("1", "random", Absent.NOT_OFFERED),
        ("2", "stolen", Absent.NOT_OFFERED),
        ("9", Absent.IMPLAUSIBLE, Absent.NOT_OFFERED),
    ],
)
def test_an_address_in_use_is_the_permanent_one_only_if_the_kernel_says_so(
    tmp_path: Path, origin: str, word: object, told: object
) -> None:
    interface(tmp_path, NIC, "enp6s0", addr_assign_type=origin)
    fields = by_place(read(tmp_path, capture_network.capture, network.parse))[PLACE]
    assert (fields["mac_origin"], fields["permanent_mac"]) == (word, told)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2500", 2500),
        ("-1", Absent.NOT_OFFERED),
        ("4294967295", Absent.NOT_OFFERED),
        ("65535", Absent.NOT_OFFERED),
        ("0", Absent.NOT_OFFERED),
        ("1600001", Absent.IMPLAUSIBLE),
        ("-5", Absent.IMPLAUSIBLE),
        ("fast", Absent.IMPLAUSIBLE),
    ],
)
def test_a_speed_that_is_none_is_no_number(tmp_path: Path, text: str, told: object) -> None:
    interface(tmp_path, NIC, "enp6s0", speed=text)
    assert by_place(read(tmp_path, capture_network.capture, network.parse))[PLACE]["speed_mbit_s"] == told


def test_an_interface_that_is_down_has_no_carrier_to_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The kernel answers EINVAL then: that is not an absent cable."""
    interface(tmp_path, NIC, "enp6s0", flags="0x1002", carrier="0", speed="1000")
    failing(monkeypatch, "/carrier", errno.EINVAL)
    failing(monkeypatch, "/speed", errno.EINVAL)
    told = by_place(read(tmp_path, capture_network.capture, network.parse))[PLACE]
    assert (told["enabled"], told["carrier"]) == (False, Absent.NOT_READABLE)
    assert told["speed_mbit_s"] is Absent.NOT_OFFERED


def test_a_file_that_fails_costs_its_own_field_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    interface(tmp_path, NIC, "enp6s0", speed="1000", duplex="full")
    failing(monkeypatch, "/address")
    told = by_place(read(tmp_path, capture_network.capture, network.parse))[PLACE]
    assert (told["mac"], told["speed_mbit_s"], told["duplex"]) == (Absent.NOT_READABLE, 1000, "full")


def test_several_ports_of_one_function_are_told_apart(tmp_path: Path) -> None:
    interface(tmp_path, NIC, "enp6s0", dev_port="0")
    interface(tmp_path, NIC, "enp6s0d1", dev_port="1")
    places = list(by_place(read(tmp_path, capture_network.capture, network.parse)))
    assert places == [f"{PLACE}/port-0", f"{PLACE}/port-1"]


def test_a_radio_is_wireless_by_its_phy_and_its_interfaces_share_its_place(tmp_path: Path) -> None:
    phy = f"{RADIO}/ieee80211/phy0"
    files(tmp_path, phy, {"macaddress": "F4:00:00:00:00:01"})
    files(tmp_path, f"{phy}/rfkill0", {"type": "wlan", "soft": "1", "hard": "0"})
    files(tmp_path, f"{phy}/rfkill3", {"type": "wlan", "soft": "0", "hard": "0"})
    link(tmp_path, f"{phy}/device", RADIO)
    link(tmp_path, "sys/class/ieee80211/phy0", phy)
    for name in ("wlan0", "p2p0"):
        folder = interface(tmp_path, RADIO, name, uevent="DEVTYPE=wlan")
        link(tmp_path, f"{folder}/phy80211", phy)
    parsed = read(tmp_path, capture_network.capture, network.parse)
    assert {s.place for s in parsed.sightings} == {"pci:0000:00:14.3"}
    assert all(
        facts_of(s.said)["wireless"] is True and facts_of(s.said)["technology"] == "Wi-Fi"
        for s in parsed.sightings
    )
    assert parsed.ports == ()
    radio = by_place(read(tmp_path, capture_wireless.capture, wireless.parse))["pci:0000:00:14.3"]
    assert radio == {
        "wireless": True,
        "technology": "Wi-Fi",
        "permanent_mac": "f4:00:00:00:00:01",
        "driver": Absent.NOT_OFFERED,
        "radio_soft_blocked": True,
        "radio_hard_blocked": False,
    }


def test_pretended_radios_and_interfaces_are_no_parts(tmp_path: Path) -> None:
    virtual = "sys/devices/virtual/mac80211_hwsim/hwsim0"
    files(tmp_path, f"{virtual}/ieee80211/phy0", {"macaddress": "02:00:00:00:00:00"})
    link(tmp_path, f"{virtual}/ieee80211/phy0/device", virtual)
    link(tmp_path, "sys/class/ieee80211/phy0", f"{virtual}/ieee80211/phy0")
    interface(tmp_path, virtual, "wlan0")
    assert read(tmp_path, capture_wireless.capture, wireless.parse).sightings == ()
    assert read(tmp_path, capture_network.capture, network.parse).sightings == ()


def adapter(root: Path) -> None:
    files(root, f"{STICK}/bluetooth/hci0/rfkill1", {"type": "bluetooth", "soft": "0", "hard": "1"})
    link(root, f"{STICK}/bluetooth/hci0/device", STICK)
    link(root, "sys/class/bluetooth/hci0", f"{STICK}/bluetooth/hci0")
    write(root, "sys/bus/usb/drivers/btusb/uevent", "")
    link(root, f"{STICK}/driver", "sys/bus/usb/drivers/btusb")


def test_a_bluetooth_adapter_is_told_by_where_it_hangs_and_connections_are_left_alone(tmp_path: Path) -> None:
    adapter(tmp_path)
    write(tmp_path, f"{STICK}/bluetooth/hci0/hci0:11/uevent", "")
    link(tmp_path, "sys/class/bluetooth/hci0:11", f"{STICK}/bluetooth/hci0/hci0:11")
    parsed = read(tmp_path, capture_bluetooth.capture, bluetooth.parse)
    assert [s.kind for s in parsed.sightings] == [PartKind.BLUETOOTH]
    assert by_place(parsed) == {
        "pci:0000:00:14.0/usb-1-14": {
            "kernel_name": "hci0",
            "interface": "USB",
            "driver": "btusb",
            "radio_soft_blocked": False,
            "radio_hard_blocked": True,
        }
    }


def test_a_switch_that_fails_is_not_an_open_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    adapter(tmp_path)
    failing(monkeypatch, "rfkill1/hard")
    (told,) = by_place(read(tmp_path, capture_bluetooth.capture, bluetooth.parse)).values()
    assert (told["radio_soft_blocked"], told["radio_hard_blocked"]) == (False, Absent.NOT_READABLE)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (permanent("00:00:00:00:00:00"), Absent.NOT_OFFERED),
        (permanent("ff:ff:ff:ff:ff:ff"), Absent.IMPLAUSIBLE),
        (permanent("00:1b:21:0a:0b:0c")[:11], Absent.IMPLAUSIBLE),
        (b"", Absent.IMPLAUSIBLE),
        (settings((1,)), Absent.IMPLAUSIBLE),
    ],
)
def test_an_address_that_is_none_is_none(data: bytes, told: Absent) -> None:
    assert network_ethtool.permanent_mac(data) is told


def test_a_mode_of_the_future_and_an_answer_cut_short_are_named(tmp_path: Path) -> None:
    interface(tmp_path, NIC, "enp6s0")
    file = "replies/enp6s0/ethtool-link-settings.bin"
    write(tmp_path, file, settings((5, 120), words_each=4))
    parsed = read(tmp_path, capture_network.capture, network.parse)
    assert [(r.kind, r.detail) for r in parsed.remarks] == [(RemarkKind.NOT_UNDERSTOOD, "link modes 120")]
    assert by_place(parsed)[PLACE]["speed_max_mbit_s"] == 1000
    write(tmp_path, file, settings((5,))[:50])
    parsed = read(tmp_path, capture_network.capture, network.parse)
    assert [(r.kind, r.detail) for r in parsed.remarks] == [(RemarkKind.CUT_SHORT, "50 bytes")]


def test_any_bytes_whatever_are_taken() -> None:
    chance = random.Random(21)
    for _ in range(3000):
        data = bytearray(chance.choice((settings((1, 5, 47)), permanent("00:1b:21:0a:0b:0c"))))
        for _ in range(chance.randrange(8)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        spoiled = bytes(data[: chance.randrange(len(data) + 1)])
        network_ethtool.describe(spoiled)
        network_ethtool.link_settings(spoiled)
        network_ethtool.permanent_mac(spoiled)


def test_no_mode_stands_for_two_things() -> None:
    speeds = network_ethtool.SPEED_OF_MODE
    assert len(speeds) == sum(len(bits) for _, bits in network_ethtool._SPEEDS)
    assert not speeds.keys() & network_ethtool.NOT_A_SPEED
    assert sorted(speeds.keys() | network_ethtool.NOT_A_SPEED) == list(range(103))


def test_the_kernels_own_header_names_the_same_modes() -> None:
    """linux/ethtool.h of this machine, where it has one: `ETHTOOL_LINK_MODE_2500baseT_Full_BIT = 47`."""
    header = Path("/usr/include/linux/ethtool.h")
    if not header.is_file():
        pytest.skip("this machine has no header of the kernel's (linux-libc-dev)")
    modes = re.findall(r"ETHTOOL_LINK_MODE_(\d+)base\w+_BIT\s*=\s*(\d+)", header.read_text())
    assert len(modes) > 70
    for speed, bit in modes:
        assert network_ethtool.SPEED_OF_MODE[int(bit)] == int(speed)


def test_the_live_driver_agrees_with_sysfs_on_this_machine() -> None:
    """Where the kernel calls an address permanent, the driver's own answer is the same one."""
    parsed = network.parse(tuple(capture_network.capture(LIVE)))
    by_driver = {
        s.place: facts_of(s.said)["permanent_mac"]
        for s in parsed.sightings
        if s.source.endswith("permanent-address")
    }
    by_sysfs = {s.place: facts_of(s.said) for s in parsed.sightings if s.source == "network"}
    pairs = [
        (by_sysfs[place]["permanent_mac"], mac)
        for place, mac in by_driver.items()
        if by_sysfs[place]["mac_origin"] == "permanent" and not isinstance(mac, Absent)
    ]
    if not pairs:
        pytest.skip("no interface of this machine has a permanent address")
    assert [one for one, _ in pairs] == [other for _, other in pairs]
