"""The answer of an optical drive to GET CONFIGURATION: its profiles, the medium's, and its features.

Standard: MMC-6, 6.6 GET CONFIGURATION and chapter 5, features and profiles (from memory). All numbers are
big-endian. Any bytes whatever are taken; what is cut short is named.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from shipworthy.machine.raw import Fault, Section
from shipworthy.model.words import RemarkKind

HEADER_BYTES = 8
MOST_FEATURES = 256  # some 60 are defined
PROFILE_LIST, CORE, SERIAL, FIRMWARE = 0x0000, 0x0001, 0x0108, 0x010C
PROFILES = {
    0x0001: "non-removable disk",
    0x0002: "removable disk",
    0x0003: "MO erasable",
    0x0004: "optical write once",
    0x0005: "AS-MO",
    0x0008: "CD-ROM",
    0x0009: "CD-R",
    0x000A: "CD-RW",
    0x0010: "DVD-ROM",
    0x0011: "DVD-R sequential",
    0x0012: "DVD-RAM",
    0x0013: "DVD-RW restricted overwrite",
    0x0014: "DVD-RW sequential",
    0x0015: "DVD-R DL sequential",
    0x0016: "DVD-R DL layer jump",
    0x0017: "DVD-RW DL",
    0x0018: "DVD-download",
    0x001A: "DVD+RW",
    0x001B: "DVD+R",
    0x0020: "DDCD-ROM",
    0x0021: "DDCD-R",
    0x0022: "DDCD-RW",
    0x002A: "DVD+RW DL",
    0x002B: "DVD+R DL",
    0x0040: "BD-ROM",
    0x0041: "BD-R SRM",
    0x0042: "BD-R RRM",
    0x0043: "BD-RE",
    0x0050: "HD DVD-ROM",
    0x0051: "HD DVD-R",
    0x0052: "HD DVD-RAM",
    0x0053: "HD DVD-RW",
    0x0058: "HD DVD-R DL",
    0x005A: "HD DVD-RW DL",
    0xFFFF: "of no standard",
}
FEATURES = {
    PROFILE_LIST: "profile list",
    CORE: "core",
    0x0002: "morphing",
    0x0003: "removable medium",
    0x0004: "write protect",
    0x0010: "random readable",
    0x001D: "multi-read",
    0x001E: "CD read",
    0x001F: "DVD read",
    0x0020: "random writable",
    0x0021: "incremental streaming writable",
    0x0023: "formattable",
    0x0024: "defect management",
    0x0026: "restricted overwrite",
    0x002A: "DVD+RW",
    0x002B: "DVD+R",
    0x002D: "CD track at once",
    0x002E: "CD mastering",
    0x002F: "DVD-R/-RW write",
    0x0033: "layer jump recording",
    0x0037: "CD-RW media write",
    0x0038: "BD-R pseudo-overwrite",
    0x003B: "DVD+R dual layer",
    0x0040: "BD read",
    0x0041: "BD write",
    0x0100: "power management",
    0x0103: "CD external audio play",
    0x0104: "microcode upgrade",
    0x0105: "timeout",
    0x0106: "DVD CSS",
    0x0107: "real time streaming",
    SERIAL: "drive serial number",
    0x010A: "disc control blocks",
    0x010B: "DVD CPRM",
    FIRMWARE: "firmware information",
    0x010D: "AACS",
    0x0110: "VCPS",
}


def profile_word(number: int) -> str:
    """Return what kind of disc a profile is of."""
    return PROFILES.get(number, f"profile 0x{number:04x}")


@dataclass(frozen=True)
class Feature:
    """One feature. current: whether it can be used now, with this medium."""

    at: int
    code: int
    version: int
    current: bool
    data: bytes


@dataclass(frozen=True)
class Configuration:
    """What a drive answered. current_profile: of the medium in it; None without one."""

    current_profile: int | None
    features: tuple[Feature, ...]
    fault: Fault | None

    def data_of(self, code: int) -> bytes | None:
        return next((one.data for one in self.features if one.code == code), None)

    @property
    def profiles(self) -> tuple[int, ...]:
        """All profiles that the drive can do, in its order."""
        data = self.data_of(PROFILE_LIST) or b""
        return tuple(struct.unpack_from(">H", data, at)[0] for at in range(0, len(data) - 3, 4))


def read_configuration(data: bytes) -> Configuration | None:
    """Return what the bytes say; None if there is not even a header."""
    if len(data) < HEADER_BYTES:
        return None
    told, current = struct.unpack_from(">IxxH", data)
    end = min(len(data), told + 4)
    features: list[Feature] = []
    fault = None
    if told + 4 > len(data):
        fault = Fault(RemarkKind.CUT_SHORT, str(len(data)), f"{told + 4} bytes told")
    at = HEADER_BYTES
    while at + 4 <= end:
        if len(features) >= MOST_FEATURES:
            fault = Fault(RemarkKind.NOT_UNDERSTOOD, str(at), f"more than {MOST_FEATURES} features")
            break
        code, flags, length = struct.unpack_from(">HBB", data, at)
        if at + 4 + length > end:
            fault = Fault(RemarkKind.CUT_SHORT, str(at), "a feature")
            break
        body = data[at + 4 : at + 4 + length]
        features.append(Feature(at, code, flags >> 2 & 15, bool(flags & 1), body))
        at += 4 + length
    return Configuration(current or None, tuple(features), fault)


def text_of(data: bytes | None) -> str | None:
    """Return a feature's text; None if it has none, or bytes that are no text."""
    bare = (data or b"").strip(b" \0")
    return bare.decode() if bare and all(32 <= byte < 127 for byte in bare) else None


def firmware_date(data: bytes | None) -> str | None:
    """Return the date of the drive's firmware, `CCYYMMDDhhmmss`, as `2026-01-15`."""
    text = text_of((data or b"")[:14]) or ""
    good = len(text) >= 8 and text[:8].isdigit() and "01" <= text[4:6] <= "12" and "01" <= text[6:8] <= "31"
    return f"{text[:4]}-{text[4:6]}-{text[6:8]}" if good else None


def describe(data: bytes) -> tuple[Section, ...]:
    """Return the header, every feature and what was wrong, for people."""
    configuration = read_configuration(data)
    if configuration is None:
        return ()
    now = configuration.current_profile
    sections = [Section("header", "0", (("current_profile", "none" if now is None else profile_word(now)),))]
    for one in configuration.features:
        title = FEATURES.get(one.code, f"feature 0x{one.code:04x}")
        fields: list[tuple[str, str | int | float | bool]] = [
            ("version", one.version),
            ("current", one.current),
        ]
        if one.code == PROFILE_LIST:
            fields.append(("profiles", ", ".join(profile_word(p) for p in configuration.profiles)))
        elif one.data:
            fields.append(("bytes", one.data.hex(" ")))
        sections.append(Section(title, str(one.at), tuple(fields)))
    if configuration.fault is not None:
        fault = configuration.fault
        sections.append(Section("fault", fault.where, ((fault.kind.value, fault.detail),)))
    return tuple(sections)
