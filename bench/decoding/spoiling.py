"""Spoiled copies of tables and listings: changes of the kinds that firmware, cables and cut files make."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import replace

import msgspec

from shipworthy.machine.listing import ListingRow, encode_listing
from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome

MOST_INPUT_BYTES = 1 << 16
MOST_HUGE_BYTES = 1 << 20
HUGE = 0.01
"""The share of inputs that may grow past what any real table has."""
EXTREMES = (0x00, 0x01, 0x7F, 0x80, 0xFE, 0xFF)
CHANGES = (1, 1, 1, 2, 3, 5, 8)
ODD_TEXTS = ("", "-1", "0", "0x", "٣", "²", "9" * 19, "9" * 25, "9" * 5000, "nan", "1e9", "�\0", "a:b:c", "[")
ODD_TEXTS += ("1.5", "ff", "x" * 5000, "0-9999999", "-128000", "65261000", "0000:00:00.0", "../..")
OUTCOMES = (SourceOutcome.REFUSED, SourceOutcome.FAILED, SourceOutcome.ABSENT, SourceOutcome.EMPTY)


def spoiled(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    """Return a copy with one to eight changes. others: what pieces of other tables are taken from."""
    most = MOST_HUGE_BYTES if chance.random() < HUGE else MOST_INPUT_BYTES
    spoil = bytearray(data[:most])
    for _ in range(chance.choice(CHANGES)):
        if not spoil:
            spoil = bytearray(chance.randbytes(chance.randrange(1, 300)))
        _change(spoil, chance, others, most)
    return bytes(spoil[:most])


def _change(spoil: bytearray, chance: random.Random, others: Sequence[bytes], most: int) -> None:
    at = chance.randrange(len(spoil))
    match chance.randrange(11):
        case 0:
            spoil[at] ^= 1 << chance.randrange(8)
        case 1:
            spoil[at] = chance.choice(EXTREMES)
        case 2:
            spoil[at] = chance.randrange(256)
        case 3:
            del spoil[at:]
        case 4:
            del spoil[at : at + chance.randrange(1, 40)]
        case 5:
            spoil[at:at] = chance.randbytes(chance.randrange(1, 40))
        case 6:  # a run of one byte
            length = min(chance.randrange(1, 200), len(spoil) - at)
            spoil[at : at + length] = bytes([chance.choice(EXTREMES)]) * length
        case 7:  # a piece of itself elsewhere
            length, source = chance.randrange(1, 128), chance.randrange(len(spoil))
            spoil[at : at + length] = spoil[source : source + length]
        case 8:  # the rest of another table
            other = chance.choice(others)
            start = chance.randrange(len(other)) if other else 0
            spoil[at:] = other[start : start + len(spoil) - at]
        case 9:  # bits of a number in the order of one byte after the other
            spoil[at : at + 4] = chance.choice((1, 0x7FFFFFFF, 0xFFFFFFFE, 0x80000000)).to_bytes(4, "little")
        case 10:  # a piece again and again: what takes time by its square shows here
            length = min(chance.choice((2, 4, 9, 18, 40, 128, 600)), len(spoil) - at)
            times = chance.randrange(1, max(2, (most - len(spoil)) // length))
            spoil[at:at] = spoil[at : at + length] * min(times, chance.choice((4, 30, 300, 30_000, 300_000)))


def spoiled_text(text: bytes, chance: random.Random) -> bytes:
    """Return a text with other numbers in it, or spoiled as bytes are, or both."""
    if chance.random() < 0.5:
        numbers = list(_NUMBER.finditer(text))
        picked = chance.sample(numbers, min(len(numbers), chance.choice((1, 5, 30))))
        for match in sorted(picked, key=lambda match: match.start(), reverse=True):
            odd = chance.choice(ODD_TEXTS).encode() if chance.random() < 0.8 else b"\xb2\xff"
            text = text[: match.start()] + odd + text[match.end() :]
        if chance.random() < 0.5:
            return text
    return spoiled(text, chance, [text])


_NUMBER = re.compile(rb"[0-9]+")


def spoiled_replies(replies: Sequence[Reply], chance: random.Random) -> tuple[Reply, ...]:
    """Return replies of which some rows or bytes hold something else, or nothing."""
    found = []
    for reply in replies:
        if not reply.read:
            found.append(reply)
        elif reply.suffix == "jsonl":
            rows = [msgspec.json.decode(line, type=ListingRow) for line in reply.data.splitlines()]
            share = chance.choice((0.02, 0.2, 0.6))
            rows = [_row(row, chance) if chance.random() < share else row for row in rows]
            found.append(replace(reply, data=encode_listing(rows)))
        else:
            found.append(replace(reply, data=spoiled(reply.data, chance, [reply.data])))
    return tuple(found)


def _row(row: ListingRow, chance: random.Random) -> ListingRow:
    if chance.random() < 0.3:
        return ListingRow(path=row.path, outcome=chance.choice(OUTCOMES), error="EIO")
    if row.link is not None:
        return ListingRow(
            path=row.path, link=chance.choice(("/", "/sys", "/sys/devices/x", row.link + "/y", ""))
        )
    if row.names is not None:
        names = [name for name in row.names if chance.random() < 0.8] + [chance.choice(ODD_TEXTS)]
        return ListingRow(path=row.path, names=tuple(names))
    if row.hex is not None:
        raw = bytes.fromhex(row.hex)
        return ListingRow(path=row.path, hex=spoiled(raw, chance, [raw]).hex())
    return ListingRow(
        path=row.path, text=chance.choice((*ODD_TEXTS, (row.text or "")[::-1], (row.text or "") * 3))
    )
