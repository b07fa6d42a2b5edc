"""Names from the system's id lists: the forms of our own making, the real lists, and a display's maker."""

from __future__ import annotations

import lzma
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import displays as capture_displays
from shipworthy.machine.capture.id_databases import PNP_FILES, USB_FILES, names_reply
from shipworthy.machine.parse.edid import displays
from shipworthy.machine.parse.id_databases import lines_about, read_names
from shipworthy.machine.raw import Parsed
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.edid_bytes import base, cta, data_block, text_descriptor

IDS = b"""# a list of our own
# Syntax: vendor  name

1a01  Norvik Components
\t0001  Bridge N1
\t\t1a01 0007  Card of the bridge
# a remark among the devices
\t00ff  Controller N255
1a02  Tarn Works
\t0001  Tarn Reader

C 03  Display controller
\t00  VGA compatible
"""
PNP = b"HLW\tHolloway Displays\nLFQ\tLindwall Optics AB\nTRN\tTarn Works\n"
PCI_HWDB = b"""# compiled from a list
pci:v00001A01*
 ID_VENDOR_FROM_DATABASE=Norvik Components

pci:v00001A01d00000001*
 ID_MODEL_FROM_DATABASE=Bridge N1

pci:v00001A01d00000001sv00001A01sd00000007*
 ID_MODEL_FROM_DATABASE=Card of the bridge
"""
USB_HWDB = b"""
usb:v1A02*
 ID_VENDOR_FROM_DATABASE=Tarn Works

usb:v1A02p00FF*
 ID_MODEL_FROM_DATABASE=Tarn Reader
"""
PNP_HWDB = (
    b"\nacpi:LFQ*:\n ID_VENDOR_FROM_DATABASE=Lindwall Optics AB\n\nacpi:LFQX*:\n ID_VENDOR_FROM_DATABASE=No\n"
)


def test_only_the_wanted_lines_of_a_list_are_kept() -> None:
    kept = lines_about(IDS, {("1a01", "00ff"), ("1a02", ""), ("ffff", "0001")})
    assert kept == b"1a01  Norvik Components\n\t00ff  Controller N255\n1a02  Tarn Works\n"
    names = read_names(kept.decode())
    assert names == {
        ("1a01", ""): "Norvik Components",
        ("1a01", "00ff"): "Controller N255",
        ("1a02", ""): "Tarn Works",
    }


def test_a_whole_list_has_no_cards_and_no_classes() -> None:
    names = read_names(IDS.decode())
    assert names["1a01", "0001"] == "Bridge N1"
    assert names["1a01", "00ff"] == "Controller N255"
    assert len(names) == 5
    assert "VGA compatible" not in names.values()


@pytest.mark.parametrize(
    ("data", "wanted", "names"),
    [
        (PNP, {("LFQ", "")}, {("LFQ", ""): "Lindwall Optics AB"}),
        (PNP_HWDB, {("LFQ", "")}, {("LFQ", ""): "Lindwall Optics AB"}),
        (
            PCI_HWDB,
            {("1a01", "0001")},
            {("1a01", ""): "Norvik Components", ("1a01", "0001"): "Bridge N1"},
        ),
        (USB_HWDB, {("1a02", "00ff")}, {("1a02", ""): "Tarn Works", ("1a02", "00ff"): "Tarn Reader"}),
        (PNP, {("XYZ", ""), ("", "")}, {}),
        (b"", {("1a01", "")}, {}),
    ],
)
def test_every_form_gives_the_same_names(
    data: bytes, wanted: set[tuple[str, str]], names: dict[tuple[str, str], str]
) -> None:
    assert read_names(lines_about(data, wanted).decode()) == names


@given(st.binary(max_size=200), st.sets(st.tuples(st.text(max_size=4), st.text(max_size=4)), max_size=4))
def test_nothing_raises(data: bytes, wanted: set[tuple[str, str]]) -> None:
    for whole in (data, IDS + data, PCI_HWDB + data):
        read_names(lines_about(whole, wanted).decode("utf-8", "replace"))


def put(root: Path, locator: str, data: bytes) -> None:
    file = root / locator.lstrip("/")
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)


@pytest.mark.parametrize("locator", PNP_FILES)
def test_the_first_list_that_is_installed_is_asked(tmp_path: Path, locator: str) -> None:
    put(tmp_path, locator, PNP_HWDB if locator.endswith("hwdb") else PNP)
    reply = names_reply(Root(tmp_path), "displays.names", PNP_FILES, {("LFQ", "")})
    assert (reply.id, reply.locator, reply.outcome) == ("displays.names", locator, SourceOutcome.READ)
    assert len(reply.data) < 80
    empty = names_reply(Root(tmp_path), "displays.names", PNP_FILES, {("QQQ", "")})
    assert (empty.outcome, empty.data) == (SourceOutcome.EMPTY, b"")


def test_without_a_list_the_reply_is_absent(tmp_path: Path) -> None:
    reply = names_reply(Root(tmp_path), "x", USB_FILES, {("1a01", "")})
    assert reply.outcome is SourceOutcome.ABSENT


# A display's maker


def machine(root: Path, edid: bytes, listed: bytes = b"") -> Root:
    put(root, "/sys/devices/card/drm/card0/card0-DP-1/edid", edid)
    put(root, "/sys/devices/card/drm/card0/card0-DP-1/status", b"connected\n")
    put(root, "/sys/devices/card/drm/card0/card0-DP-1/enabled", b"enabled\n")
    folder = root / "sys/class/drm"
    folder.mkdir(parents=True)
    (folder / "card0").symlink_to("../../devices/card/drm/card0")
    (folder / "card0-DP-1").symlink_to("../../devices/card/drm/card0/card0-DP-1")
    if listed:
        put(root, PNP_FILES[0], listed)
    return Root(root)


def parsed(root: Root) -> Parsed:
    return displays.parse(tuple(capture_displays.capture(root)))


def facts(found: Parsed) -> dict[tuple[str, str], object]:
    return {
        (sighting.source, field.name): field.value if field.absent is None else field.absent
        for sighting in found.sightings
        for field in sighting.said
    }


def test_a_display_has_its_makers_name_from_the_list_and_the_letters_apart(tmp_path: Path) -> None:
    found = facts(parsed(machine(tmp_path, base(descriptors=(text_descriptor(0xFC, "Lindwall 27"),)), PNP)))
    assert found["displays.names", "maker"] == "Lindwall Optics AB"
    assert found["displays", "maker_code"] == "LFQ"
    assert ("displays", "maker") not in found
    assert found["displays", "model"] == "Lindwall 27"


def test_without_a_list_the_letters_stand_for_the_maker(tmp_path: Path) -> None:
    found = facts(parsed(machine(tmp_path, base())))
    assert (found["displays", "maker"], found["displays", "maker_code"]) == ("LFQ", "LFQ")
    assert not [key for key in found if key[0] == "displays.names"]


def test_faults_of_an_edid_are_remarks_with_the_connector(tmp_path: Path) -> None:
    spoiled = bytearray(base(extensions=1) + cta(data_block(2, b"\x10")))
    spoiled[133] ^= 1
    found = parsed(machine(tmp_path, bytes(spoiled), PNP))
    assert [(r.source, r.kind, r.where) for r in found.remarks] == [
        ("displays", RemarkKind.BAD_CHECKSUM, "card0-DP-1 block 1")
    ]
    assert facts(found)["displays.names", "maker"] == "Lindwall Optics AB"
    assert found.ports[0].occupied_by == "drm:card0-DP-1"


def test_a_spoiled_base_block_has_no_maker_and_asks_no_list(tmp_path: Path) -> None:
    spoiled = bytearray(base())
    spoiled[20] ^= 1
    found = facts(parsed(machine(tmp_path, bytes(spoiled), PNP)))
    assert found["displays", "maker"] is Absent.IMPLAUSIBLE
    assert found["displays", "maker_code"] is Absent.IMPLAUSIBLE


def test_a_connected_display_that_answers_nothing_says_so(tmp_path: Path) -> None:
    found = facts(parsed(machine(tmp_path, b"")))
    assert found["displays", "model"] is Absent.NOT_OFFERED
    assert found["displays", "hdr"] is Absent.NOT_OFFERED


# The real lists


def real(reference: Path, name: str) -> bytes:
    return lzma.decompress((reference / "names" / name).read_bytes())


@pytest.mark.parametrize(
    ("name", "least"), [("pci.ids.xz", 20_000), ("usb.ids.xz", 20_000), ("pnp.ids.xz", 2_500)]
)
def test_a_real_list_is_read_whole(reference: Path, name: str, least: int) -> None:
    """As many names as lines of vendors and devices, counted by a pattern of their own before the classes."""
    text = real(reference, name).decode("utf-8", "replace")
    vendors_only = text.split("\nC 00")[0]
    counted = len(re.findall(r"^(?:\t?[0-9a-f]{4}  |[A-Z]{3}\t)\S", vendors_only, re.MULTILINE))
    names = read_names(text)
    assert len(names) > least
    repeated = counted - len(names)
    assert 0 <= repeated <= 5, "a list may name one id twice"


def test_lines_of_real_lists_name_what_is_asked(reference: Path) -> None:
    asked = {("10de", "2684"), ("8086", ""), ("1b21", "0612")}
    pci = real(reference, "pci.ids.xz")
    kept = ends(lambda: lines_about(pci, asked))
    names, whole = read_names(kept.decode()), read_names(pci.decode("utf-8", "replace"))
    assert set(names) == {("10de", ""), ("10de", "2684"), ("8086", ""), ("1b21", ""), ("1b21", "0612")}
    assert all(whole[key] == name for key, name in names.items())
    usb = read_names(lines_about(real(reference, "usb.ids.xz"), {("046d", "c52b")}).decode())
    assert usb["046d", ""].startswith("Logitech")
    pnp = read_names(lines_about(real(reference, "pnp.ids.xz"), {("DEL", ""), ("GSM", "")}).decode())
    assert pnp["DEL", ""].startswith("Dell")
    assert set(pnp) == {("DEL", ""), ("GSM", "")}


@pytest.mark.parametrize("locator", (*PNP_FILES, *USB_FILES))
def test_lists_of_this_system_are_understood(locator: str) -> None:
    file = Path(locator)
    if not file.is_file():
        pytest.skip(f"{locator} is not installed here")
    asked = {("DEL", ""), ("8086", ""), ("046d", "")}
    names = read_names(lines_about(file.read_bytes(), asked).decode("utf-8", "replace"))
    assert names
    assert all(len(name) > 2 for name in names.values())
