"""What is personal by its place in other tools' reports and in the names of files.

dmidecode: OEM strings, configuration options, makers' own structures, the management controller's addresses.
lsblk and lshw: labels, owners, mount points. smartctl's JSON: world-wide names in numbers. nvidia-smi: the
programs that use a card. Kernel's log: names of volumes. Forms: those tools' own (seen, and from memory).
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.nvidia_smi import without_programs
from shipworthy.machine.pseudonyms import Pseudonyms

_BLANKED = (11, 12, 42, 126)  # of SMBIOS: OEM strings, options, a controller's interface, inactive; and from
_MAKERS_OWN = 128
_STRUCTURE = re.compile(rb"(?m)^Handle 0x[0-9A-Fa-f]+, DMI type (\d+).*\n")
_LSBLK = re.compile(
    rb'"(?:label|partlabel|uuid|partuuid|ptuuid|owner|group|id-link|id|vendor-id)"\s*:\s*"((?:[^"\\]|\\.)+)"'
)
_LSHW = re.compile(rb'<setting id="(?:label|ip|hostname|lastmountpoint|filesystem_label)" value="([^"]+)"')
_QUOTED_PATH = re.compile(rb'(?<=")/(?:[^"\\]|\\.)*(?=")|(?<=<logicalname>)/[^<]*')
_PATH = re.compile(
    rb"(?<![\w./-])/(?:home|media|run/media|mnt|srv|Users|Volumes|dev/mapper)/[^\s\"'<>,;:()]+"
)
_PIECE = re.compile(rb"[^/]+")
_PUBLIC_PIECES = frozenset(
    b"boot efi home root run media mnt srv usr var opt tmp snap lib etc log nix store dev mapper control swap"
    b" sys proc Users Volumes data".split()
)
_KEPT_WORDS = frozenset((b"root", b"disk", b"cdrom", b"floppy", b"optical", b"none", b"0", b"dos", b"gpt"))
_WWN_NUMBERS = re.compile(
    rb'("naa"\s*:\s*)(\d{1,2})(\s*,\s*"oui"\s*:\s*)(\d{1,8})(\s*,\s*"id"\s*:\s*)(\d{1,11})'
)
_EUI_NUMBERS = re.compile(rb'("oui"\s*:\s*)(\d{1,8})(\s*,\s*"ext_id"\s*:\s*)(\d{1,13})')
_FILE_WORDS = re.compile(
    r"(sd[a-z]{1,2}|nvme\d+(n\d+)?|sr\d+|card\d+|hdmi|dp|edp|dvi|vga|a|b|d|i|\d{1,2}|smartctl|smart|dmidecode|dmi"
    r"|dump|edid|lspci|lscpu|lsblk|lshw|sensors|dmesg|nvidia|smi|rocm|pciconf|cpuid|smbios|usb|spd|report"
    r"|txt|json|xml|bin|log|table|raw|out|text)",
    re.IGNORECASE,
)


def scrub_report(kind: str, data: bytes, names: Pseudonyms) -> bytes:
    """Return a report of another tool without what is personal by its place. kind: the name of its kind."""
    if kind.startswith("dmidecode"):
        return _blanked_structures(data)
    if kind.startswith("nvidia-smi"):
        return without_programs(data)
    if kind.startswith("smartctl"):
        return _scrub_numbers(data, names)
    if kind.startswith(("lsblk", "lshw")):
        data = (_LSBLK if kind.startswith("lsblk") else _LSHW).sub(lambda m: _renamed(m, names), data)
        return _QUOTED_PATH.sub(lambda match: _path(match[0], names), data)
    return _PATH.sub(lambda match: _path(match[0], names), data)


def clean_locator(locator: str, names: Pseudonyms) -> str:
    """Return where a report lay, without what its file was called but for words of the trade; a place in the
    machine, or a command, stays as it is."""
    if locator.count("/") != 1 or not locator.startswith("/") or len(locator) == 1:
        return locator
    return "/" + clean_file_name(locator[1:], names)


def clean_file_name(name: str, names: Pseudonyms) -> str:
    """Return a file's name in which every word that is none of the trade is a pseudonym."""
    return re.sub(r"[^\W_]+", lambda m: m[0] if _FILE_WORDS.fullmatch(m[0]) else names.text(m[0]), name)


def _blanked_structures(data: bytes) -> bytes:
    """Blank the lines of those structures of a text of dmidecode that makers fill as they like."""
    heads = list(_STRUCTURE.finditer(data))
    pieces = [data[: heads[0].start()]] if heads else [data]
    for head, after in zip(heads, [*(h.start() for h in heads[1:]), len(data)], strict=True):
        body = data[head.end() : after]
        own = len(head[1]) < 6 and (int(head[1]) in _BLANKED or int(head[1]) >= _MAKERS_OWN)
        pieces += [head[0], _blanked(body) if own else body]
    return b"".join(pieces)


def _blanked(body: bytes) -> bytes:
    """Keep the title, the names of fields and the form of hexadecimal lines."""
    title, newline, rest = body.partition(b"\n")
    lines = []
    for line in rest.split(b"\n"):
        key, colon, value = line.partition(b": ")
        if re.fullmatch(rb"\s*(?:[0-9A-Fa-f]{2} ?)+", line):
            lines.append(re.sub(rb"[0-9A-Fa-f]", b"0", line))
        elif colon:
            lines.append(key + colon + re.sub(rb"[^\s]", b"x", value))
        else:
            lines.append(line if line.endswith(b":") else re.sub(rb"[^\s]", b"x", line))
    return title + newline + b"\n".join(lines)


def _scrub_numbers(data: bytes, names: Pseudonyms) -> bytes:
    """Rewrite world-wide names that are given in numbers, as their text elsewhere is rewritten."""

    def naa(match: re.Match[bytes]) -> bytes:
        old = f"{int(match[2]) & 0xF:x}{int(match[4]) & 0xFFFFFF:06x}{int(match[6]) & 0xFFFFFFFFF:09x}"
        new = names.text(old)
        one, two, three = (str(int(part, 16)).encode() for part in (new[0], new[1:7], new[7:]))
        return match[1] + one + match[3] + two + match[5] + three

    def eui(match: re.Match[bytes]) -> bytes:
        old = f"{int(match[2]) & 0xFFFFFF:06x}{int(match[4]) & 0xFFFFFFFFFF:010x}"
        new = names.text(old)
        return match[1] + str(int(new[:6], 16)).encode() + match[3] + str(int(new[6:], 16)).encode()

    return _EUI_NUMBERS.sub(eui, _WWN_NUMBERS.sub(naa, data))


def _renamed(match: re.Match[bytes], names: Pseudonyms) -> bytes:
    if match[1] in _KEPT_WORDS:
        return match[0]
    begin, end = match.span(1)
    return match[0][: begin - match.start()] + _named(match[1], names) + match[0][end - match.start() :]


def _named(text: bytes, names: Pseudonyms) -> bytes:
    """An escape of JSON or XML becomes one sign, so that what it stands in stays well-formed."""
    return re.sub(
        rb"\\u[0-9A-Fa-f]{4}|\\.|&[^;\s]{1,8};|[^\\&]+|&",
        lambda m: b"x" if m[0][:1] in b"\\&" else names.text(m[0].decode("utf-8", "replace")).encode(),
        text,
    )


def _path(path: bytes, names: Pseudonyms) -> bytes:
    if path.startswith((b"/sys/", b"/proc/")) or (path.startswith(b"/dev/") and b"/mapper/" not in path):
        return path
    return _PIECE.sub(lambda m: m[0] if m[0] in _PUBLIC_PIECES else _named(m[0], names), path)
