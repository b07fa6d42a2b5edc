"""What a sound machine does by itself is no change of it; what somebody changed is one. By whole trees."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from shipworthy.machine.reading import read_configuration, take_reading
from shipworthy.machine.root import Root
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.reading import Configuration
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind
from tests.machine.recorded import GPU, build, link, write

ROOT_PORT = "sys/devices/pci0000:00/0000:00:03.1"
UPSTREAM = f"{ROOT_PORT}/0000:07:00.0"
DOWNSTREAM = f"{UPSTREAM}/0000:08:00.0"
CARD = f"{DOWNSTREAM}/0000:09:00.0"
SOUND = f"{DOWNSTREAM}/0000:09:00.1"
USB = "sys/devices/pci0000:00/0000:00:14.0"


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def function(root: Path, path: str, class_code: str, width: int, **files: str) -> None:
    """Add a PCI function that is awake, with a link of 16 GT/s and the most lanes that it has now."""
    rows = {
        "vendor": "0x1002",
        "device": "0x7a5e",
        "class": class_code,
        "power_state": "D0",
        "current_link_speed": "16.0 GT/s PCIe",
        "max_link_speed": "16.0 GT/s PCIe",
        "current_link_width": str(width),
        "max_link_width": str(width),
    }
    for name, text in (rows | files).items():
        write(root, f"{path}/{name}", f"{text}\n")
    name = f"sys/bus/pci/devices/{path.rsplit('/', 1)[-1]}"
    if not (root / name).exists():
        link(root, name, path)


def with_a_switched_card(root: Path, lanes: int = 16) -> None:
    """A card with a switch of its own: the switch sits in the slot, and its inner link is always full."""
    function(root, ROOT_PORT, "0x060400", lanes, max_link_width="16")
    function(root, UPSTREAM, "0x060400", lanes, max_link_width="16")
    function(root, DOWNSTREAM, "0x060400", 16)
    function(root, CARD, "0x030000", 16)
    function(root, SOUND, "0x040300", 16)


def whole(root: Path) -> Configuration:
    return take_reading(Root(root), lambda name, data: None, nonce=None, clock=PretendClock()).configuration


def now(root: Path) -> Configuration:
    return read_configuration(Root(root), PretendClock())


def changed(before: Configuration, after: Configuration) -> dict[str, tuple[Scalar | None, Scalar | None]]:
    return {key: (was, is_now) for key, was, is_now in before.changes_to(after)}


def sleep(root: Path, paths: Iterable[str]) -> None:
    """Take the power from functions: their registers are not there, the kernel shows the state."""
    for path in paths:
        write(root, f"{path}/power_state", "D3cold\n")
        write(root, f"{path}/current_link_width", "63\n")
        write(root, f"{path}/current_link_speed", "Unknown\n")


# What moves by itself


def test_ports_sound_and_usb_that_fall_asleep_make_nothing_stale(machine: Path) -> None:
    with_a_switched_card(machine)
    function(machine, USB, "0x0c0330", 1)
    thunderbolt = "sys/devices/pci0000:00/0000:00:0d.2"
    function(machine, thunderbolt, "0x088000", 1)
    empty = "sys/devices/pci0000:00/0000:00:1d.0"
    function(machine, empty, "0x060400", 4)
    before = now(machine)
    sleep(machine, (SOUND, USB, thunderbolt, empty, ROOT_PORT))
    assert changed(before, now(machine)) == {}
    assert whole(machine) == now(machine)


def test_a_card_that_nobody_has_opened_keeps_its_configuration(machine: Path) -> None:
    """NVIDIA's driver knows the card's firmware only while something uses the card."""
    write(machine, f"{GPU}/vendor", "0x10de\n")
    file = "proc/driver/nvidia/gpus/0000:01:00.0/information"
    write(machine, file, "Model: \t\t Tarn 12\nVideo BIOS: \t ??.??.??.??.??\n")
    before = now(machine)
    write(machine, file, "Model: \t\t Tarn 12\nVideo BIOS: \t 94.02.42.00.d1\n")
    assert changed(before, now(machine)) == {}
    (graphics,) = _parts(machine, PartKind.GRAPHICS)
    assert graphics.text("vbios_version") == "94.02.42.00.d1", "it is told all the same"


# What somebody changed


def test_a_switched_card_that_sits_half_in_its_slot_is_another_configuration(machine: Path) -> None:
    with_a_switched_card(machine)
    before = now(machine)
    with_a_switched_card(machine, lanes=8)
    after = now(machine)
    assert changed(before, after) == {"link/pci:0000:09:00.0/width": (16, 8)}
    assert whole(machine) == after


def test_a_card_of_the_same_model_in_the_same_slot_is_another_card(machine: Path) -> None:
    """What a shop does with a card that fails: it fits another one of the same box."""
    with_a_switched_card(machine)
    write(machine, f"{CARD}/unique_id", "a1b2c3d4e5f60718\n")
    before = now(machine)
    write(machine, f"{CARD}/unique_id", "a1b2c3d4e5f60999\n")
    key = "graphics/pci:0000:09:00.0/unique_id"
    assert changed(before, now(machine)) == {key: ("a1b2c3d4e5f60718", "a1b2c3d4e5f60999")}


def _parts(root: Path, kind: PartKind) -> tuple[Part, ...]:
    reading = take_reading(Root(root), lambda name, data: None, nonce=None, clock=PretendClock())
    return reading.of_kind(kind)
