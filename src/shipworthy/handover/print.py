"""The PDF: the same view through typst, which gets it as data and shows it as text."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import asdict
from importlib import resources
from typing import Any

from shipworthy.handover.breaking import pieces
from shipworthy.handover.plots import draw
from shipworthy.handover.view import Handover, Plot, texts

_STANDARDS: Any = ["a-2a", "ua-1"]
"""PDF/A-2a (ISO 19005-2) to be kept for years, PDF/UA-1 (ISO 14289-1) to be read aloud."""

_NOT_TEXT = ("kind", "name", "drawing")
_BREAK = "\u200b"  # typst breaks no long word by itself, but it does at a zero-width space


def render_print(view: Handover) -> bytes:
    """Return the PDF of a handover; the same view gives the same bytes.

    The fonts are those inside typst. A text that they cannot draw is set with this computer's fonts, and
    characters that no font here has are spelt by their code: PDF/A refuses boxes in place of letters.
    """
    missing = _undrawable(view, system_fonts=False)
    if missing:
        missing = _undrawable(view, system_fonts=True)
        return _compile(_as_data(view, missing), system_fonts=True)
    return _compile(_as_data(view, frozenset()), system_fonts=False)


def _compile(data: str, *, system_fonts: bool) -> bytes:
    import typst

    template = (resources.files("shipworthy.handover") / "templates" / "report.typ").read_bytes()
    return bytes(
        typst.compile(
            template,
            ignore_system_fonts=not system_fonts,
            sys_inputs={"view": data},
            pdf_standards=_STANDARDS,
            format="pdf",
        )
    )


def _as_data(view: Handover, missing: frozenset[str]) -> str:
    spell = str.maketrans({char: f"[U+{ord(char):04X}]" for char in missing})
    document = asdict(view)
    for section, shown in zip(view.sections, document["sections"], strict=True):
        for block, data in zip(section.blocks, shown["blocks"], strict=True):
            if isinstance(block, Plot):
                data["drawing"] = draw(block, standalone=True)
    return json.dumps(
        _mapped(document, lambda text: _BREAK.join(pieces(text.translate(spell)))), ensure_ascii=False
    )


def _mapped(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: item if key in _NOT_TEXT else _mapped(item, change) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_mapped(item, change) for item in value]
    return value


def _undrawable(view: Handover, *, system_fonts: bool) -> frozenset[str]:
    """Return the characters that the fonts cannot draw, by asking typst with halves of them at a time."""
    # What Libertinus Serif certainly has: Latin with its additions; asking is for the rest.
    unsure = {char for text in texts(view) for char in text if ord(char) > 0x17F} - set("–—’‘“”…×°€")
    return frozenset(_asked(sorted(unsure), system_fonts))


def _asked(chars: list[str], system_fonts: bool) -> Iterable[str]:
    if not chars or _drawable("".join(chars), system_fonts):
        return ()
    if len(chars) == 1:
        return chars
    half = len(chars) // 2
    return (*_asked(chars[:half], system_fonts), *_asked(chars[half:], system_fonts))


def _drawable(chars: str, system_fonts: bool) -> bool:
    import typst

    probe = (
        b"#set document(date: datetime(year: 2000, month: 1, day: 1))\n"
        b'#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"))\n#let it = text(sys.inputs.chars)\n'
        b'#it #text(weight: "bold", it) #text(weight: "semibold", it) #emph(it) #smallcaps(it)'
    )
    try:
        typst.compile(
            probe,
            ignore_system_fonts=not system_fonts,
            sys_inputs={"chars": " ".join(chars)},
            pdf_standards=["a-2a"],
            format="pdf",
        )
    except typst.TypstError:
        return False
    return True
