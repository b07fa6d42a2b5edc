"""Progress: a stream of records handed to a sink; screen, JSON lines and a later page are sinks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from shipworthy.model.base import Record, Scalar, Value, values


class Progress(Record):
    """Something to show now: a code and its values."""

    code: str
    values: tuple[Value, ...] = ()


Sink: TypeAlias = Callable[[Progress], None]


def progress(code: str, /, **named: Scalar) -> Progress:
    return Progress(code=code, values=values(**named))


def silent(_: Progress) -> None:
    """The sink that shows nothing."""
