"""What is personal in a reading, and the replacing of every spelling of it.

What is personal is taken from the reading's own facts (serials, UUIDs, hardware addresses), from what
texts look like (addresses, UUIDs, mail-like names) and from the host's name. Every spelling of it is
replaced in every raw file by the same pseudonym, so that witnesses still agree; sums over changed bytes are
put right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import msgspec

from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.pseudonyms import LEAST_CHARACTERS, Pseudonyms
from shipworthy.machine.scrubbing import scrub_structures, seal_structures
from shipworthy.model.base import Trouble, digest_of
from shipworthy.model.facts import Part
from shipworthy.model.reading import RawRow

PERSONAL = ("serial", "serial_number", "uuid", "mac", "wwn", "eui64", "nguid", "asset", "unique_id", "wwid")
"""Endings of the names of facts whose values are personal."""

_ADDRESS = rb"(?<![0-9A-Fa-f:-])(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}(?![0-9A-Fa-f:-])"
_UUID = rb"(?<![0-9A-Fa-f-])[0-9A-Fa-f]{8}(?:-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12}(?![0-9A-Fa-f-])"
_WWN = (  # not an address of memory, which begins with nought or, in the kernel's half, with f
    rb"(?<![0-9A-Za-z])(?:0x[1-9A-Ea-e][0-9A-Fa-f]{15}|(?:naa|eui)\.[0-9A-Fa-f]{16}(?:[0-9A-Fa-f]{16})?)"
    rb"(?![0-9A-Za-z])"
)
_MAIL = rb"[A-Za-z0-9_.+-]{2,}@(?!0x)[A-Za-z0-9][A-Za-z0-9.-]+"
_LOOKS_PERSONAL = re.compile(b"|".join((_ADDRESS, _UUID, _WWN, _MAIL)))
_SAID_SERIAL = re.compile(
    rb"(?im)(?<!/)\bserial(?:[ _]?(?:number|num|no\.?))?\"?\s*(?:\.\.\.)?[:=>]\s*\"?"
    rb"([^\s\"<,;]{4,}(?: [^\s\"<,;]+)*)"
)
_SAID_NAMES = (
    _SAID_SERIAL,
    re.compile(rb"(?im)\bhostname\b\s*[:=]\s*\"?([A-Za-z0-9][A-Za-z0-9.-]{2,})"),
    re.compile(rb"(?i)\bE?SSID\b\s*[:=]?\s*\"([^\"\n]{1,32})\""),  # a wireless network's name
    re.compile(rb"(?i)\b(?:user|owner|login|username)\b\s*[:=]\s*\"?([A-Za-z_][A-Za-z0-9_.-]{2,31})"),
    re.compile(rb"/home/([A-Za-z_][A-Za-z0-9_.-]{2,31})"),
    re.compile(rb"<node id=\"([^\"\n]{3,64})\"[^>\n]*class=\"system\""),  # lshw: the machine's name
    re.compile(rb"(?im)^LU WWN Device Id:\s*([0-9a-f]( [0-9a-f]{6} [0-9a-f]{9}))"),  # smartctl
)
"""What texts say to be a serial or a name; the first group is it."""
_NO_NAMES = ("(none)", "localhost", "root", "nobody", "daemon", "user", "none", "unknown")
_TEXTS = ("txt", "jsonl", "json", "xml")
_KEPT = re.compile(r"0x|[^0-9A-Za-z]+")


def personal_texts(parts: Iterable[Part], files: Mapping[str, bytes], host: str) -> frozenset[str]:
    """Return every personal text of a reading: of its facts, of its raw texts, and the host's name."""
    found = {host}
    for part in parts:
        for fact in part.facts:
            if fact.name.endswith(PERSONAL):
                said = (fact.value, *(witness.value for witness in fact.witnesses))
                found |= {str(value) for value in said if isinstance(value, str)}
    for name, data in files.items():
        if name.rsplit(".", 1)[-1] in _TEXTS:
            found |= {match[0].decode("ascii") for match in _LOOKS_PERSONAL.finditer(data)}
            for pattern in _SAID_NAMES:
                found |= {match[1].decode("utf-8", "replace").strip() for match in pattern.finditer(data)}
    return frozenset(
        text
        for text in found - set(_NO_NAMES)
        if len(_KEPT.sub("", text)) >= LEAST_CHARACTERS and not is_placeholder(text)
    )


class Scrubber:
    """Replaces every spelling of personal texts in bytes, in one pass: nothing is replaced twice."""

    def __init__(self, texts: Iterable[str], names: Pseudonyms) -> None:
        self._names = names
        self._by: dict[bytes, bytes] = {}
        for text in sorted(texts):
            for old, new in zip(spellings(text), spellings(names.text(text), text), strict=True):
                self._by.setdefault(old, new)
        longest_first = sorted(self._by, key=len, reverse=True)
        self._pattern = re.compile(b"|".join(re.escape(old) for old in longest_first)) if self._by else None

    def scrub(self, name: str, data: bytes) -> bytes:
        """Return a raw file without what is personal. name: its file name, which tells its kind."""
        data = scrub_structures(name, data, self._names)
        if self._pattern is not None:
            data = self._pattern.sub(lambda match: self._by[match[0]], data)
        return seal_structures(name, data)

    def left_in(self, data: bytes) -> str:
        """Return the first personal spelling that is still in the bytes; empty if there is none."""
        found = self._pattern.search(data) if self._pattern is not None else None
        while found is not None and self._by[found[0]] == found[0]:
            found = self._pattern.search(data, found.end()) if self._pattern is not None else None
        return "" if found is None else found[0].decode("latin-1")


def spellings(text: str, like: str | None = None) -> tuple[bytes, ...]:
    """Return how a text may be written in bytes; as many for every text of the same form.

    As it is, in capitals, in small letters, in UTF-16, with swapped bytes as ATA has it, each as hexadecimal
    too; and what a hexadecimal text stands for, in both byte orders and in ATA's words. like: the text
    whose spellings are wanted for this one, where that is a pseudonym.
    """
    plain = [form.encode("utf-8", "replace") for form in (text, text.upper(), text.lower())]
    wide = [form.decode("utf-8").encode("utf-16-le") for form in plain]
    swapped = [_swapped(plain[0]), _swapped(b" " + plain[0])]
    written = [*plain, *wide, *swapped]
    shown = [form.hex().encode() for form in (plain[0], *swapped)]
    bare = _KEPT.sub("", text)
    if not re.fullmatch(r"(?:[0-9A-Fa-f]{2}){4,}", _KEPT.sub("", like or text)):
        return (*written, *shown)
    raw = bytes.fromhex(bare)
    orders = [raw, raw[::-1], _swapped(raw)]
    if len(raw) == 16:  # a UUID in SMBIOS: its first three fields are little-endian (DSP0134 7.2.1)
        orders.append(raw[3::-1] + raw[5:3:-1] + raw[7:5:-1] + raw[8:])
    joined = [bare.upper().encode(), bare.lower().encode()]
    digits = [order.hex() for order in orders]
    shown += [form.encode() for text in digits for form in (text, text.upper())]
    return (*written, *shown, *joined, *orders)


def _swapped(data: bytes) -> bytes:
    """Return the bytes with each pair turned, as words of ATA hold text; an odd one gets a space."""
    data = data + b" " * (len(data) % 2)
    return b"".join(data[i + 1 : i + 2] + data[i : i + 1] for i in range(0, len(data), 2))


def scrubbed_files(files: Mapping[str, bytes], scrubber: Scrubber) -> dict[str, bytes]:
    """Return the raw files without what is personal.

    Raises Trouble if something of it is left all the same: then no specimen may leave the house.
    """
    clean = {name: scrubber.scrub(name, data) for name, data in files.items()}
    refuse_what_is_left(clean, scrubber)
    return clean


def refuse_what_is_left(files: Mapping[str, bytes], scrubber: Scrubber) -> None:
    """Raise Trouble if something personal stands in a file."""
    for name, data in files.items():
        if scrubber.left_in(data):
            raise Trouble("something personal is left in this file", name, "Keep the specimen to yourself.")


def clean_row(row: RawRow, files: Mapping[str, bytes], scrubber: Scrubber) -> RawRow:
    """Return a row of the index as it is after scrubbing: its digest, and its locator's and error's words."""
    data = files[row.file] if row.file is not None else b""
    return msgspec.structs.replace(
        row,
        locator=scrubber.scrub("locator", row.locator.encode()).decode("utf-8", "replace"),
        error=scrubber.scrub("error", row.error.encode()).decode("utf-8", "replace"),
        size_bytes=len(data) if row.file is not None else None,
        digest=digest_of(data) if row.file is not None else None,
        at=msgspec.structs.replace(row.at, boot_id=None),
    )
