"""Systems in an order's words: which is sold, in which edition and version, whether it is to be encrypted,
and whether a drive is to be left blank.

A system is known by the name that os-release(5) has as its `ID`, or by `windows` and `macos`, which have no
such file. Names of systems and editions are their publishers' (from memory); a system that is not in the list
is one of which the text says nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from shipworthy.model.words import Category

_NAMES = {
    "windows": r"Win(?:dows)?(?=\s?(?:\d|XP|Vista|Server|Home|Pro|IoT|Enterprise|Education))|Windows",
    "debian": r"Debian",
    "ubuntu": r"Ubuntu",
    "linuxmint": r"(?:Linux\s)?Mint(?=\s\d|\sCinnamon|\sMATE|\sXfce)|Linux\sMint",
    "fedora": r"Fedora",
    "arch": r"Arch\sLinux",
    "manjaro": r"Manjaro",
    "opensuse-leap": r"openSUSE\sLeap",
    "opensuse-tumbleweed": r"openSUSE\sTumbleweed",
    "rhel": r"RHEL|Red\sHat\sEnterprise\sLinux",
    "rocky": r"Rocky\sLinux",
    "almalinux": r"AlmaLinux",
    "centos": r"CentOS",
    "pop": r"Pop!?_?\s?OS",
    "zorin": r"Zorin(?:\sOS)?",
    "nixos": r"NixOS",
    "gentoo": r"Gentoo",
    "freebsd": r"FreeBSD",
    "proxmox": r"Proxmox(?:\sVE)?",
    "truenas": r"TrueNAS",
    "macos": r"macOS",
}
_SYSTEM = re.compile(
    r"(?<![A-Za-z])(?:"
    + "|".join(f"(?P<{key.replace('-', '_')}>{name})" for key, name in _NAMES.items())
    + ")(?![A-Za-z])",
    re.IGNORECASE,
)
_EDITIONS = re.compile(
    r"\b(?:Home|Pro(?:fessional)?|Enterprise|Education|Workstation|Workstations|Server|Desktop|Studio|IoT|LTSC"
    r"|KDE|Xfce|Cinnamon|MATE|Silverblue)\b",
    re.IGNORECASE,
)
_VERSION = re.compile(
    rf"(?:[\s,(]|{_EDITIONS.pattern}|\b(?:version|release|LTS|GNU/Linux|Linux|OS|VE)\b){{0,8}}"
    r"(?<![\w.])(?P<version>\d{1,4}(?:\.\d{1,3}){0,3})(?![\w.]*\d)"
    r"(?![\s-]?(?:bit|licen[cs]es?|drives?|disks?|PCs?|keys?|users?|x|×|[TGM]i?B)\b)",
    re.IGNORECASE,
)
"""Only words of names and editions stand between: `Windows Home 64-bit` has no version 64."""
_SAME_EDITION = {"professional": "pro", "workstations": "workstation"}
_INSTALLED = re.compile(r"\b(?:pre-?)?install(?:ed|ation|s)?\b|\bset\sup\b|\bset-?up\b", re.IGNORECASE)
_ANY_SYSTEM = re.compile(
    r"\b(?:operating\s)system\b|\bOS\b|\bsystem\s(?:software\s)?(?:pre-?)?install", re.IGNORECASE
)
_NO_SYSTEM = re.compile(
    r"\b(?:no|without(?:\san?y?)?)\s(?:operating\ssystem|system\ssoftware|system|OS)\b(?!\s(?:fan|cooler))",
    re.IGNORECASE,
)
_BLANK = re.compile(
    r"\b(?:drives?|disks?|SSDs?|HDDs?|storage)\b[^.;]{0,24}\b(?:blank|empty|unpartitioned|unformatted)\b"
    r"|\b(?:blank|empty|unpartitioned|unformatted)\s(?:\w+\s)?(?:drives?|disks?|SSDs?|HDDs?|storage)\b",
    re.IGNORECASE,
)
_PLAIN = re.compile(
    r"\bun-?encrypted\b|\b(?:not|no|without|never)\s(?:\w+\s){0,2}(?:encrypt\w*|BitLocker|LUKS)\b"
    r"|\b(?:encryption|BitLocker|LUKS)(?:\s?:)?\s(?:\w+\s)?(?:off|none|no|disabled|deactivated|not\s\w+)\b",
    re.IGNORECASE,
)
_ENCRYPTED = re.compile(r"\b(?:encrypt(?:ed|ion)|BitLocker|LUKS)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class System:
    """What a text says of a system. key: see `_NAMES`. version, editions: empty where it says none."""

    key: str
    version: str
    editions: frozenset[str]


def find_system(text: str) -> System | None:
    """Return the one system that a text names; None where it names none, or more than one."""
    found = list(_SYSTEM.finditer(text))
    keys = {(match.lastgroup or "").replace("_", "-") for match in found}
    if len(keys) != 1:
        return None
    after = text[found[0].end() :]
    version = _VERSION.match(after)
    return System(keys.pop(), version["version"] if version else "", editions_in(text))


def editions_in(text: str) -> frozenset[str]:
    """Return the words of editions in a text, in one spelling."""
    words = (match[0].casefold() for match in _EDITIONS.finditer(text))
    return frozenset(_SAME_EDITION.get(word, word) for word in words)


def says_blank(text: str) -> bool:
    """Whether a text says that drives are left blank, or that no system comes with the machine."""
    return _NO_SYSTEM.search(text) is not None or _BLANK.search(text) is not None


def says_encrypted(text: str) -> bool | None:
    """Whether a text sells encryption, or its absence; None where it speaks of neither."""
    if _PLAIN.search(text):
        return False
    return True if _ENCRYPTED.search(text) else None


def sells_system(lines: Iterable[tuple[Category, str]]) -> bool:
    """Whether an order with these lines, each by category and text, sells a system that is installed.

    A line may sell one and a blank drive beside it; one that says *no system* sells none, whatever it is.
    """
    return any(
        not _NO_SYSTEM.search(text)
        and (category is Category.SYSTEM_SOFTWARE or (category is Category.SERVICE and _installs(text)))
        for category, text in lines
    )


def _installs(text: str) -> bool:
    named = _SYSTEM.search(text) is not None or _ANY_SYSTEM.search(text) is not None
    return named and _INSTALLED.search(text) is not None
