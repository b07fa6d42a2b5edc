"""The one base of every record, and the one strict way to read and write them.

Standards: JSON is RFC 8259; times are RFC 3339 in UTC; digests are SHA-512 (FIPS 180-4) of the bytes
as stored. msgspec alone would read NaN as null and accept duplicate keys and naive times, so
everything that comes from a file passes through here (ADR 0002).
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import stat
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any, TypeAlias, TypeVar, dataclass_transform

import msgspec

from shipworthy.model.wrong_values import in_words


class Trouble(Exception):
    """The world is not as we need it. Says what, where and how to mend it; never a bug of ours."""

    def __init__(self, what: str, where: object, mend: str) -> None:
        self.what, self.where, self.mend = what, str(where), mend
        super().__init__(f"{what} ({where}). {mend}" if self.where else f"{what}. {mend}")


class _KeywordsOnly(msgspec.StructMeta):
    """msgspec inherits every option of a struct but `kw_only`, which all our records want."""

    def __new__(mcls, name: str, bases: tuple[type, ...], namespace: dict[str, Any], **options: Any) -> Any:
        return super().__new__(mcls, name, bases, namespace, kw_only=True, **options)


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(msgspec.field,))
class Record(msgspec.Struct, metaclass=_KeywordsOnly, frozen=True, forbid_unknown_fields=True):
    """Base of everything that is stored: frozen, and unknown keys are refused."""


Scalar: TypeAlias = str | int | float | bool
"""What a source, an order or a limit can say. Text is never a number and a number never text."""

Digest = Annotated[str, msgspec.Meta(pattern=r"^sha512:[0-9a-f]{128}$")]
RecordPath = Annotated[
    str, msgspec.Meta(pattern=r"^(?!(.*/)?\.{1,2}(/|$))[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*$(?!\n)")
]
"""A file's place in an attempt's folder, with `/`; no step out of it, nothing that FAT or Windows refuses."""
NamedPath = Annotated[str, msgspec.Meta(pattern=r"^[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*$(?!\n)")]
"""A path as a stranger's list gives it: `verify` names those that lead out, and nothing else opens them."""


class Value(Record):
    """One named value that a sentence is later made from (see the room `messages`)."""

    name: str
    value: Scalar


def values(**named: Scalar) -> tuple[Value, ...]:
    """Return the named values as records, in the order given."""
    return tuple(Value(name=name, value=value) for name, value in named.items())


R = TypeVar("R")


def digest_of(data: bytes) -> str:
    """Return `sha512:<hex>` of the bytes as they are."""
    return "sha512:" + hashlib.sha512(data).hexdigest()


def encode(record: msgspec.Struct) -> bytes:
    """Return a record's stored form: one JSON value, UTF-8, fields in the order of the class."""
    _refuse_non_finite(record)
    return msgspec.json.encode(record)


def encode_pretty(record: msgspec.Struct) -> bytes:
    """Return the same, indented by two, with a newline at the end: for files that people open."""
    return msgspec.json.format(encode(record), indent=2) + b"\n"


def decode(data: bytes, kind: type[R], where: object) -> R:
    """Return the record in `data`.

    Raises Trouble, naming `where`, for anything but exactly one well-formed record of that kind:
    other encodings, duplicate or unknown keys, NaN and infinities, naive times, wrong types.
    """
    try:
        record = msgspec.json.decode(data, type=kind)
        if msgspec.json.encode(record) != data:  # our own spelling proves that no key came twice
            strict_json(data.decode("utf-8"))
    except (msgspec.DecodeError, UnicodeDecodeError, ValueError) as error:
        name = getattr(kind, "__name__", "record")
        raise Trouble(f"not a valid {name}: {error}", where, "Restore it from a good copy.") from error
    return record


def strict_json(text: str) -> Any:
    """Return the value of a JSON text of any form.

    Raises ValueError, with the end of a sentence, for what is no JSON, a key that stands twice in one object,
    `NaN` and `Infinity`, and a nesting too deep to follow.
    """
    try:
        return json.loads(text, object_pairs_hook=_no_duplicates, parse_constant=_no_constant)
    except RecursionError as error:
        raise ValueError("it is nested too deep") from error


def decode_toml(data: bytes, kind: type[R], where: object, *, called: str, mend: str) -> R:
    """Return the record in a TOML file that a person wrote. called: what it should be, as `a valid policy`.

    Raises Trouble, naming `where`, for anything else: other encodings, duplicate or unknown keys, NaN and
    infinities, wrong types, numbers of thousands of digits, a nesting too deep to follow.
    """
    try:
        tree = tomllib.loads(data.decode("utf-8"))
        for name, value in _non_finite(tree, ""):
            raise ValueError(f"{name} is {value}, which is no number to count with")
        return msgspec.convert(tree, type=kind)
    except RecursionError as error:
        raise Trouble(f"not {called}: it is nested too deep", where, mend) from error
    except msgspec.ValidationError as error:
        raise Trouble(f"not {called}: {in_words(str(error))}", where, mend) from error
    except ValueError as error:
        raise Trouble(f"not {called}: {error}", where, mend) from error


def _non_finite(value: object, name: str) -> Iterator[tuple[str, float]]:
    """Yield what TOML calls `nan` and `inf`, with its place: `limits[0].value`."""
    if isinstance(value, float) and not math.isfinite(value):
        yield name, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _non_finite(inner, f"{name}.{key}".lstrip("."))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _non_finite(inner, f"{name}[{index}]")


_AT_ONCE_BYTES = 1 << 18
"""Of a file of lines: a day's run log has a million, and read one by one they take several times as long."""


def decode_lines(data: bytes, kind: type[R], where: object) -> tuple[list[R], bytes]:
    """Return the records of a file of lines, and the bytes after the last newline (a torn line).

    A torn last line is expected after a power cut; a bad line before it is Trouble. Each line is held to all
    that `decode` refuses.
    """
    decoder = msgspec.json.Decoder(kind)
    records: list[R] = []
    begin, whole = 0, data.rfind(b"\n") + 1
    while begin < whole:
        end = data.index(b"\n", min(begin + _AT_ONCE_BYTES, whole - 1)) + 1
        part = data[begin:end]
        found = _in_our_spelling(part, decoder)
        if found is None:
            lines = enumerate(part.split(b"\n")[:-1], len(records) + 1)
            found = [decode(line, kind, f"{where}, line {number}") for number, line in lines]
        records += found
        begin = end
    return records, data[whole:]


def _in_our_spelling(part: bytes, decoder: msgspec.json.Decoder[R]) -> list[R] | None:
    """Return the records of whole lines; None if they are not just what we would write for them: then each
    has to be looked at. What is written as we do holds no key twice, no NaN and no empty line."""
    try:
        found = decoder.decode_lines(part)
    except (msgspec.DecodeError, UnicodeDecodeError, ValueError):
        return None
    return found if msgspec.json.Encoder().encode_lines(found) == part else None


def read_record(path: Path, kind: type[R]) -> R:
    """Return the record stored in a file; Trouble if it cannot be read or is not one."""
    return decode(read_bytes(path), kind, path)


def read_bytes(path: Path) -> bytes:
    """Return the bytes of an ordinary file, or Trouble in one sentence; a pipe or device is refused."""
    try:
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise Trouble("is no ordinary file", path, "Name a file.")
            return file.read()
    except OSError as error:
        raise Trouble(
            f"cannot be read: {error.strerror}", path, "Check the path and the permissions."
        ) from error


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f"the key {next(n for n in names if names.count(n) > 1)!r} stands there twice")
    return found


def _no_constant(text: str) -> None:
    raise ValueError(f"the word {text} is not a JSON number")


def _refuse_non_finite(value: object) -> None:
    """msgspec writes NaN as null, which would read back as *absent*: refuse it where it is made."""
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("a record cannot hold a number that is not finite")
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            _refuse_non_finite(getattr(value, name))
    elif isinstance(value, tuple):
        for item in value:
            _refuse_non_finite(item)


def digest_of_records(records: Iterable[msgspec.Struct]) -> str:
    """Return the digest of records written one a line."""
    return digest_of(b"".join(encode(record) + b"\n" for record in records))
