"""Names in place of what is personal: the same text has the same pseudonym everywhere in one specimen.

The key is made for the specimen and thrown away with it, so nobody can try serials until one fits.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import string
from collections.abc import Iterator

_PREFIX = re.compile(r"0[xX](?=[0-9A-Fa-f]{4})|(?:naa|eui|uuid)\.(?=.)")
_FOUR_BYTES = re.compile(r"[0-9A-Fa-f]{8}")
_HEX = re.compile(r"[0-9A-Fa-f]+")
_HEX_LETTERS = "ABCDEF"
_ESCAPES = re.compile(r"(&(?:amp|lt|gt|quot|apos|#[0-9]{1,7}|#x[0-9A-Fa-f]{1,6});|\\\\u[0-9A-Fa-f]{4})")
LEAST_CHARACTERS = 4
"""A shorter text tells nobody from another, and would be found in the middle of everything."""


class Pseudonyms:
    """Gives pseudonyms of the same form: digits for digits, letters for letters, other signs as they are."""

    def __init__(self, key: bytes) -> None:
        self._key = key

    def text(self, text: str) -> str:
        """Return the pseudonym of a text. Case does not count: `0a1b` and `0A1B` stay the same number.

        What a prefix says of the rest (`0x`, `naa.`, `eui.`) is kept.
        """
        if _ESCAPES.search(text):  # of XML or JSON: what they stand in stays well-formed
            pieces = _ESCAPES.split(text)
            return "".join(p if number % 2 else self.text(p) for number, p in enumerate(pieces))
        prefix = _PREFIX.match(text)
        if prefix is not None:
            return prefix[0] + self.text(text[prefix.end() :])
        if _FOUR_BYTES.fullmatch(text) and _reversed(text).upper() < text.upper():
            return _reversed(self.text(_reversed(text)))  # one number, whichever byte comes first
        bare = re.sub(r"[^0-9A-Za-z]", "", text)
        letters = _HEX_LETTERS if _HEX.fullmatch(bare) else string.ascii_uppercase
        stream = self._stream(bare.upper().encode("utf-8"), len(bare))
        made: list[str] = []
        for sign in text:
            if sign.isascii() and sign.isdigit():
                made.append(str(next(stream) % 10))
            elif sign.isascii() and sign.isalpha():
                letter = letters[next(stream) % len(letters)]
                made.append(letter.lower() if sign.islower() else letter)
            else:
                made.append(sign if sign.isascii() else "x")
        return "".join(made)

    def number(self, number: int, size_bytes: int) -> int:
        """Return the pseudonym of a number of that many bytes; nought stays nought, as it means none."""
        if not number:
            return 0
        raw = number.to_bytes(size_bytes, "big")
        digest = hmac.new(self._key, b"number" + raw, hashlib.sha256).digest()
        return int.from_bytes(digest[:size_bytes], "big") or 1

    def _stream(self, seed: bytes, length: int) -> Iterator[int]:
        block, counter = b"", 0
        for index in range(length):
            if index >= len(block):
                block += hmac.new(self._key, counter.to_bytes(4, "big") + seed, hashlib.sha256).digest()
                counter += 1
            yield block[index]


def _reversed(text: str) -> str:
    """Return eight hexadecimal digits with their bytes in the reverse order."""
    return "".join(text[i : i + 2] for i in range(6, -2, -2))
