"""What the loads did, and whether every result was right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Segment
from shipworthy.analysis.wrong import Wrong
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.runlog import LoadSummary, Report
from shipworthy.model.words import Aspect, Category, Outcome

CPUS = "cpus"
"""The target of a load that needs all processors at once: a wrong result there is the processor's."""


def load_summaries(segments: Sequence[Segment]) -> tuple[LoadSummary, ...]:
    """Return one row for each load, target and unit of work: its reports added up over all segments.

    Rounds that the engine compared took no time of their own: they are checks of the row beside them, and
    spoil no rate. Only where a target did nothing else do they stand alone.
    """
    groups: dict[tuple[str, str, str], list[Report]] = {}
    for segment in segments:
        for report in segment.of(Report):
            groups.setdefault((report.load, report.target, report.unit_of_work), []).append(report)
    rows = [_summary(reports) for _, reports in sorted(groups.items())]
    timed = {(row.load, row.target): index for index, row in reversed(list(enumerate(rows))) if row.seconds}
    for row in rows:
        beside = timed.get((row.load, row.target))
        if not row.seconds and beside is not None:
            into = rows[beside]
            rows[beside] = msgspec.structs.replace(
                into, checks=into.checks + row.checks, wrong=into.wrong + row.wrong
            )
    return tuple(row for row in rows if row.seconds or (row.load, row.target) not in timed)


def _summary(reports: Sequence[Report]) -> LoadSummary:
    work, seconds = sum(r.work for r in reports), sum(r.seconds for r in reports)
    limits = [r.limit for r in reports if r.limit is not None]
    return LoadSummary(
        load=reports[0].load,
        target=reports[0].target,
        unit_of_work=reports[0].unit_of_work,
        work=work,
        seconds=seconds,
        checks=sum(r.checks for r in reports),
        wrong=sum(r.wrong for r in reports),
        written_bytes=sum(r.written_bytes for r in reports),
        rate=work / seconds if seconds > 0 else None,
        limit=sum(limits) / len(limits) if limits else None,
    )


def load_findings(
    order: Order,
    matches: Sequence[Match],
    cpus: Sequence[int],
    loads: Sequence[LoadSummary],
    wrong: Sequence[Wrong],
    basis: Basis,
) -> Iterator[Finding]:
    """Return the findings on the loads' results: for each order line that a load stresses, then the rest.

    cpus: the logical processors that the reading found. wrong: each load and target that gave a wrong result,
    judged for itself. One on a part that no order line names speaks of the unit.
    """
    told: list[Wrong] = []
    for line in order.lines:
        wanted = _targets(line, matches, cpus)
        if not wanted:
            continue
        of_line = [one for one in wrong if _speaks_of(one, line, wanted, matches)]
        told += of_line
        if of_line:
            yield from (_wrong(line.line_id, line.category, one, basis) for one in of_line)
        else:
            about = [s for s in loads if s.target in wanted]
            yield _checked(line, wanted, about, basis)
    yield from (_wrong("", Category.UNIT, one, basis) for one in wrong if one not in told)


def _targets(line: OrderLine, matches: Sequence[Match], cpus: Sequence[int]) -> tuple[str, ...]:
    if line.category is Category.PROCESSOR:
        return tuple(f"cpu:{cpu}" for cpu in cpus) or ("cpu:0",)
    if line.category is Category.MEMORY:
        return ("memory",)
    if line.category is Category.STORAGE:
        return next((match.places for match in matches if match.line == line.line_id), ())
    return ()


def _speaks_of(one: Wrong, line: OrderLine, wanted: Sequence[str], matches: Sequence[Match]) -> bool:
    """Whether a wrong result is this line's. Where the log names the part, that decides between two lines of
    one category."""
    if line.category is Category.PROCESSOR:
        return one.target in wanted or one.target == CPUS or one.target.startswith("cpu:")
    if one.target not in wanted:
        return False
    named = {match.line for match in matches if one.part and one.part in match.places}
    return not named or line.line_id in named


def _checked(line: OrderLine, wanted: Sequence[str], about: Iterable[LoadSummary], basis: Basis) -> Finding:
    about = list(about)
    checked = {s.target for s in about if s.checks}
    left_out = [target for target in wanted if target not in checked]
    if left_out:
        return basis.finding(
            "load.not-run",
            Outcome.NOT_CHECKED,
            Aspect.LOAD,
            of_line=line.line_id,
            of_category=line.category,
            targets=", ".join(left_out),
            count=len(left_out),
        )
    return basis.finding(
        "load.right",
        Outcome.CONFORMS,
        Aspect.LOAD,
        of_line=line.line_id,
        of_category=line.category,
        checks=sum(s.checks for s in about),
        targets=", ".join(wanted),
    )


def _wrong(line: str, category: Category, one: Wrong, basis: Basis) -> Finding:
    return basis.finding(
        "load.wrong",
        Outcome.DIFFERS,
        Aspect.LOAD,
        one.named(),
        of_line=line,
        of_category=category,
        of_part=one.part,
    )
