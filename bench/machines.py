"""How often the comparison of whole machines is right: unaltered ones conform, planted changes are found.

    python bench/machines.py [DATA_DIR] [--every N]

DATA_DIR is laid out as `reference`. The machines are those of `bsd-joined-machines`, with three witnesses
each: the firmware's table (dmidecode's text), the kernel's boot log, the PCI list. An order is drafted
from a reading of some of the witnesses (`orders.draft`) and compared with a reading of others. The
firmware's table has no field for drives and cards, so an order drafted from it has no line for them, and
that they are there then counts for nothing.

**Unaltered.** `false_holds` are machines of which an order drafted from the firmware alone, held against
log and list alone, has a *differs*, or a *cannot tell* that holds and that no person can answer (the
policy takes a reading only) on a fact that log or list state. Two witnesses can contradict each other in
earnest: the texts are of different days, the firmware's table is wrong, the kernel cannot use a third of
what is fitted. That is computed from the raw texts by plain regular expressions (`machines_stated`); such
a hold is right, and is counted and listed apart (`contradictions`). `pairs` has the same for every pair
of witnesses.

**Planted.** One change at a time is made in the raw texts, wherever a witness has the fact, of each kind
on each machine that has such a part (`machines_plant`; siblings are from real data, chosen by a seeded
hash: `machines_siblings`). Whether a reading's witnesses carry the change is computed from the texts too.
It is *caught* if a difference on the kind's aspects is there that was not there before. `planted` and
`planted_caught` are of those that are carried; of the others (`not_carried`) the answer has to be *cannot
tell*, and none may be *conforms*. Kinds that need other sets, or two readings, are apart:
`machines_other`. A machine that differs on the kind's aspects already is counted as `held_before`, and one
of which nothing can be said as `left_out`, with the reason: its witnesses contradict each other on those
aspects, it has no such part, or the order says nothing of it.

Prints JSON. comparisons_per_minute: order and reading, on one core, readings made beforehand. Bounds are
those of Clopper and Pearson, 95 %, one-sided.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

from common import REFERENCE, bound, need, rounded
from machines_caught import Caught, others, plant_one
from machines_holds import Holds, contradictions, hold_unaltered, ordered
from machines_plant import KINDS
from machines_sets import SET, Machine, machines
from machines_siblings import gather

from shipworthy.compare import compare
from shipworthy.model.policy import Policy
from shipworthy.verdict.policies import parse_policy, shipped_policy

PAIRS = (
    ("firmware", "kernel"),
    ("kernel", "firmware"),
    ("firmware", "all"),
    ("kernel", "all"),
    ("all", "firmware"),
    ("all", "kernel"),
    ("all", "all"),
)
FIRST = PAIRS[0]
_MOST_EXAMPLES = 60


def comparisons_per_minute(every: Iterable[Machine], policy: Policy) -> float:
    """Return how many orders drafted from all are compared with a reading of all in a minute."""
    cases = [(o, m.reading("all")) for m in every if (o := ordered(m.reading("all"))) is not None]
    began = time.process_time()
    for order, reading in cases:
        compare(order, reading, policy.limits, ("reading/reading.json",))
    return round(60 * len(cases) / max(1e-9, time.process_time() - began))


def measure(data: Path, every: int) -> dict[str, object]:
    """Return all figures."""
    policy = parse_policy(shipped_policy(), "shipped")
    chosen = list(machines(data, every))
    siblings = gather(data, chosen if every == 1 else machines(data, 1))
    holds = {pair: Holds() for pair in PAIRS}
    caught: dict[str, Caught] = defaultdict(Caught)
    for machine in chosen:
        for pair, into in holds.items():
            hold_unaltered(machine, pair, policy, into)
        skip = frozenset(contradictions(machine))
        for kind in KINDS:
            plant_one(machine, kind, siblings, skip, caught)
    caught |= others(data, chosen, siblings, policy)
    first = holds[FIRST]
    planted = sum(one.carried for one in caught.values())
    found = sum(one.caught for one in caught.values())
    not_carried: Counter[str] = sum((one.not_carried for one in caught.values()), Counter())
    return {
        "machines": first.machines,
        "false_holds": len(first.false),
        "false_holds_share": round(len(first.false) / max(1, first.machines), 5),
        "false_holds_at_most_95": rounded(bound(len(first.false), first.machines)),
        "contradictions": len(first.contradictions),
        "planted": planted,
        "planted_caught": found,
        "planted_caught_share": round(found / max(1, planted), 5),
        "planted_missed_at_most_95": rounded(bound(planted - found, planted)),
        "planted_conforms": sum(one.missed_conforms for one in caught.values()),
        "not_carried": dict(not_carried),
        "held_before": sum(one.held_before for one in caught.values()),
        "left_out": dict(sum((one.left_out for one in caught.values()), Counter())),
        "by_kind": {name: one.figures() for name, one in sorted(caught.items())},
        "pairs": {f"{a} > {b}": one.figures() for (a, b), one in holds.items()},
        "comparisons_per_minute": comparisons_per_minute(chosen, policy),
        "examples": {
            "false_holds": {
                name: first.differs.get(name, []) + first.cannot_tell.get(name, [])
                for name in sorted(first.false)
            },
            "false_holds_of_all_pairs": {
                f"{a} > {b}": {
                    n: one.differs.get(n, []) + one.cannot_tell.get(n, []) for n in sorted(one.false)
                }
                for (a, b), one in holds.items()
                if (a, b) != FIRST
            },
            "contradictions": first.contradictions,
            "planted_missed": {
                name: one.examples[:_MOST_EXAMPLES] for name, one in sorted(caught.items()) if one.examples
            },
        },
    }


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("data", type=Path, nargs="?", default=REFERENCE, metavar="DATA_DIR")
    parser.add_argument("--every", type=int, default=1, help="take every so-manieth machine (default 1)")
    chosen = parser.parse_args(arguments)
    need(chosen.data, f"{SET}/{SET}.tar.xz", "names/pci.ids.xz", "smart-json", "linux-sysfs")
    json.dump(measure(chosen.data, chosen.every), sys.stdout, indent=2)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main(sys.argv[1:])
