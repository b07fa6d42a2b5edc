"""Every field of every decoded type against dmidecode 3.4, on structures of our own making.

Real tables use few of the codes. Here each byte of each type takes every value in turn, and whole structures
are random: what dmidecode prints of them and what we describe must mean the same. Where the two differ on
purpose a rule says why: the code is newer than dmidecode 3.4, or dmidecode is not as the standard is.
"""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.machine.parse.smbios.describe import LAYOUTS, describe
from tests.machine.smbios_bytes import end, structure

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / "bench"))

from decoding.smbios_raw import fields_of
from decoding.smbios_raw_labels import Ours
from decoding.smbios_raw_rules import rule_for
from decoding.smbios_raw_text import VERSION, installed_version, run_dmidecode, structures, wrapped

LENGTHS = {
    0: 0x1A,
    1: 0x1B,
    2: 0x13,
    3: 0x1F,
    4: 0x32,
    7: 0x1B,
    8: 9,
    9: 0x22,
    11: 5,
    16: 0x17,
    17: 0x5C,
    19: 0x1F,
}
LENGTHS |= {
    20: 0x23,
    22: 0x1A,
    26: 0x16,
    27: 0x0F,
    28: 0x16,
    29: 0x16,
    32: 0x0B,
    39: 0x16,
    41: 0x0B,
    43: 0x1F,
}
"""The bytes of each type that dmidecode 3.4 knows."""
STRINGS = ("Tarn", "Norvik 7", "Holloway B6", "Default string", " spaced ", "caf\u00e9")
A_TABLE = 500


@pytest.fixture(scope="module", autouse=True)
def dmidecode() -> None:
    if installed_version() != VERSION:
        pytest.skip(f"dmidecode {VERSION} is not installed, which these figures are held against")


NEWER = {
    (4, "Upgrade"): "a socket since 3.6",
    (8, "Port Type"): "a port type since 3.4",
    (17, "Form Factor"): "a form factor since 3.5",
    (17, "Type"): "a memory type since 3.5",
    (17, "Memory Technology"): "a memory technology since 3.7",
}
"""Codes that dmidecode 3.4 calls out of specification, and later versions of the standard have a word for."""


def excuse(kind: int, label: str, value: str, lines: list[str], ours: Ours) -> str:
    """Return why a difference is none of ours; empty if nothing excuses it."""
    mine = {field: str(said) for field, said in ours.items()}
    if value == "<OUT OF SPEC>":
        return NEWER.get((kind, label), "")
    if kind == 4 and label == "Characteristics":
        beside = set(mine["characteristics"].split("; ")) <= {"128-bit", "Arm64 SoC ID"}
        return "dmidecode prints bits 8 and 9 only beside others" if value == "None" and beside else ""
    if kind == 4 and label == "Signature":
        base = int(re.findall(r"family (\d+)", mine["signature"])[0])
        return "the extended family counts only on top of 15 (CPUID leaf 1)" if base < 15 else ""
    if kind == 17 and label in ("Speed", "Configured Memory Speed"):
        return "bit 31 of the long speed is reserved" if int(value.split()[0]) >> 31 else ""
    if kind == 9 and label == "Characteristics":
        without = {**ours, "characteristics": mine["characteristics"].removesuffix("; CXL 3")}
        rule = rule_for(kind, label)
        return "CXL 3 since 3.7" if rule is not None and rule.agrees(value, lines, without) else ""
    return ""


def hold(table: bytes, count: Counter[str]) -> list[str]:
    """Return every difference between the two on a table."""
    printed = structures(run_dmidecode(wrapped(table, (3, 5))))
    ours = fields_of(describe(wrapped(table, (3, 5))))
    assert [(p.handle, p.type) for p in printed] == [(handle, kind) for handle, kind, _ in ours]
    wrong = []
    for theirs, (handle, kind, mine) in zip(printed, ours, strict=True):
        for label, value in theirs.values.items():
            rule = rule_for(kind, label)
            assert rule is not None, (kind, label)
            lines = theirs.lists.get(label, [])
            if rule.agrees(value, lines, mine):
                count["agree"] += 1
            elif why := excuse(kind, label, value, lines, mine):
                count[why] += 1
            else:
                wrong.append(
                    f"type {kind} 0x{handle:04X} {label}: {value!r} {lines}, ours {mine.get(rule.field)!r}"
                )
    return wrong


def tables(made: Iterator[bytes]) -> Iterator[bytes]:
    some: list[bytes] = []
    for one in made:
        some.append(one)
        if len(some) == A_TABLE:
            yield b"".join(some) + end()
            some = []
    if some:
        yield b"".join(some) + end()


def every_value(kinds: tuple[int, ...], steps: int) -> Iterator[bytes]:
    """Yield structures in which one byte takes every value (every `steps`th) and the others stay."""
    for kind in kinds:
        for at in range(4, LENGTHS[kind]):
            for value in range(0, 256, steps):
                area = bytearray([1] * (LENGTHS[kind] - 4))
                area[at - 4] = value
                yield structure(kind, value, bytes(area), *STRINGS)


def random_ones(kinds: tuple[int, ...], seed: int, each: int) -> Iterator[bytes]:
    """Yield structures of random bytes and any length, with strings to point to."""
    chance = random.Random(seed)
    for index in range(each):
        for kind in kinds:
            length = chance.choice((LENGTHS[kind], LENGTHS[kind], chance.randrange(4, LENGTHS[kind] + 1)))
            pool = chance.choice((range(256), (0, 1, 2, 3, 255), (0xFF,), (0,), range(8)))
            area = bytes(chance.choice(pool) for _ in range(length - 4))
            yield structure(kind, index, area, *STRINGS[: chance.randrange(7)])


def run(made: Iterator[bytes]) -> Counter[str]:
    count: Counter[str] = Counter()
    wrong = [line for table in tables(made) for line in hold(table, count)]
    print(dict(count))
    assert not wrong, f"{len(wrong)} differ, the first of them:\n" + "\n".join(wrong[:40])
    return count


KINDS = tuple(sorted(LENGTHS))


def test_every_decoded_type_is_swept_but_the_end_mark() -> None:
    assert set(KINDS) | {12, 127} == set(LAYOUTS)


def test_a_sample_of_values_in_every_byte_means_the_same() -> None:
    assert run(every_value(KINDS, 37))["agree"] > 30_000


@pytest.mark.slow
def test_every_value_in_every_byte_means_the_same() -> None:
    assert run(every_value(KINDS, 1))["agree"] > 1_000_000


@pytest.mark.parametrize("seed", [1, 2])
def test_random_structures_mean_the_same(seed: int) -> None:
    assert run(random_ones(KINDS, seed, 60))["agree"] > 8_000
