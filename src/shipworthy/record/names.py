"""Names of files in a record: safe on every file system that a record may be carried on.

A record travels on sticks and shares, so a name holds nothing that FAT, exFAT or Windows refuses
(Microsoft, "Naming Files, Paths, and Namespaces": reserved characters, reserved device names, no
trailing dot or space), and no two names differ only by case or by Unicode form.
"""

from __future__ import annotations

import re
import unicodedata

from shipworthy.model.base import Trouble

PART = ".part-"
"""How the temporary name of a file that is being written begins."""

_STORED = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*")
_DEVICE = r"(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])"
_DEVICES = re.compile(rf"{_DEVICE}(?:\.|$)", re.IGNORECASE)
_UNSAFE = re.compile(  # in a path with `/` before and after it
    r'[\x00-\x1f\x7f<>:"|?*\\]'  # refused by Windows; the last of them divides folders there
    r"|//|/~|[. ]/"  # no name at all, the home folder, a dot (or two) or space at the end
    rf"|/{_DEVICE}[./]",
    re.IGNORECASE,
)
_LONGEST_COMPONENT, _LONGEST_NAME, _LONGEST_SHOWN = 200, 400, 1000


def may_store(name: str) -> bool:
    """Whether we may store a file under this name.

    Stricter than what `verify` accepts: ASCII letters, digits, `.`, `_`, `-` and `/`; no part of the name
    begins with a dot (hidden, or temporary).
    """
    return len(name) <= _LONGEST_NAME and all(_may_store(part) for part in name.split("/"))


def check_name(name: str) -> str:
    """Return the name if we may store a file under it; else Trouble."""
    if not may_store(name):
        raise Trouble(
            f"a file of a record cannot be called {printable(name)!r}",
            "",
            "Use letters, digits, dots, dashes and underscores, and no name that Windows keeps for itself.",
        )
    return name


def _may_store(part: str) -> bool:
    plain = _STORED.fullmatch(part) is not None and len(part) <= _LONGEST_COMPONENT
    return plain and not part.endswith(".") and not _DEVICES.match(part)


def is_unsafe(name: str) -> bool:
    """Whether a path found in a manifest could leave the folder, or means another thing elsewhere.

    RFC 8493, section 5.2.1: absolute paths, `..`, and `~` as the shell's home folder are dangers.
    """
    return _UNSAFE.search(f"/{name}/") is not None


def folded(name: str) -> str:
    """Return what a file system that ignores case and Unicode form keeps of a name."""
    if name.isascii():
        return name.lower()
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def printable(text: str) -> str:
    """Return a text from outside so that it can be shown and stored: one line, no control characters, no
    bytes that are not UTF-8, and not without end."""
    cut = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut)
