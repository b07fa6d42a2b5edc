"""Sound cards and codecs: those for jacks told apart from those for displays."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.capture import sound as capture_sound
from shipworthy.machine.parse import sound
from shipworthy.machine.root import Root
from shipworthy.model.words import Absent, PartKind
from tests.machine.devices import by_place, failing, files, read
from tests.machine.recorded import link, write

HDA = "sys/devices/pci0000:00/0000:00:1f.3"
GPU = "sys/devices/pci0000:00/0000:00:01.0/0000:01:00.1"
USB = "sys/devices/pci0000:00/0000:00:14.0/usb1/1-4/1-4:1.0"
CARDS = """ 0 [PCH            ]: HDA-Intel - HDA Intel PCH
                      HDA Intel PCH at 0x6001120000 irq 145
 1 [NVidia         ]: HDA-Intel - HDA NVidia
                      HDA NVidia at 0x6080000 irq 17
 2 [Headset        ]: USB-Audio - Norvik Headset
                      Norvik Headset at usb-0000:00:14.0-4, full speed
"""


def card(root: Path, number: int, device: str, identity: str, *entries: str) -> None:
    folder = f"{device}/sound/card{number}"
    files(root, folder, {"id": identity})
    link(root, f"{folder}/device", device)
    link(root, f"sys/class/sound/card{number}", folder)
    for entry in entries:
        write(root, f"proc/asound/card{number}/{entry}", "")


def codec(root: Path, device: str, name: str, **texts: str) -> None:
    files(root, f"{device}/{name}", texts)
    if not (root / f"sys/bus/hdaudio/devices/{name}").is_symlink():
        link(root, f"sys/bus/hdaudio/devices/{name}", f"{device}/{name}")


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A board with a codec for its jacks and one for the displays, a graphics card's sound, and a headset."""
    write(tmp_path, "proc/asound/cards", CARDS)
    card(tmp_path, 0, HDA, "PCH", "eld#2.0", "pcm0p/info")
    card(tmp_path, 1, GPU, "NVidia")
    card(tmp_path, 2, USB, "Headset")
    write(tmp_path, "sys/class/sound/pcmC0D0p/pcm_class", "generic\n")
    write(tmp_path, "sys/class/sound/timer/dev", "116:33\n")
    codec(
        tmp_path,
        HDA,
        "hdaudioC0D0",
        vendor_id="0x10ec1168",
        subsystem_id="0x10438723",
        vendor_name="Skogdata",
        chip_name="SK1220",
    )
    codec(tmp_path, HDA, "hdaudioC0D2", vendor_id="0x80862812", vendor_name="Intel", chip_name="Tarn HDMI")
    codec(
        tmp_path, GPU, "hdaudioC1D0", vendor_id="0x10de009d", vendor_name="Nvidia", chip_name="GPU 9d HDMI/DP"
    )
    return tmp_path


def test_a_card_has_its_codec_and_the_displays_codec_apart(machine: Path) -> None:
    parsed = read(machine, capture_sound.capture, sound.parse)
    assert {s.kind for s in parsed.sightings} == {PartKind.SOUND}
    told = by_place(parsed)
    assert told["pci:0000:00:1f.3"] == {
        "kernel_name": "card0",
        "card_id": "PCH",
        "card_name": "HDA Intel PCH",
        "codec": "Skogdata SK1220",
        "codec_id": "0x10ec1168",
        "codec_subsystem_id": "0x10438723",
        "display_codec": "Intel Tarn HDMI",
        "display_codec_id": "0x80862812",
    }
    assert told["pci:0000:01:00.1"]["display_codec_id"] == "0x10de009d"
    assert "codec" not in told["pci:0000:01:00.1"]
    assert told["pci:0000:00:14.0/usb-1-4"] == {
        "kernel_name": "card2",
        "card_id": "Headset",
        "card_name": "Norvik Headset",
        "interface": "USB",
        "driver": Absent.NOT_OFFERED,
    }


def test_a_codec_that_plays_to_a_display_is_told_by_its_eld_whoever_made_it(machine: Path) -> None:
    codec(machine, HDA, "hdaudioC0D2", vendor_id="0x12345678", chip_name="HX1", vendor_name="Holloway")
    told = by_place(read(machine, capture_sound.capture, sound.parse))["pci:0000:00:1f.3"]
    assert (told["display_codec"], told["codec"]) == ("Holloway HX1", "Skogdata SK1220")


def test_codecs_of_the_other_driver_have_other_names(machine: Path) -> None:
    (machine / "sys/bus/hdaudio/devices/hdaudioC0D0").rename(machine / "sys/bus/hdaudio/devices/ehdaudio0D0")
    told = by_place(read(machine, capture_sound.capture, sound.parse))["pci:0000:00:1f.3"]
    assert told["codec_id"] == "0x10ec1168"


def test_without_the_bus_the_long_texts_tell_the_same(machine: Path) -> None:
    for entry in (machine / "sys/bus/hdaudio/devices").iterdir():
        entry.unlink()
    (machine / "sys/bus/hdaudio/devices").rmdir()
    text = "Codec: Skogdata SK1220\nAddress: 0\nVendor Id: 0x10ec1168\nSubsystem Id: 0x10438723\nNode 0x02"
    write(machine, "proc/asound/card0/codec#0", text)
    write(machine, "proc/asound/card0/codec#2", "Codec: Tarn\nAddress: 2\nVendor Id: 0x99992812\n")
    told = by_place(read(machine, capture_sound.capture, sound.parse))["pci:0000:00:1f.3"]
    assert (told["codec"], told["codec_id"], told["display_codec"]) == (
        "Skogdata SK1220",
        "0x10ec1168",
        "Tarn",
    )


def test_the_long_texts_are_not_asked_for_where_the_bus_tells(machine: Path) -> None:
    write(machine, "proc/asound/card0/codec#0", "Codec: Other\n")
    assert b"Codec: Other" not in capture_sound.capture(Root(machine))[0].data


@pytest.mark.parametrize("text", ["0x00000000", "0xffffffff", "rubbish", ""])
def test_an_id_that_is_none_is_none(machine: Path, text: str) -> None:
    codec(machine, HDA, "hdaudioC0D0", vendor_id=text, chip_name="SK1220", vendor_name="Skogdata")
    told = by_place(read(machine, capture_sound.capture, sound.parse))["pci:0000:00:1f.3"]
    assert (told["codec"], told["codec_id"]) == ("Skogdata SK1220", Absent.NOT_OFFERED)


def test_a_codec_that_fails_costs_its_own_field_alone(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, "hdaudioC0D0/chip_name")
    told = by_place(read(machine, capture_sound.capture, sound.parse))["pci:0000:00:1f.3"]
    assert (told["codec"], told["codec_id"]) == ("Skogdata", "0x10ec1168")
    assert told["display_codec"] == "Intel Tarn HDMI"


def test_cards_that_are_no_hardware_are_no_parts(tmp_path: Path) -> None:
    card(tmp_path, 0, "sys/devices/platform/snd_aloop.0", "Loopback")
    card(tmp_path, 1, "sys/devices/virtual/thing", "Thing")
    assert read(tmp_path, capture_sound.capture, sound.parse).sightings == ()


def test_a_machine_without_sound_has_no_part_of_it(tmp_path: Path) -> None:
    write(tmp_path, "proc/asound/cards", "--- no soundcards ---\n")
    assert read(tmp_path, capture_sound.capture, sound.parse).sightings == ()
