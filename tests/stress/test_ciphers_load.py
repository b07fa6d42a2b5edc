"""Hashes and AES: published answers, and decryption that must undo."""

from __future__ import annotations

import random

import numpy as np
import pytest

from shipworthy.stress.loads.ciphers import LOAD, PUBLISHED, CiphersWork
from shipworthy.stress.loads.rounds import THE_CHECK_ITSELF
from tests.stress.planted import job
from tests.stress.published import published_answers

ROWS = {
    "SHA-256 of abc": ("SHA-256", "abc"),
    "SHA-256 of 56 letters": ("SHA-256", "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
    "SHA-512 of abc": ("SHA-512", "abc"),
    "SHA3-256 of abc": ("SHA3-256", "abc"),
    "BLAKE2b-512 of abc": ("BLAKE2b-512", "abc"),
    "AES-128, FIPS 197 C.1": ("AES-128 ECB", "key 000102..0f, pt 00112233445566778899aabbccddeeff"),
    "AES-192, FIPS 197 C.2": ("AES-192 ECB", "key 000102..17, same pt"),
    "AES-256, FIPS 197 C.3": ("AES-256 ECB", "key 000102..1f, same pt"),
}


@pytest.fixture
def work() -> CiphersWork:
    return LOAD.open(job("ciphers", "cpu:0", 2, size=1))


def test_known_answers_are_the_published_ones() -> None:
    rows = published_answers()
    assert {name: rows[row] for name, row in ROWS.items()} == PUBLISHED


def test_the_libraries_give_the_published_answers_and_a_block_checks_them(work: CiphersWork) -> None:
    assert work.found_answers() == [int(text, 16) for text in PUBLISHED.values()]
    block = work.block()
    assert (block.wrong, block.checks) == (0, len(PUBLISHED) + work.decrypted.size)


def test_every_flip_in_a_known_answer_is_found_and_one_in_the_expectation_is_told_apart(
    work: CiphersWork, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw, right = random.Random("3/ciphers/answers"), work.found_answers()
    for _ in range(1000):
        place = draw.randrange(len(right))
        name, bit = list(PUBLISHED)[place], 1 << draw.randrange(128)
        found = [answer ^ bit * (i == place) for i, answer in enumerate(right)]
        monkeypatch.setattr(work, "found_answers", lambda found=found: found)
        (wrong,) = work.begin_block().shown
        assert (wrong.what, wrong.where) == ("known answer", name)
        monkeypatch.setattr(work, "found_answers", lambda: right)
        work.known.expected[name] ^= bit
        (wrong,) = work.begin_block().shown
        assert (wrong.what, wrong.where) == (THE_CHECK_ITSELF, name)
        work.known.expected[name] ^= bit


def test_every_flip_in_what_was_decrypted_is_found_at_its_place(work: CiphersWork) -> None:
    draw = random.Random("3/ciphers/decrypted")
    for number in range(1000):
        work.compute(number)
        row, place, bit = draw.randrange(3), draw.randrange(work.text.size), 1 << draw.randrange(64)
        work.decrypted[row, place] ^= np.uint64(bit)
        (wrong,) = work.check(number).shown
        assert wrong.what.startswith(("AES-128", "AES-192", "AES-256")[row])
        assert f"offset 0x{8 * place:x} " in wrong.where
        assert wrong.found == f"0x{int(work.decrypted[row, place]):016x}"
