"""Chips that put a drive on USB, by the ids of their USB device.

Source: smartmontools' drive database 7.3/5319, entries `USB:` (ids and chips). A chip's ids may be those of
the maker of the box around it; such are not here, and the bridge is then named by what it calls itself.
"""

from __future__ import annotations

_CHIPS = {
    (0x0080, 0x0578): "JMicron JMS578",
    (0x05E3, 0x0702): "Genesys Logic GL881E",
    (0x05E3, 0x0731): "Genesys Logic GL3310",
    (0x07AB, 0x0621): "Innostor IS631",
    (0x0BDA, 0x9210): "Realtek RTL9210",
    (0x0BDA, 0x9211): "Realtek RTL9211",
    (0x2EB9, 0x9211): "Realtek RTL9211",
    (0x152D, 0x0539): "JMicron JMS539",
    (0x152D, 0x0562): "JMicron JM562",
    (0x152D, 0x0567): "JMicron JMS567",
    (0x152D, 0x0576): "JMicron JMS576",
    (0x152D, 0x0578): "JMicron JMS578",
    (0x152D, 0x0583): "JMicron JMS583",
    (0x152D, 0x1561): "JMicron JMS561",
    (0x152D, 0x1576): "JMicron JMS576",
    (0x152D, 0x2329): "JMicron JM20329",
    (0x152D, 0x2336): "JMicron JM20336",
    (0x152D, 0x2338): "JMicron JM20337 or JM20338",
    (0x152D, 0x2339): "JMicron JM20339",
    (0x152D, 0x2566): "JMicron JMS566",
    (0x152D, 0x2567): "JMicron JMS567",
    (0x152D, 0x3562): "JMicron JMS567",
    (0x152D, 0x8561): "JMicron JMS561",
    (0x152D, 0x9561): "JMicron JMS561",
    (0x152D, 0xA561): "JMicron JMS561",
    (0x174C, 0x2362): "ASMedia ASM2362",
    (0x1F75, 0x0611): "Innostor IS611",
    (0x1F75, 0x0621): "Innostor IS621",
    (0x1F75, 0x0888): "Innostor IS888",
    (0x2109, 0x0701): "VIA VL701",
    (0x2109, 0x0711): "VIA VL711",
    (0x2109, 0x0715): "VIA VL715 or VL716",
    (0x2109, 0x0716): "VIA VL715 or VL716",
    (0x067B, 0x2571): "Prolific PL2571",
    (0x067B, 0x2771): "Prolific PL2771",
    (0x067B, 0x2773): "Prolific PL2773",
    (0x067B, 0x2775): "Prolific PL2775",
}
_MAKERS = {0x152D: "JMicron", 0x174C: "ASMedia", 0x13FD: "Initio"}
"""Whose every device of that vendor id is a bridge."""


def bridge_chip(vendor: int, product: int) -> str | None:
    """Return the chip, or its maker, that answers for a drive on USB; None if the ids tell no bridge."""
    return _CHIPS.get((vendor, product)) or _MAKERS.get(vendor)


def bridge_name(vendor: int, product: int, calls_itself: str) -> str:
    """Return the bridge for people: its chip where known, what it calls itself, and its ids."""
    ids = f"{vendor:04x}:{product:04x}"
    names = [name for name in (bridge_chip(vendor, product), calls_itself) if name]
    return f"{', '.join(names)} ({ids})" if names else ids
