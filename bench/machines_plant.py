"""Planted changes: one fact of a machine's raw texts is made another one, everywhere where a witness has it.

Each returns the machine with its texts changed and which witnesses' texts carry the change, by computation
(`machines_stated`); None where the machine has no such part, or nothing to put in its place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import machines_stated as stated
from machines_sets import LOG, PCI, SMBIOS, Machine
from machines_siblings import Siblings, pick, rank, tells_revision

from shipworthy.model.words import Aspect, Category

_STAMP = r"(?:\[[ 0-9.]+\] )?"


@dataclass(frozen=True)
class Planted:
    """A machine that is not what it was. was, now: what a person would call it. carried: names of witnesses
    whose text states the change. stated: names of those whose text stated what was; empty where all do."""

    machine: Machine
    was: str
    now: str
    carried: frozenset[str]
    stated: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Kind:
    """One kind of change, and of which category and aspects a finding on it would be."""

    name: str
    plant: Callable[[Machine, Siblings], Planted | None]
    about: Mapping[Category, frozenset[Aspect]]


def _module_missing(machine: Machine, siblings: Siblings) -> Planted | None:
    del siblings
    firmware = machine.text(SMBIOS)
    there = stated.modules(firmware)
    gone = pick(there, machine.name, "missing") if len(there) > 1 else None
    if gone is None:
        return None
    block = firmware[slice(*gone.span)]
    empty = re.sub(r"^\tSize:.*$", "\tSize: No Module Installed", block, flags=re.M)
    for name in ("Speed", "Configured Memory Speed", "Configured Clock Speed", "Manufacturer", "Part Number"):
        empty = re.sub(rf"^\t{name}:.*$", f"\t{name}: Unknown", empty, flags=re.M)
    return _memory(machine, put(firmware, gone.span, empty), gone.size_bytes, "a module fewer")


def _module_smaller(machine: Machine, siblings: Siblings) -> Planted | None:
    del siblings
    firmware = machine.text(SMBIOS)
    half = pick(stated.modules(firmware), machine.name, "smaller")
    if half is None or half.size_bytes < stated.GIB:
        return None
    block = firmware[slice(*half.span)]
    size = f"\tSize: {half.size_bytes // 2 >> 20} MB"
    changed = re.sub(r"^\tSize:.*$", size, block, flags=re.M)
    return _memory(machine, put(firmware, half.span, changed), half.size_bytes // 2, "a module of half")


def put(text: str, span: tuple[int, int], instead: str) -> str:
    return text[: span[0]] + instead + text[span[1] :]


def _memory(machine: Machine, firmware: str, less_bytes: int, now: str) -> Planted | None:
    """Take memory away from the kernel's counts too. They carry it where they agreed before, and still count
    it: less than 256 MiB usable would be no machine."""
    log = machine.text(LOG)
    real, usable = stated.real_bytes(log), stated.usable_bytes(log)
    fitted = sum(m.size_bytes for m in stated.modules(machine.text(SMBIOS)))
    if real is None or usable is None or usable - less_bytes < 1 << 28 or abs(real - fitted) > fitted // 64:
        return None
    for before in (real, usable):
        after = before - less_bytes
        log = re.sub(rf"= {before} \(\d+ ?MB\)", f"= {after} ({after >> 20} MB)", log)
    texts = {SMBIOS: firmware, LOG: log}
    carried = frozenset({"firmware"} | ({"kernel"} if stated.real_bytes(log) != real else set()))
    return Planted(machine.altered(texts), f"{fitted >> 20} MiB", now, carried)


def _module_slower(machine: Machine, siblings: Siblings) -> Planted | None:
    firmware = machine.text(SMBIOS)
    there = stated.modules(firmware)
    now = siblings.slower(there[0]) if there else None
    if now is None or not all((module.speed_mt_s or 0) > now for module in there):
        return None
    for module in reversed(there):  # from the end, so that the places of the others stay right
        start, end = module.span
        block = firmware[start:end]
        for name in ("Speed", "Configured Memory Speed", "Configured Clock Speed"):
            block = re.sub(rf"^(\t{name}: )\d+ ", lambda m: f"{m[1]}{now} ", block, flags=re.M)
        firmware = firmware[:start] + block + firmware[end:]
    was = f"{there[0].speed_mt_s} MT/s"
    return Planted(machine.altered({SMBIOS: firmware}), was, f"{now} MT/s", frozenset({"firmware"}))


def _drive_smaller(machine: Machine, siblings: Siblings) -> Planted | None:
    return _another_drive(machine, siblings.smaller_drive, "smaller drive")


def _drive_other_technology(machine: Machine, siblings: Siblings) -> Planted | None:
    return _another_drive(machine, siblings.other_technology, "technology")


def _another_drive(
    machine: Machine, choose: Callable[[stated.Drive, str], stated.Drive | None], what: str
) -> Planted | None:
    log = machine.text(LOG)
    there = [d for d in stated.drives(log) if d.size_bytes and _is_built_in(d, log)]
    drive = pick(there, machine.name, what)
    other = choose(drive, f"{machine.name}/{what}") if drive is not None else None
    if drive is None or other is None:
        return None
    log = re.sub(
        rf"^({_STAMP}{drive.node}: )<{re.escape(drive.name)}\s*> .*$",
        lambda m: f"{m[1]}<{other.name}> {other.how}",
        log,
        flags=re.M,
    )
    log = re.sub(rf"^({_STAMP}{drive.node}: )\d+MB \(.*$", lambda m: m[1] + other.size, log, flags=re.M)
    found = next((d for d in stated.drives(log) if d.node == drive.node), None)
    carried = frozenset({"kernel"} if found and found.name == other.name != drive.name else set())
    return Planted(machine.altered({LOG: log}), drive.name, other.name, carried)


def _is_built_in(drive: stated.Drive, log: str) -> bool:
    return "Removable" not in drive.how and not re.search(rf"^{_STAMP}{drive.node} at umass", log, re.M)


def _processor_suffix(machine: Machine, siblings: Siblings) -> Planted | None:
    firmware, log = machine.text(SMBIOS), machine.text(LOG)
    own = stated.processor_of_kernel(log)
    other = siblings.processor(own, machine.name) if own else None
    if other is None or (not stated.names_contradict(own, other) and _numbers(own) == _numbers(other)):
        return None
    log = log.replace(own, other)
    told = [name for name in stated.processors_of_firmware(firmware) if name]
    texts = {LOG: log, SMBIOS: firmware}
    for name in told:
        spaced = r"\s+".join(map(re.escape, name.split()))
        texts[SMBIOS] = re.sub(
            rf"^(\tVersion: +){spaced}\s*$", lambda m: m[1] + other, texts[SMBIOS], flags=re.M
        )
    now = stated.processors_of_firmware(texts[SMBIOS])
    carried = {"kernel"} if stated.processor_of_kernel(log) == other else set()
    carried |= {"firmware"} if now and all(name == other for name in now) else set()
    states = {"kernel"} | ({"firmware"} if any(_numbers(n) == _numbers(own) for n in told) else set())
    return Planted(machine.altered(texts), own, other, frozenset(carried), frozenset(states))


def _numbers(name: str) -> list[str]:
    return re.findall(r"[\w+-]*\d[\w+-]*", re.sub(r"@.*|[\d.]+ ?GHz", " ", name))


def _board_revision(machine: Machine, siblings: Siblings) -> Planted | None:
    """Where the firmware tells no revision, the text stays, and the order sells one that nothing tells."""
    firmware = machine.text(SMBIOS)
    span, product, version = stated.board(firmware)
    if not product:
        return None
    others = [v for v in siblings.versions if _digits(v) != _digits(version)]
    other = pick(others, machine.name, "revision")
    if other is None or not tells_revision(version):
        return Planted(machine, version, other or "1.1", frozenset())
    block = firmware[slice(*span)]
    changed = re.sub(r"^\tVersion:.*$", f"\tVersion: {other}", block, flags=re.M)
    texts = {SMBIOS: put(firmware, span, changed)}
    return Planted(machine.altered(texts), version, other, frozenset({"firmware"}))


def _digits(version: str) -> str:
    return re.sub(r"(?:\.0+)+$", "", re.sub(r"[^\d.]", "", version).strip("."))


def _graphics_sibling(machine: Machine, siblings: Siblings) -> Planted | None:
    pci = machine.text(PCI)
    cards = [d for d in stated.displays(pci) if d.bus and stated.product(d.name)]
    display = pick(cards, machine.name, "graphics")
    other = siblings.chip(display, machine.name) if display is not None else None
    if display is None or other is None:
        return None
    device, name = other
    block = pci[slice(*display.span)]
    old = f"chip=0x{display.device}{display.vendor}", f"device=0x{display.device}"
    changed = block.replace(old[0], f"chip=0x{device}{display.vendor}").replace(old[1], f"device=0x{device}")
    changed = changed.replace(f"'{display.name}'", f"'{name}'", 1)
    texts = {PCI: put(pci, display.span, changed)}
    return Planted(machine.altered(texts), display.name, name, frozenset({"kernel"}))


def _extra_part(machine: Machine, siblings: Siblings) -> Planted | None:
    """A drive more in the log, or a graphics card more on a bus of its own in the list."""
    if rank(machine.name, "extra") % 2:
        drive = pick(siblings.drives["ada"], machine.name, "extra drive")
        assert drive is not None
        log = machine.text(LOG).rstrip("\n")
        log += (
            f"\nada77 at ahcich77 bus 0 scbus77 target 0 lun 0\nada77: <{drive.name}> {drive.how}\n"
            f"ada77: {drive.size}\n"
        )
        return Planted(machine.altered({LOG: log}), "", drive.name, frozenset({"kernel"}))
    chips = [(d, n) for d, n in siblings.chips["10de"].items() if "GeForce GTX" in n]
    device, name = pick(chips, machine.name, "extra card") or ("", "")
    pci = machine.text(PCI).rstrip("\n") + (
        f"\nvgapci77@pci0:119:0:0:\tclass=0x030000 card=0x11d81b0a chip=0x{device}10de rev=0xa1 hdr=0x00\n"
        f"    vendor     = 'NVIDIA Corporation'\n    device     = '{name}'\n    class      = display\n"
        "    subclass   = VGA\n"
        "    cap 10[78] = PCI-Express 2 legacy endpoint max data 256(256) RO NS\n"
        "                 link x16(x16) speed 2.5(8.0) ASPM disabled(L0s/L1)\n"
    )
    return Planted(machine.altered({PCI: pci}), "", name, frozenset({"kernel"}))


_MEMORY = {Category.MEMORY: frozenset({Aspect.CAPACITY, Aspect.COUNT, Aspect.PRESENCE})}
_DRIVE = {Category.STORAGE: frozenset({Aspect.CAPACITY, Aspect.MODEL, Aspect.PRESENCE, Aspect.TECHNOLOGY})}
KINDS: tuple[Kind, ...] = (
    Kind("module missing", _module_missing, _MEMORY),
    Kind("module smaller", _module_smaller, _MEMORY),
    Kind("module slower", _module_slower, {Category.MEMORY: frozenset({Aspect.SPEED})}),
    Kind("drive smaller", _drive_smaller, _DRIVE),
    Kind("drive of another technology", _drive_other_technology, _DRIVE),
    Kind(
        "processor one suffix off",
        _processor_suffix,
        {Category.PROCESSOR: frozenset({Aspect.MODEL, Aspect.PRESENCE})},
    ),
    Kind("another board revision", _board_revision, {Category.BOARD: frozenset({Aspect.VERSION})}),
    Kind(
        "graphics sibling",
        _graphics_sibling,
        {Category.GRAPHICS: frozenset({Aspect.MODEL, Aspect.PRESENCE})},
    ),
    Kind("extra part", _extra_part, {Category.UNIT: frozenset({Aspect.PRESENCE})}),
)
"""Nine of the twelve kinds: what the joined machines have a witness for. The others: `machines_other`."""
