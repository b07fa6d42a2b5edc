"""Which product a card is, whether its whole memory is reached, and what its driver says."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import pci as capture
from shipworthy.machine.parse.amdgpu_ids import read_products
from shipworthy.machine.parse.graphics import (
    chip_and_products,
    name_card,
    product_name,
    resizable_bar,
)
from shipworthy.machine.parse.pci import source as pci
from shipworthy.machine.root import Root
from shipworthy.model.words import Absent
from tests.machine.facts_of import Facts, facts_at
from tests.machine.recorded import link, write

GIB = 1 << 30
NOBODY: tuple[tuple[str, ...], bool] = ((), False)
LIST = (
    "# a list\n1.0.0\n"
    "7A10,\tC0,\tNorvik Storm 14 XT\n7A10,\tC1,\tNorvik Storm 14\n7A10,\tC3,\tNorvik Storm 13\n"
    "7A10,\tC3,\tNorvik Storm 13M\n7A11,\t00,\tNorvik Calm 2\n7A12,\tE5,\tNorvik Storm 15 12GB\n"
    "7A12,\tE5,\tNorvik Storm 15 10GB\nrubbish\n"
)


def facts(root: Path, address: str = "0000:03:00.0") -> Facts:
    parsed = pci.parse(tuple(capture.capture(Root(root))))
    return facts_at(parsed, f"pci:{address}")


def card(root: Path, **attributes: str) -> Path:
    """A card of AMD's vendor id with an invented device, below a recorded machine."""
    folder = "sys/devices/pci0000:00/0000:00:01.1/0000:03:00.0"
    known = {
        "vendor": "0x1002",
        "device": "0x7a10",
        "revision": "0xc1",
        "class": "0x030000",
        "subsystem_vendor": "0x7e5a",
        "subsystem_device": "0xb601",
    }
    for name, text in (known | attributes).items():
        write(root, f"{folder}/{name}", f"{text}\n")
    link(root, "sys/bus/pci/devices/0000:03:00.0", folder)
    write(root, "usr/share/libdrm/amdgpu.ids", LIST)
    return root


@pytest.mark.parametrize(
    ("device", "revision", "names", "sure"),
    [
        (0x7A10, 0xC1, ("Norvik Storm 14",), True),
        (0x7A10, 0xC3, ("Norvik Storm 13", "Norvik Storm 13M"), True),
        (0x7A11, 0x01, ("Norvik Calm 2",), False),
        (0x7A11, None, ("Norvik Calm 2",), False),
        (0x7A99, 0xC0, (), False),
    ],
)
def test_the_list_names_products_by_device_and_revision(
    device: int, revision: int | None, names: tuple[str, ...], sure: bool
) -> None:
    assert read_products(LIST).of(device, revision) == (names, sure)


def test_one_product_by_device_and_revision_is_the_model(tmp_path: Path) -> None:
    found = facts(card(tmp_path))
    assert found["model"] == "Norvik Storm 14" and "model_candidates" not in found


@pytest.mark.parametrize("revision", ["0xc3", "0x77"])
def test_several_products_are_candidates_and_no_model(tmp_path: Path, revision: str) -> None:
    found = facts(card(tmp_path, revision=revision))
    assert found["model"] is Absent.NOT_OFFERED
    assert "Norvik Storm 13 | Norvik Storm 13M" in str(found["model_candidates"])


def test_a_revision_that_is_not_listed_proves_nothing_even_of_one_product(tmp_path: Path) -> None:
    found = facts(card(tmp_path, device="0x7a11", revision="0x05"))
    assert found["model"] is Absent.NOT_OFFERED and found["model_candidates"] == "Norvik Calm 2"


def test_memory_tells_products_apart_whose_names_have_its_size(tmp_path: Path) -> None:
    memory = {"mem_info_vram_total": str(12 * GIB - (16 << 20)), "device": "0x7a12", "revision": "0xe5"}
    assert facts(card(tmp_path, **memory))["model"] == "Norvik Storm 15 12GB"


def test_a_name_with_another_memory_is_not_believed() -> None:
    naming = name_card((("Storm 15 12GB",), True), "", "", 8 * GIB)
    assert naming.model == "" and naming.candidates == ("Storm 15 12GB",)


def test_the_card_by_its_subsystem_leaves_one_product(tmp_path: Path) -> None:
    root = card(tmp_path, device="0x7a40")
    write(
        root,
        "usr/share/misc/pci.ids",
        "1002  Norvik\n# a remark\n\t7a40  Vale [Norvik RX 470/480/580]\n\t\t7e5a b601  Tarn RX 480 8G\n",
    )
    found = facts(root)
    assert (found["model"], found["chip"], found["card_model"]) == ("Norvik RX 480", "Vale", "Tarn RX 480 8G")


@pytest.mark.parametrize(
    ("listed", "chip", "products"),
    [
        ("Vale 22 [Norvik RX 6700/6700 XT / 6800M]", "Vale 22", ("RX 6700", "RX 6700 XT", "RX 6800M")),
        (
            "TU1 [Sable RTX 30 Mobile / Max-Q 8GB/16GB]",
            "TU1",
            ("RTX 30 Mobile", "RTX 30 Max-Q 8GB", "RTX 30 Max-Q 16GB"),
        ),
        ("Cape [Norvik R7 370 / R9 270/370 OEM]", "Cape", ("R7 370", "R9 270", "R9 370 OEM")),
        ("GA1 [Sable RTX 3080]", "GA1", ("RTX 3080",)),
    ],
)
def test_a_name_in_the_list_is_taken_apart(listed: str, chip: str, products: tuple[str, ...]) -> None:
    brand = listed.split("[")[1].split()[0]
    assert chip_and_products(listed) == (chip, tuple(f"{brand} {product}" for product in products))


def test_a_name_without_brackets_is_one_product() -> None:
    assert name_card(NOBODY, "Ember 12G", "", None).model == "Ember 12G"
    assert name_card(NOBODY, "", "", None).model == ""


@pytest.mark.parametrize("text", ["Graphics Device", "NVIDIA Graphics Device", "", "N/A", "Unknown"])
def test_a_driver_that_does_not_know_a_card_gives_it_no_name(text: str) -> None:
    assert product_name(text) == ""


@pytest.mark.parametrize(
    ("memory", "visible", "able", "want"),
    [
        (12 * GIB, 16 * GIB, (), "on"),
        (12 * GIB, GIB // 4, (), "off"),
        (12 * GIB, 12 * GIB, (), "on"),
        (None, GIB // 4, (), None),
        (None, None, ((GIB // 4, (GIB // 4, 16 * GIB)),), "off"),
        (None, None, ((16 * GIB, (GIB // 4, 16 * GIB)), (2 << 20, (2 << 20,))), "on"),
        (None, None, ((GIB, ()),), None),
    ],
)
def test_resizable_bar_is_on_where_the_whole_memory_is_reached(
    memory: int | None, visible: int | None, able: tuple[tuple[int, tuple[int, ...]], ...], want: str | None
) -> None:
    assert resizable_bar(memory, visible, able) == want


def test_what_amds_driver_says(tmp_path: Path) -> None:
    found = facts(
        card(
            tmp_path,
            mem_info_vram_total=str(12 * GIB),
            mem_info_vis_vram_total=str(256 << 20),
            mem_info_vram_vendor="samsung",
            vbios_version="113-TARN-01",
            unique_id="4f1c1d2e3a4b5c6d",
            serial_number="N/A",
            pcie_replay_count="3",
            pp_dpm_pcie="0: 2.5GT/s, x1 \n1: 16.0GT/s, x16 619Mhz *",
        )
    )
    assert found["memory_bytes"] == 12 * GIB and found["visible_memory_bytes"] == 256 << 20
    assert found["resizable_bar"] == "off"
    assert found["vbios_version"] == "113-TARN-01" and found["unique_id"] == "4f1c1d2e3a4b5c6d"
    assert found["memory_vendor"] == "samsung" and found["pcie_replays"] == 3
    assert (found["driver_link_max_speed_gt_s"], found["driver_link_max_width"]) == (16.0, 16)
    assert "serial" not in found


@pytest.mark.parametrize(
    ("text", "serial", "of_function"),
    [("NV-00017", "NV-00017", None), ("00-11-22-ff-fe-33-44-55", None, "00-11-22-ff-fe-33-44-55")],
)
def test_a_cards_serial_and_its_functions_serial_share_a_file_name(
    tmp_path: Path, text: str, serial: str | None, of_function: str | None
) -> None:
    found = facts(card(tmp_path, serial_number=text))
    assert (found.get("serial"), found.get("pci_serial")) == (serial, of_function)


def test_what_nvidias_driver_says_below_proc(tmp_path: Path) -> None:
    root = card(tmp_path, vendor="0x10de", device="0x7b00")
    write(
        root,
        "proc/driver/nvidia/gpus/0000:03:00.0/information",
        "Model: \t\t Sable RTX 30\nIRQ:   \t\t 99\nGPU UUID: \t GPU-0a1b\nVideo BIOS: \t ??.??.??.??.??\n",
    )
    found = facts(root)
    assert (found["model"], found["uuid"]) == ("Sable RTX 30", "GPU-0a1b")
    assert "vbios_version" not in found


def test_the_drivers_name_and_the_lists_are_two_sources(tmp_path: Path) -> None:
    root = card(tmp_path, product_name="Norvik Storm 14 Pro")
    parsed = pci.parse(tuple(capture.capture(Root(root))))
    names = {s.source: f.value for s in parsed.sightings for f in s.said if f.name == "model"}
    assert names == {"pci": "Norvik Storm 14 Pro", "pci.amdgpu-ids": "Norvik Storm 14"}


@given(st.text(), st.text(), st.integers(0, 1 << 40))
def test_no_name_raises(listed: str, card_name: str, memory: int) -> None:
    chip_and_products(listed)
    naming = name_card(NOBODY, listed, card_name, memory)
    assert not (naming.model and naming.candidates)
    read_products(listed)


def test_every_line_of_the_real_list_is_one_product_or_named_candidates(reference: Path) -> None:
    text = (reference / "names" / "amdgpu.ids").read_text("utf-8")
    rows = [r.split(",\t") for r in text.splitlines() if not r.startswith("#") and r.count(",\t") == 2]
    assert len(rows) > 500
    products = read_products(text)
    for device, revision, name in rows:
        names, sure = products.of(int(device, 16), int(revision, 16))
        assert sure and name.strip() in names
    assert len({device for device, *_ in rows}) == 198
    assert sum(len(products.of(int(d, 16), None)[0]) > 1 for d in {r[0] for r in rows}) == 69
