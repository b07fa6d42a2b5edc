"""What the raw texts of a machine state, by plain regular expressions: independent of reader and comparison.

By this, and not by what the comparison says, a planted change counts as carried by a witness, and two
witnesses of an unaltered machine count as contradicting each other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

GIB = 1 << 30
_LEAST_MODULE = 1 << 26
_UNITS = {"kB": 1 << 10, "KB": 1 << 10, "MB": 1 << 20, "GB": 1 << 30, "TB": 1 << 40}
_BLOCK = re.compile(r"^Handle 0x[0-9A-Fa-f]+, DMI type (\d+),.*?(?=^Handle 0x|\Z)", re.M | re.S)
_STAMP = r"^(?:\[[ 0-9.]+\] )?"
_REAL = re.compile(_STAMP + r"(?:real mem(?:ory)? *= (\d+) \(|total memory = (\d+) MB)", re.M)
_USABLE = re.compile(_STAMP + r"avail mem(?:ory)? *= (\d+) \(", re.M)
_CPU = re.compile(_STAMP + r"(?:CPU: (.+?) +\([\d.]+-MHz|cpu0: (\w[^,\n]*), (?:[\d.]+ MHz|id 0x))", re.M)
_CPUS = re.compile(r"Multiprocessor System Detected: (\d+) CPUs")
_DRIVE = re.compile(_STAMP + r"((?:ada|da|nda|nvd)\d+): <([^>\n]*)> (?!.*detached)(\S.*)$", re.M)
_SECTORS = re.compile(_STAMP + r"((?:ada|da|nda|nvd)\d+): (\d+MB \((\d+) (\d+) byte sectors.*)$", re.M)
_FUNCTION = re.compile(r"^(\w+)@pci\d+:(\d+):\d+:\d+:\s+class=0x(\w{6}).*?(?=^\w+@pci|\Z)", re.M | re.S)
CHIP = re.compile(r"chip=0x(?P<device>\w{4})(?P<vendor>\w{4})|vendor=0x(?P<v>\w{4}) device=0x(?P<d>\w{4})")
_PCI_NAME = re.compile(r"^ +device +=\s*'(.*)'", re.M)
_NUMBERED = re.compile(r"[A-Z0-9]*\d[A-Z0-9]*", re.I)


@dataclass(frozen=True)
class Module:
    """One filled memory slot. span: where its structure stands in the text."""

    size_bytes: int
    speed_mt_s: int | None
    kind: str
    part_number: str
    span: tuple[int, int]


@dataclass(frozen=True)
class Drive:
    """One drive of the boot log. size: the rest of the line with its size, as it stands there."""

    node: str
    name: str
    how: str
    size_bytes: int | None
    size: str

    @property
    def family(self) -> str:
        return self.node.rstrip("0123456789")


@dataclass(frozen=True)
class Display:
    """One display controller of the PCI list. span: where its block stands in the text."""

    node: str
    bus: int
    vendor: str
    device: str
    name: str
    span: tuple[int, int]


def product(name: str) -> str:
    """Return the product in a name of the list of ids: what stands in brackets behind the chip's own name."""
    match = re.search(r"\[([^\]]+)\]", name)
    return match[1] if match else ""


def field_of(block: str, name: str) -> str:
    """Return a field of a structure as dmidecode prints it; empty if it has none."""
    match = re.search(rf"^\t{re.escape(name)}:[ \t]*(.*)$", block, re.M)
    return match[1].strip() if match else ""


def structures(text: str, kind: int) -> list[tuple[tuple[int, int], str]]:
    """Return the structures of a type with their place in the text."""
    return [(m.span(), m[0]) for m in _BLOCK.finditer(text) if int(m[1]) == kind]


def modules(text: str) -> list[Module]:
    """Return the filled memory slots of dmidecode's text; a few MiB are a chip of another use."""
    found = []
    for span, block in structures(text, 17):
        size = _size(field_of(block, "Size"))
        if size and size >= _LEAST_MODULE:
            speed = field_of(block, "Configured Memory Speed") or field_of(block, "Configured Clock Speed")
            found.append(
                Module(size, _mt_s(speed), field_of(block, "Type"), field_of(block, "Part Number"), span)
            )
    return found


def _size(text: str) -> int | None:
    number, _, unit = text.partition(" ")
    return int(number) * _UNITS[unit] if number.isdigit() and unit in _UNITS else None


def _mt_s(text: str) -> int | None:
    match = re.match(r"(\d+) (?:MT/s|MHz)", text)
    return int(match[1]) if match else None


def real_bytes(log: str) -> int | None:
    """Return the memory that the kernel counts, of its last start."""
    starts = [int(m[1]) if m[1] else int(m[2]) << 20 for m in _REAL.finditer(log)]
    return starts[-1] if starts else None


def usable_bytes(log: str) -> int | None:
    """Return the memory that the kernel can use, of its last start."""
    starts = [int(m[1]) for m in _USABLE.finditer(log)]
    return starts[-1] if starts else None


def processor_of_kernel(log: str) -> str:
    """Return the processor's name as the kernel prints it, of its last start."""
    names = [m[1] or m[2] for m in _CPU.finditer(log)]
    return names[-1] if names else ""


def processors_of_firmware(text: str) -> list[str]:
    """Return the names of the sockets' processors that are populated."""
    return [
        field_of(block, "Version")
        for _, block in structures(text, 4)
        if "Unpopulated" not in field_of(block, "Status")
    ]


def counts_of_firmware(text: str) -> dict[str, int]:
    """Return cores and threads of all sockets together; those that are not told are left out."""
    found = {}
    for name in ("Core Count", "Core Enabled", "Thread Count"):
        told = [field_of(block, name) for _, block in structures(text, 4)]
        numbers = [int(one) for one in told if one.isdigit()]
        if numbers:
            found[name] = sum(numbers)
    return found


def counts_of_kernel(log: str) -> int | None:
    """Return how many processors the kernel runs, threads counted; None where it does not say."""
    told = [int(m[1]) for m in _CPUS.finditer(log)]
    return told[-1] if told else None


def board(text: str) -> tuple[tuple[int, int], str, str]:
    """Return the board's structure: its place in the text, product and version."""
    for span, block in structures(text, 2):
        return span, field_of(block, "Product Name"), field_of(block, "Version")
    return (0, 0), "", ""


def drives(log: str) -> list[Drive]:
    """Return the drives that the log describes, each once, by its last description."""
    sizes = {m[1]: (int(m[3]) * int(m[4]), m[2]) for m in _SECTORS.finditer(log)}
    found = {}
    for m in _DRIVE.finditer(log):
        size_bytes, size = sizes.get(m[1], (None, ""))
        found[m[1]] = Drive(m[1], m[2].strip(), m[3], size_bytes, size)
    return [drive for drive in found.values() if "CD-ROM" not in drive.how]


def displays(pci: str) -> list[Display]:
    """Return the display controllers of the list."""
    found = []
    for m in _FUNCTION.finditer(pci):
        chip = CHIP.search(m[0])
        if m[3].startswith("03") and chip is not None:
            name = _PCI_NAME.search(m[0])
            vendor, device = chip["vendor"] or chip["v"], chip["device"] or chip["d"]
            found.append(Display(m[1], int(m[2]), vendor, device, name[1] if name else "", m.span()))
    return found


def names_contradict(firmware: str, kernel: str) -> bool:
    """Whether two names of a processor have each a number that the other has not: two different ones. A name
    that is cut short, or has a letter more, is the same one told badly."""
    one, other = (_numbers(re.sub(r"@.*|[\d.]+ ?GHz", " ", name)) for name in (firmware, kernel))
    first = {n for n in one if not any(n in m or m in n for m in other)}
    second = {n for n in other if not any(n in m or m in n for m in one)}
    return bool(first and second)


def _numbers(name: str) -> set[str]:
    plain = re.sub(r"\((?:R|TM|tm|C)\)", " ", name)
    return {n.upper() for n in _NUMBERED.findall(plain) if len(n) >= 3}
