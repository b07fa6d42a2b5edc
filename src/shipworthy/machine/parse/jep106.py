"""Maker codes of JEDEC's list JEP106: the many spellings in firmware and SPD, and one form of ours.

A code is a bank (the number of 0x7F bytes before it, and one) and a number of seven bits. On a module both
bytes carry odd parity in bit 7: SPD has the count of 0x7F bytes and then the code. Firmware prints these
bytes in several ways, and some prints numbers of a list of its own that look the same. Rules: JEP106 and
the SPD documents, as in the project's check values (memory.md, confirmed there with decode-dimms).

No database of these codes is installed on systems: hwdata has PCI, USB and PNP ids only. So a code is shown
as it is, and is the same text wherever it comes from: `JEP106 bank 3 code 0x1E`.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from shipworthy.model.words import Absent

CONTINUES = 0x7F
MOST_BANKS = 24  # the list had 17 in 2024 (from memory), and grows by about one a year

# How often firmware printed these on modules of another maker's, out of 2,489 desktops (linuxhw/DMI, CC BY
# 4.0). Most hold as two bytes with parity, but the part numbers are of the maker behind them.
OTHER_LISTS = frozenset(
    (
        "1315",  # 56: Crucial
        "0215",  # 53: Corsair
        "0420",  # 45: G.Skill
        "1319",  # 9: Kreton, Patriot
        "1311",  # 6
        "1324",  # 4
        "1321",  # 4: Silicon Power
        "1201",  # 3
        "1337",  # 2
        "1302",  # 2: Patriot
        "0112",  # 2: Apacer
        "0813",  # 2
        "0737",  # 2
        "0707",  # 2
    )
)

_BANK_AND_BYTE = re.compile(r"bank\s+(\d{1,3}),?\s+(?:hex\s+)?0x([0-9a-f]{2})", re.IGNORECASE)
_OURS = re.compile(r"JEP106 bank (\d{1,3}) code 0x([0-9A-F]{2})")
_BRACKETS = re.compile(r".*\((0x[0-9a-f]{4})\)", re.IGNORECASE)  # a decoder's `Unknown (0x80CE)`
_BYTES = re.compile(r"(?:jedec\s*id:?\s*)?(?:0x)?((?:[0-9a-f]{2}){2,8})", re.IGNORECASE)


class MakerCode(NamedTuple):
    """A maker's code: bank from 1, number without parity."""

    bank: int
    number: int

    def __str__(self) -> str:
        return f"JEP106 bank {self.bank} code 0x{self.number:02X}"


def is_odd(byte: int) -> bool:
    """Return whether a byte has an odd number of ones, as both bytes of a code must."""
    return byte.bit_count() % 2 == 1


def of_bytes(count: int, code: int) -> MakerCode | Absent:
    """Return the maker of an SPD's two bytes: the count of 0x7F bytes and the code, each with parity.

    Not offered where both are 0x00 or both 0xFF, as of a memory that was never written.
    """
    if (count, code) in ((0x00, 0x00), (0xFF, 0xFF)):
        return Absent.NOT_OFFERED
    return _checked((count & 0x7F) + 1, code) if is_odd(count) else Absent.IMPLAUSIBLE


def of_word(word: int) -> MakerCode | Absent:
    """Return the maker of a little-endian word: SMBIOS 3.2 and later, type 17, module manufacturer id."""
    return of_bytes(word & 0xFF, word >> 8 & 0xFF)


def of_run(data: bytes) -> MakerCode | Absent:
    """Return the maker of the older eight bytes of an SPD: 0x7F for each bank, the code, then zeros."""
    bare = data.rstrip(b"\0")
    if not bare or not bare.strip(b"\xff"):
        return Absent.NOT_OFFERED
    code = bare.lstrip(bytes((CONTINUES,)))
    return _checked(len(bare), code[0]) if len(code) == 1 else Absent.IMPLAUSIBLE


def _checked(bank: int, code: int) -> MakerCode | Absent:
    """Return the code if the byte can be one in that bank: parity holds, and it is no 0x00 or 0x7F."""
    number = code & 0x7F
    if not 1 <= bank <= MOST_BANKS or not is_odd(code) or number in (0, CONTINUES):
        return Absent.IMPLAUSIBLE
    return MakerCode(bank, number)


def of_text(text: str) -> MakerCode | Absent | None:
    """Return the maker that a text of firmware or of a decoder means; None where it is no code, as a name is.

    Understood are `Bank 1, Hex 0xAD`, two bytes (`029E`, `0x80CE`, `JEDEC ID:80 AD`, `Unknown (0x80CE)`),
    those of a module, two more and those of its memory chips (`80AD000080AD`, of which the module's count),
    the older eight bytes (`7F7F9E0000000000`), and our own form. A code whose parity does not hold, and a
    number that some firmware takes from a list of its own, is implausible.
    """
    text = text.strip()
    if ours := _OURS.fullmatch(text):
        number = int(ours[2], 16)
        return _checked(int(ours[1]), number if is_odd(number) else number ^ 0x80)
    if bank := _BANK_AND_BYTE.fullmatch(text):
        return _checked(int(bank[1]), int(bank[2], 16))
    if brackets := _BRACKETS.fullmatch(text):
        text = brackets[1]
    if text in OTHER_LISTS:
        return Absent.IMPLAUSIBLE
    spaced = text.replace(" ", "") if text.lower().startswith("jedec") else text
    found = _BYTES.fullmatch(spaced)
    return _of_hex(bytes.fromhex(found[1])) if found else None


def _of_hex(data: bytes) -> MakerCode | Absent | None:
    if len(data) == 8:
        return of_run(data)
    return of_bytes(data[0], data[1]) if len(data) in (2, 6) else None


def canonical(text: str) -> str | Absent | None:
    """Return a code's one form, or why it means none; None where the text is no code."""
    code = of_text(text)
    return str(code) if isinstance(code, MakerCode) else code
