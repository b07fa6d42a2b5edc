"""What is personal in a reading, and the replacing of every spelling of it.

What is personal is taken from the reading's own facts (serials, UUIDs, hardware addresses), from what
texts look like (addresses, UUIDs, mail-like names) and from the host's name. Every spelling of it is
replaced in every raw file by the same pseudonym, so that witnesses still agree; sums over changed bytes are
put right.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from xml.sax.saxutils import escape  # writes only; what is read goes through defusedxml

import msgspec

from shipworthy.machine.any_of import any_of
from shipworthy.machine.personal_patterns import personal_in
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.pseudonyms import LEAST_CHARACTERS, Pseudonyms
from shipworthy.machine.scrubbing import scrub_structures, seal_structures
from shipworthy.machine.scrubbing_reports import clean_locator
from shipworthy.model.base import Trouble, digest_of
from shipworthy.model.facts import Fact, Part
from shipworthy.model.reading import Port, PortState, Privilege, RawRow, Reading, Remark, SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind

PERSONAL = ("serial", "serial_number", "uuid", "mac", "wwn", "eui64", "nguid", "asset", "unique_id", "wwid")
"""Endings of the names of facts whose values are personal."""

_NO_NAMES = frozenset(
    ("(none)", "none", "unknown", "unset", "localhost", "root", "nobody", "daemon", "user", "disk", "cdrom")
)
_LISTING_WORDS = ("path", "text", "names", "link", "error", "outcome", "json", "jsonl", "shipworthy")
_PUBLIC = frozenset(
    (
        "8be4df61-93ca-11d2-aa0d-00e098032b8c",  # EFI's own variables
        "605dab50-e046-4300-abb6-3dd810dd8b23",  # shim's
        "d719b2cb-3d3a-4596-a3bc-dad00e67656f",  # EFI's signature lists
        "c12a7328-f81f-11d2-ba4b-00c04fc93ec9",  # kinds of partitions: EFI's, Linux's two, Microsoft's three
        "0fc63daf-8483-4772-8e79-3d69d8477de4",
        "0657fd6d-a4ab-43c4-84e5-0933c84b4f4f",
        "ebd0a0a2-b9e5-4433-87c0-68b6b72699c7",
        "e3c9e316-0b5c-4db8-817d-f92df00215ae",
        "de94bba4-06d1-4d40-a16a-bfd50179d6ac",
    )
)
"""UUIDs that are the same on every machine (UEFI 2.10, 3.3, 5.3.3 and 32.4, and from memory)."""
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
        found |= set(personal_in(data, text=name.rsplit(".", 1)[-1] in _TEXTS))
    return frozenset(
        text
        for text in found - _NO_NAMES
        if text.lower() not in _PUBLIC
        and len(_KEPT.sub("", text)) >= LEAST_CHARACTERS
        and not is_placeholder(text)
    )


def without_own_words(personal: Iterable[str], reading: Reading) -> frozenset[str]:
    """Return the personal texts but those that are words of a reading itself, or pieces of one.

    A host may be called `storage` or `desk`, which tells nobody from another; replaced, it would spoil the
    reading. What has a digit is always replaced.
    """
    own = [*_LISTING_WORDS, *Reading.__struct_fields__, *RawRow.__struct_fields__]
    own += [
        *Part.__struct_fields__,
        *Fact.__struct_fields__,
        *Port.__struct_fields__,
        *Remark.__struct_fields__,
    ]
    for words in (PartKind, RemarkKind, Absent, SourceOutcome, Privilege, PortState):
        own += [str(word) for word in words]
    own += [word for row in reading.sources for word in (row.id, row.source, row.platform)]
    own += [word for part in reading.parts for fact in part.facts for word in (fact.name, fact.rule)]
    blob = "\n".join(own).lower()
    return frozenset(t for t in personal if re.search(r"\d", t) or t.lower() not in blob)


class Scrubber:
    """Replaces every spelling of personal texts in bytes, in one pass: nothing is replaced twice."""

    def __init__(self, texts: Iterable[str], names: Pseudonyms) -> None:
        self.names = names
        self._by: dict[bytes, bytes] = {}
        for text in sorted(texts):
            for old, new in zip(spellings(text), spellings(names.text(text), text), strict=True):
                self._by.setdefault(old, new)
        self._pattern = any_of(self._by)

    def scrub(self, name: str, data: bytes) -> bytes:
        """Return a raw file without what is personal. name: its file name, which tells its kind."""
        data = scrub_structures(name, data, self.names)
        return seal_structures(name, self._replaced(data))

    def words(self, text: str) -> str:
        """Return a text of a row without what is personal."""
        return self._replaced(text.encode("utf-8", "replace")).decode("utf-8", "replace")

    def name(self, name: str) -> str:
        """Return a reply's or file's name without what is personal: an interface may be called by its
        address (`enx…`)."""
        source, dot, rest = name.partition(".")
        if self._pattern is None or not dot:
            return name
        numbered = re.compile(rb"\d")  # a host may well be called like a reply; no reply's word has digits

        def new(match: re.Match[bytes]) -> bytes:
            return self._by[match[0]] if numbered.search(match[0]) else match[0]

        return source + dot + self._pattern.sub(new, rest.encode()).decode()

    def _replaced(self, data: bytes) -> bytes:
        return data if self._pattern is None else self._pattern.sub(lambda match: self._by[match[0]], data)

    def left_in(self, data: bytes) -> str:
        """Return the first personal spelling that is still in the bytes; empty if there is none."""
        found = self._pattern.search(data) if self._pattern is not None else None
        while found is not None and self._by[found[0]] == found[0]:
            found = self._pattern.search(data, found.end()) if self._pattern is not None else None
        return "" if found is None else found[0].decode("latin-1")


def spellings(text: str, like: str | None = None) -> tuple[bytes, ...]:
    """Return how a text may be written in bytes; as many for every text of the same form.

    As it is, in capitals, in small letters, as JSON, XML and udev write it, in UTF-16, with swapped bytes as
    ATA has it, each as hexadecimal too; and what a hexadecimal text stands for, in both byte orders and in
    ATA's words. like: the text whose spellings are wanted for this one, where that is a pseudonym.
    """
    plain = [form.encode("utf-8", "replace") for form in (text, text.upper(), text.lower())]
    escaped = [json.dumps(text)[1:-1], text.replace("\\", "\\\\").replace('"', '\\"'), escape(text)]
    escaped += [text.replace(" ", sign) for sign in ("_", "\\x20", "")]
    plain += [form.encode("utf-8", "replace") for form in escaped]
    wide = [form.decode("utf-8").encode("utf-16-le") for form in plain[:3]]
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
    clean = {scrubber.name(name): scrubber.scrub(name, data) for name, data in files.items()}
    refuse_what_is_left(clean, scrubber)
    return clean


def refuse_what_is_left(files: Mapping[str, bytes], scrubber: Scrubber) -> None:
    """Raise Trouble if something personal stands in a file."""
    for name, data in files.items():
        if scrubber.left_in(data) or scrubber.name(name) != name:
            raise Trouble("something personal is left in this file", name, "Keep the specimen to yourself.")


def clean_row(row: RawRow, files: Mapping[str, bytes], scrubber: Scrubber) -> RawRow:
    """Return a row of the index as it is after scrubbing: its names, its digest, its locator's and error's
    words. files: by their new names."""
    file = None if row.file is None else scrubber.name(row.file)
    data = files[file] if file is not None else b""
    return msgspec.structs.replace(
        row,
        id=scrubber.name(row.id),
        file=file,
        locator=clean_locator(scrubber.words(row.locator), scrubber.names),
        error=scrubber.words(row.error),
        size_bytes=len(data) if file is not None else None,
        digest=digest_of(data) if file is not None else None,
        at=msgspec.structs.replace(row.at, boot_id=None),
    )
