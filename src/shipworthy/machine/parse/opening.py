"""Open what other tools wrote, JSON and XML, within a bound. Entities of XML, which can grow, are refused."""

from __future__ import annotations

from typing import TypeVar
from xml.etree.ElementTree import Element, ParseError

import msgspec
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from shipworthy.machine.raw import Fault
from shipworthy.model.words import RemarkKind

T = TypeVar("T")
WHERE = "file"


def opened_json(data: bytes | str, most_bytes: int, form: type[T]) -> T | Fault:
    """Return the value that a whole JSON text is, of that form; or why it is none."""
    if len(data) > most_bytes:
        return _too_long(most_bytes)
    try:
        return msgspec.json.decode(data, type=form)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        return Fault(RemarkKind.CUT_SHORT, WHERE, f"no whole JSON: {error}"[:200])


def opened_xml(data: bytes | str, most_bytes: int) -> Element | Fault:
    """Return the root of a whole XML text, or why it has none."""
    if len(data) > most_bytes:
        return _too_long(most_bytes)
    try:
        root: Element = fromstring(data)
    except DefusedXmlException as error:
        return Fault(RemarkKind.BAD_VALUE, WHERE, type(error).__name__)
    except (ParseError, ValueError, LookupError) as error:  # LookupError: an encoding that is unknown
        return Fault(RemarkKind.CUT_SHORT, WHERE, str(error)[:120])
    return root


def _too_long(most_bytes: int) -> Fault:
    return Fault(RemarkKind.BAD_LENGTH, WHERE, f"more than {most_bytes} bytes")
