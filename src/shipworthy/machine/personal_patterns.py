"""What texts look like, or say to be, that is personal: patterns over the bytes of raw files.

The forms are those that the kernel's log, lshw, lsblk, lspci, smartctl and nvidia-smi print (seen in this
machine's own, and from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_ADDRESS = (  # of a card: 6 pairs; EUI-64 and PCI's serial: 8; InfiniBand: 20. Or three groups of four
    rb"(?<![0-9A-Fa-f])(?:[0-9A-Fa-f]{2}(?:(?::[0-9A-Fa-f]{2}){5,19}|(?:-[0-9A-Fa-f]{2}){5,19})"
    rb"|(?=[0-9.]*[A-Fa-f])[0-9A-Fa-f]{4}\.[0-9A-Fa-f]{4}\.[0-9A-Fa-f]{4})(?![0-9A-Fa-f])"
)
_UUID = rb"(?<![0-9A-Fa-f])(?<![0-9A-Fa-f]{4}-)[0-9A-Fa-f]{8}(?:-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12}"
_UUID += rb"(?![0-9A-Fa-f])"
_WWN = (  # not an address of memory, which begins with nought or, in the kernel's half, with f
    rb"(?<![0-9A-Za-z])(?:0x[1-9A-Ea-e][0-9A-Fa-f]{15}|(?:naa|eui)\.[0-9A-Fa-f]{16}(?:[0-9A-Fa-f]{16})?)"
    rb"(?![0-9A-Za-z])"
)
_MAIL = (  # no place on a bus: lshw's `pci@0000:00:1f.0`, pciconf's `hostb0@pci0:0:0:0`
    rb"[A-Za-z0-9_.+-]{2,}@(?!0x|pci[0-9]+:)"
    rb"(?:(?=[0-9-]*[A-Za-z])[A-Za-z0-9][A-Za-z0-9.-]+|[0-9]{1,3}(?:\.[0-9]{1,3}){3})"
)
_LINK_LOCAL = rb"(?<![0-9A-Fa-f:])fe80::[0-9A-Fa-f:]{4,}"
_LOOKS_PERSONAL = re.compile(b"|".join((_ADDRESS, _UUID, _WWN, _MAIL, _LINK_LOCAL)))
_LOOKS_PERSONAL_IN_BINARY = re.compile(b"|".join((_ADDRESS, _UUID)))
_NAME = rb"[A-Za-z_][A-Za-z0-9_.-]{2,31}"
_HOST = rb"[A-Za-z0-9][A-Za-z0-9.-]{2,}"
_ASKED = rb"\"?\s*(?:\.\.\.)?(?:[:=>]|\" value=)\s*\\?\"?"  # between a field's name and its value
_SAID = tuple(
    re.compile(pattern)
    for pattern in (
        rb"(?im)(?<!/)\b(?:serial(?:[ _]?(?:number|num|no\.?|#))?|asset[ _-]?tag|s/n)"
        + _ASKED
        + rb"([^\s\"<,;]{4,}(?: [^\s\"<,;]+)*)",
        rb"(?m)\b[Ss]erial [Nn]umber ([A-Za-z0-9][^\s\"<,;]{3,})",  # FreeBSD's log
        rb"(?im)\b(?:host|node)name\b(?:\"?\s*(?:[:=>]|\" value=|(?:is )?set to|to)\s*)\\?[\"'<]*("
        + _HOST
        + rb")",
        rb"(?i)\b([A-Za-z0-9-]{3,63})\.(?:local|lan|home|internal|fritz\.box)\b(?![.\w])",
        rb"(?i)\bE?SSID\b\"?\s*[:=]?\s*\\?[\"']([^\"'\n\\]{1,32})",  # a wireless network's name
        rb"(?i)\bSSID\b\s*[:=]\s*([^\"'\s,;]{1,32})",
        rb"(?i)\b(?:user|owner|login|username|acct|auid)\b\"?\s*[:=]\s*\\?[\"']?(" + _NAME + rb")",
        rb"(?i)\b(?:for|of) user (" + _NAME + rb")",
        rb"(?i)(?:/home|/Users|\\Users|/media|/run/media)[/\\]+(" + _NAME + rb")",
        rb"<node id=\"([^\"\n]{3,64})\"[^>\n]*class=\"system\"",  # lshw: the machine's name
        rb"(?im)^LU WWN Device Id:\s*([0-9a-f]( [0-9a-f]{6} [0-9a-f]{9}))",  # smartctl
        rb"(?im)\bIEEE EUI-64:\s*([0-9a-f]{6} [0-9a-f]{10})",
        rb"(?i)\bmachine[ _-]?id\b\"?\s*[:=]\s*\"?([0-9a-f]{32})\b",
        rb"(?i)\bdevice label (\S{4,}) devid",  # Btrfs in the kernel's log
        rb"\b(?:PART)?LABEL=([^\s\"',]{4,})",
        rb"cert '([^':\n]{3,80}?) Secure Boot Module Signature key",  # a host's own key for its modules
        rb"\b([A-Z][\w-]{2,30})(?:'|\\u2019|\xe2\x80\x99|&apos;|&#39;)s (?=[A-Za-z])",  # Mette's keyboard
        rb"(?i)\b(?:ip|inet6?|addr|nfsroot|server)(?:=|: ?|\" value=\"| )((?:[0-9]{1,3}\.){3}[0-9]{1,3})\b",
    )
)
"""What texts say to be a serial, a name or an address of a network; the first group is it."""


def personal_in(data: bytes, *, text: bool) -> Iterator[str]:
    """Yield what in a file's bytes looks, or in a text is said to be, personal.

    In binary files only forms count that no other bytes have by chance.
    """
    look = _LOOKS_PERSONAL if text else _LOOKS_PERSONAL_IN_BINARY
    yield from (match[0].decode("ascii") for match in look.finditer(data))
    for pattern in _SAID if text else ():
        yield from (match[1].decode("utf-8", "replace").strip() for match in pattern.finditer(data))
