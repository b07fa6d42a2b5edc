"""Let a decoder read a source's replies. What it makes must be fit to be stored; a mistake costs no more."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from shipworthy.machine.raw import Parsed, Reply, remark
from shipworthy.model.words import RemarkKind


def parsed_by(name: str, parse: Callable[[tuple[Reply, ...]], Parsed], replies: tuple[Reply, ...]) -> Parsed:
    """Return what a source's replies say; a remark in its place where the decoder itself fails.

    That one decoder makes a mistake must not cost the reading; the raw bytes are kept for a later version.
    """
    try:
        parsed = parse(replies)
        if not isinstance(parsed, Parsed):
            raise TypeError(f"it gave a {type(parsed).__name__}")
        msgspec.json.encode((parsed.sightings, parsed.ports, parsed.remarks))  # fails for text without UTF-8
    except Exception as error:
        detail = f"{type(error).__name__}: {error}"[:200].encode("utf-8", "replace").decode("utf-8")
        return Parsed(remarks=(remark(name, RemarkKind.DECODER_FAILED, name, detail),))
    return parsed
