"""Status words of machine checks: the bits and the code that all x86 processors share.

Intel SDM volume 3B, 15.3.2.2 (IA32_MCi_STATUS) and 15.9 (error codes); AMD64 APM volume 2, 9.3.2.1: from
memory, and held against the words that FreeBSD's kernel prints beside each status (bsdhw/Dmesg). AMD uses
bits 52 to 38 otherwise, so that the count is Intel's alone. Model-specific codes (bits 31 to 16) are shown
and not decoded.
"""

from __future__ import annotations

from dataclasses import dataclass

_SIMPLE = {
    0x0000: "no error",
    0x0001: "unclassified",
    0x0002: "microcode ROM parity",
    0x0003: "external",
    0x0004: "functional redundancy check",
    0x0005: "internal parity",
    0x0006: "SMM handler code access violation",
    0x0400: "internal timer",
    0x0E0B: "I/O",
}
_MEMORY = ("generic", "read", "write", "address or command", "scrubbing")
_REQUESTS = (
    "generic",
    "read",
    "write",
    "data read",
    "data write",
    "instruction fetch",
    "prefetch",
    "eviction",
    "snoop",
)
_WHAT = ("instruction", "data", "generic", "unknown")
_BUS = ("source", "response", "observed", "generic")


@dataclass(frozen=True, slots=True)
class MachineCheck:
    """One status word, decoded. corrected_count: of Intel's processors that count; else it means nothing."""

    valid: bool
    overflow: bool
    uncorrected: bool
    enabled: bool
    misc_valid: bool
    address_valid: bool
    context_corrupt: bool
    error_code: int
    model_code: int
    corrected_count: int
    meaning: str


def decode_status(status: int) -> MachineCheck:
    """Return what a 64-bit status word says."""

    def bit(number: int) -> bool:
        return bool(status >> number & 1)

    code = status & 0xFFFF
    return MachineCheck(
        valid=bit(63),
        overflow=bit(62),
        uncorrected=bit(61),
        enabled=bit(60),
        misc_valid=bit(59),
        address_valid=bit(58),
        context_corrupt=bit(57),
        error_code=code,
        model_code=status >> 16 & 0xFFFF,
        corrected_count=status >> 38 & 0x7FFF,
        meaning=meaning_of(code),
    )


def meaning_of(code: int) -> str:
    """Return the words of an error code (15.9.1 and 15.9.2). Bit 12 says only that reports are filtered."""
    if code in _SIMPLE:
        return _SIMPLE[code]
    bare = code & ~0x1000
    level = f"level {bare & 3}" if bare & 3 != 3 else "generic level"
    what, request = _WHAT[bare >> 2 & 3], bare >> 4 & 0xF
    asked = _REQUESTS[request] if request < len(_REQUESTS) else f"request {request}"
    if bare & 0xFF80 == 0x0080:
        return _memory(bare)
    if bare & 0xF800 == 0x0800:
        part = ("memory", "reserved", "I/O", "other")[bare >> 2 & 3]
        timeout = ", timed out" if bare & 0x100 else ""
        return f"bus and interconnect: {part}, {asked}, {_BUS[bare >> 9 & 3]}, {level}{timeout}"
    if bare & 0xFF00 == 0x0100:
        return f"{what} cache: {asked}, {level}"
    if bare & 0xFFF0 == 0x0010:
        return f"{what} translation buffer: {level}"
    if bare & 0xFFFC == 0x000C:
        return f"cache hierarchy: {level}"
    if bare & 0xFC00 == 0x0400:
        return f"internal, unclassified: code 0x{bare & 0x3FF:03x}"
    return f"code 0x{code:04x}"


def _memory(code: int) -> str:
    kind, channel = code >> 4 & 7, code & 0xF
    asked = _MEMORY[kind] if kind < len(_MEMORY) else f"kind {kind}"
    return f"memory controller: {asked}, " + ("channel not told" if channel == 15 else f"channel {channel}")
