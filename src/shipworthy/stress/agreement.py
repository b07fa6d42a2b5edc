"""Do all targets of a load get the same for the same work? Pure; the engine feeds it and acts on it.

A single core can compute wrongly for particular operands and report nothing (Dixit et al., "Silent data
corruptions at scale", 2021; Hochschild et al., "Cores that don't count", HotOS 2021), so the same seeded
round is done on every core, and bit-identical results are expected among cores that run the same code.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shipworthy.stress.protocol import Answer

REPEATS_MOST = 8
"""Rounds that one load is made to do again; beyond that the fault is no matter of one round."""
PATIENCE_ROUNDS = 64
"""Answers to later rounds, of each target, within which the others have had their say on a disputed one."""
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
    """What was answered to one round. asked: who was to do it again. patience: how many answers to later
    rounds are still waited for before it counts that nobody else answers. right: the digest that was settled
    on, by what `how` tells."""

    answers: dict[Voter, Answer] = field(default_factory=dict)
    again: dict[str, str] = field(default_factory=dict)
    asked: tuple[str, ...] = ()
    patience: int = 0
    right: str = ""
    how: str = ""


class Agreement:
    """The answers of one load in one step. peers: how many targets the load has."""

    def __init__(self, peers: int) -> None:
        self._peers = peers
        self._rounds: dict[tuple[str, int], _Round] = {}
        self._repeats = 0
        self._waiting: set[tuple[str, int]] = set()

    def hear(self, target: str, answer: Answer) -> list[Outcome]:
        """Take an answer; return what follows from it."""
        key = answer.kernel, answer.round
        at = self._rounds.setdefault(key, _Round())
        if at.right:
            return [_late(target, answer, at)]
        at.answers[target, answer.turn] = answer
        if len(at.answers) == 1:
            self._forget_oldest()
            return self._lose_patience()
        if at.asked:
            return self._settle(key) if key in self._waiting else []
        if len({a.digest for a in at.answers.values()}) == 1:
            newly = [target] if len(at.answers) > 2 else [voter[0] for voter in at.answers]
            return [Compared(tuple(Counter(newly).items()))]
        return self._dispute(key, at)

    def hear_again(self, target: str, answer: Answer) -> list[Outcome]:
        """Take what a target got when it did a disputed round once more."""
        key = answer.kernel, answer.round
        at = self._rounds.get(key)
        if at is None or at.right:
            return []
        at.again[target] = answer.digest
        return self._settle(key) if set(at.again) >= set(at.asked) else []

    def close(self) -> list[Outcome]:
        """Settle what is still disputed, when no more answers will come."""
        disputed = [key for key, at in self._rounds.items() if at.asked and not at.right]
        return [outcome for key in disputed for outcome in self._settle(key, at_last=True)]

    def _dispute(self, key: tuple[str, int], at: _Round) -> list[Outcome]:
        at.asked = tuple(dict.fromkeys(target for target, _ in at.answers))
        at.patience = PATIENCE_ROUNDS * self._peers
        self._repeats += 1
        if self._repeats > REPEATS_MOST:
            return self._settle(key)
        return [Asked(at.asked, key[1])]

    def _settle(self, key: tuple[str, int], at_last: bool = False) -> list[Outcome]:
        """Blame who was wrong. Where that cannot be told yet, others may still answer, and tell."""
        at = self._rounds[key]
        blamed, at.right, at.how = _judged(at, key[1])
        answered = {target for target, _ in at.answers}
        if not at.right and not at_last and len(answered) < self._peers:
            self._waiting.add(key)
            return []
        self._waiting.discard(key)
        if not at.right:
            del self._rounds[key]
            return [*blamed]
        at.answers.clear()
        return [*blamed]

    def _lose_patience(self) -> list[Outcome]:
        found: list[Outcome] = []
        for key in tuple(self._waiting):
            self._rounds[key].patience -= 1
            if self._rounds[key].patience <= 0:
                found += self._settle(key, at_last=True)
        return found

    def _forget_oldest(self) -> None:
        if len(self._rounds) > OPEN_MOST:
            oldest = next(iter(self._rounds))
            del self._rounds[oldest]
            self._waiting.discard(oldest)


def _late(target: str, answer: Answer, at: _Round) -> Outcome:
    """Judge an answer that came when the others' dispute was settled."""
    if answer.digest == at.right:
        return Compared(((target, 1),))
    return Blamed(target, answer.round, at.right, answer.digest, at.how)


def _judged(at: _Round, number: int) -> tuple[list[Blamed], str, str]:
    """Tell whose answers were wrong, what the right one is ("" if that cannot be told), and by what.

    In this order: a target that gets another result when it does the round again was wrong the first time;
    a proven result is right; most of the targets are right; else it cannot be told, and all are named.
    """
    unstable = [
        Blamed(target, number, at.again[target], a.digest, "it got another result when it did it again")
        for (target, _), a in at.answers.items()
        if target in at.again and at.again[target] != a.digest
    ]
    left = {voter: a for voter, a in at.answers.items() if at.again.get(voter[0], a.digest) == a.digest}
    right, how = _right_of(left, unstable)
    if unstable and not right:
        return unstable, "", how
    unlike = [
        Blamed(target, number, right, a.digest, how) for (target, _), a in left.items() if a.digest != right
    ]
    return [*unstable, *unlike], right, how


def _right_of(left: Mapping[Voter, Answer], unstable: Sequence[Blamed]) -> tuple[str, str]:
    """Return the digest that counts as right among stable answers and repeated ones, and why; "" for none."""
    proven = {a.digest for a in left.values() if a.proven}
    if len(proven) == 1:
        return proven.pop(), "another core's result is proven"
    votes = Counter(a.digest for a in left.values())
    votes.update(blamed.expected for blamed in unstable)
    counted = [*votes.most_common(2), ("", 0)]
    if counted[0][1] > counted[1][1]:
        return counted[0][0], "most cores got another result"
    return "", "the cores differ, and which is right cannot be told"
