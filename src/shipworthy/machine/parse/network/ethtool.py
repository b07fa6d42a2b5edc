"""Answers to SIOCETHTOOL: what a network port can do, and the address that its maker gave.

Structures and numbers: linux/ethtool.h, `struct ethtool_link_settings`, `struct ethtool_perm_addr` and
`enum ethtool_link_mode_bit_indices` (Linux 6.1; from 93 on from memory).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from shipworthy.machine.raw import Section
from shipworthy.model.words import Absent

GPERMADDR, GLINKSETTINGS = 0x20, 0x4C
SETTINGS_BYTES = 48
_PORTS = {0: "twisted pair", 1: "AUI", 2: "MII", 3: "fibre", 4: "BNC", 5: "direct attach", 0xEF: "none"}

_SPEEDS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (10, (0, 1, 92, 99, 100, 101, 102)),
    (100, (2, 3, 67, 90, 91)),
    (1_000, (4, 5, 17, 41, 68)),
    (2_500, (15, 47)),
    (5_000, (48,)),
    (10_000, (12, 18, 19, 20, 42, 43, 44, 45, 46)),
    (20_000, (21, 22)),
    (25_000, (31, 32, 33)),
    (40_000, (23, 24, 25, 26)),
    (50_000, (34, 35, 40, 52, 53, 54, 55, 56)),
    (56_000, (27, 28, 29, 30)),
    (100_000, (36, 37, 38, 39, 57, 58, 59, 60, 61, 75, 76, 77, 78, 79)),
    (200_000, (62, 63, 64, 65, 66, 80, 81, 82, 83, 84)),
    (400_000, (69, 70, 71, 72, 73, 85, 86, 87, 88, 89)),
    (800_000, (93, 94, 95, 96, 97, 98)),
)
SPEED_OF_MODE = {bit: speed for speed, bits in _SPEEDS for bit in bits}
NOT_A_SPEED = frozenset((6, 7, 8, 9, 10, 11, 13, 14, 16, 49, 50, 51, 74))
"""Autonegotiation, kinds of port, pause and error correction stand in the same mask."""

_JACKS = {(0, 7): "RJ-45", (3, 10): "fibre module", (5, 10): "direct attach"}
"""By PORT_TP, PORT_FIBRE and PORT_DA with the bits TP and FIBRE."""


@dataclass(frozen=True)
class LinkSettings:
    """What a driver says of its port. port: number of PORT_…; 0xff is `other`. A speed is in Mbit/s."""

    port: int
    autonegotiates: bool
    supported: tuple[int, ...]
    advertised: tuple[int, ...]
    partner: tuple[int, ...]

    @property
    def speeds_mbit_s(self) -> tuple[int, ...]:
        return tuple(sorted({SPEED_OF_MODE[bit] for bit in self.supported if bit in SPEED_OF_MODE}))

    @property
    def jack(self) -> str | None:
        """Return what plugs in, where port and modes agree on it. The number of twisted pair is 0, which a
        driver that does not know leaves there too."""
        return next(
            (word for (port, mode), word in _JACKS.items() if port == self.port and mode in self.supported),
            None,
        )

    @property
    def unknown_modes(self) -> tuple[int, ...]:
        """Modes that this version has no speed for: the fastest could be among them."""
        return tuple(b for b in self.supported if b not in SPEED_OF_MODE and b not in NOT_A_SPEED)


def link_settings(data: bytes) -> LinkSettings | None:
    """Return what the bytes of an ethtool_link_settings say; None if they are none, or cut short."""
    if len(data) < SETTINGS_BYTES or struct.unpack_from("<I", data)[0] != GLINKSETTINGS:
        return None
    words = data[15] if data[15] < 128 else 0
    if not words or len(data) < SETTINGS_BYTES + 12 * words:
        return None
    masks = [_bits(data[SETTINGS_BYTES + 4 * words * n :][: 4 * words]) for n in range(3)]
    return LinkSettings(data[9], bool(data[11]), *masks)


def _bits(mask: bytes) -> tuple[int, ...]:
    number = int.from_bytes(mask, "little")
    return tuple(bit for bit in range(8 * len(mask)) if number >> bit & 1)


def permanent_mac(data: bytes) -> str | Absent:
    """Return the address of an ethtool_perm_addr. All zeros: the driver was not told any."""
    if len(data) < 8 or struct.unpack_from("<I", data)[0] != GPERMADDR:
        return Absent.IMPLAUSIBLE
    size = struct.unpack_from("<I", data, 4)[0]
    address = data[8 : 8 + size]
    if not any(address):
        return Absent.NOT_OFFERED
    if len(address) != size or size not in (6, 8, 20) or address == b"\xff" * size:
        return Absent.IMPLAUSIBLE
    return address.hex(":")


def describe(data: bytes) -> tuple[Section, ...]:
    """Return the fields of either answer, for people."""
    if data[:4] == struct.pack("<I", GPERMADDR):
        mac = permanent_mac(data)
        return (Section("permanent address", "0", (("permanent_mac", str(mac)),)),)
    settings = link_settings(data)
    if settings is None:
        return ()
    masks = (("supported", settings.supported), ("advertised", settings.advertised))
    fields: list[tuple[str, str | int | float | bool]] = [
        ("port", _PORTS.get(settings.port, "other")),
        ("autonegotiates", settings.autonegotiates),
    ]
    for name, bits in (*masks, ("partner", settings.partner)):
        speeds = sorted({SPEED_OF_MODE[bit] for bit in bits if bit in SPEED_OF_MODE})
        fields.append((f"{name}_mbit_s", ", ".join(map(str, speeds))))
        fields.append((f"{name}_bits", ", ".join(map(str, bits))))
    return (Section("link settings", "0", tuple(fields)),)
