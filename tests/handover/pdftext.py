"""Just enough of a PDF reader (ISO 32000-1) to get the text of a page back: for tests, of our own prints.

Reads object streams, Flate data, and fonts' ToUnicode maps; knows the text operators Tj and TJ.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator

_OBJECT = re.compile(rb"(?<!\d)(\d+) 0 obj\b(.*?)\bendobj", re.S)
_STREAM = re.compile(rb"stream\r?\n")
_TOKEN = re.compile(rb"/(\w+)|<([0-9A-Fa-f\s]*)>|(\()|([A-Za-z'\"*]+)|[-+.\d]+|.", re.S)
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


def page_texts(pdf: bytes) -> list[str]:
    """Return the text of each page, in the order in which it is drawn."""
    objects = _objects(pdf)
    pages = [body for body in objects.values() if re.search(rb"/Type\s*/Page\b(?!s)", body)]
    return [_page_text(body, objects) for body in pages]


def _objects(pdf: bytes) -> dict[int, bytes]:
    objects = {int(m[1]): m[2] for m in _OBJECT.finditer(pdf)}
    for body in list(objects.values()):
        if b"/ObjStm" in body:
            first, data = int(re.search(rb"/First (\d+)", body)[1]), _data(body)  # type: ignore[index]
            heads = [int(n) for n in data[:first].split()]
            offsets = [*heads[1::2], len(data) - first]
            for number, begin, end in zip(heads[::2], offsets, offsets[1:], strict=True):
                objects[number] = data[first + begin : first + end]
    return objects


def _data(body: bytes) -> bytes:
    begin, length = _STREAM.search(body), re.search(rb"/Length (\d+)", body)
    assert begin is not None and length is not None
    raw = body[begin.end() : begin.end() + int(length[1])]
    return zlib.decompress(raw) if b"/FlateDecode" in body else raw


def _page_text(page: bytes, objects: dict[int, bytes]) -> str:
    fonts = {name: _to_unicode(objects[number], objects) for name, number in _fonts(page, objects).items()}
    refs = re.search(rb"/Contents\s*(\[[^\]]*\]|\d+ 0 R)", page)
    assert refs is not None
    content = b"\n".join(_data(objects[int(n)]) for n in re.findall(rb"(\d+) 0 R", refs[1]))
    out: list[str] = []
    font: dict[int, str] = {}
    name, strings = b"", []
    for kind, token in _tokens(content):
        if kind == "name":
            name = token
        elif kind == "string":
            strings.append(token)
        else:
            font = fonts[name] if token == b"Tf" else font
            if token in (b"Tj", b"TJ"):
                out += [font.get(code, "") for string in strings for code in _codes(string)]
            strings = []
    return "".join(out)


def _tokens(content: bytes) -> Iterator[tuple[str, bytes]]:
    """Return names, strings (as bytes) and operators of a content stream."""
    at = 0
    while match := _TOKEN.match(content, at):
        at = match.end()
        if match[1] is not None:
            yield "name", match[1]
        elif match[2] is not None:
            yield "string", bytes.fromhex(match[2].decode())
        elif match[3] is not None:
            end = _string_end(content, at)
            yield "string", _unescaped(content[at : end - 1])
            at = end
        elif match[4] is not None:
            yield "operator", match[4]


def _string_end(content: bytes, at: int) -> int:
    """Return where a string ends that began before `at`; parentheses in it may be nested."""
    depth = 1
    while depth:
        char = content[at : at + 1]
        at += 2 if char == b"\\" else 1
        depth += {b"(": 1, b")": -1}.get(char, 0)
    return at


def _fonts(page: bytes, objects: dict[int, bytes]) -> dict[bytes, int]:
    resources = page
    ref = re.search(rb"/Resources\s*(\d+) 0 R", page)
    if ref:
        resources = objects[int(ref[1])]
    named = re.search(rb"/Font\s*<<(.*?)>>", resources, re.S)
    return {m[1]: int(m[2]) for m in re.finditer(rb"/(\w+)\s+(\d+) 0 R", named[1])} if named else {}


def _to_unicode(font: bytes, objects: dict[int, bytes]) -> dict[int, str]:
    ref = re.search(rb"/ToUnicode\s*(\d+) 0 R", font)
    if ref is None:
        return {}
    table: dict[int, str] = {}
    for block in re.findall(rb"beginbfchar(.*?)endbfchar", _data(objects[int(ref[1])]), re.S):
        for code, text in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]*)>", block):
            table[int(code, 16)] = bytes.fromhex(text.decode()).decode("utf-16-be")
    return table


def _codes(raw: bytes) -> list[int]:
    """Return the two-byte codes of a string."""
    return [raw[i] << 8 | raw[i + 1] for i in range(0, len(raw) - 1, 2)]


def _unescaped(raw: bytes) -> bytes:
    def one(match: re.Match[bytes]) -> bytes:
        code = match[1]
        return bytes([int(code, 8) & 255]) if code[:1].isdigit() else _ESCAPES.get(code, code)

    return re.sub(rb"\\([0-7]{1,3}|.)", one, raw, flags=re.S)
