"""Do all targets of a load get the same for the same work? Pure; the engine feeds it and acts on it.

A single core can compute wrongly for particular operands and report nothing (Dixit et al., "Silent data
corruptions at scale", 2021; Hochschild et al., "Cores that don't count", HotOS 2021), so the same seeded
round is done on every core, and bit-identical results are expected among cores that run the same code.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from shipworthy.stress.protocol import Answer

REPEATS_MOST = 8
"""Rounds that one load is made to do again; beyond that the fault is no matter of one round."""
OPEN_MOST = 20_000
"""Rounds kept that only one target has answered: the fastest cores run ahead of the slowest."""

Voter = tuple[str, int]  # target, turn


@dataclass(frozen=True)
class Compared:
    """Answers that agree: how many more of each target count as checked."""

    checks: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Asked:
    """A dispute began: these targets have to do the round once more."""

    targets: tuple[str, ...]
    round: int


@dataclass(frozen=True)
class Blamed:
    """A dispute ended: this target's result was wrong. how: by what that is told."""

    target: str
    round: int
    expected: str  # empty where nothing tells what it should have been
    found: str
    how: str


Outcome = Compared | Asked | Blamed


@dataclass
class _Round:
    answers: dict[Voter, Answer] = field(default_factory=dict)
    again: dict[str, str] = field(default_factory=dict)
    asked: tuple[str, ...] = ()


class Agreement:
    """The answers of one load in one step."""

    def __init__(self) -> None:
        self._rounds: dict[tuple[str, int], _Round] = {}
        self._repeats = 0

    def hear(self, target: str, answer: Answer) -> list[Outcome]:
        """Take an answer; return what follows from it."""
        at = self._rounds.setdefault((answer.kernel, answer.round), _Round())
        at.answers[target, answer.turn] = answer
        if len(at.answers) == 1:
            self._forget_oldest()
            return []
        if at.asked:
            return []
        if len({a.digest for a in at.answers.values()}) == 1:
            newly = [target] if len(at.answers) > 2 else [voter[0] for voter in at.answers]
            return [Compared(tuple(Counter(newly).items()))]
        return self._dispute(answer.kernel, answer.round, at)

    def hear_again(self, target: str, answer: Answer) -> list[Outcome]:
        """Take what a target got when it did a disputed round once more."""
        at = self._rounds.get((answer.kernel, answer.round))
        if at is None:
            return []
        at.again[target] = answer.digest
        return self._settle(answer.kernel, answer.round) if set(at.again) >= set(at.asked) else []

    def close(self) -> list[Outcome]:
        """Settle what is still disputed, when no more answers will come."""
        return [
            outcome
            for kernel, number in [key for key, at in self._rounds.items() if at.asked]
            for outcome in self._settle(kernel, number)
        ]

    def _dispute(self, kernel: str, number: int, at: _Round) -> list[Outcome]:
        at.asked = tuple(dict.fromkeys(target for target, _ in at.answers))
        self._repeats += 1
        if self._repeats > REPEATS_MOST:
            return self._settle(kernel, number)
        return [Asked(at.asked, number)]

    def _settle(self, kernel: str, number: int) -> list[Outcome]:
        at = self._rounds.pop((kernel, number))
        return list(_blamed(at, number))

    def _forget_oldest(self) -> None:
        if len(self._rounds) > OPEN_MOST:
            self._rounds.pop(next(iter(self._rounds)))


def _blamed(at: _Round, number: int) -> list[Blamed]:
    """Tell whose answers were wrong. Somebody's were: the list is never empty.

    In this order: a target that gets another result when it does the round again was wrong the first time;
    a proven result is right; most of the targets are right; else it cannot be told, and all are named.
    """
    unstable = [
        Blamed(target, number, at.again[target], a.digest, "it got another result when it did it again")
        for (target, _), a in at.answers.items()
        if target in at.again and at.again[target] != a.digest
    ]
    if unstable:
        return unstable
    proven = {a.digest for a in at.answers.values() if a.proven}
    if len(proven) == 1:
        (right,) = proven
        return _unlike(at, number, right, "another core's result is proven")
    counted = Counter(a.digest for a in at.answers.values()).most_common(2)
    if counted[0][1] > counted[1][1]:
        return _unlike(at, number, counted[0][0], "most cores got another result")
    return [
        Blamed(target, number, "", a.digest, "the cores differ, and which is right cannot be told")
        for (target, _), a in at.answers.items()
    ]


def _unlike(at: _Round, number: int, right: str, how: str) -> list[Blamed]:
    return [
        Blamed(target, number, right, a.digest, how)
        for (target, _), a in at.answers.items()
        if a.digest != right
    ]
