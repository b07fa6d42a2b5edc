"""Links of PCI Express while they are sampled: which have columns, what their ends can do, what they give."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import Sampler, device_of, list_columns
from shipworthy.model.runlog import Column
from shipworthy.model.words import Unit
from tests.machine.recorded import link, write

ROOT_PORT = "sys/devices/pci0000:00/0000:00:01.0"
DRIVE_PORT = "sys/devices/pci0000:00/0000:00:1d.0"
NETWORK = "sys/devices/pci0000:00/0000:00:1c.0/0000:06:00.0"
UPSTREAM = f"{ROOT_PORT}/0000:01:00.0"
CARD = f"{UPSTREAM}/0000:02:00.0/0000:03:00.0"
DRIVE = f"{DRIVE_PORT}/0000:04:00.0"
BRIDGE, DISPLAY, NVME, SATA, ETHERNET = "0x060400", "0x030000", "0x010802", "0x010601", "0x020000"


def function(root: Path, path: str, kind: str, most: tuple[float, int] | None = (16.0, 16)) -> None:
    write(root, f"{path}/class", f"{kind}\n")
    if most is not None:
        for when in ("current", "max"):
            write(root, f"{path}/{when}_link_speed", f"{most[0]} GT/s PCIe\n")
            write(root, f"{path}/{when}_link_width", f"{most[1]}\n")
    link(root, f"sys/bus/pci/devices/{path.rsplit('/', 1)[-1]}", path)


def set_to(root: Path, path: str, speed: str, width: str) -> None:
    write(root, f"{path}/current_link_speed", f"{speed}\n")
    write(root, f"{path}/current_link_width", f"{width}\n")


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A card with a switch of its own in a slot of the fourth generation, a drive behind a port of the third,
    a network port, and a controller within the chipset."""
    for step in (UPSTREAM, f"{UPSTREAM}/0000:02:00.0"):
        function(tmp_path, step, BRIDGE, (32.0, 16))
    function(tmp_path, ROOT_PORT, BRIDGE, (16.0, 16))
    function(tmp_path, CARD, DISPLAY, (32.0, 16))
    function(tmp_path, DRIVE_PORT, BRIDGE, (8.0, 4))
    function(tmp_path, DRIVE, NVME, (16.0, 4))
    function(tmp_path, "sys/devices/pci0000:00/0000:00:1c.0", BRIDGE, (8.0, 1))
    function(tmp_path, NETWORK, ETHERNET, (8.0, 1))
    function(tmp_path, "sys/devices/pci0000:00/0000:00:17.0", SATA, None)
    return tmp_path


def links(root: Path) -> dict[tuple[str, str, str], Column]:
    return {
        (c.place, c.channel, c.quantity): c
        for c in list_columns(Root(root))
        if c.quantity in ("link speed", "link width")
    }


def sampled(root: Path) -> dict[tuple[str, str, str], float | None]:
    columns = links(root)
    return dict(zip(columns, Sampler(Root(root), tuple(columns.values())).sample(), strict=True))


def test_each_link_on_the_way_of_a_card_or_an_nvme_drive_has_two_columns(machine: Path) -> None:
    """The card's slot is the link whose lower end is the card's own switch."""
    columns = links(machine)
    assert {(place, channel) for place, channel, _ in columns} == {
        ("pci:0000:03:00.0", "link"),
        ("pci:0000:03:00.0", "link@0000:01:00.0"),
        ("pci:0000:04:00.0", "link"),
    }
    slot = columns["pci:0000:03:00.0", "link@0000:01:00.0", "link width"]
    assert slot.source == "/sys/bus/pci/devices/0000:01:00.0/current_link_width"
    assert {device_of(column) for column in columns.values()} == {
        f"/sys/bus/pci/devices/0000:{at}:00.0" for at in ("01", "03", "04")
    }


def test_what_a_link_can_do_is_what_its_lesser_end_can(machine: Path) -> None:
    columns = links(machine)
    most = {key: column.high for key, column in columns.items()}
    assert most["pci:0000:03:00.0", "link@0000:01:00.0", "link speed"] == 16.0
    assert most["pci:0000:03:00.0", "link", "link speed"] == 32.0
    assert most["pci:0000:04:00.0", "link", "link speed"] == 8.0
    assert most["pci:0000:04:00.0", "link", "link width"] == 4.0
    units = {quantity: column.unit for (_, _, quantity), column in columns.items()}
    assert units == {"link speed": Unit.GIGATRANSFERS, "link width": Unit.COUNT}


def test_a_sample_is_what_the_link_is_now(machine: Path) -> None:
    set_to(machine, UPSTREAM, "2.5 GT/s PCIe", "8")
    row = sampled(machine)
    assert row["pci:0000:03:00.0", "link@0000:01:00.0", "link speed"] == 2.5
    assert row["pci:0000:03:00.0", "link@0000:01:00.0", "link width"] == 8.0
    assert row["pci:0000:03:00.0", "link", "link width"] == 16.0


@pytest.mark.parametrize(
    ("speed", "width"), [("Unknown", "0"), ("Unknown speed", "63"), ("", "255"), ("-", "x")]
)
def test_no_link_at_the_moment_is_no_value(machine: Path, speed: str, width: str) -> None:
    set_to(machine, DRIVE, speed, width)
    row = sampled(machine)
    assert row["pci:0000:04:00.0", "link", "link speed"] is None
    assert row["pci:0000:04:00.0", "link", "link width"] is None


def test_a_part_that_the_kernel_has_suspended_is_not_asked(machine: Path) -> None:
    write(machine, f"{CARD}/power/runtime_status", "suspended\n")
    columns = links(machine)
    sampler = Sampler(Root(machine), tuple(columns.values()))
    key = ("pci:0000:03:00.0", "link", "link width")
    assert dict(zip(columns, sampler.sample(), strict=True))[key] is None
    write(machine, f"{CARD}/power/runtime_status", "active\n")
    assert dict(zip(columns, sampler.sample(), strict=True))[key] == 16.0


def test_a_part_that_sleeps_without_power_keeps_its_columns_and_names_no_most(machine: Path) -> None:
    """What would be read of its registers then are ones alone."""
    write(machine, f"{CARD}/power_state", "D3cold\n")
    write(machine, f"{CARD}/max_link_width", "63\n")
    own = links(machine)["pci:0000:03:00.0", "link", "link width"]
    assert own.high == 16.0  # of the port above it


def test_what_has_no_link_has_no_column(tmp_path: Path) -> None:
    """Graphics within a processor on the root's own bus, and a virtual machine's card."""
    function(tmp_path, "sys/devices/pci0000:00/0000:00:02.0", DISPLAY, None)
    assert links(tmp_path) == {}
    assert links(tmp_path / "nothing") == {}
