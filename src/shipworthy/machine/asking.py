"""Ask sources side by side. One that hangs is given up at its own time limit, and named; the rest stands.

What a source gives is looked at before it is believed: a reply that could not be kept or named, be it of a
device with an odd name or of another package, costs that reply alone.
"""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome

if TYPE_CHECKING:
    from shipworthy.machine.root import Root
    from shipworthy.machine.sources import Capture, Source

LEFT_OVER = "left-over"
"""The source that names files which lie beside a machine's, or in a folder of reports, and were not read."""

NO_ANSWER = "no answer within {limit_s:g} s"
_ID = re.compile(r"[a-z0-9][a-z0-9-]*(\.[A-Za-z0-9_-]+)*")
_SUFFIX = re.compile(r"[a-z0-9]{1,8}")


@dataclass
class _Question:
    """One source being asked. A thread that hangs in the kernel cannot be ended: it is left behind, as a
    daemon, and whatever it still brings is not taken."""

    source: Source
    capture: Capture
    root: Root
    replies: tuple[Reply, ...] | None = None
    thread: threading.Thread = field(init=False)

    def __post_init__(self) -> None:
        self.thread = threading.Thread(target=self._ask, name=f"source {self.source.name}", daemon=True)

    def _ask(self) -> None:
        try:
            self.replies = sound_replies(self.source, tuple(self.capture(self.root)))
        except (
            Exception,
            SystemExit,
        ) as error:  # one source's mistake must not cost the others their reading
            self.replies = (_failed(self.source, self.source.name, f"{type(error).__name__}: {error}"),)

    def answer(self) -> tuple[Reply, ...]:
        if self.replies is not None:
            return self.replies
        return (_failed(self.source, self.source.name, NO_ANSWER.format(limit_s=self.source.limit_s)),)


def ask_all(asked: Sequence[tuple[Source, Capture]], root: Root) -> list[tuple[Source, tuple[Reply, ...]]]:
    """Return each source's replies, in the order given. Nothing here takes longer than the longest limit."""
    questions = [_Question(source, capture, root) for source, capture in asked]
    began_s = time.monotonic()
    for question in questions:
        question.thread.start()
    for question in questions:
        question.thread.join(max(began_s + question.source.limit_s - time.monotonic(), 0.0))
    return [(question.source, question.answer()) for question in questions]


def sound_replies(source: Source, replies: Sequence[Reply]) -> tuple[Reply, ...]:
    """Return a source's replies, each that cannot be kept or named replaced by one that says why."""
    sound: list[Reply] = []
    taken = {origin_id(source)}
    for number, reply in enumerate(replies, 1):
        fault = _fault(source, reply, taken)
        if fault:
            sound.append(_failed(source, f"{source.name}.refused-{number}", fault))
        else:
            taken.add(reply.id)
            sound.append(replace(reply, locator=storable(reply.locator), error=storable(reply.error)))
    return tuple(sound)


def origin_id(source: Source) -> str:
    """Return the id of the reply that says which package a source is from."""
    return f"{source.name}.origin"


def storable(text: str) -> str:
    """Return a text as records can hold it: what is no UTF-8, as a file's name may be, becomes `?`."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _fault(source: Source, reply: object, taken: set[str]) -> str:
    """Return why a reply cannot be kept; empty if it can."""
    if not isinstance(reply, Reply) or not isinstance(reply.data, bytes):
        return f"a {type(reply).__name__} that is no reply of bytes"
    if reply.id != source.name and not reply.id.startswith(f"{source.name}."):
        return f"reply {reply.id!r} does not begin with the source's name"
    if not _ID.fullmatch(reply.id) or not _SUFFIX.fullmatch(reply.suffix):
        return f"{f'{reply.id}.{reply.suffix}'!r} is no name that a file of a reading can have"
    return f"two replies {reply.id!r}" if reply.id in taken else ""


def _failed(source: Source, reply_id: str, word: str) -> Reply:
    return Reply(reply_id, source.name, SourceOutcome.FAILED, error=storable(word[:200]))
