"""A soldered eMMC is the board's own, a card in a reader is somebody's: the kernel's `type` tells which."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.compare.contents import is_carried
from shipworthy.compare.onboard import is_soldered
from shipworthy.machine.capture.block import capture
from shipworthy.machine.configuration import configuration_of
from shipworthy.machine.parse.block import parse
from shipworthy.machine.parse.wiring import storage_place
from shipworthy.machine.root import Root
from shipworthy.model.words import PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.orders.draft_system import systems
from tests.compare import machines as m

HOST = "sys/devices/pci0000:00/0000:00:1a.0/mmc_host/mmc0/mmc0:0001"


def put(root: Path, name: str, text: str) -> None:
    file = root / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text + "\n")


def tree(root: Path, kind: str | None, *, areas: tuple[str, ...] = (), removable: str = "") -> Root:
    """A machine with one device on MMC, as sysfs has it."""
    (root / "sys/block").mkdir(parents=True)
    for name in ("mmcblk0", *areas):
        folder = f"{HOST}/block/mmcblk0" + (f"/{name}" if name != "mmcblk0" else "")
        put(root, f"{folder}/size", "8192" if name != "mmcblk0" else "122142720")
        put(root, f"{folder}/queue/rotational", "0")
        (root / folder / "device").symlink_to(
            root / HOST if name == "mmcblk0" else root / HOST / "block/mmcblk0"
        )
        (root / "sys/block" / name).symlink_to(root / folder)
    put(root, f"{HOST}/name", "QE64")
    put(root, f"{HOST}/serial", "0x1f2e3d4c")
    if kind is not None:
        put(root, f"{HOST}/type", kind)
    if removable:
        put(root, f"{HOST}/removable", removable)
    return Root(root)


AREAS = ("mmcblk0boot0", "mmcblk0boot1")


@pytest.mark.parametrize(
    ("kind", "areas", "removable", "interface"),
    [
        ("MMC", AREAS, "", "eMMC"),
        ("MMC", AREAS, "fixed", "eMMC"),
        ("MMC", AREAS, "removable", "MMC"),  # an eMMC on an adapter in a reader
        ("MMC", (), "fixed", "MMC"),  # a card of the days before eMMC
        ("SD", (), "removable", "SD"),
        ("SD", (), "fixed", "SD"),
        ("SDcombo", (), "", "SD"),
        (None, AREAS, "", "MMC"),  # nobody said
        ("SDIO", (), "", "MMC"),
    ],
)
def test_what_is_on_mmc_is_told_by_the_kernels_type(
    tmp_path: Path, kind: str | None, areas: tuple[str, ...], removable: str, interface: str
) -> None:
    root = tree(tmp_path, kind, areas=areas, removable=removable)
    (found,) = parse(tuple(capture(root))).sightings
    told = {one.name: one.value for one in found.said}
    assert (found.kind, told["interface"]) == (PartKind.STORAGE, interface)
    assert (told["model"], told["serial"], told["size_bytes"]) == ("QE64", "0x1f2e3d4c", 122142720 * 512)


def test_the_areas_of_an_emmc_are_no_drives_in_an_older_reading_either() -> None:
    path = f"/{HOST}/block/mmcblk0"
    assert storage_place(path) is not None
    for area in ("boot0", "boot1", "rpmb", "gp0"):
        assert storage_place(f"{path}/mmcblk0{area}") is None


def test_only_an_emmc_is_the_boards_and_only_cards_are_carried_about() -> None:
    drives = {kind: m.drive(f"pci:{kind}/mmc", interface=kind) for kind in ("eMMC", "SD", "MMC", "NVMe")}
    reading = m.machine(*drives.values())
    assert [kind for kind, part in drives.items() if is_soldered(part, reading)] == ["eMMC"]
    assert [kind for kind, part in drives.items() if is_carried(part)] == ["SD", "MMC"]


def test_a_card_left_in_the_reader_is_not_drafted_into_an_order() -> None:
    card = m.drive("pci:1/mmc", interface="SD", model="SD64G")
    kept = m.drive("pci:2/nvme-ns-1", interface="NVMe", model="Quarrel Q7")
    order = draft_order(m.machine(card, kept), order_id="KD-1", shop="Kestrel Desk", unit_id="KD-1-1")
    texts = [line.text for line in order.lines]
    assert any("Quarrel" in text for text in texts) and not any("SD64G" in text for text in texts)


def test_a_card_is_no_part_of_the_configuration_and_an_emmc_is() -> None:
    drives = [m.drive(f"pci:{kind}/mmc", interface=kind, serial=kind) for kind in ("eMMC", "SD", "MMC")]
    keys = " ".join(item.key for item in configuration_of(drives).items)
    assert "storage/pci:eMMC/mmc/serial" in keys and "storage/pci:MMC/mmc/serial" in keys
    assert "pci:SD" not in keys


def test_a_system_on_a_card_is_not_the_units() -> None:
    here = {"partitions": 2, "partition_table": "gpt", "file_systems": "ext4"}
    assert list(systems(m.machine(m.drive("pci:1/mmc", interface="SD", **here)))) == []
    assert len(list(systems(m.machine(m.drive("pci:1/mmc", interface="eMMC", **here))))) == 1
