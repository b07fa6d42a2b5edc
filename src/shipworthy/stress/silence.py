"""Which sensors have fallen silent, and which have come back. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shipworthy.model.base import Value, values
from shipworthy.model.runlog import Column

SILENT_S = 5.0
_MOST_SIGNS = 120


@dataclass(frozen=True)
class Turn:
    """One column fell silent, or came back, after so many seconds without a value."""

    column: Column
    silent_s: float
    back: bool


class Silences:
    """Follows the rows. A sensor that never gave anything is not silent: it was never there."""

    def __init__(self, columns: Sequence[Column], silent_s: float = SILENT_S) -> None:
        self._columns, self._silent_s = tuple(columns), silent_s
        self._seen_s: list[float | None] = [None] * len(self._columns)
        self._silent: set[int] = set()

    def look(self, row: Sequence[float | None], now_s: float) -> tuple[Turn, ...]:
        """Take a row and return what changed with it."""
        if not self._silent and None not in row:
            self._seen_s = [now_s] * len(row)
            return ()
        turns = []
        for at, value in enumerate(row):
            seen_s = self._seen_s[at]
            if value is not None:
                if at in self._silent and seen_s is not None:
                    self._silent.discard(at)
                    turns.append(Turn(self._columns[at], now_s - seen_s, back=True))
                self._seen_s[at] = now_s
            elif seen_s is not None and at not in self._silent and now_s - seen_s >= self._silent_s:
                self._silent.add(at)
                turns.append(Turn(self._columns[at], now_s - seen_s, back=False))
        return tuple(turns)

    def silent_for_s(self, at: int, now_s: float) -> float:
        """Return for how long a column has given nothing; 0 if it never gave anything."""
        seen_s = self._seen_s[at]
        return 0.0 if seen_s is None else now_s - seen_s

    def spoke(self, at: int) -> bool:
        """Return whether a column has ever given a value."""
        return self._seen_s[at] is not None


def events_of(turns: Sequence[Turn]) -> tuple[tuple[str, tuple[Value, ...]], ...]:
    """Return an event for each place at which sensors turned: a chip that goes takes all of its own along."""
    places: dict[tuple[bool, str], list[Turn]] = {}
    for turn in turns:
        places.setdefault((turn.back, turn.column.place), []).append(turn)
    return tuple(
        ("sensor.back" if back else "sensor.silent", _named(place, together))
        for (back, place), together in places.items()
    )


def _named(place: str, turns: Sequence[Turn]) -> tuple[Value, ...]:
    channels = ", ".join(turn.column.channel for turn in turns)
    return values(
        label=turns[0].column.label or turns[0].column.channel,
        place=place,
        channel=channels if len(channels) <= _MOST_SIGNS else channels[: _MOST_SIGNS - 1] + "…",
        silent_s=round(max(turn.silent_s for turn in turns), 1),
    )
