"""Pages and registers of ATA drives: IDENTIFY DEVICE, the log of device statistics, power mode and health.

Standard: INCITS ACS (ATA Command Set). Word numbers as seen in EDK II's Atapi.h and in smartmontools,
which cites ATA8-ACS to ACS-5 (check values, storage.md); words 69, 106, 128, 169, 230 and the pages of
statistics from ACS-3 (from memory). Registers in a sense: SAT (SCSI / ATA Translation), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.listing import said
from shipworthy.machine.parse.drive_pages import ascii_text, says_nothing
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

PAGE_BYTES = 512
MOST_SENSE = 252  # SPC: eight bytes and a length of at most 244
MOST_BYTES = 1 << 60  # no drive is that large, none has written that much

_SATA_GBIT_S = {1: 1.5, 2: 3.0, 3: 6.0}
_FORM_FACTORS = {
    1: "5.25 inch",
    2: "3.5 inch",
    3: "2.5 inch",
    4: "1.8 inch",
    5: "under 1.8 inch",
    6: "mSATA",
    7: "M.2",
    8: "MicroSSD",
    9: "CFast",
}


def word(data: bytes, number: int) -> int:
    """Return a word of a page: 16 bits, little-endian."""
    return int.from_bytes(data[2 * number : 2 * number + 2], "little")


def words_text(data: bytes, first: int, last: int) -> str | Absent:
    """Return the text in a range of words, whose two bytes each are swapped."""
    swapped = b"".join(data[2 * n : 2 * n + 2][::-1] for n in range(first, last + 1))
    return ascii_text(swapped)


def sum_holds(data: bytes) -> bool:
    """Return whether the page's checksum holds; one without the signature 0xA5 in word 255 has none."""
    return data[510] != 0xA5 or sum(data[:PAGE_BYTES]) % 256 == 0


def identify_facts(data: bytes) -> tuple[Said, ...]:
    """IDENTIFY DEVICE, 512 bytes. All fields implausible where the page is short or its checksum wrong."""
    nothing = says_nothing(data, PAGE_BYTES) or (None if sum_holds(data) else Absent.IMPLAUSIBLE)
    if nothing is not None:
        return tuple(said(name, nothing) for name in IDENTIFY_NAMES)
    return _identify(data)


def _identify(data: bytes) -> tuple[Said, ...]:
    block = logical_block_bytes(data)
    size = sectors(data) * block
    rotation = word(data, 217)
    spins = 0x0401 <= rotation <= 0xFFFE
    technology = "solid state" if rotation == 1 else "spinning" if spins else Absent.NOT_OFFERED
    now = _SATA_GBIT_S.get(word(data, 77) >> 1 & 7, Absent.NOT_OFFERED)
    return (
        said("model", words_text(data, 27, 46)),
        said("serial", words_text(data, 10, 19)),
        said("firmware_version", words_text(data, 23, 26)),
        said("size_bytes", _bounded(size)),
        said("logical_block_bytes", block),
        said("physical_block_bytes", _physical_block_bytes(data, block)),
        said("rotation_rpm", rotation if spins else Absent.NOT_OFFERED),
        said("technology", technology),
        said("sata_max_gbit_s", _sata_max_gbit_s(data)),
        said("sata_now_gbit_s", now if _tells_sata(data) else Absent.NOT_OFFERED),
        said("form_factor", _FORM_FACTORS.get(word(data, 168) & 0x0F, Absent.NOT_OFFERED)),
        said("wwn", _wwn(data)),
        said("trim", bool(word(data, 169) & 1)),
        said("smart_supported", _flag(data, 82, 83, 0)),
        said("smart_enabled", _flag(data, 85, 87, 0)),
        said("security_state", security_words(word(data, 128)) if word(data, 128) != 0xFFFF else None),
    )


def _bounded(size: int) -> int | Absent:
    if not size:
        return Absent.NOT_OFFERED
    return size if size < MOST_BYTES else Absent.IMPLAUSIBLE


def _wwn(data: bytes) -> str | Absent:
    """Words 108-111, the highest first, where bit 8 of word 87 says so."""
    name = b"".join(data[2 * n : 2 * n + 2][::-1] for n in range(108, 112))
    if word(data, 87) >> 14 != 1 or not word(data, 87) >> 8 & 1 or not any(name) or name == b"\xff" * 8:
        return Absent.NOT_OFFERED
    return "0x" + name.hex()


def _flag(data: bytes, number: int, guard: int, bit: int) -> bool | Absent:
    """A word of features counts where its guard word has 01b in its top bits."""
    if word(data, guard) >> 14 != 1:
        return Absent.NOT_OFFERED
    return bool(word(data, number) >> bit & 1)


def security_words(state: int) -> str:
    """Word 128: bit 0 supported, 1 enabled, 2 locked, 3 frozen, 4 too many attempts."""
    if not state & 1:
        return "not supported"
    words = ["enabled" if state & 2 else "disabled"]
    words += [name for bit, name in ((2, "locked"), (3, "frozen"), (4, "expired")) if state >> bit & 1]
    return ", ".join(words)


def _physical_block_bytes(data: bytes, block: int) -> int | Absent:
    """Word 106: bit 13 says that bits 3:0 are the power of two of logical sectors in a physical one."""
    sizes = word(data, 106)
    if sizes >> 14 != 1:
        return Absent.NOT_OFFERED
    return block << (sizes & 0x0F) if sizes >> 13 & 1 else block


def sectors(data: bytes) -> int:
    """Return the number of logical sectors: words 230-233 where bit 3 of word 69 says so, words 100-103
    where 48-bit addressing is on, else 60-61."""
    if word(data, 69) >> 3 & 1 and word(data, 69) != 0xFFFF and any(data[460:468]):
        return int.from_bytes(data[460:468], "little")
    large = int.from_bytes(data[200:208], "little") if word(data, 83) >> 10 & 1 else 0
    return large or int.from_bytes(data[120:124], "little")


def logical_block_bytes(data: bytes) -> int:
    """Return the size of a logical sector: 512, or words 117-118 (in words) where 106 says so."""
    sizes = word(data, 106)
    if sizes >> 14 == 1 and sizes >> 12 & 1:
        return 2 * int.from_bytes(data[234:238], "little") or 512
    return 512


def _tells_sata(data: bytes) -> bool:
    """Word 76 is of SATA where it is neither 0 nor all ones, and its bit 0 is 0."""
    return word(data, 76) not in (0, 0xFFFF) and not word(data, 76) & 1


def _sata_max_gbit_s(data: bytes) -> float | Absent:
    if not _tells_sata(data):
        return Absent.NOT_OFFERED
    best = max((bit for bit in (1, 2, 3) if word(data, 76) >> bit & 1), default=0)
    return _SATA_GBIT_S.get(best, Absent.NOT_OFFERED)


IDENTIFY_NAMES = tuple(field.name for field in _identify(bytes(PAGE_BYTES)))


def statistics_facts(data: bytes, block_bytes: int, page: int = 1) -> tuple[Said, ...]:
    """A page of the log of device statistics (04h). Its fields are implausible where it is another page."""
    names = [field.name for field in _statistics(bytes(PAGE_BYTES), 512, page)]
    if len(data) >= PAGE_BYTES and not any(data):
        return tuple(said(name, Absent.NOT_OFFERED) for name in names)
    if len(data) < PAGE_BYTES or data[2] != page:
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in names)
    return _statistics(data, block_bytes, page)


def _statistics(data: bytes, block_bytes: int, page: int) -> tuple[Said, ...]:
    """Page 01h: power cycles at 8, hours at 16, sectors written 24, read 40. 04h: reported uncorrectable
    errors at 8. 05h: temperature at 8. 06h: interface CRC errors at 24. 07h: percentage used at 8."""
    if page == 1:
        return (
            said("power_cycles", statistic(data, 8, 32)),
            said("power_on_hours", statistic(data, 16, 32)),
            said("written_bytes", _size(statistic(data, 24, 48), block_bytes)),
            said("read_bytes", _size(statistic(data, 40, 48), block_bytes)),
        )
    if page == 4:
        return (said("media_errors", statistic(data, 8, 32)),)
    if page == 5:
        now = statistic(data, 8, 8)
        plausible = not isinstance(now, Absent) and 0 < now <= 120
        return (said("temperature_c", now if isinstance(now, Absent) or plausible else Absent.IMPLAUSIBLE),)
    if page == 6:
        return (said("interface_crc_errors", statistic(data, 24, 32)),)
    return (said("percentage_used", statistic(data, 8, 8)),)


def statistic(data: bytes, at: int, bits: int) -> int | Absent:
    """A statistic is a quadword whose top byte has flags: bit 7 supported, bit 6 valid."""
    if data[at + 7] & 0xC0 != 0xC0:
        return Absent.NOT_OFFERED
    return int.from_bytes(data[at : at + 8], "little") & (1 << bits) - 1


def _size(count: int | Absent, block_bytes: int) -> int | Absent:
    if isinstance(count, Absent):
        return count
    return count * block_bytes if count * block_bytes < MOST_BYTES else Absent.IMPLAUSIBLE


# Registers that a command without data returns


@dataclass(frozen=True, slots=True)
class Registers:
    """The ATA registers in a SCSI sense (SAT): error, count, address and status."""

    error: int
    count: int
    lba_mid: int
    lba_high: int
    status: int


def registers_of(sense: bytes) -> Registers | None:
    """Return the registers of a sense with the descriptor 09h, or of the fixed form; None if it has none."""
    sense = sense[:MOST_SENSE]
    if len(sense) >= 8 and sense[0] & 0x7F in (0x72, 0x73):
        at = 8
        while at + 2 <= len(sense):
            piece = sense[at : at + 2 + sense[at + 1]]
            if piece[0] == 0x09 and len(piece) >= 14:
                return Registers(piece[3], piece[5], piece[9], piece[11], piece[13])
            at += 2 + sense[at + 1]
        return None
    if len(sense) >= 14 and sense[0] & 0x7F in (0x70, 0x71) and sense[12:14] == b"\x00\x1d":
        return Registers(sense[3], sense[6], sense[10], sense[11], sense[4])
    return None


def asleep(sense: bytes) -> bool | None:
    """CHECK POWER MODE (E5h): whether the count says standby (00h, 01h); None if the drive did not say."""
    registers = registers_of(sense)
    return None if registers is None else registers.count in (0x00, 0x01)


def health_passed(sense: bytes) -> bool | None:
    """SMART RETURN STATUS (DAh): 4Fh and C2h are passed, F4h and 2Ch a threshold exceeded."""
    registers = registers_of(sense)
    if registers is None:
        return None
    return {(0x4F, 0xC2): True, (0xF4, 0x2C): False}.get((registers.lba_mid, registers.lba_high))


def smart_is_on(identify: bytes) -> bool:
    """Whether IDENTIFY DEVICE says that SMART is there and enabled: words 82 and 85, bit 0. Where it does
    not say, it may be."""
    if len(identify) < PAGE_BYTES:
        return True
    supported, enabled = _flag(identify, 82, 83, 0), _flag(identify, 85, 87, 0)
    return supported is not False and enabled is not False
