"""What is personal by its place in the pages of drives: names that nothing else gives, and makers' own bytes.

NVMe: Base 2.0, 5.17 (FRU unique identifier at 112; makers' own from 3072 in a controller's page, from 384 in
a namespace's). ATA: ACS, IDENTIFY DEVICE words 129-159 (makers' own) and 176-205 (the medium's serial), word
255 (signature A5h, then the sum); SMART data, bytes 386-510 (makers' own), 511 (the sum). SCSI: SPC-4, 7.8.6
(device identification page 83h: names of the drive, of its ports and of what they hang on). From memory.
"""

from __future__ import annotations

import re

from shipworthy.machine.pseudonyms import Pseudonyms

_BINARY, _NAME_STRING = 1, 8
_FRU, _OWN_OF_CONTROLLER, _OWN_OF_NAMESPACE = slice(112, 128), slice(3072, 4096), slice(384, 4096)
_OWN_OF_ATA = (slice(258, 320), slice(352, 412))
_OWN_OF_SMART = slice(386, 511)


def scrub_drive(name: str, data: bytes) -> bytes:
    """Return a page of a drive without what is personal by its place; its serial and names are found as
    texts. name: its file name."""
    if re.search(r"(identify-controller|nvme-controller)", name) and len(data) == 4096:
        return _without(data, _FRU, _OWN_OF_CONTROLLER)
    if re.search(r"(identify-namespace|nvme-namespace)", name) and len(data) == 4096:
        return _without(data, _OWN_OF_NAMESPACE)
    if re.fullmatch(r"ata\..*identify\.bin", name) and len(data) == 512:
        return _without(data, *_OWN_OF_ATA)
    if re.fullmatch(r"ata\..*\.smart\.bin", name) and len(data) == 512:
        clean = _without(data, _OWN_OF_SMART)
        return clean if sum(data) % 256 else clean[:511] + bytes([-sum(clean[:511]) % 256])
    return data


def seal_ata_identify(data: bytes) -> bytes:
    """Put the sum of IDENTIFY DEVICE right where its signature A5h says that there is one."""
    if len(data) != 512 or data[510] != 0xA5:
        return data
    return data[:511] + bytes([-sum(data[:511]) % 256])


def scrub_designators(data: bytes, names: Pseudonyms) -> bytes:
    """Replace every world-wide name in page 83h: a port's differs from the drive's in one digit only."""
    clean = bytearray(data)
    at = 4
    while at + 4 <= len(data):
        begin, end = at + 4, min(at + 4 + data[at + 3], len(data))
        code, kind = data[at] & 0x0F, data[at + 1] & 0x0F
        if code == _BINARY and end - begin >= 8:
            clean[begin:end] = bytes.fromhex(names.text(data[begin:end].hex()))
        elif kind == _NAME_STRING:
            clean[begin:end] = names.text(data[begin:end].decode("latin-1")).encode("latin-1", "replace")
        at = at + 4 + data[at + 3]
    return bytes(clean)


def _without(data: bytes, *places: slice) -> bytes:
    clean = bytearray(data)
    for place in places:
        clean[place] = bytes(len(clean[place]))
    return bytes(clean)
