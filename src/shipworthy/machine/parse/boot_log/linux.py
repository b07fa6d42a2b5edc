"""Boot log of Linux: processor, memory, board, drives, network, USB.

Wording from memory of the kernel's sources (3.10 to 6.12); no whole Linux log is among the reference data.
A drive's kernel number (`ata3`) is not the controller's own port: it is that only as far as the log shows.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.boot_log.linux_drives import drives
from shipworthy.machine.parse.boot_log.parts import Log, Parts, processors, text_or_silence
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import PartKind

_VERSION = re.compile(r"Linux version (\S+) .*?(#[0-9]+ .*)?$")
_CPU = re.compile(r"(?:smpboot: )?CPU0: (.+?) \((?:fam|family): ")
_TOTAL = re.compile(
    r"(?:smpboot: Total of|x86: Booted up [0-9]+ nodes?,|smp: Brought up [0-9]+ nodes?,) ([0-9]{1,5}) "
)
_PACKAGES = re.compile(r"smpboot: Max logical packages: ([0-9]{1,3})$")
_MEMORY = re.compile(r"Memory: [0-9]{1,15}[kK]/([0-9]{1,15})[kK] available")
_DMI = re.compile(r"DMI: (.+), BIOS (.+) ([0-9]{2}/[0-9]{2}/[0-9]{4})$")
_MICROCODE = re.compile(
    r"microcode: .*?(?:Current revision: |updated early to revision |patch_level=|revision[=:] ?)"
    r"(0x[0-9a-f]{1,8})"
)
_EFI = re.compile(r"efi: EFI v[0-9]")
_STARTS = re.compile(
    r"(?:Linux version |smpboot: |Command line: |ata[0-9]+(?:\.[0-9]+)?: |nvme nvme|usb [0-9]+-)"
)
_NETWORK = re.compile(
    r"(\w+) ([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7])(?: (\w+))?: .*?\b((?:[0-9a-f]{2}:){5}[0-9a-f]{2})\b"
)
_RENAMED = re.compile(r"\w+ ([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]) (\w+): renamed from \w+")
_ROOT_HUB = re.compile(
    r"[a-z]hci[-_]\w+ ([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]): "
    r"new USB bus registered, assigned bus number ([0-9]{1,3})"
)
_USB = re.compile(
    r"usb ([0-9]{1,3})-([0-9.]{1,20}): "
    r"(?:New USB device found, idVendor=([0-9a-f]{4}), idProduct=([0-9a-f]{4})"
    r"|(Product|Manufacturer|SerialNumber): (.*)|(USB disconnect))"
)


def speaks(log: Log) -> bool:
    """Return whether a log is of such a kernel."""
    return any(_STARTS.match(line) for line in log.lines)


def sightings(log: Log, source: str) -> Iterator[Sighting]:
    """Yield what the kernel found."""
    yield from _processor(log, source)
    memory = log.last(_MEMORY)
    if memory:
        fields = (said("real_bytes", int(memory[1]) << 10),)
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=fields)
    yield from _board(log, source)
    version = log.last(_VERSION)
    if version:
        told = (said("release", version[1]), said("version", version[2]))
        yield Sighting(kind=PartKind.KERNEL, place="kernel", source=source, said=told)
    parts = drives(log)
    _network(log, parts)
    _usb(log, parts)
    yield from parts.sightings(source)


def _processor(log: Log, source: str) -> Iterator[Sighting]:
    cpu = log.last(_CPU)
    if cpu is None:
        return
    model = " ".join(cpu[1].split())
    maker = next((name for name in ("Intel", "AMD") if model.startswith(name)), None)
    fields: list[Said] = [said("model", model)]
    if maker:
        fields.append(said("maker", maker))
    microcode = log.last(_MICROCODE)
    if microcode:
        fields.append(said("microcode", f"0x{int(microcode[1], 16):x}"))
    total, packages = log.last(_TOTAL), log.last(_PACKAGES)
    if total and packages and packages[1] == "1":
        fields.append(said("online_threads", int(total[1])))
    yield from processors(source, int(packages[1]) if packages else 1, tuple(fields), None, None)


def _board(log: Log, source: str) -> Iterator[Sighting]:
    """`DMI: MAKER MODEL/BOARD, BIOS VERSION DATE`. Where the maker ends cannot be told, so it is not."""
    dmi = log.last(_DMI)
    mode = (said("mode", "UEFI"),) if log.last(_EFI) else ()
    firmware: tuple[Said, ...] = ()
    if dmi:
        _, slash, board = dmi[1].rpartition("/")
        if slash:
            fields = (said("model", text_or_silence(board)),)
            yield Sighting(kind=PartKind.BOARD, place="board", source=source, said=fields)
        firmware = (said("version", text_or_silence(dmi[2])), said("date", dmi[3]))
    if firmware or mode:
        yield Sighting(kind=PartKind.FIRMWARE, place="firmware", source=source, said=(*firmware, *mode))


def _network(log: Log, parts: Parts) -> None:
    for line in log.lines:
        match = _NETWORK.match(line)
        renamed = None if match else _RENAMED.match(line)
        if match:
            part = parts.at(f"pci:{match[2]}", PartKind.NETWORK)
            part.add(said("driver", match[1]), said("mac", text_or_silence(match[4])))
            if match[3]:
                part.add(said("kernel_name", match[3]))
        elif renamed and (known := parts.known(f"pci:{renamed[1]}")):
            known.add(said("kernel_name", renamed[2]))


def _usb(log: Log, parts: Parts) -> None:
    """A device by its bus and hub ports; the bus's controller is named where its root hub is."""
    controllers: dict[str, str] = {}
    for line in log.lines:
        hub, usb = _ROOT_HUB.match(line), _USB.match(line)
        if hub:
            controllers[hub[2]] = hub[1]
        if usb is None:
            continue
        controller = controllers.get(usb[1])
        place = f"pci:{controller}/usb-{usb[1]}-{usb[2]}" if controller else f"usb:{usb[1]}-{usb[2]}"
        if usb[7]:
            parts.drop(place)
        elif usb[3]:
            ids = (said("vendor_id", f"0x{usb[3]}"), said("device_id", f"0x{usb[4]}"))
            parts.at(place, PartKind.USB_DEVICE).add(*ids)
        elif (part := parts.known(place)) is not None:
            part.add(_usb_text(usb[5], usb[6]))


def _usb_text(label: str, text: str) -> Said:
    if label == "Product":
        return said("model", text_or_silence(text))
    if label == "Manufacturer":
        return said("maker", text_or_silence(text))
    return said("serial", text_or_silence(text))
