"""What the registers of one logical processor say: name, family, flags, caches, and its place in the socket.

Source: Intel SDM volume 2A, instruction CPUID (the display rules of the signature; leaves 1, 4, 7, 0Bh, 16h,
1Ah, 1Fh); AMD APM volume 3, appendix E (8000_0005h to 8000_0008h, 8000_001Dh, 8000_001Eh, 8000_0026h). Bits
from memory, and checked on real dumps.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.parse.cpu.id_forms import Leaves, Registers

NONE: Registers = (0, 0, 0, 0)
HIGH = 0x8000_0000

_FLAGS = {
    (1, 0, 2): {"pclmulqdq": 1, "fma": 12, "sse4_2": 20, "aes": 25, "avx": 28, "f16c": 29, "rdrand": 30},
    (7, 0, 1): {
        "avx2": 5,
        "bmi2": 8,
        "avx512f": 16,
        "avx512dq": 17,
        "rdseed": 18,
        "sha_ni": 29,
        "avx512bw": 30,
        "avx512vl": 31,
    },
    (7, 0, 2): {"vaes": 9, "avx512_vnni": 11},
    (7, 0, 3): {"amx_bf16": 22, "avx512_fp16": 23, "amx_tile": 24, "amx_int8": 25},
    (7, 1, 0): {"avx_vnni": 4, "avx512_bf16": 5},
}
"""Leaf, subleaf and register (0 is eax) of each flag's bit, by the kernel's names."""


def answer(leaves: Leaves, leaf: int, subleaf: int = 0) -> Registers:
    """Return the registers of a leaf; zeros where the processor says that it has no such leaf."""
    highest = leaves.get((leaf & HIGH, 0), NONE)[0]
    return leaves.get((leaf, subleaf), NONE) if leaf <= highest or highest == 0 else NONE


def vendor(leaves: Leaves) -> str:
    """Return the maker in leaf 0, such as `GenuineIntel`."""
    _, b, c, d = answer(leaves, 0)
    return _letters((b, d, c))


def brand(leaves: Leaves) -> str:
    """The name in leaves 8000_0002h to 8000_0004h, single-spaced; empty if there is none."""
    words = [word for leaf in (2, 3, 4) for word in answer(leaves, HIGH + leaf)]
    return " ".join(_letters(words).split())


def _letters(words: tuple[int, ...] | list[int]) -> str:
    raw = b"".join(word.to_bytes(4, "little") for word in words)
    return raw.split(b"\0", 1)[0].decode("ascii", "replace").strip()


def signature(leaves: Leaves) -> tuple[int, int, int]:
    """Return family, model and stepping as they are shown.

    The extended family counts where the family is 0Fh; the extended model where it is 06h or 0Fh, and in
    07h too, which only makers after Intel use (the kernel reads it from 06h on).
    """
    eax = answer(leaves, 1)[0]
    family, model = eax >> 8 & 0xF, eax >> 4 & 0xF
    if family >= 0x6:
        model |= (eax >> 16 & 0xF) << 4
    return family + (eax >> 20 & 0xFF if family == 0xF else 0), model, eax & 0xF


def flags(leaves: Leaves) -> set[str]:
    """Return what the processor offers; an operating system may not have enabled it (XCR0)."""
    return {
        name
        for (leaf, subleaf, register), bits in _FLAGS.items()
        for name, bit in bits.items()
        if answer(leaves, leaf, subleaf)[register] >> bit & 1
    }


def is_amd(leaves: Leaves) -> bool:
    """Return whether AMD's own leaves count: they do of Hygon's processors too."""
    return vendor(leaves) in ("AuthenticAMD", "HygonGenuine")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a logical processor is: its APIC id, and how many of its low bits tell threads of one core, and
    processors of one socket."""

    apic: int
    thread_bits: int
    socket_bits: int

    @property
    def core(self) -> int:
        return self.apic >> self.thread_bits

    @property
    def socket(self) -> int:
        return self.apic >> self.socket_bits


def place(leaves: Leaves) -> Place:
    """Return where a processor is: by the leaves of topology, else by what makers said before they were."""
    levels = _levels(leaves)
    if levels:
        threads = next((bits for kind, bits, _ in levels if kind == 1), 0)
        return Place(answer(leaves, _topology_leaf(leaves))[3], threads, max(bits for _, bits, _ in levels))
    apic = answer(leaves, 1)[1] >> 24
    if is_amd(leaves):
        size = answer(leaves, 0x8000_0008)[2]
        socket = size >> 12 & 0xF or room_bits((size & 0xFF) + 1)
        return Place(apic, room_bits(amd_threads_per_core(leaves)), socket)
    return Place(apic, room_bits(-(-_logical(leaves) // _addressable(leaves))), room_bits(_logical(leaves)))


def _topology_leaf(leaves: Leaves) -> int:
    return 0x1F if answer(leaves, 0x1F)[1] else 0xB


def _levels(leaves: Leaves) -> list[tuple[int, int, int]]:
    """Return kind (1 threads, 2 cores …), bits and count of each level of leaf 1Fh, else 0Bh."""
    found: list[tuple[int, int, int]] = []
    for subleaf in range(8):
        a, b, c, _ = answer(leaves, _topology_leaf(leaves), subleaf)
        if not c >> 8 & 0xFF or not b & 0xFFFF:
            break
        found.append((c >> 8 & 0xFF, a & 0x1F, b & 0xFFFF))
    return found


def room_bits(count: int) -> int:
    """Return how many bits ids of `count` things take."""
    return max(count - 1, 0).bit_length()


def amd_threads_per_core(leaves: Leaves) -> int:
    """From family 17h on; in 15h the field counts the cores of a compute unit, which are cores."""
    family = signature(leaves)[0]
    return (answer(leaves, 0x8000_001E)[1] >> 8 & 0xFF) + 1 if family >= 0x17 else 1


def _logical(leaves: Leaves) -> int:
    """Ids that a socket has room for: leaf 1, if its flag HTT says that the field counts."""
    _, b, _, d = answer(leaves, 1)
    return max(b >> 16 & 0xFF, 1) if d >> 28 & 1 else 1


def _addressable(leaves: Leaves) -> int:
    return (answer(leaves, 4)[0] >> 26 & 0x3F) + 1


def counts_told(leaves: Leaves) -> tuple[int | None, int]:
    """Return cores (None: cannot be told) and threads of the socket, as one processor's leaves tell them.

    A hybrid's one core does not know how many threads the others have. Before leaf 0Bh the counts are of
    ids that there is room for, which is as many as there are or more.
    """
    levels = _levels(leaves)
    if levels:
        threads = levels[-1][2]
        per_core = next((count for kind, _, count in levels if kind == 1), 1)
        hybrid = answer(leaves, 7)[3] >> 15 & 1
        return (None if hybrid else threads // per_core), threads
    if is_amd(leaves):
        threads = (answer(leaves, 0x8000_0008)[2] & 0xFF) + 1
        return max(threads // amd_threads_per_core(leaves), 1), threads
    logical = _logical(leaves)
    return min(_addressable(leaves), logical), logical


def core_kind(leaves: Leaves) -> str:
    """Return `performance`, `efficiency` or nothing, if the processor does not say (leaf 1Ah; 8000_0026h)."""
    kind = {0x40: "performance", 0x20: "efficiency"}.get(answer(leaves, 0x1A)[0] >> 24, "")
    a, b, c, _ = answer(leaves, 0x8000_0026)
    if c >> 8 & 0xFF == 1 and a >> 30 & 1:
        kind = {0: "performance", 1: "efficiency"}.get(b >> 28, "")
    return kind


@dataclass(frozen=True, slots=True)
class Cache:
    """One cache: `l1d`, `l2` …, its size, and how many low bits of an APIC id share it (None: not told)."""

    level: str
    size_bytes: int
    bits: int | None


def caches(leaves: Leaves) -> list[Cache]:
    """Caches of data, from leaf 4 or 8000_001Dh, else AMD's older leaves 8000_0005h and 8000_0006h."""
    found = _listed_caches(leaves, 4) or _listed_caches(leaves, 0x8000_001D)
    if found or not is_amd(leaves):
        return found
    sizes = (
        ("l1d", (answer(leaves, 0x8000_0005)[2] >> 24) << 10),
        ("l2", (answer(leaves, 0x8000_0006)[2] >> 16) << 10),
        ("l3", (answer(leaves, 0x8000_0006)[3] >> 18) << 19),
    )
    return [Cache(level, size, None) for level, size in sizes if size]


def _listed_caches(leaves: Leaves, leaf: int) -> list[Cache]:
    """SDM 2A, leaf 4: size is ways x partitions x line x sets, each written less one."""
    found: list[Cache] = []
    for subleaf in range(8):
        a, b, c, _ = answer(leaves, leaf, subleaf)
        if a & 0x1F == 0:
            break
        size = ((b >> 22) + 1) * ((b >> 12 & 0x3FF) + 1) * ((b & 0xFFF) + 1) * (c + 1)
        level = a >> 5 & 7
        if a & 0x1F != 2 and 1 <= level <= 4:
            name = "l1d" if level == 1 else f"l{level}"
            found.append(Cache(name, size, room_bits((a >> 14 & 0xFFF) + 1)))
    return found
