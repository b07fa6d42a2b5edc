"""Boot log of FreeBSD and its kin (DragonFly, OPNsense …): processor, memory, drives, network, USB.

Wording as in the logs of bsdhw/Dmesg. `real memory` is what the loader learnt from the firmware's tables
(`smbios.memory.enabled`) where it knows them, else the end of the highest address (from memory of
`cpu_startup`): no second witness of the modules, and so not called fitted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.boot_log.parts import (
    Found,
    Log,
    Parts,
    bytes_of,
    processors,
    text_or_silence,
)
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_SPEAKS = re.compile(r"---<<BOOT>>---|FreeBSD |DragonFly |CPU: .* class CPU\)|[a-z]+[0-9]+: <.*> on acpi0$")
_RELEASE = re.compile(r"((?:FreeBSD|DragonFly) v?[0-9][^ ]* .*)")
_ARCHITECTURE = re.compile(r"    \S.* (amd64|i386|arm64|x86_64|aarch64|riscv64)$")
_CPU = re.compile(r"CPU: (.*?) +\(([0-9.]+)-MHz")
_ORIGIN = re.compile(r' +Origin *= *"([^"]{1,12})"')
_REAL = re.compile(r"real memory +(?:=|:) +([0-9]{1,18})")
_AVAILABLE = re.compile(r"avail memory +(?:=|:) +([0-9]{1,18})")
_TOPOLOGY = re.compile(r"FreeBSD/SMP: ([0-9]{1,3}) package\(s\) x (.*)")
_CORES = re.compile(r"([0-9]{1,4}) (?:groups|cache groups|core\(s\))")
_THREADS = re.compile(r"x ([0-9]{1,2}) (?:hardware threads|HTT threads|SMT threads)")
_LINE = re.compile(r"([a-z][a-z_]*?)([0-9]{1,4})(: | at | on )(.*)")
_DESCRIBED = re.compile(r"<(.*)> ?(.*)")
_SECTORS = re.compile(r"[0-9]+[MG]B \(([0-9]{1,18}) ([0-9]{1,6}) byte sectors")
_TRANSFERS = re.compile(r"([0-9.]{1,10})MB/s transfers(?: \((SATA)?)?")
_CHANNEL = re.compile(r"<AHCI channel> at channel ([0-9]{1,2}) on (ahci[0-9]{1,3})")
_ON_PCI = re.compile(r"<(.*)> .*at device ([0-9]{1,2})\.([0-7]) on pci([0-9]{1,3})$")
_UGEN = re.compile(r"ugen([0-9]{1,3}\.[0-9]{1,3}): <(.*)> at usbus[0-9]+(.*)")
_MAC = re.compile(r"Ethernet address: (\S+)")
_MAKERS = {"GenuineIntel": "Intel", "AuthenticAMD": "AMD"}
_GBIT = {"150": 1.5, "300": 3.0, "600": 6.0}

_DRIVES: dict[str, tuple[PartKind, str | None, str | None]] = {
    "ada": (PartKind.STORAGE, None, None),
    "da": (PartKind.STORAGE, None, None),
    "nda": (PartKind.STORAGE, "NVMe", "NVMe"),
    "nvd": (PartKind.STORAGE, "NVMe", "NVMe"),
    "vtbd": (PartKind.STORAGE, "virtio", "virtual"),
    "mmcsd": (PartKind.STORAGE, "MMC", None),
    "cd": (PartKind.OPTICAL_DRIVE, None, "optical"),
}
"""Drivers of drives: kind of part, interface and technology where the driver alone tells them."""
_SOFTWARE = frozenset(
    {"lo", "bridge", "epair", "tap", "tun", "vlan", "lagg", "wlan", "pflog", "pfsync", "enc"}
)


def speaks(log: Log) -> bool:
    """Return whether a log is of such a kernel."""
    return any(_SPEAKS.match(line) for line in log.lines)


def sightings(log: Log, source: str) -> Iterator[Sighting]:
    """Yield what the kernel found."""
    yield from _processor(log, source)
    memory = _memory(log)
    if memory:
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=memory)
    yield from _kernel(log, source)
    yield from _devices(log).sightings(source)


def _processor(log: Log, source: str) -> Iterator[Sighting]:
    cpu = log.last(_CPU)
    if cpu is None:
        return
    origin = log.last(_ORIGIN)
    maker = _MAKERS.get(origin[1], origin[1]) if origin else None
    topology = log.last(_TOPOLOGY)
    packages, cores, threads = 1, None, None
    if topology:
        packages, cores = int(topology[1]), 1
        for factor in _CORES.findall(topology[2]):
            cores *= int(factor)
        per_core = _THREADS.search(topology[0])
        threads = cores * (int(per_core[1]) if per_core else 1)
    fields = (said("maker", maker), said("model", " ".join(cpu[1].split()) or None))
    yield from processors(source, packages, fields, cores, threads)


def _memory(log: Log) -> tuple[Said, ...]:
    real, available = log.last(_REAL), log.last(_AVAILABLE)
    fields: list[Said] = []
    if real:
        fields.append(said("real_bytes", int(real[1])))
    if available:
        fields.append(said("usable_bytes", int(available[1])))
    return tuple(fields)


def _kernel(log: Log, source: str) -> Iterator[Sighting]:
    release = log.last(_RELEASE)
    if release is None:
        return
    architecture = log.last(_ARCHITECTURE)
    words = release[1].split()
    fields = (
        said("release", words[1]),
        said("version", release[1].strip()),
        said("architecture", architecture[1] if architecture else None),
    )
    yield Sighting(kind=PartKind.KERNEL, place="kernel", source=source, said=fields)


def _devices(log: Log) -> Parts:
    parts = Parts()
    channels: dict[str, tuple[str, int]] = {}
    buses: dict[str, tuple[str, str]] = {}  # of a device: its name, its place if that is certain
    for line in log.lines:
        usb = _UGEN.match(line)
        if usb:
            _usb(parts, usb)
            continue
        match = _LINE.match(line)
        if match is None:
            continue
        driver, unit, rest = match[1], match[2], match[4]
        name = f"{driver}{unit}"
        if driver in _DRIVES:
            _drive(parts, driver, name, match[3], rest, channels, buses)
        elif driver == "ahcich" and (channel := _CHANNEL.match(rest)):
            channels[name] = (channel[2], int(channel[1]))
        elif on_pci := _ON_PCI.match(rest):
            buses[name] = (on_pci[1], _place(on_pci))
        elif driver not in _SOFTWARE and (mac := _MAC.match(rest)):
            _network(parts, name, mac[1], buses)
    return parts


def _place(on_pci: re.Match[str]) -> str:
    """The log numbers buses in the order of finding them: only `pci0` is surely the bus of that number."""
    return f"pci:0000:00:{int(on_pci[2]):02x}.{on_pci[3]}" if on_pci[4] == "0" else ""


def _drive(
    parts: Parts,
    driver: str,
    name: str,
    joint: str,
    rest: str,
    channels: dict[str, tuple[str, int]],
    buses: dict[str, tuple[str, str]],
) -> None:
    kind, interface, technology = _DRIVES[driver]
    place = f"node:{name}"
    if joint == " at ":
        part = parts.at(place, kind)
        _wired(part, rest, channels, buses)
    elif rest.startswith("<"):
        described = _DESCRIBED.match(rest)
        if described is None or "detached" in described[2]:
            return
        part = parts.at(place, kind)
        part.add(said("kernel_name", name), *_named(driver, described[1]))
        if interface:
            part.add(said("interface", interface))
        elif "SATA" in described[2]:
            part.add(said("interface", "SATA"))
        if technology:
            part.add(said("technology", technology))
    elif (known := parts.known(place)) is not None:
        known.add(*_more(rest, disc=driver == "cd"))


def _wired(
    part: Found, rest: str, channels: dict[str, tuple[str, int]], buses: dict[str, tuple[str, str]]
) -> None:
    """`ahcich5 bus 0 scbus4 …`: the channel, that is the controller's own port, counted there from 0."""
    bus = rest.split(" ", 1)[0]
    if bus.startswith("umass-sim"):
        part.add(said("interface", "USB"))
    elif not bus.startswith(("ahcich", "ata", "nvme", "virtio", "mmc")):
        part.add(said("interface", "SCSI"))
    controller, channel = channels.get(bus, ("", 0))
    place = buses.get(controller, ("", ""))[1]
    if place:
        part.also_at[:] = [f"{place}/ata-{channel + 1}"]


def _named(driver: str, text: str) -> tuple[Said, ...]:
    """`<MODEL FIRMWARE>`, of NVMe by `nda` with the serial behind; `nvd` names the model alone."""
    if driver in ("nvd", "vtbd", "mmcsd"):
        return (said("model", text_or_silence(text)),)
    model, _, firmware = text.rstrip().rpartition(" ")
    if driver == "nda" and model.count(" "):
        model, _, firmware = model.rpartition(" ")
    if not model:
        model, firmware = firmware, ""
    fields = (said("model", text_or_silence(model)),)
    return (*fields, said("firmware_version", text_or_silence(firmware))) if firmware else fields


def _more(rest: str, disc: bool) -> Iterator[Said]:
    """The size that an optical drive tells is its disc's."""
    sectors = None if disc else _SECTORS.match(rest)
    transfers = _TRANSFERS.match(rest)
    if sectors:
        yield said("size_bytes", bytes_of(sectors[1], sectors[2]))
        yield said("logical_block_bytes", int(sectors[2]) or Absent.NOT_OFFERED)
    elif rest.startswith("Serial Number"):
        yield said("serial", text_or_silence(rest.removeprefix("Serial Number")))
    elif transfers and transfers[2]:
        yield said("interface", "SATA")
        yield said("sata_now_gbit_s", _GBIT.get(transfers[1].split(".")[0], Absent.NOT_OFFERED))


def _network(parts: Parts, name: str, mac: str, buses: dict[str, tuple[str, str]]) -> None:
    model, place = buses.get(name, ("", ""))
    part = parts.at(f"node:{name}", PartKind.NETWORK)
    value = text_or_silence(mac.lower())
    part.add(said("kernel_name", name), said("mac", value))
    if model:  # the driver's words, of a family for the most part: no product's name
        part.add(said("description", model))
    if place:
        part.also_at[:] = [place]


def _usb(parts: Parts, usb: re.Match[str]) -> None:
    """A root hub is the controller's own. What was drawn out again is not there."""
    place = f"node:ugen{usb[1]}"
    if "(disconnected)" in usb[3]:
        parts.drop(place)
    elif not re.search(r"root HUB", usb[2], re.IGNORECASE):
        part = parts.at(place, PartKind.USB_DEVICE)
        part.add(said("kernel_name", f"ugen{usb[1]}"), said("model", usb[2].strip() or None))
