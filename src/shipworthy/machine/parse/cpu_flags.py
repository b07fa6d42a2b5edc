"""Instruction sets that loads choose by, of all that a processor has."""

from __future__ import annotations

from collections.abc import Collection

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


def instruction_sets(flags: Collection[str]) -> str:
    """Return those that loads choose by, parted by spaces; empty if there are none."""
    return " ".join(name for name in WANTED if name in flags)
