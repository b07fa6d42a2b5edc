"""What is personal by its place in a structure, and the sums over it: EDID, SMBIOS, SPD, ATA.

EDID: VESA E-EDID 1.4, 3.4 (serial number at 12, 4 bytes; a block's bytes sum to nought). SMBIOS: DSP0134
7.12 (OEM strings), types from 128 on (makers' own). SPD: JEDEC 21-C annex K (DDR3, serial at 122), annex L
(DDR4, at 325), JESD400-5 (DDR5, at 517). ATA: ACS, word 255 (signature A5h, then the sum).
"""

from __future__ import annotations

import json
import re
from binascii import crc_hqx

from shipworthy.machine.parse.edid import serials as edid_serials
from shipworthy.machine.parse.smbios.table import table_of_dump, walk
from shipworthy.machine.pseudonyms import Pseudonyms

_OEM_STRINGS, _OPTIONS, _MAKERS_OWN = 11, 12, 128
_EDID_ROW = re.compile(r"/edid$")
_DDR3, _DDR4, _DDR5 = 0x0B, 0x0C, 0x12
_SERIAL_OF_SPD = {_DDR3: 122, _DDR4: 325, _DDR5: 517}
"""Where the serial lies, by byte 2 (the kind of memory)."""


def scrub_structures(name: str, data: bytes, names: Pseudonyms) -> bytes:
    """Return a raw file without what is personal by its place. name: its file name, which tells its kind."""
    bare = name.rsplit("/", 1)[-1]
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
    return data


def seal_structures(name: str, data: bytes) -> bytes:
    """Return a raw file whose sums are right again after texts in it were replaced."""
    bare = name.rsplit("/", 1)[-1]
    return _seal_ata_identify(data) if re.fullmatch(r"ata\..*identify\.bin", bare) else data


def _row(line: bytes, names: Pseudonyms) -> bytes:
    """Scrub the bytes that a row of a listing holds as hexadecimal."""
    if b'"hex"' not in line:
        return line
    row = json.loads(line)
    raw = bytes.fromhex(row["hex"])
    if _EDID_ROW.search(row["path"]):
        raw = scrub_edid(raw, names)
    row["hex"] = raw.hex()
    return json.dumps(row, separators=(",", ":")).encode() + b"\n"


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
    """Blank the strings that makers use as they like, and the whole of makers' own structures."""
    clean = bytearray(table)
    for structure in walk(table).structures:
        own = structure.type >= _MAKERS_OWN
        if not own and structure.type not in (_OEM_STRINGS, _OPTIONS):
            continue
        at = structure.at
        if own:
            clean[at + 4 : at + len(structure.area)] = bytes(max(len(structure.area) - 4, 0))
        begin = at + len(structure.area)
        for string in structure.strings:
            clean[begin : begin + len(string)] = b"x" * len(string)
            begin += len(string) + 1
    return bytes(clean)


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


def _seal_ata_identify(data: bytes) -> bytes:
    """Put the sum of IDENTIFY DEVICE right where its signature A5h says that there is one."""
    if len(data) != 512 or data[510] != 0xA5:
        return data
    return data[:511] + bytes([-sum(data[:511]) % 256])
