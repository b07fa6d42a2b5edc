"""Planted changes: whether each is found, by every pair of witnesses for which it makes sense."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import machines_other as other
import msgspec
from common import bound, rounded
from machines_holds import About, ordered
from machines_plant import Kind
from machines_sets import WITNESSES, Machine
from machines_siblings import Siblings

from shipworthy.compare import compare
from shipworthy.model.orders import Expectation, Order
from shipworthy.model.policy import Policy
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, Outcome

PLANTED_PAIRS = (("all", "all"), ("firmware", "kernel"), ("kernel", "firmware"), ("kernel", "kernel"))


@dataclass
class Caught:
    """How one kind of change fared with one pair of witnesses."""

    carried: int = 0
    caught: int = 0
    missed_cannot_tell: int = 0
    missed_conforms: int = 0
    not_carried: Counter[str] = field(default_factory=Counter)
    held_before: int = 0
    left_out: Counter[str] = field(default_factory=Counter)
    examples: list[str] = field(default_factory=list)

    def add(self, carried: bool, word: str, example: str) -> None:
        if carried:
            self.carried += 1
            self.caught += word == "differs"
            self.missed_cannot_tell += word == "cannot tell"
            self.missed_conforms += word == "conforms"
        else:
            self.not_carried[word] += 1
        if (carried and word != "differs") or (not carried and word == "conforms"):
            self.examples.append(f"{example}: {word}")

    def figures(self) -> dict[str, object]:
        missed = self.carried - self.caught
        return {
            "planted": self.carried,
            "caught": self.caught,
            "cannot_tell": self.missed_cannot_tell,
            "conforms": self.missed_conforms,
            "missed_at_most_95": rounded(bound(missed, self.carried)),
            "not_carried": dict(self.not_carried),
            "held_before": self.held_before,
            "left_out": dict(self.left_out),
        }


def plant_one(
    machine: Machine, kind: Kind, siblings: Siblings, skip: frozenset[About], into: dict[str, Caught]
) -> None:
    """Plant one change and compare it by every pair of witnesses; where that makes no sense, count why."""
    contradicts = any(aspect in kind.about.get(category, ()) for category, aspect in skip)
    planted = None if contradicts else kind.plant(machine, siblings)
    for drafted, read in PLANTED_PAIRS:
        one = into[f"{kind.name}, {drafted} > {read}"]
        if planted is None:
            one.left_out["the texts contradict" if contradicts else "no such part, or no sibling"] += 1
            continue
        order = ordered(machine.reading(drafted))
        if order is None:
            one.left_out["no order can be drafted"] += 1
            continue
        if drafted != "all" and planted.stated and drafted not in planted.stated:
            one.left_out["not stated by what the order is drafted from"] += 1
            continue
        sold = order
        if Category.BOARD in kind.about and not planted.carried:
            sold = selling_revision(order, planted.now)
        if not speaks_of(sold, kind):
            one.left_out["the order says nothing of it"] += 1
            continue
        before, after = machine.reading(read), planted.machine.reading(read)
        carried = bool(planted.carried & ({read} if read != "all" else set(WITNESSES)))
        if holds_already(order, before, kind):
            one.held_before += 1
            continue
        word = word_of(order, before, sold, after, kind)
        example = f"{machine.name}, {planted.was} -> {planted.now} ({drafted} > {read})"
        one.add(carried, word, example)


def selling_revision(order: Order, revision: str) -> Order:
    """Return the order with that revision sold on its board's line."""
    wish = Expectation(aspect=Aspect.VERSION, want=revision, words=f"rev {revision}")
    lines = tuple(
        msgspec.structs.replace(
            line, expectations=(*(e for e in line.expectations if e.aspect is not Aspect.VERSION), wish)
        )
        if line.category is Category.BOARD
        else line
        for line in order.lines
    )
    return msgspec.structs.replace(order, lines=lines)


def speaks_of(order: Order, kind: Kind) -> bool:
    """Whether an order says anything that the change makes untrue. A part too many is one only where the
    order has lines for those that are right."""
    if Category.UNIT in kind.about:
        return any(line.category in (Category.STORAGE, Category.GRAPHICS) for line in order.lines)
    return any(
        wish.aspect in kind.about.get(line.category, ()) for line in order.lines for wish in line.expectations
    )


def holds_already(order: Order, reading: Reading, kind: Kind) -> bool:
    """Whether the unaltered machine differs on the kind's aspects: one change more shows nothing there. Each
    part too many is a difference of its own."""
    return Category.UNIT not in kind.about and any(
        f.outcome is Outcome.DIFFERS and f.aspect in kind.about.get(f.category, ())
        for f in compare(order, reading, (), ()).findings
    )


def word_of(order: Order, before: Reading, sold: Order, after: Reading, kind: Kind) -> str:
    """Return what is said of a change: *differs* if there is a difference that was not there before, *cannot
    tell* if something of the kind's is open, else *conforms*.

    sold: the order, or one that sells something else.
    """
    was, now = (
        [f for f in compare(one, reading, (), ()).findings if f.aspect in kind.about.get(f.category, ())]
        for one, reading in ((order, before), (sold, after))
    )
    differed = Counter((f.code, f.line) for f in was if f.outcome is Outcome.DIFFERS)
    differs = Counter((f.code, f.line) for f in now if f.outcome is Outcome.DIFFERS)
    if differs - differed:
        return "differs"
    open_now = any(f.outcome in (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED) for f in now)
    return "cannot tell" if open_now or not now else "conforms"


def others(data: Path, every: list[Machine], siblings: Siblings, policy: Policy) -> dict[str, Caught]:
    """Return how the kinds fared for which other sets, or two readings, are needed."""
    found: dict[str, Caught] = defaultdict(Caught)
    kinds = {
        "used drive (smart-json)": other.used_drives(data, every, policy),
        "link narrowed, by the tree (linux-sysfs)": other.narrowed_by_tree(data),
    }
    for name, pairs in kinds.items():
        aspect = Aspect.NEWNESS if name.startswith("used") else Aspect.LINK
        for pair in pairs:
            if pair is None:
                found[name].left_out["no report of a drive that tells its hours"] += 1
                continue
            order = ordered(pair.before)
            assert order is not None
            was, now = (
                Counter(
                    (f.part, f.outcome)
                    for f in compare(order, reading, policy.limits, ()).findings
                    if f.aspect is aspect
                )
                for reading in (pair.before, pair.after)
            )
            new = now - was
            word = next((w.value for w in Outcome if any(o is w for _, o in new)), "conforms")
            word = "differs" if any(o is Outcome.DIFFERS for _, o in new) else word
            found[name].add(pair.carried, word, f"{pair.name}, {pair.was} -> {pair.now}")
    link = Kind(
        "link narrowed, by the list", other.narrowed_by_list, {Category.GRAPHICS: frozenset({Aspect.LINK})}
    )
    for machine in every:
        planted = link.plant(machine, siblings)
        order = ordered(machine.reading("kernel"))
        if planted is not None and order is not None:
            after = planted.machine.reading("kernel")
            word = word_of(order, machine.reading("kernel"), order, after, link)
            found[link.name].add(False, word, f"{machine.name}, {planted.was} -> {planted.now}")
        else:
            why = "no such part, or no sibling" if planted is None else "no order can be drafted"
            found[link.name].left_out[why] += 1
        swap = other.swapped(machine)
        if swap is not None:
            changes = swap.before.configuration.changes_to(swap.after.configuration)
            word = "differs" if changes else "cannot tell"
            found["swapped slots, two readings"].add(
                swap.carried, word, f"{swap.name}, {swap.was} -> {swap.now}"
            )
        else:
            found["swapped slots, two readings"].left_out["fewer than two modules"] += 1
    return found
