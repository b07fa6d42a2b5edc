"""The inspection of an open attempt: what is open, what was answered, by whom."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from shipworthy.compare import with_substitutions
from shipworthy.inspection import (
    LOOP_ITEM,
    findings_of,
    items_before_burn_in,
    items_for,
    observations_from,
    on_record_before,
    read_answers,
)
from shipworthy.jobs.gathering import findings_so_far
from shipworthy.jobs.unit import (
    BURN_IN,
)
from shipworthy.jobs.work import Work, Wrote
from shipworthy.model.base import (
    Trouble,
    decode_lines,
    digest_of,
    encode,
    read_bytes,
)
from shipworthy.model.findings import Comparison
from shipworthy.model.inspection import InspectionResult, Items, Media, Observation
from shipworthy.model.progress import progress
from shipworthy.model.words import Outcome
from shipworthy.verdict.coverage import keys_asked


def inspect_step(work: Work) -> Wrote:
    """Ask what only a person can tell, and keep what they said."""
    items = open_items(work)
    work.save("inspection/items.json", items)
    if work.request.answers:
        take_answers(work, items, work.request.answers)
    unanswered = still_open(work, items)
    if unanswered.items and work.request.ask and not _holds_already(work):
        for observation in work.request.ask(unanswered):
            add_observation(work, observation)
        unanswered = still_open(work, items)
    if unanswered.items and not (work.request.seal_unanswered or _holds_already(work)):
        first = unanswered.items[0].item_id
        raise Trouble(
            f"{len(unanswered.items)} inspection items are open, the first is {first}",
            work.attempt.attempt.unit_id,
            "Answer them with `shipworthy inspect`, then run again; nothing is lost. "
            "To seal the attempt as a hold instead, add --seal-unanswered.",
        )
    result = inspected(work, items)
    names: Wrote = ("inspection/items.json", work.save("inspection/findings.json", result))
    return (*names, "inspection/observations.jsonl") if work.has("inspection/observations.jsonl") else names


def inspected(work: Work, items: Items) -> InspectionResult:
    """Return what the answers amount to; an allowed substitute that the reading found is one here too."""
    seen = findings_of(items, observations_so_far(work), work.order())
    comparison = work.load("comparison.json", Comparison)
    rules = work.policy().substitutions
    return InspectionResult(findings=with_substitutions(work.order(), seen, rules, comparison.findings))


def _holds_already(work: Work) -> bool:
    """Nobody need answer twenty questions about a unit whose burn-in was left out for a wrong part."""
    return not work.has(f"{BURN_IN}/plan.json")


def open_items(work: Work) -> Items:
    """Return what a person has to look at on this attempt, given what was shown otherwise."""
    policy, order = work.policy(), work.order()
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy) if k.required]
    return items_for(order, keys, findings_so_far(work))


def ask_before_burn_in(work: Work) -> None:
    """Ask what has to stand on record before any burn-in: at once, while somebody is still there.

    Raises Trouble if the answer is not that it was done. Unanswered, it stops nothing but the burn-in.
    """
    items = items_before_burn_in(work.order())
    if not items.items or work.has(f"{BURN_IN}/plan.json"):
        return
    work.save("inspection/items.json", items)
    if work.request.answers:
        take_answers(work, items, work.request.answers, name_unasked=False)
    if work.request.ask and loop_trouble(work):
        for observation in work.request.ask(items):
            add_observation(work, observation)
    trouble = loop_trouble(work)
    if trouble and not work.request.seal_unanswered and not still_open(work, items).items:
        raise trouble


def loop_trouble(work: Work) -> Trouble | None:
    """Return why no burn-in may begin: an order's custom loop is not on record as tested and filled."""
    observations = observations_so_far(work)
    tested = on_record_before(observations, work.bench.clock.now()) is Outcome.CONFORMS
    if tested or not items_before_burn_in(work.order()).items:
        return None
    said = [seen for seen in observations if seen.item_id == LOOP_ITEM]
    mend = (
        f"Test and fill the loop with the board unpowered, answer {LOOP_ITEM} in the terminal or in the "
        "file of answers, with the method as its note, and run again; nothing is lost. "
        "To seal the attempt as a hold instead, add --seal-unanswered."
    )
    if any(seen.danger for seen in said):
        mend = (
            "Wall switch first, then the cord. A danger stays with its attempt: seal that as a hold with "
            "--seal-unanswered, mend the loop, and start the next."
        )
    what = f"no burn-in is started: the order speaks of a custom liquid loop, and {_lacking(said)}"
    return Trouble(what, work.attempt.attempt.unit_id, mend)


def _lacking(said: list[Observation]) -> str:
    """Return what is amiss with the answers on the loop, as half a sentence."""
    if wet := next((seen for seen in said if seen.danger), None):
        return f"{wet.by} saw a danger there ({wet.danger})"
    if not said or said[-1].outcome is Outcome.NOT_CHECKED:
        return "nobody has said that it was leak-tested and filled"
    last = said[-1]
    if last.outcome is not Outcome.CONFORMS:
        return f"{last.by} answered {last.outcome.value} when asked for its leak test"
    if not last.note.strip():
        return f"the answer of {last.by} does not say how it was leak-tested"
    return f"the answer of {last.by} is dated later than this machine's clock"


def take_answers(work: Work, items: Items, path: Path, *, name_unasked: bool = True) -> None:
    """Add the answers of a file, leaving out those that stand there already (a run taken up again).

    One that says *conforms* never overrules what somebody said after it; anything else is added again.
    name_unasked: say which answers no item asks for.
    """
    answers = read_answers(path)
    so_far = [_said(o) for o in observations_so_far(work)]
    last = {said[0]: said for said in so_far}
    keep = _media_keeper(work)
    observations, unasked = observations_from(answers, items, path.parent, keep, work.bench.clock)
    for observation in observations:
        said = _said(observation)
        harmless = observation.outcome is Outcome.CONFORMS and not observation.danger
        if last.get(observation.item_id) != said and not (harmless and said in so_far):
            add_observation(work, observation)
    if unasked and name_unasked:
        work.bench.show(progress("run.answers-not-asked", items=", ".join(unasked)))


def _said(o: Observation) -> tuple[object, ...]:
    return (o.item_id, o.by, o.outcome, o.note, o.danger, o.media, o.fitted)


def add_observation(work: Work, observation: Observation) -> None:
    work.attempt.append("inspection/observations.jsonl", encode(observation))


def observations_so_far(work: Work) -> list[Observation]:
    path = work.attempt.folder / "inspection/observations.jsonl"
    return decode_lines(read_bytes(path), Observation, path)[0] if path.exists() else []


def still_open(work: Work, items: Items) -> Items:
    """Return the items that nobody has answered yet."""
    answered = {o.item_id for o in observations_so_far(work) if o.outcome is not Outcome.NOT_CHECKED}
    return Items(items=tuple(item for item in items.items if item.item_id not in answered))


def _media_keeper(work: Work) -> Callable[[Path], Media]:
    """Return what takes pictures into the record: named by their digest, so that none is overwritten."""

    def keep(path: Path) -> Media:
        data = read_bytes(path)
        digest = digest_of(data)
        name = f"inspection/media/{digest.removeprefix('sha512:')[:32]}{path.suffix.lower()}"
        work.attempt.write(name, data)
        return Media(file=name, digest=digest)

    return keep
