"""What no order line asks for and no release may hide: a machine that says of itself that it is failing.

Each is a difference of the unit, or of the order line whose part it is, and holds until somebody mends it or
answers for it by name. That nothing of the kind is said is no finding: many machines count no errors, and
silence is not health. So nothing here ever covers anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from shipworthy.model.base import Scalar, values
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, PartKind, Unit

_ON_THE_BUS = (PartKind.GRAPHICS, PartKind.NETWORK, PartKind.SOUND, PartKind.PCI_DEVICE)


def health_findings(
    reading: Reading, owners: Mapping[str, OrderLine], evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return what speaks against the machine's health. owners: the order line of each place that has one."""
    for part in sorted(reading.parts, key=lambda part: (part.kind.value, part.place)):
        owner = owners.get(part.place)
        for code, got, named in (*_of_drive(part, owner), *_of_bus(part), *_of_memory(part, reading)):
            yield Finding(
                code=code,
                outcome=Outcome.DIFFERS,
                category=Category.UNIT if owner is None else owner.category,
                aspect=Aspect.CONDITION,
                by=EvidenceKind.READING,
                line="" if owner is None else owner.line_id,
                part=part.place,
                got=got,
                unit=Unit.TEXT if isinstance(got, str) else Unit.COUNT,
                values=values(**named),
                evidence=evidence,
                configuration=reading.configuration.digest,
            )


def health_since(
    before: Reading, after: Reading, owners: Mapping[str, OrderLine], evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return what speaks against the machine's health in the later of two readings and did not in the first.

    What fails under load fails between them. owners: the order line of each place that has one, as the first
    reading was matched.
    """
    known = {_told(finding) for finding in health_findings(before, owners, evidence)}
    for finding in health_findings(after, owners, evidence):
        if _told(finding) not in known:
            yield finding


def _told(finding: Finding) -> tuple[object, ...]:
    """What a finding says, without the reading that it stands in: bus errors that were there before and have
    not become more are told once."""
    return finding.code, finding.part, finding.got


_Said = tuple[str, Scalar, dict[str, Scalar]]


def _of_drive(part: Part, owner: OrderLine | None) -> Iterable[_Said]:
    """A drive's own verdict on itself. A stick of the bench is no part of the unit."""
    if part.kind is not PartKind.STORAGE or (owner is None and part.text("interface") == "USB"):
        return
    warned = bool(part.number("critical_warning"))
    if part.value("health_passed") is not False and not warned:
        return
    said = [part.text("critical_warning_words") if warned else "", part.text("failing_attributes")]
    words = "; ".join(word for word in said if word and word != "none") or "no reason given"
    yield "health.drive-failing", words, {"model": part.text("model") or part.place}


def _of_bus(part: Part) -> Iterable[_Said]:
    """Errors of PCI Express since the start (AER) that could not be mended. Mended ones are common."""
    if part.kind not in _ON_THE_BUS:
        return
    for fact, code in (("aer_fatal", "health.bus-fatal"), ("aer_nonfatal", "health.bus-nonfatal")):
        count = part.number(fact)
        if count:
            kinds = part.text(f"{fact}_kinds") or "kind not told"
            yield code, count, {"kinds": kinds, "model": part.text("model") or part.place}


def _of_memory(part: Part, reading: Reading) -> Iterable[_Said]:
    """Errors of the memory that its error correction saw and could not mend, one finding a controller."""
    if part.kind is not PartKind.MEMORY_CONTROLLER or "/" in part.place:
        return
    modules = [
        other
        for other in reading.of_kind(PartKind.MEMORY_CONTROLLER)
        if other.place.startswith(part.place + "/") and other.number("uncorrected_errors")
    ]
    placed = sum(module.number("uncorrected_errors") or 0 for module in modules)
    count = max(part.number("uncorrected_errors") or 0, placed)
    if count:
        names = [module.text("label") or module.text("location") or module.place for module in modules]
        yield "health.memory-uncorrected", count, {"modules": ", ".join(names) or "module not told"}
