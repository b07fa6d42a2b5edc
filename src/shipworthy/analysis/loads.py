"""What the loads did, and whether every result was right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from shipworthy.analysis.findings import burn_in_finding
from shipworthy.analysis.runs import Segment
from shipworthy.model.base import Value, values
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.runlog import LoadSummary, Report
from shipworthy.model.words import Aspect, Category, Outcome


def load_summaries(segments: Sequence[Segment]) -> tuple[LoadSummary, ...]:
    """Return one row for each load and target: its reports added up over all segments."""
    groups: dict[tuple[str, str, str], list[Report]] = {}
    for segment in segments:
        for report in segment.of(Report):
            groups.setdefault((report.load, report.target, report.unit_of_work), []).append(report)
    return tuple(_summary(reports) for _, reports in sorted(groups.items()))


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
    configuration: str,
    evidence: tuple[str, ...],
) -> Iterator[Finding]:
    """Return the findings on the loads' results: for each order line that a load stresses, then the rest.

    cpus: the logical processors that the reading found. A wrong result on a part that no order line names
    speaks of the unit.
    """
    wrong_seen: set[tuple[str, str]] = set()
    for line in order.lines:
        wanted = _targets(line, matches, cpus)
        if not wanted:
            continue
        about = [s for s in loads if s.target in wanted]
        wrong_seen |= {(s.load, s.target) for s in about if s.wrong}
        yield from _of_line(line, wanted, about, configuration, evidence)
    for summary in loads:
        if summary.wrong and (summary.load, summary.target) not in wrong_seen:
            yield _wrong("", Category.UNIT, summary, configuration, evidence)


def _targets(line: OrderLine, matches: Sequence[Match], cpus: Sequence[int]) -> tuple[str, ...]:
    if line.category is Category.PROCESSOR:
        return tuple(f"cpu:{cpu}" for cpu in cpus) or ("cpu:0",)
    if line.category is Category.MEMORY:
        return ("memory",)
    if line.category is Category.STORAGE:
        return next((match.places for match in matches if match.line == line.line_id), ())
    return ()


def _of_line(
    line: OrderLine,
    wanted: Sequence[str],
    about: Sequence[LoadSummary],
    configuration: str,
    evidence: tuple[str, ...],
) -> Iterable[Finding]:
    wrong = [s for s in about if s.wrong]
    if wrong:
        return [_wrong(line.line_id, line.category, s, configuration, evidence) for s in wrong]
    checked = {s.target for s in about if s.checks}
    left_out = [target for target in wanted if target not in checked]
    if left_out:
        outcome, code = Outcome.NOT_CHECKED, "load.not-run"
        named = values(targets=", ".join(left_out), count=len(left_out))
    else:
        outcome, code = Outcome.CONFORMS, "load.right"
        named = values(checks=sum(s.checks for s in about), targets=", ".join(wanted))
    return [_finding(code, outcome, line.line_id, line.category, named, configuration, evidence)]


def _wrong(
    line: str, category: Category, summary: LoadSummary, configuration: str, evidence: tuple[str, ...]
) -> Finding:
    named = values(load=summary.load, target=summary.target, wrong=summary.wrong, checks=summary.checks)
    return _finding("load.wrong", Outcome.DIFFERS, line, category, named, configuration, evidence)


def _finding(
    code: str,
    outcome: Outcome,
    line: str,
    category: Category,
    named: tuple[Value, ...],
    configuration: str,
    evidence: tuple[str, ...],
) -> Finding:
    return burn_in_finding(
        code, outcome, Aspect.LOAD, named, configuration, evidence, line=line, category=category
    )
