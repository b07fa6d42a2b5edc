"""Ask sources side by side. One that hangs is given up at its own time limit, and named; the rest stands."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shipworthy.machine.raw import Reply
from shipworthy.model.reading import SourceOutcome

if TYPE_CHECKING:
    from shipworthy.machine.root import Root
    from shipworthy.machine.sources import Capture, Source

NO_ANSWER = "no answer within {limit_s:g} s"


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
            self.replies = tuple(self.capture(self.root))
        except Exception as error:  # one source's mistake must not cost the others their reading
            word = f"{type(error).__name__}: {error}"
            self.replies = (
                Reply(self.source.name, self.source.name, SourceOutcome.FAILED, error=word[:200]),
            )

    def answer(self) -> tuple[Reply, ...]:
        if self.replies is not None:
            return self.replies
        word = NO_ANSWER.format(limit_s=self.source.limit_s)
        return (Reply(self.source.name, self.source.name, SourceOutcome.FAILED, error=word),)


def ask_all(asked: Sequence[tuple[Source, Capture]], root: Root) -> list[tuple[Source, tuple[Reply, ...]]]:
    """Return each source's replies, in the order given. Nothing here takes longer than the longest limit."""
    questions = [_Question(source, capture, root) for source, capture in asked]
    began_s = time.monotonic()
    for question in questions:
        question.thread.start()
    for question in questions:
        question.thread.join(max(began_s + question.source.limit_s - time.monotonic(), 0.0))
    return [(question.source, question.answer()) for question in questions]
