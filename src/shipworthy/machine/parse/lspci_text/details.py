"""The indented lines of an `lspci -vv` block: link, errors, serial, BARs, driver (see `lspci_text`)."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.graphics import resizable_bar
from shipworthy.machine.parse.pci.links import Function, offered
from shipworthy.machine.parse.units import BYTES_IN
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

_LINK = re.compile(
    r"^[ \t]+Lnk(Cap|Sta):\s+(?:Port #\d+, )?Speed ([^,\s]+)(?: \(\w+\))?, Width x(\d+)", re.MULTILINE
)
_TARGET = re.compile(r"^[ \t]+LnkCtl2:\s+Target Link Speed: ([\d.]+)GT/s", re.MULTILINE)
_EXPRESS = re.compile(
    r"^[ \t]+Capabilities: \[[0-9a-f]+\] Express (?:\(v\d+\) )?([A-Z][^,\[\n]*?)(?: \(Slot[+-]\))?, ",
    re.MULTILINE,
)
_PAYLOAD = re.compile(
    r"^[ \t]+DevCap:\s+MaxPayload (\d+) bytes(?:.*\n){1,8}?[ \t]+MaxPayload (\d+) bytes", re.MULTILINE
)
_SLOT = re.compile(r"^[ \t]+Slot #(\d+), PowerLimit (\d+(?:\.\d+)?)W", re.MULTILINE)
_SERIAL = re.compile(r"Device Serial Number ([0-9a-f]{2}(?:-[0-9a-f]{2}){7})")
_REGION = re.compile(r"^[ \t]+Region [0-5]: Memory at .*\[size=(\d+)([KMGT]?)\]", re.MULTILINE)
_BAR = re.compile(
    r"^[ \t]+BAR \d: current size: (\d+)([KMGT]?)B, supported:((?: \d+[KMGT]?B)+)", re.MULTILINE
)
_DRIVER = re.compile(r"^[ \t]+Kernel driver in use: (\S+)", re.MULTILINE)
_STATE = re.compile(r"^[ \t]+Status: (D[0-3])(?:[ ,]|$)", re.MULTILINE)

_TYPES = {
    "Endpoint": "endpoint",
    "Legacy Endpoint": "legacy endpoint",
    "Root Port": "root port",
    "Upstream Port": "switch upstream port",
    "Downstream Port": "switch downstream port",
    "PCI-Express to PCI/PCI-X Bridge": "PCI Express to PCI bridge",
    "PCI/PCI-X to PCI-Express Bridge": "PCI to PCI Express bridge",
    "Root Complex Integrated Endpoint": "root complex integrated endpoint",
    "Root Complex Event Collector": "root complex event collector",
}


def function_of(address: str, text: str) -> Function:
    """Return what a block says of its link. Width 0, and speed `unknown`: no link to speak of."""
    links = {kind: (speed, int(width)) for kind, speed, width in _LINK.findall(text)}
    most, now = links.get("Cap", ("", 0)), links.get("Sta", ("", 0))
    kind = _EXPRESS.search(text)
    return Function(
        address=address,
        speed_gt_s=_speed(now[0]),
        width=now[1] if now[1] not in (0, 63) else None,
        max_speed_gt_s=_speed(most[0]),
        max_width=most[1] if most[1] not in (0, 63) else None,
        port_type=_TYPES.get(kind[1].strip(), kind[1].strip()) if kind else None,
    )


def _speed(text: str) -> float | None:
    match = re.fullmatch(r"(\d{1,3}(?:\.\d{1,2})?)GT/s", text)
    return float(match[1]) if match else None


def detail_facts(text: str, function: Function) -> Iterator[Said]:
    """Yield the fields of the lines below a function's first."""
    silent = Absent.NOT_READABLE if "<access denied>" in text else Absent.NOT_OFFERED
    yield from offered(
        said("link_speed_gt_s", function.speed_gt_s or silent),
        said("link_width", function.width or silent),
        said("link_max_speed_gt_s", function.max_speed_gt_s or silent),
        said("link_max_width", function.max_width or silent),
    )
    if function.port_type:
        yield said("port_type", function.port_type)
    yield from _registers(text)
    sizes = [int(number) * BYTES_IN[unit] for number, unit in _REGION.findall(text)]
    if sizes:
        yield said("largest_bar_bytes", max(sizes))
    bar = resizable_bar(None, None, _bars(text))
    if bar is not None:
        yield said("resizable_bar", bar)
    driver = _DRIVER.search(text)
    if driver is not None:
        yield said("driver", driver[1])


def _registers(text: str) -> Iterator[Said]:
    payload, target, slot = _PAYLOAD.search(text), _TARGET.search(text), _SLOT.search(text)
    if payload is not None:
        yield said("payload_bytes", int(payload[2]))
        yield said("payload_max_bytes", int(payload[1]))
    if target is not None:
        yield said("link_target_speed_gt_s", float(target[1]))
    if slot is not None:
        yield said("slot_number", int(slot[1]))
        yield said("slot_power_w", float(slot[2]) or Absent.NOT_OFFERED)
    serial = _SERIAL.search(text)
    if serial is not None:
        silent = is_placeholder(serial[1].replace("-", ""))
        yield said("pci_serial", Absent.NOT_OFFERED if silent else serial[1])
    yield from offered(
        said("aer_uncorrectable_status", _bits(text, "UESta")),
        said("aer_correctable_status", _bits(text, "CESta")),
    )
    state = _STATE.search(text)
    if state is not None:
        yield said("power_state", "D3hot" if state[1] == "D3" else state[1])


_AER_NAMES = {"AdvNonFatalErr": "NonFatalErr", "AdvNonFatal": "NonFatalErr"}


def _bits(text: str, row: str) -> str | None:
    """Return the names of the bits that a row shows with a plus; newer versions break the row in two."""
    found = re.search(rf"^[ \t]+{row}:\s+(.*(?:\n\s+(?:\w+[+-] ?)+$)?)", text, re.MULTILINE)
    if found is None:
        return None
    return ", ".join(_AER_NAMES.get(name, name) for name in re.findall(r"(\w+)\+", found[1])) or "none"


def _bars(text: str) -> list[tuple[int, tuple[int, ...]]]:
    found: list[tuple[int, tuple[int, ...]]] = []
    for number, unit, rest in _BAR.findall(text):
        sizes = tuple(int(n) * BYTES_IN[u] for n, u in re.findall(r" (\d+)([KMGT]?)B", rest))
        found.append((int(number) * BYTES_IN[unit], sizes))
    return found
