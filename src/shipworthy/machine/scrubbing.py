"""What is personal by its place in a structure, and the sums over it: EDID, SMBIOS, SPD, rows of listings.

EDID: VESA E-EDID 1.4, 3.4 (serial number at 12, 4 bytes; a block's bytes sum to nought). SMBIOS: DSP0134
7.12 (OEM strings), types from 128 on (makers' own). SPD: JEDEC 21-C annex K (DDR3, serial at 122), annex L
(DDR4, at 325), JESD400-5 (DDR5, at 517). USB: USB 3.2, 9.6.2.3 (container id). PCI: the capability 0003h.
Drives are in `scrubbing_drives`, other tools' reports in `scrubbing_reports`.
"""

from __future__ import annotations

import json
import re
from binascii import crc_hqx

from shipworthy.machine.parse.edid import serials as edid_serials
from shipworthy.machine.parse.smbios.table import table_of_dump, walk
from shipworthy.machine.pseudonyms import Pseudonyms
from shipworthy.machine.scrubbing_drives import scrub_designators, scrub_drive, seal_ata_identify
from shipworthy.machine.scrubbing_reports import clean_file_name, scrub_report

_STRINGS_ONLY, _WHOLE, _MAKERS_OWN = (11, 12), (42, 126), 128
"""SMBIOS: OEM strings and options; a management controller's interface, which holds addresses and the host's
name, and what is inactive; types from here on are makers' own."""
_VARIABLE = re.compile(r"/efivars/(PK|KEK|db|dbx|MokList\w*)-")
_TEXT_RUN = re.compile(rb"[ -~]{4,}")
_CONTAINER_ID, _CONTAINER_BYTES = b"\x14\x10\x04", 20
_PCI_SERIAL = 0x0003
_EDID_ROW = re.compile(r"/edid$")
_DDR3, _DDR4, _DDR5 = 0x0B, 0x0C, 0x12
_SERIAL_OF_SPD = {_DDR3: 122, _DDR4: 325, _DDR5: 517}
"""Where the serial lies, by byte 2 (the kind of memory)."""


def scrub_structures(name: str, data: bytes, names: Pseudonyms) -> bytes:
    """Return a raw file without what is personal by its place. name: its file name, which tells its kind."""
    bare = name.rsplit("/", 1)[-1]
    if bare.startswith("left-over"):
        return b"".join(_left_over(line, names) for line in data.splitlines(keepends=True))
    if bare.startswith("smbios.table"):
        return scrub_smbios(data)
    if bare.startswith("smbios-file"):
        return _scrub_smbios_file(data)
    if bare.endswith(".jsonl"):
        return b"".join(_row(line, names) for line in data.splitlines(keepends=True))
    if bare.startswith("spd"):
        return scrub_spd(data, names)
    if bare.startswith("edid"):
        return scrub_edid(data, names)
    if bare.startswith("usb-") and bare.endswith(".bin"):
        return scrub_container_id(data, names)
    if bare.endswith(".bin"):
        return scrub_drive(bare, data)
    return scrub_report(bare, data, names)


def seal_structures(name: str, data: bytes) -> bytes:
    """Return a raw file whose sums are right again after texts in it were replaced."""
    bare = name.rsplit("/", 1)[-1]
    return seal_ata_identify(data) if re.fullmatch(r"ata\..*identify\.bin", bare) else data


def _row(line: bytes, names: Pseudonyms) -> bytes:
    """Scrub the bytes that a row of a listing holds as hexadecimal."""
    if b'"hex"' not in line:
        return line
    row = json.loads(line)
    path, raw = row["path"], bytes.fromhex(row["hex"])
    if _EDID_ROW.search(path):
        raw = scrub_edid(raw, names)
    elif _VARIABLE.search(path):
        raw = raw[:4] + bytes(len(raw) - 4)  # the attributes; an own key's certificate names who made it
    elif path.endswith("/vpd_pg83"):
        raw = scrub_designators(raw, names)
    elif path.endswith("/bos_descriptors"):
        raw = scrub_container_id(raw, names)
    elif "/config@0x" in path and len(raw) >= 12 and int.from_bytes(raw[:2], "little") == _PCI_SERIAL:
        raw = raw[:4] + _pci_serial(raw[4:12], names) + raw[12:]
    row["hex"] = raw.hex()
    return json.dumps(row, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"


def _left_over(line: bytes, names: Pseudonyms) -> bytes:
    """The name of a file that was not read may say anything."""
    row = json.loads(line)
    if not re.fullmatch(r"\d+ more", row["path"]):
        row["path"] = clean_file_name(row["path"], names)
    return json.dumps(row, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"


def _pci_serial(raw: bytes, names: Pseudonyms) -> bytes:
    """Written as people write it, the highest byte first, so that it stays what reports call it."""
    if not raw.strip(b"\0") or not raw.strip(b"\xff"):
        return raw
    return bytes.fromhex(names.text(raw[::-1].hex("-")).replace("-", ""))[::-1]


def scrub_container_id(data: bytes, names: Pseudonyms) -> bytes:
    """Replace the UUID that a USB device has for itself, in its own order of bytes."""
    at = data.find(_CONTAINER_ID)
    if at < 0 or len(data) < at + _CONTAINER_BYTES:
        return data
    new = b"".join(
        names.number(n, 4).to_bytes(4, "big") for n in _words(data[at + 4 : at + _CONTAINER_BYTES])
    )
    return data[: at + 4] + new + data[at + _CONTAINER_BYTES :]


def _words(data: bytes) -> list[int]:
    return [int.from_bytes(data[at : at + 4], "big") for at in range(0, len(data), 4)]


def scrub_edid(data: bytes, names: Pseudonyms) -> bytes:
    """Replace the serials of every block, and put the sums right that were right before."""

    def change(old: bytes, kind: str) -> bytes:
        if kind == "number":
            return names.number(int.from_bytes(old, "little"), 4).to_bytes(4, "little")
        return names.text(old.decode("latin-1")).encode("latin-1", "replace") if kind == "text" else b""

    return edid_serials.rewritten(data, change)


def _scrub_smbios_file(data: bytes) -> bytes:
    """The same of a file that may have an entry point or a header before the table."""
    first = next(iter(table_of_dump(data).structures), None)
    begin = 0 if first is None else max(data.find(first.area) - first.at, 0)
    return data[:begin] + scrub_smbios(data[begin:])


def scrub_smbios(table: bytes) -> bytes:
    """Blank the strings that makers use as they like, structures that are makers' own, and texts beside all
    structures."""
    clean = bytearray(table)
    beside = 0
    for structure in walk(table).structures:
        _blank_texts(clean, beside, structure.at)
        own = structure.type >= _MAKERS_OWN or structure.type in _WHOLE
        at = structure.at
        begin = at + len(structure.area)
        if own:
            clean[at + 4 : begin] = bytes(max(len(structure.area) - 4, 0))
        beside = begin
        for string in structure.strings:
            if own or structure.type in _STRINGS_ONLY:
                clean[beside : beside + len(string)] = b"x" * len(string)
            beside += len(string) + 1
    _blank_texts(clean, beside, len(clean))
    return bytes(clean)


def _blank_texts(data: bytearray, begin: int, end: int) -> None:
    """What no structure holds, behind the table's end or where it cannot be walked, may be of a structure."""
    for match in list(_TEXT_RUN.finditer(bytes(data[begin:end]))):
        data[begin + match.start() : begin + match.end()] = b"x" * len(match[0])


def scrub_spd(data: bytes, names: Pseudonyms) -> bytes:
    """Replace the module's serial, as its four bytes are written in hexadecimal by firmware too.

    Of DDR3 the checksum may cover it: bit 7 of byte 0 says whether only the first 117 bytes are summed.
    """
    at = _SERIAL_OF_SPD.get(data[2] if len(data) > 2 else 0)
    if at is None or len(data) < at + 4:
        return data
    new = bytes.fromhex(names.text(data[at : at + 4].hex().upper()))
    clean = data[:at] + new + data[at + 4 :]
    covered = at == _SERIAL_OF_SPD[_DDR3] and not data[0] & 0x80
    if covered and data[126:128] == crc_hqx(data[:126], 0).to_bytes(2, "little"):
        clean = clean[:126] + crc_hqx(clean[:126], 0).to_bytes(2, "little") + clean[128:]
    return clean
