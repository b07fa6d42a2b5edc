"""The verdict of an open attempt, from what its files say today."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from shipworthy.jobs.concessions import concessions_in
from shipworthy.jobs.gathering import AT_DECISION, findings_so_far
from shipworthy.jobs.inspecting import inspected
from shipworthy.jobs.known import KNOWN_FILE
from shipworthy.jobs.proving import analyse_step, compare_again
from shipworthy.jobs.unit import (
    READING,
    READING_AFTER,
    another_machine,
)
from shipworthy.jobs.work import Work, Wrote
from shipworthy.machine.reading import read_configuration
from shipworthy.model.base import (
    Trouble,
    digest_of,
    read_bytes,
    read_record,
)
from shipworthy.model.inspection import Items
from shipworthy.model.policy import Concession, Decision, Input
from shipworthy.model.reading import Reading
from shipworthy.record.keys import TrustList
from shipworthy.verdict import Concerned, decide


def decide_step(work: Work) -> Wrote:
    """Compute the verdict from what lies in the folder, and from what the machine is now if this is it."""
    name = f"decisions/{len(decision_names(work.attempt.folder)) + 1:03d}.json"
    decision = fresh_decision(work)
    seen: Wrote = (AT_DECISION,) if work.has(AT_DECISION) else ()
    return (*seen, work.save(name, decision))


def settle(work: Work) -> Decision:
    """Return the decision that today's files give; a new one is kept where it is not the last one's word.

    A record is sealed with this one: what came after the last decision, or was changed, is never left out.
    """
    last, now = last_decision(work.attempt.folder), fresh_decision(work)
    said = [(d.verdict, d.reasons, d.notes, d.coverage, d.inputs) for d in (last, now)]
    if said[0] == said[1]:
        return last
    work.save(f"decisions/{len(decision_names(work.attempt.folder)) + 1:03d}.json", now)
    return now


def fresh_decision(work: Work) -> Decision:
    """Compare, analyse and gather the findings again from what was read, logged and seen, and decide."""
    compare_again(work)
    analyse_step(work)
    items = work.load("inspection/items.json", Items)
    result = inspected(work, items)
    work.save("inspection/findings.json", result)
    _see_the_machine_again(work)
    after = work.load(f"{READING_AFTER}/reading.json", Reading)
    inputs = [
        name
        for name in (
            "order/order.json",
            f"{READING}/reading.json",
            f"{READING_AFTER}/reading.json",
            KNOWN_FILE,
            "comparison.json",
            "analysis.json",
            "inspection/items.json",
            "inspection/findings.json",
            "policy.toml",
            AT_DECISION,
        )
        if work.has(name)
    ]
    case = Concerned(
        order=work.order(),
        policy=work.policy(),
        findings=(*findings_so_far(work), *result.findings),
        configuration=after.configuration.digest,
        simulated=work.attempt.attempt.simulated,
        inputs=tuple(
            Input(file=name, digest=digest_of(read_bytes(work.attempt.folder / name))) for name in inputs
        ),
        at=work.bench.clock.now(),
        concessions=tuple(_concessions(work)),
    )
    return decide(case)


def _see_the_machine_again(work: Work) -> None:
    """Keep today's configuration, unless this is another machine than the one that was read.

    Days can lie between the last reading and the decision: an open item waits for somebody to look.
    """
    after = work.load(f"{READING_AFTER}/reading.json", Reading).configuration
    now = read_configuration(work.request.root, work.bench.clock)
    if not another_machine(after, now):
        work.save(AT_DECISION, now)


def _concessions(work: Work) -> Iterable[Concession]:
    if not any((work.attempt.folder / "concessions").glob("*.jws")):
        return ()
    trust = TrustList.load(work.bench.trust)
    return concessions_in(work.attempt.folder, work.attempt.attempt.attempt_id, work.policy(), trust)


def decision_names(folder: Path) -> list[str]:
    """Return the names of an attempt's decisions, oldest first; the last one counts."""
    return sorted(f"decisions/{path.name}" for path in (folder / "decisions").glob("*.json"))


def last_decision(folder: Path) -> Decision:
    names = decision_names(folder)
    if not names:
        raise Trouble("no decision was made yet", folder.name, "Run `shipworthy decide` first.")
    return read_record(folder / names[-1], Decision)
