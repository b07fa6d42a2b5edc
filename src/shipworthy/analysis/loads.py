"""What the loads did, and whether every result was right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.lines import Lines
from shipworthy.analysis.runs import Segment
from shipworthy.analysis.wrong import Wrong
from shipworthy.model.findings import Finding
from shipworthy.model.orders import OrderLine
from shipworthy.model.runlog import LoadSummary, Report
from shipworthy.model.words import Aspect, Category, Outcome


def load_summaries(segments: Sequence[Segment]) -> tuple[LoadSummary, ...]:
    """Return one row for each load, target and unit of work: its reports added up over all segments.

    Rounds that the engine compared took no time of their own: they are checks of the row beside them, and
    spoil no rate. Only where a target did nothing else do they stand alone. What the target's own checks and
    the comparison found wrong in one step is the same fault seen twice: the larger number counts.
    """
    groups: dict[tuple[str, str, str], list[_Told]] = {}
    for number, segment in enumerate(segments):
        for report in segment.of(Report):
            key = (report.load, report.target, report.unit_of_work)
            groups.setdefault(key, []).append((number, report))
    rows = {key: _summary([report for _, report in told]) for key, told in sorted(groups.items())}
    timed: dict[tuple[str, str], tuple[str, str, str]] = {}
    for key, row in rows.items():
        if row.seconds:
            timed.setdefault(key[:2], key)
    for key in [key for key, row in rows.items() if not row.seconds and key[:2] in timed]:
        compared, into = rows.pop(key), timed[key[:2]]
        more = _seen_by_comparison_alone(groups, key)
        rows[into] = msgspec.structs.replace(
            rows[into], checks=rows[into].checks + compared.checks, wrong=rows[into].wrong + more
        )
    return tuple(rows.values())


_Told = tuple[int, Report]  # the segment's number, and a report in it


def _seen_by_comparison_alone(
    groups: dict[tuple[str, str, str], list[_Told]], key: tuple[str, str, str]
) -> int:
    """Return how many wrong results comparisons found beyond those that the target's own checks found, step
    by step; a step that was run again counts apart."""
    own: dict[tuple[int, str], int] = {}
    compared: dict[tuple[int, str], int] = {}
    for other, told in groups.items():
        if other[:2] == key[:2]:
            for number, report in told:
                into = own if report.seconds else compared
                at = (number, report.step)
                into[at] = into.get(at, 0) + report.wrong
    return sum(max(0, wrong - own.get(at, 0)) for at, wrong in compared.items())


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
    lines: Lines, loads: Sequence[LoadSummary], wrong: Sequence[Wrong], basis: Basis
) -> Iterator[Finding]:
    """Return the findings on the loads' results: for each order line that a load stresses, then the rest.

    wrong: each load and target that gave a wrong result, judged for itself. One on a part that no order line
    names speaks of the unit.
    """
    told: list[Wrong] = []
    for line in lines.order.lines:
        wanted = lines.targets(line)
        if not wanted:
            continue
        of_line = [one for one in wrong if lines.named_by(line, one.targets, one.part)]
        told += of_line
        if of_line:
            yield from (_wrong(line.line_id, line.category, one, basis) for one in of_line)
        else:
            about = [s for s in loads if s.target in wanted]
            yield _checked(line, wanted, about, basis)
    yield from (_wrong("", Category.UNIT, one, basis) for one in wrong if one not in told)


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
