"""The configuration space: spaces built from the specification, held against lspci where it is installed."""

from __future__ import annotations

import csv
import shutil
import struct
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.lspci_text import source as lspci_text
from shipworthy.machine.parse.pci.config import (
    decode,
    describe,
    from_bytes,
    from_pieces,
    names_of,
    slot_power_w,
)
from shipworthy.machine.parse.pci.config_words import CORRECTABLE, UNCORRECTABLE, Config, Express
from shipworthy.machine.parse.pci.facts import config_facts
from shipworthy.machine.parse.pci.links import gbit_s
from shipworthy.machine.raw import Reply
from shipworthy.model.base import Scalar
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import RemarkKind
from tests.machine.bounded import ends
from tests.machine.pci_spaces import (
    errors,
    express,
    extended,
    graphics_card,
    hex_dump,
    power,
    resizable,
    root_port,
    space,
)


def decoded(data: bytes) -> Config:
    config = decode(from_bytes(data))
    assert config is not None
    return config


def told(config: Config) -> Express:
    assert config.express is not None
    return config.express


def test_a_card_tells_its_link_its_errors_its_serial_and_its_bars() -> None:
    config = decoded(graphics_card())
    assert (config.vendor, config.device, config.revision, config.class_code) == (
        0x7A52,
        0x0C71,
        0xC1,
        0x030000,
    )
    assert config.subsystem == (0x7E5A, 0xB601)
    link = told(config)
    assert link.port_type == "endpoint"
    assert (link.link_speed_gt_s, link.link_width) == (2.5, 8)
    assert (link.link_max_speed_gt_s, link.link_max_width, link.target_speed_gt_s) == (16.0, 16, 16.0)
    assert (link.payload_bytes, link.payload_max_bytes) == (256, 512)
    assert config.serial == "00-11-22-ff-fe-33-44-55"
    assert config.errors is not None
    assert names_of(config.errors.correctable, CORRECTABLE) == "RxErr, BadTLP"
    assert names_of(config.errors.uncorrectable, UNCORRECTABLE) == "CmpltTO, UnsupReq"
    first, second = config.resizable
    assert (first.bar, first.size_bytes, max(first.sizes)) == (0, 256 << 20, 16 << 30)
    assert (second.bar, second.size_bytes, second.sizes) == (2, 2 << 20, (2 << 20, 4 << 20))
    assert config.faults == ()


def test_a_port_tells_its_slot_its_buses_and_its_subsystem() -> None:
    config = decoded(root_port())
    link = told(config)
    assert (link.port_type, link.slot, link.slot_number, link.slot_power_w) == ("root port", True, 3, 75.0)
    assert config.buses == (0, 1, 1)
    assert config.subsystem == (0x7E5A, 0xB601)
    assert len(config.bars) == 2


@pytest.mark.parametrize(
    ("register", "speed", "width"),  # check-values/pcie-power.md: examples of Link Status
    [(0x1104, 16.0, 16), (0x0043, 8.0, 4), (0x0101, 2.5, 16)],
)
def test_link_status_is_read_as_the_check_values_have_it(register: int, speed: float, width: int) -> None:
    data = space()
    express(data, 0x40, 0)
    struct.pack_into("<H", data, 0x52, register)
    link = told(decoded(bytes(data)))
    assert (link.link_speed_gt_s, link.link_width) == (speed, width)


@pytest.mark.parametrize("register", [0, 0x03F0, 0xFFFF, 0x000F])
def test_a_link_status_that_cannot_be_gives_no_number(register: int) -> None:
    data = space()
    express(data, 0x40, 0)
    struct.pack_into("<H", data, 0x52, register)
    link = told(decoded(bytes(data)))
    assert link.link_speed_gt_s is None and link.link_width is None


@pytest.mark.parametrize(
    ("value", "scale", "watts"),
    [(75, 0, 75.0), (250, 1, 25.0), (100, 2, 1.0), (0, 0, None), (0xF0, 0, 250.0), (0xF2, 0, 300.0)],
)
def test_slot_power(value: int, scale: int, watts: float | None) -> None:
    """PCI Express Base Specification, 7.5.3.9; 75 at scale 0 is also in check-values/pcie-power.md."""
    assert slot_power_w(value << 7 | scale << 15) == watts


def test_bandwidth_is_that_of_the_check_values(reference: Path) -> None:
    with (reference / "check-values" / "pcie-bandwidth.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 30
    for row in rows:
        want = float(row["Gbit_per_s_per_direction"])
        assert gbit_s(float(row["GT_per_s"]), int(row["width"])) == pytest.approx(want, abs=1e-4)


def test_without_root_the_header_is_read_and_the_capabilities_are_named_unreadable() -> None:
    config = decoded(graphics_card()[:64])
    assert config.vendor == 0x7A52 and config.readable is False and config.express is None
    assert [(f.name, str(f.absent)) for f in config_facts(config)] == [
        ("port_type", "not readable"),
        ("payload_bytes", "not readable"),
    ]


def test_without_extended_space_the_rest_stands() -> None:
    config = decoded(graphics_card()[:256])
    assert told(config).link_width == 8
    assert config.readable and not config.extended_readable and config.errors is None


def test_a_loop_of_capabilities_ends_and_is_named() -> None:
    data = space()
    power(data, 0x40, 0x48)
    power(data, 0x48, 0x40)
    config = decoded(bytes(data))
    assert [c.at for c in config.capabilities] == [0x40, 0x48]
    assert [(f.kind, f.detail) for f in config.faults] == [(RemarkKind.BAD_REFERENCE, "a loop at 0x40")]


def test_a_loop_of_extended_capabilities_ends_and_is_named() -> None:
    data = space()
    express(data, 0x40, 0)
    extended(data, 0x100, 0x0001, 0x140, errors())
    extended(data, 0x140, 0x0018, 0x100, b"")
    config = decoded(bytes(data))
    assert [c.at for c in config.capabilities] == [0x40, 0x100, 0x140]
    assert [f.detail for f in config.faults] == ["a loop at 0x100"]


@pytest.mark.parametrize(("first", "detail"), [(0x10, "points to 0x10"), (0x3C, "points to 0x3c")])
def test_a_list_that_points_into_the_header_is_named(first: int, detail: str) -> None:
    config = decoded(bytes(space(first=first)))
    assert [f.detail for f in config.faults] == [detail]
    assert config.capabilities == ()


def test_a_resizable_bar_that_cannot_be_is_named() -> None:
    data = space()
    express(data, 0x40, 0)
    extended(data, 0x100, 0x0015, 0, resizable((7, 8, 0b1)))
    config = decoded(bytes(data))
    assert config.resizable == ()
    assert config.faults[0].kind is RemarkKind.BAD_VALUE and config.faults[0].detail == "BAR 7, size code 8"


@pytest.mark.parametrize("data", [b"", b"\xff" * 256, b"\0" * 64, b"\x52\x7a"])
def test_what_is_no_header_gives_nothing(data: bytes) -> None:
    assert decode(from_bytes(data)) is None
    assert describe(data) == ()


def test_the_pieces_that_were_read_decode_as_the_whole() -> None:
    whole = graphics_card()
    pieces: dict[int, bytes] = {}

    def fetch(at: int, count: int) -> bytes:
        pieces[at] = max(pieces.get(at, b""), whole[at : at + count], key=len)
        return whole[at : at + count]

    config = decode(fetch)
    assert decode(from_pieces(pieces)) == config == decoded(whole)
    assert sum(len(piece) for piece in pieces.values()) < 200


def test_a_description_names_every_capability() -> None:
    sections = describe(graphics_card())
    assert [section.title for section in sections] == [
        "header",
        "power management",
        "PCI Express",
        "advanced error reporting",
        "device serial number",
        "resizable BAR",
    ]
    assert ("link_width", 8) in sections[2].fields
    assert sections[2].where == "offset 0x060"


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=4096), st.booleans())
def test_no_bytes_raise_and_every_walk_ends(data: bytes, listed: bool) -> None:
    if listed and len(data) > 64:  # so that the lists are entered, too
        data = data[:6] + b"\x10" + data[7:14] + bytes([data[14] & 1]) + data[15:]
    config = ends(lambda: decode(from_bytes(data)))
    ends(lambda: describe(data))
    if config is not None:
        assert len({(c.at, c.extended) for c in config.capabilities}) == len(config.capabilities)
        config_facts(config)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4095), st.integers(0, 255)), max_size=12))
def test_a_spoiled_card_raises_nothing(changes: list[tuple[int, int]]) -> None:
    data = bytearray(graphics_card())
    for at, value in changes:
        data[at] = value
    config = decode(from_bytes(bytes(data)))
    config_facts(config)
    describe(bytes(data))


def by_lspci(folder: Path, *spaces: tuple[str, bytes]) -> dict[str, dict[str, Scalar | None]]:
    """What lspci prints of these spaces, read by our own reader of its report."""
    if shutil.which("lspci") is None:
        pytest.skip("lspci is not installed")
    dump = folder / "dump.txt"
    dump.write_text("".join(hex_dump(address, data) for address, data in spaces))
    told = subprocess.run(["lspci", "-F", dump, "-vvnn"], capture_output=True, check=True)
    parsed = lspci_text.parse((Reply("lspci-text.1", "/x", SourceOutcome.READ, told.stdout),))
    return {s.place: {f.name: f.value for f in s.said} for s in parsed.sightings}


@pytest.mark.parametrize("now", [(2.5, 8), (8.0, 16), (16.0, 4)])
@pytest.mark.parametrize("payload", [(0, 0), (2, 3)])
def test_lspci_reads_the_same_from_the_same_bytes(
    tmp_path: Path, now: tuple[float, int], payload: tuple[int, int]
) -> None:
    data = space()
    power(data, 0x40, 0x60)
    express(data, 0x60, 0, kind=0, now=now, most=(32.0, 16), target=32.0, payload=payload)
    extended(data, 0x100, 0x0001, 0x150, errors(1 << 4 | 1 << 18, 1 << 12), version=2)
    extended(data, 0x150, 0x0015, 0, resizable((1, 14, 0b1 << 14 | 0b1 << 8)))
    card = bytes(data)
    theirs = by_lspci(tmp_path, ("00:01.0", root_port()), ("01:00.0", card))
    for place, ours in (("pci:0000:00:01.0", root_port()), ("pci:0000:01:00.0", card)):
        config = decoded(ours)
        link = told(config)
        for field in config_facts(config):
            assert theirs[place].get(field.name) == field.value, field.name
        assert theirs[place]["link_speed_gt_s"] == link.link_speed_gt_s
        assert theirs[place]["link_width"] == link.link_width
        assert theirs[place]["link_max_speed_gt_s"] == link.link_max_speed_gt_s
        assert theirs[place]["link_max_width"] == link.link_max_width
    assert theirs["pci:0000:01:00.0"]["resizable_bar"] == "on"
