"""Words for processors: makers as people know them, and the instruction sets that loads choose by."""

from __future__ import annotations

from collections.abc import Collection

_MAKERS = {
    "GenuineIntel": "Intel",
    "AuthenticAMD": "AMD",
    "HygonGenuine": "Hygon",
    "Shanghai": "Zhaoxin",
}
"""By CPUID's twelve letters. `CentaurHauls` stays as it is: VIA and Zhaoxin both have it."""

WANTED = (
    "sse4_2",
    "avx",
    "avx2",
    "fma",
    "f16c",
    "bmi2",
    "avx512f",
    "avx512dq",
    "avx512bw",
    "avx512vl",
    "avx512_vnni",
    "avx512_bf16",
    "avx512_fp16",
    "avx_vnni",
    "amx_tile",
    "amx_int8",
    "amx_bf16",
    "aes",
    "vaes",
    "pclmulqdq",
    "sha_ni",
    "rdrand",
    "rdseed",
    # 64-bit Arm's names, in /proc/cpuinfo's line `Features`
    "asimd",
    "sve",
    "sve2",
    "sha2",
    "crc32",
)
"""As the kernel spells them in /proc/cpuinfo, in the order in which they are shown."""


def maker_of(letters: str) -> str | None:
    """Return the maker by the letters of CPUID; the letters if nobody is known by them."""
    letters = letters.strip()
    return _MAKERS.get(letters, letters) or None


def instruction_sets(flags: Collection[str]) -> str:
    """Return those that loads choose by, parted by spaces; empty if there are none."""
    return " ".join(name for name in WANTED if name in flags)
