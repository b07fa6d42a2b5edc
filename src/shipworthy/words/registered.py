"""Registered or unbuffered memory modules: what a text says of it."""

from __future__ import annotations

import re

_REGISTERED = re.compile(
    r"\bR(?:EG)?[\s-]?DIMMs?\b|\b(?P<not>un)?(?:registered|buffered)\b|\b(?P<u>UDIMM)s?\b", re.I
)


def find_registered(text: str) -> tuple[bool, str] | None:
    """Return whether modules are registered, with the words that say so; None where a text says nothing of
    it, or both."""
    found = [(not (match["not"] or match["u"]), match.group()) for match in _REGISTERED.finditer(text)]
    return found[0] if len({registered for registered, _ in found}) == 1 else None
