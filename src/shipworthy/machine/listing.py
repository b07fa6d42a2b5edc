"""The stored form of a source that is many small files, such as a device tree in sysfs.

Such a source is one raw file of JSON lines, a line per thing asked: a file's text, a folder's names or
where a link leads. What was refused, failed or is not there has its line too, so that a later parser
knows as much as one on the machine would.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec

from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Reply
from shipworthy.model.base import Scalar, Trouble
from shipworthy.model.facts import Said
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent


class ListingRow(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True):
    """One thing asked. Of text, hexadecimal bytes, names and link target at most one is set."""

    path: str
    outcome: SourceOutcome = SourceOutcome.READ
    text: str | None = None
    hex: str | None = None
    names: tuple[str, ...] | None = None
    link: str | None = None
    error: str = ""


def encode_listing(rows: Iterable[ListingRow]) -> bytes:
    """Return the rows as JSON lines."""
    return b"".join(msgspec.json.encode(row) + b"\n" for row in rows)


WHY_ABSENT = {
    SourceOutcome.ABSENT: Absent.NOT_OFFERED,
    SourceOutcome.EMPTY: Absent.NOT_OFFERED,
    SourceOutcome.REFUSED: Absent.NOT_READABLE,
    SourceOutcome.FAILED: Absent.NOT_READABLE,
}
"""Why a field has no value, by what became of its file. A device that has no such file does not offer
the field; a file that may not or cannot be read is not readable."""


def why_absent(reply: Reply) -> Absent:
    """Return why a reply's fields have no values. A recorded machine without the reply was never asked."""
    if reply.outcome is SourceOutcome.ABSENT and reply.locator.startswith("/replies/"):
        return Absent.NOT_ASKED
    return WHY_ABSENT.get(reply.outcome, Absent.NOT_OFFERED)


class Listing:
    """A listing read back. Asking for a path that was not asked of the machine gives nothing."""

    def __init__(self, data: bytes, where: object = "listing") -> None:
        self._rows: dict[tuple[str, str], ListingRow] = {}
        for number, line in enumerate(data.splitlines(), 1):
            try:
                row = msgspec.json.decode(line, type=ListingRow)
            except (msgspec.DecodeError, UnicodeDecodeError) as error:
                raise Trouble(
                    f"line {number} is no row of a listing: {error}", where, "Restore it from a good copy."
                ) from error
            kind = "link" if row.link is not None else "names" if row.names is not None else "file"
            self._rows[row.path, kind] = row

    def names(self, folder: str) -> tuple[str, ...]:
        """Return the names in a folder, sorted; empty if it was not there or not readable."""
        row = self._rows.get((folder, "names"))
        return row.names if row is not None and row.names is not None else ()

    def target(self, path: str) -> str | None:
        """Return the path below the machine's root where a link leads; None if it leads nowhere."""
        row = self._rows.get((path, "link"))
        return row.link if row is not None else None

    def target_name(self, path: str) -> str | None:
        """Return the last name of where a link leads, such as a driver's; None if it leads nowhere."""
        target = self.target(path)
        return target.rsplit("/", 1)[-1] if target else None

    def row(self, path: str) -> ListingRow | None:
        return self._rows.get((path, "file"))

    def text(self, path: str) -> str | None:
        """Return a file's text without surrounding space; None if it gave none."""
        row = self.row(path)
        return row.text.strip() if row is not None and row.text is not None else None

    def number(self, path: str) -> int | None:
        """Return a file's whole number, decimal or after `0x`; None if it gave none."""
        return whole_number(self.text(path) or "")

    def data(self, path: str) -> bytes:
        """Return a file's bytes that were kept as hexadecimal; empty if it gave none."""
        row = self.row(path)
        try:
            return bytes.fromhex(row.hex) if row is not None and row.hex is not None else b""
        except ValueError as error:
            raise Trouble(
                "a row of a listing is no hexadecimal", path, "Restore it from a good copy."
            ) from error

    def said(self, name: str, path: str, meaning: Callable[[str], Scalar | Absent]) -> Said:
        """Return the field that a file gives: its meaning, or why there is none."""
        row = self.row(path)
        if row is None:
            return Said(name=name, absent=Absent.NOT_OFFERED)
        if row.outcome is not SourceOutcome.READ or row.text is None:
            return Said(name=name, absent=WHY_ABSENT.get(row.outcome, Absent.NOT_OFFERED))
        return said(name, meaning(row.text.strip()))


def said(name: str, value: Scalar | Absent | None) -> Said:
    """Return a field with that value, or with the reason why it has none (None: not offered)."""
    if value is None:
        return Said(name=name, absent=Absent.NOT_OFFERED)
    if isinstance(value, Absent):
        return Said(name=name, absent=value)
    return Said(name=name, value=value)


def whole_number(text: str) -> int | None:
    """Return the whole number that a text is, decimal or after `0x`; None if it is none."""
    text = text.strip()
    try:
        return int(text, 16) if text.lower().startswith("0x") else int(text)
    except ValueError:
        return None


def number_or_implausible(text: str) -> int | Absent:
    """Return a text's whole number; a text that is none is implausible where a number belongs."""
    number = whole_number(text)
    return Absent.IMPLAUSIBLE if number is None else number


def text_or_silence(text: str) -> str | Absent:
    """Return a text; nothing, or what stands where firmware has nothing to say, is not offered."""
    return Absent.NOT_OFFERED if is_placeholder(text) else text
