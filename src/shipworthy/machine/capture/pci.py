"""Ask for the PCI functions, and for the lines of the system's lists that name what is fitted."""

# os.lstat here: see capture/files.py.

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator

from shipworthy.machine.capture.files import Lister, outcome_of, read_file, resolve, word_of
from shipworthy.machine.capture.graphics import amdgpu_lines, list_card
from shipworthy.machine.listing import ListingRow
from shipworthy.machine.parse.graphics import AMD
from shipworthy.machine.parse.pci.config import HEADER_BYTES, decode
from shipworthy.machine.parse.pci.source import ASLEEP, DEVICES
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

ATTRIBUTES = (
    "vendor",
    "device",
    "subsystem_vendor",
    "subsystem_device",
    "class",
    "revision",
    "power_state",
    "max_link_speed",
    "max_link_width",
)
LINK = ("current_link_speed", "current_link_width")
ERRORS = ("aer_dev_correctable", "aer_dev_nonfatal", "aer_dev_fatal", "resource")
_NEXT_VENDOR = re.compile(rb"\n(?=[^\t#\n])")
NAME_FILES = ("/usr/share/misc/pci.ids", "/usr/share/hwdata/pci.ids", "/usr/share/pci.ids")


def capture(root: Root) -> list[Reply]:
    lister = _devices(root, whole=True)
    replies = [lister.reply("pci", DEVICES), _names(root, lister)]
    cards = _amd_cards(lister)
    return [*replies, amdgpu_lines(root, cards)] if cards else replies


def capture_devices(root: Root) -> list[Reply]:
    """The same without names, errors and, but of graphics, registers: what the configuration needs."""
    return [_devices(root, whole=False).reply("pci", DEVICES)]


def _devices(root: Root, *, whole: bool) -> Lister:
    lister = Lister(root)
    addresses = lister.names(DEVICES)
    _wake_graphics(root, addresses)
    for address in addresses:
        folder = f"{DEVICES}/{address}"
        lister.target(folder)
        before = len(lister.rows)
        lister.texts(folder, ATTRIBUTES)
        texts = {row.path: (row.text or "").strip() for row in lister.rows[before:]}
        asleep = texts.get(f"{folder}/power_state") == ASLEEP
        graphics = texts.get(f"{folder}/class", "").startswith("0x03")
        if graphics or (whole and not asleep):
            _list_config(lister, folder)
        if not asleep:  # asking would wake it, which takes long and tells nothing of the link in use
            lister.texts(folder, LINK)
        lister.target(f"{folder}/driver")
        if graphics:
            vendor = texts.get(f"{folder}/vendor", "").removeprefix("0x")
            list_card(lister, folder, address, vendor, asleep=asleep)
        if whole:
            lister.texts(folder, ERRORS)
            if not asleep:
                lister.text(f"{folder}/serial_number")
    return lister


def _wake_graphics(root: Root, addresses: tuple[str, ...]) -> None:
    """Wake the cards before any port on their way is listed: a card's link is of the configuration, and with
    the card its switch wakes, too. Reading registers does it."""
    for folder in (f"{DEVICES}/{address}" for address in addresses):
        if read_file(root, f"{folder}/class").data.startswith(b"0x03"):
            asleep = read_file(root, f"{folder}/power_state").data.strip() == ASLEEP.encode()
            if asleep:
                read_file(root, f"{folder}/config")


def _list_config(lister: Lister, folder: str) -> None:
    """Keep those pieces of a configuration space that are decoded: a row for each, and one naming them."""
    path = f"{folder}/config"
    real = resolve(lister.root, path)
    if real is None:
        return
    try:
        kept = lister.root.privileged_path(path)  # the kernel gives others 64 bytes, and does not refuse
        lister.by_root = lister.by_root or kept is not None
        pieces = _pieces(os.fspath(kept or lister.root.path(real)))
    except OSError as error:
        lister.rows.append(ListingRow(path=path, outcome=outcome_of(error), error=word_of(error)))
        return
    lister.rows.append(ListingRow(path=path, names=tuple(f"0x{at:03x}" for at in sorted(pieces))))
    for at, data in sorted(pieces.items()):
        lister.rows.append(ListingRow(path=f"{path}@0x{at:03x}", hex=data.hex()))


def _pieces(path: str) -> dict[int, bytes]:
    """Read the header and follow the lists. Undefined registers are left alone: not every device bears it."""
    if not stat.S_ISREG(os.lstat(path).st_mode):
        return {}
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW | os.O_CLOEXEC)
    pieces: dict[int, bytes] = {}
    try:
        pieces[0] = os.pread(descriptor, HEADER_BYTES, 0)

        def fetch(at: int, count: int) -> bytes:
            if at + count <= len(pieces[0]):
                return pieces[0][at : at + count]
            if len(pieces.get(at, b"")) < count:
                data = os.pread(descriptor, count, at)
                if not data:
                    return b""
                pieces[at] = data
            return pieces[at][:count]

        decode(fetch)
    finally:
        os.close(descriptor)
    return pieces


def _addresses(lister: Lister) -> list[str]:
    return [row.path for row in lister.rows if row.link and row.path.rsplit("/", 1)[0] == DEVICES]


def _texts(lister: Lister) -> dict[str, str]:
    return {row.path: (row.text or "").strip().removeprefix("0x").lower() for row in lister.rows}


def _amd_cards(lister: Lister) -> set[str]:
    texts = _texts(lister)
    return {
        texts.get(f"{folder}/device", "")
        for folder in _addresses(lister)
        if texts.get(f"{folder}/vendor") == AMD and texts.get(f"{folder}/class", "").startswith("03")
    }


def _names(root: Root, lister: Lister) -> Reply:
    """The 1.4 MB file is read, and only the lines about fitted vendors, devices and cards are kept."""
    texts = _texts(lister)
    fitted = {
        tuple(texts.get(f"{f}/{n}", "") for n in ("vendor", "device", "subsystem_vendor", "subsystem_device"))
        for f in _addresses(lister)
    }
    for locator in NAME_FILES:
        answer = read_file(root, locator)
        if answer.outcome is not SourceOutcome.ABSENT:
            break
    if answer.outcome is not SourceOutcome.READ:
        return Reply("pci.names", locator, answer.outcome, b"", answer.error)
    lines = b"".join(_lines_about(answer.data, fitted))
    outcome = SourceOutcome.READ if lines else SourceOutcome.EMPTY
    return Reply("pci.names", locator, outcome, lines)


def _lines_about(data: bytes, fitted: set[tuple[str, ...]]) -> Iterator[bytes]:
    """Yield the lines of vendors, of their devices and of the cards that these sit on, sorted by vendor.

    A vendor's line begins with its number, its devices follow after one tab, their cards after two.
    """
    data = b"\n" + data
    for maker in sorted({ids[0] for ids in fitted} | {ids[2] for ids in fitted} - {""}):
        begin = data.find(b"\n" + maker.encode() + b"  ") + 1
        if not maker or not begin:
            continue
        first, *rest = data[begin : _block_end(data, begin)].splitlines(keepends=True)
        yield first
        devices = {ids[1].encode() for ids in fitted if ids[0] == maker}
        cards = {(ids[1].encode(), f"{ids[2]} {ids[3]}".encode()) for ids in fitted if ids[0] == maker}
        device = b""
        for line in rest:
            if line[:1] != b"\t":
                continue
            if line[1:2] != b"\t":
                device = line[1:5]
                if device in devices:
                    yield line
            elif (device, line[2:11]) in cards:
                yield line


def _block_end(data: bytes, begin: int) -> int:
    """Return where the next vendor's line begins after the one at `begin`; remarks stand between devices."""
    found = _NEXT_VENDOR.search(data, begin)
    return found.end() if found is not None else len(data)
