"""The bytes of a source: what kind of file they are, and which text, whatever its encoding."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePath

from shipworthy.model.base import Trouble
from shipworthy.model.intake import Note
from shipworthy.orders.intake.rawrow import note

MOST_BYTES = 8 * 10**6
MOST_ROWS = 2_000
"""Rows of a source; an order has 500 lines, and a source some rows around each."""
MOST_OF_ROW = 2_000
"""Characters of a row; an order line has 500, and what is longer is no row of an order."""

_NO_TEXT = (
    (b"%PDF", "a PDF, whose text is drawn and not written", "Copy its rows and paste them into a text file."),
    (
        b"\xd0\xcf\x11\xe0",
        "a spreadsheet of the old form, or one with a password",
        "Save it as .xlsx without one.",
    ),
    (b"{\\rtf", "a formatted text", "Save it as plain text."),
    (b"\x1f\x8b", "a packed file", "Unpack it first."),
    (b"\x89PNG", "a picture", "Type the rows, or copy them as text."),
    (b"\xff\xd8\xff", "a picture", "Type the rows, or copy them as text."),
)
_BOMS = (
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)


@dataclass(frozen=True)
class Text:
    """A text and its encoding. rows: how many it has. remarks: on bytes that were read another way."""

    text: str
    encoding: str
    remarks: tuple[Note, ...] = ()


def refuse_unreadable(data: bytes, name: object) -> None:
    """Raise Trouble for bytes above 8 MB, for none, and for kinds of file that hold no rows."""
    if len(data) > MOST_BYTES:
        what = f"{len(data) / 10**6:.1f} MB, and an order has at most {MOST_BYTES // 10**6} MB"
        raise Trouble(what, name, "Check that this is the right file.")
    if not data.strip(b" \t\r\n\x00" + codecs.BOM_UTF8 + codecs.BOM_UTF16_LE):
        raise Trouble("there is nothing in the file", name, "Check that this is the right file.")
    for magic, what, mend in _NO_TEXT:
        if data.startswith(magic):
            raise Trouble(f"this is {what}", name, mend)
    if re.match(rb"\s*<(?:!doctype html|html|\?xml)", data[:200], re.IGNORECASE):
        raise Trouble("this is a page with marks, no plain text", name, "Copy its text into a .txt file.")


def is_zip(data: bytes) -> bool:
    """Whether bytes are a zip file, as XLSX and ODS are."""
    return data.startswith(b"PK\x03\x04")


def ending(name: str) -> str:
    """Return the ending of a file's name, in small letters."""
    return PurePath(name).suffix.lower()


def text_of(data: bytes, name: object) -> Text:
    """Return the text in bytes: UTF-8, UTF-16 or UTF-32 with a byte order mark, CP-1252, or both mixed.

    Bytes that are not UTF-8 are read as CP-1252, and the rows in which they stand are named. Raises Trouble
    for bytes that are no text, and for more than 2,000 rows.
    """
    text, encoding, remarks = _decoded(data, name)
    rows = 1 + text.count("\n") + text.count("\r") - text.count("\r\n")
    if rows > MOST_ROWS:
        raise Trouble(
            f"{rows:,} rows, and an order may have 500 lines (a source {MOST_ROWS:,} rows)",
            name,
            "Check that this is the right file, or split the order.",
        )
    if text.count("\x00") > len(text) // 100:
        raise Trouble("these bytes are no text", name, "Check that this is the right file.")
    return Text(text.replace("\x00", "\N{REPLACEMENT CHARACTER}"), encoding, remarks)


def _decoded(data: bytes, name: object) -> tuple[str, str, tuple[Note, ...]]:
    for mark, codec, said in _BOMS:
        if data.startswith(mark):
            try:
                return data.decode(codec), said, ()
            except UnicodeDecodeError as error:
                raise Trouble(
                    f"begins as {said} and is not", name, "Save the file again as UTF-8."
                ) from error
    if (guess := _wide(data)) is not None:
        return data.decode(guess, errors="replace"), "UTF-16", ()
    try:
        return data.decode("utf-8"), "UTF-8", ()
    except UnicodeDecodeError:
        return _mixed(data)


def _wide(data: bytes) -> str | None:
    """Return the codec of UTF-16 without a mark: every other byte of plain text is zero."""
    head = data[:2000]
    zeros = (head[0::2].count(0), head[1::2].count(0))
    if max(zeros) * 4 < len(head) or min(zeros) * 10 > len(head):
        return None
    return "utf-16-le" if zeros[1] > zeros[0] else "utf-16-be"


def _mixed(data: bytes) -> tuple[str, str, tuple[Note, ...]]:
    strays: list[int] = []
    text = data.decode("utf-8", errors=_handler(strays))
    whole = any(ord(character) > 0xFF for character in data.decode("utf-8", errors="ignore"))
    proper = whole or bool(re.search(rb"[\xc3][\x80-\xbf]", data))
    rows = sorted({1 + data.count(b"\n", 0, at) for at in strays})
    if not proper:
        return text, "CP-1252", (note("intake.encoding-assumed", count=len(rows)),)
    shown = ", ".join(map(str, rows[:5])) + (" …" if len(rows) > 5 else "")
    return text, "UTF-8 with CP-1252", (note("intake.encoding-mixed", rows=shown),)


def _handler(strays: list[int]) -> str:
    """Register an error handler that reads bytes as CP-1252 and keeps where they stood; return its name."""

    def stray(error: UnicodeError) -> tuple[str, int]:
        assert isinstance(error, UnicodeDecodeError)
        strays.append(error.start)
        said = error.object[error.start : error.start + 1]
        try:
            return said.decode("cp1252"), error.start + 1
        except UnicodeDecodeError:
            return said.decode("latin-1"), error.start + 1

    handler: Callable[[UnicodeError], tuple[str, int]] = stray
    codecs.register_error("shipworthy-cp1252", handler)
    return "shipworthy-cp1252"
