"""Ask for the network interfaces that are hardware, and their drivers for address and abilities.

Besides sysfs two requests of SIOCETHTOOL (linux/ethtool.h) are made, both open to every account:
GPERMADDR, the address that the maker gave, and GLINKSETTINGS, what the port can do. Neither sends a packet.
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import socket
import struct

from shipworthy.machine.capture.commands import recorded
from shipworthy.machine.capture.files import Answer, Lister, outcome_of, word_of
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

FOLDER = "/sys/class/net"
ATTRIBUTES = (
    "address",
    "addr_assign_type",
    "type",
    "flags",
    "operstate",
    "carrier",
    "speed",
    "duplex",
    "dev_port",
    "ifindex",
    "uevent",
)
REQUESTS = ("ethtool-permanent-address", "ethtool-link-settings")
SIOCETHTOOL = 0x8946
ETHTOOL_GPERMADDR, ETHTOOL_GLINKSETTINGS = 0x20, 0x4C
MAX_ADDR_LEN = 32
LINK_SETTINGS_BYTES = 48  # struct ethtool_link_settings before its three masks
NWORDS_AT = 15  # its member link_mode_masks_nwords


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    interfaces: list[str] = []
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        path = lister.target(folder)
        if path is None or path.startswith("/sys/devices/virtual/"):
            continue
        if lister.target(f"{folder}/device") is not None:
            interfaces.append(name)
        lister.target(f"{folder}/device/driver")
        lister.target(f"{folder}/phy80211")
        lister.texts(folder, ATTRIBUTES)
        lister.names(f"{folder}/wireless")
    return [lister.reply("network", FOLDER), *_asked(root, interfaces)]


def _asked(root: Root, interfaces: list[str]) -> list[Reply]:
    """Interfaces of a recorded machine that have no answers there give none, and no rows either."""
    replies: list[Reply] = []
    for name in interfaces:
        for request in REQUESTS:
            locator, answer = _live(name, request) if root.live else recorded(root, name, request)
            if root.live or answer.outcome is not SourceOutcome.ABSENT:
                identity = f"network.{name}.{request}"
                replies.append(Reply(identity, locator, answer.outcome, answer.data, answer.error, "bin"))
    return replies


def _live(name: str, request: str) -> tuple[str, Answer]:
    locator = f"{name} {request}"
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as handle:
            ask = _permanent_address if request == REQUESTS[0] else _link_settings
            return locator, Answer(SourceOutcome.READ, ask(handle, name))
    except OSError as error:
        unknown = error.errno in (errno.EOPNOTSUPP, errno.EINVAL)  # the driver has no such request
        return locator, Answer(SourceOutcome.ABSENT if unknown else outcome_of(error), error=word_of(error))


def _permanent_address(handle: socket.socket, name: str) -> bytes:
    """struct ethtool_perm_addr: command, size, address."""
    return _ethtool(handle, name, struct.pack("<II", ETHTOOL_GPERMADDR, MAX_ADDR_LEN), MAX_ADDR_LEN)


def _link_settings(handle: socket.socket, name: str) -> bytes:
    """struct ethtool_link_settings. Asked with no words, the kernel says, as a negative number, how many
    it wants for each of the three masks (supported, advertised, of the partner)."""
    head = struct.pack("<I", ETHTOOL_GLINKSETTINGS)
    first = _ethtool(handle, name, head, LINK_SETTINGS_BYTES - len(head))
    words = -int.from_bytes(first[NWORDS_AT : NWORDS_AT + 1], "little", signed=True)
    if words <= 0:
        raise OSError(errno.EOPNOTSUPP, "no number of words")
    request = bytearray(LINK_SETTINGS_BYTES)
    request[: len(head)] = head
    request[NWORDS_AT] = words
    return _ethtool(handle, name, bytes(request), 3 * 4 * words)


def _ethtool(handle: socket.socket, name: str, request: bytes, room: int) -> bytes:
    """Return the request's structure, with so many bytes of room behind it, as the kernel filled it."""
    buffer = ctypes.create_string_buffer(request, len(request) + room)
    # struct ifreq: the name, and a union that here holds the address of the structure
    interface = struct.pack("16sP16x", name.encode()[:15], ctypes.addressof(buffer))
    fcntl.ioctl(handle.fileno(), SIOCETHTOOL, interface)
    return buffer.raw
