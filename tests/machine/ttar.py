"""A reader of the plain text archives `.ttar`, for tests and measurements.

Form, as the archives show it: comment lines, then for each entry `Directory: path`, or `Path: path` with
`SymlinkTo: target` or `Lines: n` and so many lines, then `Mode: octal`. A zero byte is written NULLBYTE; EOF
at the end of the last line means that the file has no newline there. Both words, where a file really holds
them, have a backslash before them.
"""

from __future__ import annotations

import re
from pathlib import Path

_ZERO = re.compile(rb"(?<!\\)NULLBYTE")


def entries(data: bytes) -> dict[str, bytes | str | None]:
    """Return by path: a file's bytes, a link's target as text, or None for a folder."""
    lines = data.split(b"\n")
    found: dict[str, bytes | str | None] = {}
    path, at = "", 0
    while at < len(lines):
        name, _, rest = lines[at].partition(b": ")
        at += 1
        if name == b"Directory":
            found[rest.decode()] = None
        elif name == b"Path":
            path = rest.decode()
        elif name == b"SymlinkTo":
            found[path] = rest.decode()
        elif name == b"Lines":
            count = int(rest)
            found[path] = _content(lines[at : at + count])
            at += count
    return found


def _content(lines: list[bytes]) -> bytes:
    whole = _ZERO.sub(b"\0", b"\n".join(lines)).replace(b"\\NULLBYTE", b"NULLBYTE")
    if not lines:
        return b""
    if whole.endswith(b"EOF") and not whole.endswith(b"\\EOF"):
        return whole[:-3].replace(b"\\EOF", b"EOF")
    return whole.replace(b"\\EOF", b"EOF") + b"\n"


def unpack(archive: Path, folder: Path) -> Path:
    """Write an archive's entries below a folder, and return it. A target that is not there stays dangling."""
    for path, content in entries(archive.read_bytes()).items():
        place = folder / path.rstrip("/")
        if content is None:
            place.mkdir(parents=True, exist_ok=True)
            continue
        place.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(content, bytes):
            place.write_bytes(content)
        elif not place.is_symlink():
            place.symlink_to(content.rstrip("/"))
    return folder
