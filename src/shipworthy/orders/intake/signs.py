"""Signs that are not seen, or that look like another: a row is read as a person sees it.

Unicode, general category Cf: soft hyphens, spaces of no width and marks of writing direction are in texts
copied from pages and mails. The joiners stay: pictures and some scripts are made with them.
"""

from __future__ import annotations

import html
import re

_UNSEEN = re.compile(
    "[\u00ad\u061c\u180e\u200b\u200e\u200f\u202a-\u202e\u2060-\u2064\u2066-\u206f\ufeff\ufff9-\ufffb]"
)
# What looks like the sign of multiplication behind a number: crosses, the Cyrillic letter.
_TIMES = re.compile(r"(?<=\d)(\s?)[✕✖✗✘⨉⨯х](?=\s)|(?<=\s)[✕✖⨉⨯х](?=\s?\d{1,3}\s*$)")


# Marks of a page's source: cells, other elements, bold.
_CELL = re.compile(r"</?t[dh]\b[^<>]*>", re.IGNORECASE)
_ELEMENT = re.compile(r"</?(?:tr|table|tbody|p|div|span|b|strong|i|em|u|br|li|ul|ol)\b[^<>]*>", re.IGNORECASE)
_BOLD = re.compile(r"(?<!\S)(?:\*\*|__)(?=\S)|(?<=\S)(?:\*\*|__)(?!\S)")


def readable(text: str) -> str:
    """Return a text without signs that nobody sees and marks of a page, with one sign of multiplication."""
    if "<" in text:
        text = _ELEMENT.sub(" ", _CELL.sub("\t", text)).strip(" \t")
    if "&" in text:
        text = html.unescape(text)
    if any(map(str.isdigit, text)):  # words alone in bold are a heading
        text = _BOLD.sub("", text)
    return _TIMES.sub(lambda match: f"{match[1] or ''}×", _UNSEEN.sub("", text))
