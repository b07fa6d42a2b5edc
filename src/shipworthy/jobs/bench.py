"""Bench actions on an open attempt, one at a time: begin, take in, inspect, decide, seal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from shipworthy.inspection import items_before_burn_in
from shipworthy.jobs.deciding import decide_step, last_decision
from shipworthy.jobs.errands import Ask, Bench, RunRequest
from shipworthy.jobs.inspecting import add_observation, inspect_step, open_items, still_open, take_answers
from shipworthy.jobs.proving import take_order
from shipworthy.jobs.run import RunResult, open_attempt, seal_and_pack, unit_of
from shipworthy.jobs.unit import BURN_IN, READING, READING_AFTER, TOOL
from shipworthy.jobs.work import Work
from shipworthy.machine.reading import reread
from shipworthy.model.attempt import Attempt, StepEvent, StepName
from shipworthy.model.base import Trouble, decode_lines, digest_of, read_bytes, read_record
from shipworthy.model.inspection import Items
from shipworthy.model.policy import Decision
from shipworthy.model.progress import progress
from shipworthy.model.reading import RawRow, Reading
from shipworthy.orders.files import read_order
from shipworthy.record.attempt import OpenAttempt, find_open, take_up


def begin(request: RunRequest, bench: Bench) -> Attempt:
    """Open an attempt for a unit and keep its order; its nonce goes to the unit half."""
    order = read_order(request.order)
    with open_attempt(request, bench, unit_of(order, request.unit_id), order) as attempt:
        if attempt.last_event(StepName.ORDER) is not StepEvent.ENDED:
            attempt.step(StepName.ORDER, StepEvent.BEGAN)
            wrote = take_order(Work(attempt, request, bench))
            attempt.step(StepName.ORDER, StepEvent.ENDED, wrote=wrote)
        return attempt.attempt


@contextmanager
def the_open_attempt(bench: Bench, unit_id: str | None) -> Iterator[OpenAttempt]:
    """Give the one open attempt (of that unit), locked for us; Trouble if there is none or more than one."""
    found = find_open(bench.records, unit_id)
    if len(found) != 1:
        units = ", ".join(sorted({attempt.unit_id for attempt in found}))
        raise Trouble(
            f"more than one attempt is open: {units}" if found else "no attempt is open",
            unit_id or bench.records,
            "Say which with --unit." if found else "Begin one with `shipworthy begin` or `shipworthy run`.",
        )
    with take_up(bench.records, found[0].attempt_id, bench.clock) as attempt:
        yield attempt


def take(folder: Path, bench: Bench, unit_id: str | None = None) -> tuple[str, ...]:
    """Take a unit half's folder into the open attempt; return the files that came in.

    What was taken in already is left alone if it is the same, and refused if it is not: evidence is never
    replaced. A nonce that is not this attempt's is refused here, where it can still be mended; the verdict
    would hold for it.
    """
    names = _files_of_unit_half(folder)
    with the_open_attempt(bench, unit_id) as attempt:
        for reading_name in (f"{READING}/reading.json", f"{READING_AFTER}/reading.json"):
            if reading_name in names:
                _refuse_foreign(read_record(folder / reading_name, Reading), attempt, folder)
        if attempt.last_event(StepName.ANALYSIS) is StepEvent.ENDED:
            raise Trouble(
                "this attempt is analysed already",
                attempt.attempt.unit_id,
                "What comes later belongs to the next attempt.",
            )
        _check_raw(folder, names)
        for room in (READING, READING_AFTER):
            if f"{room}/reading.json" in names:
                _refuse_unless_it_follows_from_raw(folder / room)
        fresh = [name for name in names if _is_new(attempt, folder, name)]
        for name in fresh:
            attempt.write(name, read_bytes(folder / name))
        bench.show(progress("take.done", files=len(fresh), unit=attempt.attempt.unit_id))
        return tuple(fresh)


def _files_of_unit_half(folder: Path) -> list[str]:
    if not (folder / READING / "reading.json").is_file():
        raise Trouble(
            "holds no reading", folder, "Make one on the unit with `shipworthy read --into FOLDER`."
        )
    names = []
    for room in (READING, READING_AFTER, BURN_IN):
        for path in sorted((folder / room).rglob("*")):
            if path.is_symlink() or not (path.is_file() or path.is_dir()):
                raise Trouble("is a link or a device", path, "Bring the folder as the unit half wrote it.")
            if path.is_file() and not path.name.startswith("."):
                names.append(path.relative_to(folder).as_posix())
    return names


def _refuse_foreign(reading: Reading, attempt: OpenAttempt, folder: Path) -> None:
    if reading.nonce != attempt.attempt.nonce:
        raise Trouble(
            "the reading carries no nonce"
            if reading.nonce is None
            else "the reading was made for another attempt",
            folder,
            f"On the unit: `shipworthy read --into FOLDER --nonce {attempt.attempt.nonce}`.",
        )


def _check_raw(folder: Path, names: list[str]) -> None:
    """The raw index names every raw file with its digest: what a stick has spoiled is found here."""
    for room in (READING, READING_AFTER):
        index = folder / room / "raw/index.jsonl"
        if f"{room}/reading.json" in names:
            for row in decode_lines(read_bytes(index), RawRow, index)[0]:
                if row.file and digest_of(read_bytes(folder / room / row.file)) != row.digest:
                    raise Trouble("was changed since it was read", folder / room / row.file, "Copy it again.")


def _refuse_unless_it_follows_from_raw(room: Path) -> None:
    """A reading says no more than its raw bytes do: made again by the same version, it comes out the same."""
    reading = read_record(room / "reading.json", Reading)
    if reading.tool != TOOL:
        return  # another version may rightly read more, or better
    again = reread(room)
    if (again.parts, again.ports, again.configuration) != (
        reading.parts,
        reading.ports,
        reading.configuration,
    ):
        raise Trouble("does not follow from the raw bytes beside it", room / "reading.json", "Read it again.")


def _is_new(attempt: OpenAttempt, folder: Path, name: str) -> bool:
    kept = attempt.folder / name
    if not kept.exists():
        return True
    if read_bytes(kept) == read_bytes(folder / name):
        return False
    raise Trouble(
        f"the attempt holds another {name} already",
        folder,
        "A second reading or burn-in belongs to the next attempt.",
    )


def inspect(bench: Bench, unit_id: str | None, answers: Path | None, ask: Ask | None) -> Items:
    """Take inspection answers, from a file or one by one, and return the items still open.

    Before the burn-in was analysed only what has to be on record before it can be asked.
    """
    with the_open_attempt(bench, unit_id) as attempt:
        work = Work(attempt, _nothing_asked(bench), bench)
        _needs(work, StepName.ORDER)
        items = items_before_burn_in(work.order())
        if not items.items or attempt.last_event(StepName.ANALYSIS) is StepEvent.ENDED:
            _needs(work, StepName.ANALYSIS)
            items = open_items(work)
        work.save("inspection/items.json", items)
        if answers:
            take_answers(work, items, answers)
        if ask:
            for observation in ask(still_open(work, items)):
                add_observation(work, observation)
        return still_open(work, items)


def decide_now(bench: Bench, unit_id: str | None) -> Decision:
    """Compute the verdict from what lies in the open attempt; open items count as not checked."""
    with the_open_attempt(bench, unit_id) as attempt:
        work = Work(attempt, replace(_nothing_asked(bench), seal_unanswered=True), bench)
        _needs(work, StepName.ANALYSIS)
        inspect_step(work)
        attempt.step(StepName.DECISION, StepEvent.BEGAN)
        attempt.step(StepName.DECISION, StepEvent.ENDED, wrote=decide_step(work))
        return last_decision(attempt.folder)


def seal_now(bench: Bench, unit_id: str | None) -> RunResult:
    """Seal the open attempt with its last decision, and render the pack."""
    with the_open_attempt(bench, unit_id) as attempt:
        return seal_and_pack(Work(attempt, _nothing_asked(bench), bench))


UNTIL = {StepName.ORDER: "reading", StepName.ANALYSIS: "analysis"}
"""By the step that is wanted, the first one that a run can be told to stop after it."""


def _needs(work: Work, step: StepName) -> None:
    if work.attempt.last_event(step) is not StepEvent.ENDED:
        raise Trouble(
            f"the step {step.value} is not done yet",
            work.attempt.attempt.unit_id,
            f"Run `shipworthy run ORDER --until {UNTIL[step]}` first.",
        )


def _nothing_asked(bench: Bench) -> RunRequest:
    """A request for actions that need no order file, plan or policy: they use what the attempt holds."""
    return RunRequest(order=bench.records, policy=(b"", ""))
