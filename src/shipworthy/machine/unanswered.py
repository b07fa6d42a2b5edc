"""Name what a machine did not answer within a listing: a device that went as it was read, a file that failed.

A listing is one row of the raw index though it holds hundreds of files, so that row says nothing of these.
The rows of the listing itself do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from shipworthy.machine.listing import ListingRow
from shipworthy.machine.raw import Reply, remark
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import RemarkKind

LINKED = ("/sys/block", "/sys/bus/pci/devices", "/sys/bus/usb/devices", "/sys/class/net", "/sys/class/hwmon")
"""Folders in which everything is a link to a device's own folder (sysfs(5)): one that leads nowhere, and was
asked of, is of a device that has gone."""

WORDS = {"EIO", "ETIMEDOUT", "EREMOTEIO", "EILSEQ", "EPROTO"}
"""Errors of a bus or a device. Others are a driver's way to say that it does not offer a file (EINVAL,
ENODATA, EOPNOTSUPP), or are about this account."""

GONE = "it was listed, and gone when it was asked"


def unanswered(replies: Iterable[Reply]) -> tuple[Remark, ...]:
    """Return a remark for each device that went, and for each kind of error of each listing."""
    return tuple(
        one
        for reply in replies
        if reply.read and reply.suffix == "jsonl"
        for one in _of_listing(reply, _rows(reply.data))
    )


def _rows(data: bytes) -> list[ListingRow]:
    try:
        return [msgspec.json.decode(line, type=ListingRow) for line in data.splitlines()]
    except (msgspec.DecodeError, UnicodeDecodeError):
        return []  # no listing but another source's own lines, or spoiled: its decoder says so


def _of_listing(reply: Reply, rows: list[ListingRow]) -> Iterator[Remark]:
    links = {row.path for row in rows if row.link is not None}
    asked = {_device_of(row.path) for row in rows if row.outcome is SourceOutcome.ABSENT}
    asked -= {_device_of(row.path) for row in rows if row.text is not None or row.hex is not None}
    for folder in (row for row in rows if row.names is not None and row.path in LINKED):
        for name in folder.names or ():
            path = f"{folder.path}/{name}"
            if path not in links and (path in asked or folder.path == "/sys/class/net"):
                yield remark(reply.id, RemarkKind.NOT_ANSWERED, path, GONE)
    failed: dict[str, list[str]] = {}
    for row in rows:
        if row.outcome is SourceOutcome.FAILED and row.error in WORDS:
            failed.setdefault(row.error, []).append(row.path)
    for word, paths in failed.items():
        yield remark(reply.id, RemarkKind.NOT_ANSWERED, paths[0], word, len(paths))


def _device_of(path: str) -> str:
    """Return the entry of a folder of links that a file lies below; the path itself if it lies elsewhere."""
    folder = next((folder for folder in LINKED if path.startswith(f"{folder}/")), None)
    return path if folder is None else f"{folder}/{path[len(folder) + 1 :].split('/', 1)[0]}"
