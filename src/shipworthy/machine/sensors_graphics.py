"""Graphics cards while they are sampled: which columns they have beside their hwmon chips, and the values."""

from __future__ import annotations

import re

from shipworthy.machine.capture import drm as ask_drm
from shipworthy.machine.capture import nvidia_smi as ask_nvidia_smi
from shipworthy.machine.capture.files import read_file
from shipworthy.machine.capture.nvidia_stream import NvidiaStream, driven_places, tool_of
from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.nvidia_smi import xml_report
from shipworthy.machine.parse.pci.source import DEVICES
from shipworthy.machine.parse.sensors import drm, nvidia
from shipworthy.machine.root import Root
from shipworthy.machine.sensors_readers import SUSPENDED, Values, WhileAwake
from shipworthy.model.runlog import Column

_CARD = re.compile(r"/sys/class/drm/card\d+")
_FUNCTION = re.compile(r"pci:([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7])(?![0-9a-f/])")


def graphics_columns(root: Root) -> tuple[Column, ...]:
    """Return the columns of graphics cards that no hwmon chip has."""
    reply = ask_drm.capture(root)
    of_drm = drm.columns(Listing(reply.data, reply.id)) if reply.read else ()
    return (*of_drm, *_nvidia_columns(root))


def _nvidia_columns(root: Root) -> tuple[Column, ...]:
    """The cards and their limits as the tool tells them; where it does not answer, those that the driver has,
    without a limit: it may answer later."""
    if tool_of(root) is None:
        return ()
    cards = xml_report.parse(tuple(ask_nvidia_smi.capture(root))).sightings
    places = [card.place for card in cards] or driven_places(root)
    return nvidia.columns(places, nvidia.critical_temperatures_c(cards))


def is_nvidia(column: Column) -> bool:
    """Return whether a column is read from NVIDIA's tool."""
    return column.source.startswith(f"{nvidia.TOOL} ")


def is_drm(column: Column) -> bool:
    """Return whether a column is a file of a DRM driver's."""
    return _CARD.match(column.source) is not None


def sleeps(root: Root, place: str) -> bool:
    """Return whether the kernel has suspended the card at a place, as it does with one that is not used. Its
    driver then gives no temperature, or wakes it to measure one; it draws next to nothing."""
    match = _FUNCTION.match(place)
    if match is None:
        return False
    status = read_file(root, f"{DEVICES}/{match[1]}/power/runtime_status", 64)
    return status.data.strip() == SUSPENDED


class NvidiaCard:
    """One of NVIDIA's cards: the values of the last line that came of it. Reading it never waits."""

    def __init__(self, name: str, at: tuple[int, ...], columns: list[Column], stream: NvidiaStream) -> None:
        self.name, self.at = name, at
        self._place, self._stream = columns[0].place, stream
        self._wanted = tuple(nvidia.CHANNELS.index(column.channel) for column in columns)
        self.taken_s = 0.0

    def read(self) -> Values:
        """Return a value for each column; None for one that the card does not have, and where no line came
        lately. `taken_s` is then when the values came."""
        latest = self._stream.latest(self._place)
        if latest is None:
            return (None,) * len(self._wanted)
        self.taken_s, values = latest
        return tuple(values[index] for index in self._wanted)

    def close(self) -> None:
        """Let the tool end, for all cards."""
        self._stream.close()


def drm_reader(root: Root, columns: list[Column], *, keep: bool) -> WhileAwake:
    """Return what reads the files of one card's DRM driver. A card that sleeps stands still, does nothing and
    is not slowed down, so that each is 0 then."""
    card = _CARD.match(columns[0].source)
    assert card is not None
    return WhileAwake(root, f"{card[0]}/device", columns, drm.value_of, asleep=0.0, keep=keep)
