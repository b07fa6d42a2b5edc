"""Hashing and AES on each core: published known answers, long chains, and decryption that must undo.

The libraries are OpenSSL's (by hashlib and cryptography) and Python's own BLAKE2b; they use the processor's
own instructions for AES and SHA where it has them.
"""

from __future__ import annotations

import hashlib
from typing import Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.rounds import (
    SHOWN_MOST,
    Checked,
    KnownAnswers,
    RoundWork,
    a_process_for_each_cpu,
    check_request,
)
from shipworthy.stress.protocol import PROTOCOL, About, Ground, Job, Target, Wrong

SIZE_LEAST, SIZE_MOST = 1, 4096  # KiB
KIB = 1024
WORD_BYTES = 8
HASHES = {"sha256": 32, "sha512": 64, "sha3_256": 32, "blake2b": 64}
"""By hashlib's name, with the length in bytes."""
KEY_BYTES = (16, 24, 32)
IV_BYTES = 16
KEY = bytes(range(32))
PLAIN = bytes.fromhex("00112233445566778899aabbccddeeff")
LETTERS = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"

PUBLISHED = {
    "SHA-256 of abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    "SHA-256 of 56 letters": "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    "SHA-512 of abc": (
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f"
    ),
    "SHA3-256 of abc": "3a985da74fe225b2045c172d6bd390bd855f086e3e9d525b46bfe24511431532",
    "BLAKE2b-512 of abc": (
        "ba80a53f981c4d0d6a2797b69f12f6e94c212f14685ac4b74b12bb6fdbffa2d1"
        "7d87c5392aab792dc252d5de4533cc9518d38aa8dbf1925ab92386edd4009923"
    ),
    "AES-128, FIPS 197 C.1": "69c4e0d86a7b0430d8cdb78070b4c55a",
    "AES-192, FIPS 197 C.2": "dda97ca4864cdfe06eaf70a0ec0d7191",
    "AES-256, FIPS 197 C.3": "8ea2b7ca516745bfeafc49904b496089",
}
"""In hexadecimal. SHA-256 and SHA-512: FIPS 180-4's examples; SHA3-256: FIPS 202's; BLAKE2b: RFC 7693,
appendix A; AES: FIPS 197, appendix C, with the keys 000102… and the text 001122…"""


class CiphersWork(RoundWork):
    """A round: a chain through four hashes, then encryption with three lengths of key, and decryption."""

    USUAL_SIZE = 32  # KiB of text
    ROUNDS = 512

    def __init__(self, job: Job) -> None:
        import ssl

        import cryptography
        import numpy as np
        from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes

        from shipworthy.stress.loads import pattern_kernels

        super().__init__(job)
        self._np, self._fill = np, pattern_kernels.fill
        self._cipher, self._aes, self._modes = Cipher, algorithms.AES, modes
        self._library = f"{ssl.OPENSSL_VERSION}, cryptography {cryptography.__version__}"
        self.known = KnownAnswers({name: int(text, 16) for name, text in PUBLISHED.items()})
        words = self.size * KIB // WORD_BYTES
        self.text = np.zeros(words, dtype=np.uint64)
        hashed = sum(HASHES.values()) // WORD_BYTES
        self.results = np.zeros(hashed + len(KEY_BYTES) * words, dtype=np.uint64)
        self._hashes: Any = self.results[:hashed].view(np.uint8)
        self.encrypted: Any = self.results[hashed:].reshape(len(KEY_BYTES), words)
        self.decrypted = np.zeros((len(KEY_BYTES), words), dtype=np.uint64)
        self.compute(0)

    @property
    def work_of_a_round(self) -> float:
        return float((len(HASHES) + 2 * len(KEY_BYTES)) * self.size * KIB)

    @property
    def kernel(self) -> str:
        return self._library

    def compute(self, number: int) -> None:
        self._fill(self.text, self._u64(self.seed(number)))
        chained, begin = b"", 0
        for name, length in HASHES.items():
            state = hashlib.new(name, self.text.data)
            state.update(chained)
            chained = state.digest()
            self._hashes[begin : begin + length] = self._np.frombuffer(chained, dtype=self._np.uint8)
            begin += length
        vector = chained[-IV_BYTES:]
        for length, encrypted, decrypted in zip(KEY_BYTES, self.encrypted, self.decrypted, strict=True):
            cipher = self._cipher(self._aes(chained[:length]), self._modes.CBC(vector))
            self._pass(cipher.encryptor(), self.text, encrypted)
            self._pass(cipher.decryptor(), encrypted, decrypted)

    def begin_block(self) -> Checked:
        return self.known.check(self.found_answers())

    def found_answers(self) -> list[int]:
        """Compute what is published, in that order."""
        hashed = [
            hashlib.sha256(b"abc").digest(),
            hashlib.sha256(LETTERS).digest(),
            hashlib.sha512(b"abc").digest(),
            hashlib.sha3_256(b"abc").digest(),
            hashlib.blake2b(b"abc").digest(),
        ]
        single = self._modes.ECB()
        encrypted = [
            self._cipher(self._aes(KEY[:length]), single).encryptor().update(PLAIN) for length in KEY_BYTES
        ]
        return [int.from_bytes(answer) for answer in [*hashed, *encrypted]]

    def check(self, number: int) -> Checked:
        """Compare what was decrypted with what was encrypted."""
        checked = Checked(self.decrypted.size)
        for length, decrypted in zip(KEY_BYTES, self.decrypted, strict=True):
            if not self._np.array_equal(decrypted, self.text):
                checked += self._unlike(number, length, decrypted)
        return checked

    def detail(self) -> tuple[Value, ...]:
        return values(text_bytes=self.size * KIB, library=self._library)

    def _pass(self, context: Any, source: Any, into: Any) -> None:
        # a whole number of blocks needs no room beyond its own, whatever update_into asks for
        into[:] = self._np.frombuffer(context.update(source.view(self._np.uint8)), dtype=self._np.uint64)

    def _unlike(self, number: int, length: int, decrypted: Any) -> Checked:
        places = self._np.flatnonzero(decrypted != self.text).tolist()
        shown = tuple(
            Wrong(
                what=f"AES-{8 * length}: text decrypted again",
                where=f"round {number}, offset 0x{place * WORD_BYTES:x} of 0x{self.seed(number):016x}",
                expected=f"0x{int(self.text[place]):016x}",
                found=f"0x{int(decrypted[place]):016x}",
            )
            for place in places[:SHOWN_MOST]
        )
        return Checked(0, len(places), shown)


class CiphersLoad:
    protocol = PROTOCOL
    name = "ciphers"
    about = About(
        stresses="every core's own instructions for AES and SHA where it has them, else its integer units",
        verifies=(
            "published answers of SHA-256, SHA-512, SHA3-256, BLAKE2b and AES in every block; every hash and "
            "every encrypted word against the other cores; every decrypted word against the text"
        ),
        slips_through=(
            "a wrong bit changes its round's digest with certainty, and the answer that some hundreds of "
            "rounds are folded into but for about once in 2^54; a core alone sees it unless it errs twice "
            "alike; a fault that every core has alike is seen only in published answers, and where "
            "decryption does not undo it"
        ),
        unit_of_work="bytes hashed, encrypted or decrypted",
        limit="the same rounds without comparison and digest, in the same process, between the others",
        power="little to medium, by how the processor computes AES and SHA",
        cleans_up="leaves nothing; the keys are of the run's seed, and secret to nobody",
    )

    def check(self, request: LoadRequest) -> None:
        check_request(request, (SIZE_LEAST, SIZE_MOST))

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return a_process_for_each_cpu()

    def open(self, job: Job) -> CiphersWork:
        return CiphersWork(job)


LOAD = CiphersLoad()
