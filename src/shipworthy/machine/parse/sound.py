"""Sound cards and the codecs behind them.

Sources: ALSA's /proc/asound and /sys/class/sound, and the codecs of HD Audio on /sys/bus/hdaudio. A codec
that carries ELDs (what a display says that it can play) drives HDMI or DisplayPort; the others are for jacks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.wiring import device_place, is_virtual
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, reply_read, text_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import PartKind

CLASS = "/sys/class/sound"
CODECS = "/sys/bus/hdaudio/devices"
_CARD = re.compile(r"card(\d+)")
_CODEC = re.compile(r"e?hdaudioC?(\d+)D(\d+)")
_LINE = re.compile(r"^ *(\d+) \[([^\]]*)\]: *(\S+) - (.*)$", re.MULTILINE)
_DISPLAY_MAKERS = {
    "0x10de",
    "0x1002",
    "0x8086",
}  # their codecs are all for HDMI and DisplayPort (from memory)
_NO_HARDWARE = ("snd_dummy", "snd_aloop", "snd_virmidi", "pcspkr")


@dataclass(frozen=True)
class Codec:
    """One codec. address: its number on the link; codec_id: maker and model, such as `0x10ec1168`."""

    address: int
    name: str | None
    codec_id: str | None
    subsystem_id: str | None
    for_display: bool


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `sound` and `sound.cards`: one sighting for each card that is hardware, and for each controller
    that has codecs but no card."""
    reply = reply_read(replies, "sound")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    lines = _LINE.finditer(text_read(replies, "sound.cards"))
    named = {int(line[1]): (line[3], line[4].strip()) for line in lines}
    codecs = _on_the_bus(listing)
    found: list[Sighting] = []
    for name in listing.names(CLASS):
        match = _CARD.fullmatch(name)
        device = listing.target(f"{CLASS}/{name}/device")
        if match is None or device is None or _pretended(device):
            continue
        place = device_place(device)
        own = codecs.pop(place, []) or _in_proc(listing, name)
        fields = (*_card(listing, name, device, named.get(int(match[1]))), *_codec_fields(own))
        found.append(Sighting(kind=PartKind.SOUND, place=place, source=reply.id, said=fields))
    for place, own in codecs.items():
        found.append(Sighting(kind=PartKind.SOUND, place=place, source=reply.id, said=_codec_fields(own)))
    return Parsed(tuple(found))


def _pretended(device: str) -> bool:
    return is_virtual(device) or any(name in device for name in _NO_HARDWARE)


def _card(listing: Listing, name: str, device: str, line: tuple[str, str] | None) -> tuple[Said, ...]:
    interface = "USB" if re.search(r"/usb\d+/", device) else None
    fields = [
        said("kernel_name", name),
        listing.said("card_id", f"{CLASS}/{name}/id", str),
        said("card_name", line[1] if line is not None else None),
    ]
    if interface is not None:  # a function on PCI has its driver told by the bus
        fields.append(said("interface", interface))
        fields.append(said("driver", listing.target_name(f"{CLASS}/{name}/device/driver")))
    return tuple(fields)


def _codec_fields(codecs: list[Codec]) -> tuple[Said, ...]:
    """Fields of the codecs for jacks, and of those for displays. Several of one sort stand side by side."""
    jacks = [codec for codec in codecs if not codec.for_display]
    displays = [codec for codec in codecs if codec.for_display]
    fields: tuple[Said, ...] = ()
    if jacks:
        fields += (
            said("codec", _joined([codec.name for codec in jacks])),
            said("codec_id", _joined([codec.codec_id for codec in jacks])),
            said("codec_subsystem_id", _joined([codec.subsystem_id for codec in jacks])),
        )
    if displays:
        fields += (
            said("display_codec", _joined([codec.name for codec in displays])),
            said("display_codec_id", _joined([codec.codec_id for codec in displays])),
        )
    return fields


def _joined(words: list[str | None]) -> str | None:
    return ", ".join(word for word in words if word) or None


def _on_the_bus(listing: Listing) -> dict[str, list[Codec]]:
    """Return the codecs by the place of their controller, in the order of their addresses."""
    found: dict[str, list[Codec]] = {}
    for name in sorted(listing.names(CODECS), key=_address):
        path, match = listing.target(f"{CODECS}/{name}"), _CODEC.fullmatch(name)
        if path is None or match is None:
            continue
        folder = f"{CODECS}/{name}"
        codec_id = _id(listing.text(f"{folder}/vendor_id"))
        words = [listing.text(f"{folder}/{file}") for file in ("vendor_name", "chip_name")]
        title = _joined_name(words)
        place = device_place(path)
        codec = Codec(
            int(match[2]),
            title,
            codec_id,
            _id(listing.text(f"{folder}/subsystem_id")),
            _for_display(listing, place, int(match[2]), codec_id, title),
        )
        found.setdefault(place, []).append(codec)
    return found


def _address(name: str) -> tuple[int, int]:
    match = _CODEC.fullmatch(name)
    return (int(match[1]), int(match[2])) if match else (-1, -1)


def _joined_name(words: list[str | None]) -> str | None:
    return " ".join(word for word in words if word and not is_placeholder(word)) or None


def _id(text: str | None) -> str | None:
    """HD Audio writes ids of 32 bits: vendor, then device. 0 and all ones: none."""
    match = re.fullmatch(r"(?:0x)?([0-9a-fA-F]{1,8})", text or "")
    number = int(match[1], 16) if match else 0
    return None if number in (0, 0xFFFFFFFF) else f"0x{number:08x}"


def _for_display(listing: Listing, place: str, address: int, codec_id: str | None, title: str | None) -> bool:
    """By its ELDs (`eld#<address>.<n>`), which drivers make for displays only; else by its name or maker."""
    for card in listing.names(CLASS):
        device = listing.target(f"{CLASS}/{card}/device")
        if _CARD.fullmatch(card) and device is not None and device_place(device) == place:
            entries = listing.names(f"/proc/asound/{card}")
            if any(entry.startswith(f"eld#{address}.") for entry in entries):
                return True
    return "HDMI" in (title or "") or (codec_id or "")[:6] in _DISPLAY_MAKERS


def _in_proc(listing: Listing, card: str) -> list[Codec]:
    """Return a card's codecs by the texts in /proc: `Codec: Name`, `Vendor Id: 0x…`, `Subsystem Id: 0x…`."""
    found: list[Codec] = []
    for entry in listing.names(f"/proc/asound/{card}"):
        if not re.fullmatch(r"codec#\d+", entry):
            continue
        text = listing.text(f"/proc/asound/{card}/{entry}") or ""
        words = dict(re.findall(r"^(Codec|Vendor Id|Subsystem Id): *(.*?) *$", text, re.MULTILINE))
        name = words.get("Codec") or None
        address, codec_id = int(entry[6:]), _id(words.get("Vendor Id"))
        has_eld = any(e.startswith(f"eld#{address}.") for e in listing.names(f"/proc/asound/{card}"))
        display = has_eld or "HDMI" in (name or "") or (codec_id or "")[:6] in _DISPLAY_MAKERS
        found.append(Codec(address, name, codec_id, _id(words.get("Subsystem Id")), display))
    return found
