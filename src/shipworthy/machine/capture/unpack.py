"""Unpack the stream of the privileged capture: the half without rights, which trusts none of it.

The stream is a tar of the oldest common kind (POSIX.1-1988 ustar), and of it only what the capture writes:
regular files with names of a fixed grammar. The headers are read here, not by a library of the whole format,
so that no extension of it (long names, pax records, sparse files, links, devices) has a reader at all.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from pathlib import Path
from typing import BinaryIO, NoReturn

from shipworthy.model.base import Trouble

MOST_BYTES = 4 << 20  # of one member, as in the capture
MOST_MEMBERS = 4000
MOST_TOTAL_BYTES = 64 << 20

_BLOCK = 512
_MOST_PADDING = 20 * _BLOCK  # tar fills its last record up
_DRIVE = r"(nvme[0-9]{1,4}(n[0-9]{1,4})?|sd[a-z]{1,4}|sr[0-9]{1,3})"
NAMES = re.compile(
    r"sys/firmware/dmi/tables/(DMI|smbios_entry_point)"
    r"|sys/class/dmi/id/((product|board|chassis)_serial|product_uuid)"
    r"|sys/class/powercap/[a-z0-9-]{1,32}(:[0-9a-f]{1,4}){1,3}/energy_uj"
    r"|sys/bus/pci/devices/[0-9a-f]{4,8}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]/config"
    rf"|replies/{_DRIVE}/[a-z0-9-]{{1,40}}\.bin"
    r"|replies/privileged\.json"
    r"|dmesg\.txt"
)
"""Every name that the capture can give, and nothing else: no absolute one, no `..`, no place beside it."""

MEND = "Run the privileged capture again, from the file that root installed."


def unpack(stream: BinaryIO, folder: Path) -> None:
    """Let `folder` appear with what the stream holds, whole or not at all.

    Raises Trouble for anything but a stream of the privileged capture that is whole and within its bounds,
    and where the folder is already there. Nothing is written anywhere else but in a draft beside it, which
    is gone when this returns or raises.
    """
    if os.path.lexists(folder):
        raise Trouble("the folder for the privileged capture is there already", folder, "Name a new one.")
    try:
        draft = Path(tempfile.mkdtemp(dir=folder.parent, prefix=".privileged-"))
    except OSError as error:
        raise Trouble(f"no folder can be made: {error.strerror}", folder.parent, "Name another.") from error
    try:
        _unpack_into(stream, draft)
        draft.rename(folder)
    except OSError as error:
        raise Trouble(f"cannot be unpacked: {error.strerror}", folder, "Look at the disk.") from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _unpack_into(stream: BinaryIO, draft: Path) -> None:
    names: set[str] = set()
    total = 0
    while (header := _exactly(stream, _BLOCK)) != bytes(_BLOCK):
        name, size = _member(header)
        if name in names:
            _refuse("names a file twice", name)
        names.add(name)
        total += size
        if len(names) > MOST_MEMBERS or total > MOST_TOTAL_BYTES:
            _refuse("holds more than any machine has to tell", f"{len(names)} files, {total} bytes")
        data = _exactly(stream, size + -size % _BLOCK)
        if data[size:].strip(b"\0"):
            _refuse("hides bytes behind a file", name)
        _write(draft, name, data[:size])
    _end(stream)
    if "replies/privileged.json" not in names:
        _refuse("lacks its last file, so the capture broke off", "replies/privileged.json")


def _exactly(stream: BinaryIO, count: int) -> bytes:
    """Return that many bytes; a pipe gives them in pieces."""
    pieces: list[bytes] = []
    while count and (piece := stream.read(min(count, 1 << 20))):
        pieces.append(piece)
        count -= len(piece)
    if count:
        _refuse("breaks off", f"{count} bytes are missing")
    return b"".join(pieces)


def _member(header: bytes) -> tuple[str, int]:
    """Return the name and size in a header of ustar: a regular file of our grammar, and nothing else."""
    if header[257:265] != b"ustar\x0000" or _number(header[148:156]) != _sum(header):
        _refuse("is no tar as the capture writes it", "a header")
    shown = header[:100].rstrip(b"\0").decode("ascii", "replace")
    if header[156:157] != b"0" or header[157:257].strip(b"\0"):
        _refuse("holds something that is no regular file", shown)
    if header[345:].strip(b"\0") or not NAMES.fullmatch(shown):
        _refuse("holds a name that the capture never gives", shown)
    size = _number(header[124:136])
    if size is None or size > MOST_BYTES:
        _refuse(f"holds a file of more than {MOST_BYTES} bytes, or of no size", shown)
    return shown, size


def _number(field: bytes) -> int | None:
    """Return a field of octal digits, ended by a zero byte or a blank; None if it is anything else."""
    digits = field.rstrip(b"\0 ")
    return int(digits, 8) if re.fullmatch(rb"[0-7]{1,11}", digits) else None


def _sum(header: bytes) -> int:
    """Return the sum of a header's bytes, in which the sum itself counts as blanks."""
    return sum(header[:148]) + 8 * ord(" ") + sum(header[156:])


def _end(stream: BinaryIO) -> None:
    """Two blocks of zeros end a tar, and zeros may follow to the end of a record."""
    if _exactly(stream, _BLOCK) != bytes(_BLOCK):
        _refuse("does not end as a tar does", "the last block")
    read = 0
    while piece := stream.read(_BLOCK):
        read += len(piece)
        if piece.strip(b"\0") or read > _MOST_PADDING:
            _refuse("goes on behind its end", f"{read} bytes")


def _write(draft: Path, name: str, data: bytes) -> None:
    """Write one file that is not there yet. The draft is new and ours alone, so no link can lie in it."""
    path = draft / name
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    with open(descriptor, "wb") as file:
        file.write(data)


def _refuse(what: str, where: str) -> NoReturn:
    shown = "".join(sign if " " <= sign <= "~" else "?" for sign in where[:100])  # it may be anybody's
    raise Trouble(f"the stream of the privileged capture {what}", shown, MEND)
