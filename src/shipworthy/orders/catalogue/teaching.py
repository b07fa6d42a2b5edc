"""Words that an accepted match teaches: what an order, or a device, called a part that was found to be it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.catalogue_used import CatalogueUsed
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Order
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Outcome
from shipworthy.orders.catalogue.lookup import Catalogue

IDENTIFIES = (Aspect.MODEL, Aspect.PART_NUMBER)
"""Aspects of which one has to conform, by a machine or a person, for a line to be the part."""


@dataclass(frozen=True, slots=True)
class Taught:
    """said: the words. why: where they stood."""

    said: str
    part: CataloguePart
    why: str


def taught_by(
    order: Order,
    used: CatalogueUsed,
    comparison: Comparison,
    reading: Reading,
    inspected: Iterable[Finding],
    catalogue: Catalogue,
) -> Iterator[Taught]:
    """Yield the words that the list would not find the part by, of each line that was accepted.

    A line is accepted if nothing of it differs, and its model or its part number conforms.
    """
    findings = (*comparison.findings, *inspected)
    for line in used.lines:
        part = catalogue.part(line.part.part_id) if line.part else None
        sold = order.line(line.line)
        if part is None or sold is None or not _accepted(line.line, findings):
            continue
        said = [(sold.text, f"line {line.line} of order {order.order_id}")]
        places = next((match.places for match in comparison.matches if match.line == line.line), ())
        models = [device.text("model") for device in reading.parts if device.place in places]
        said += [(model, f"a device of order {order.order_id}") for model in models]
        for words, why in dict(said).items():
            found = catalogue.by_name(words, part.category).part
            if words.strip() and (found is None or found.part_id != part.part_id):
                yield Taught(words, part, why)


def _accepted(line: str, findings: tuple[Finding, ...]) -> bool:
    own = [finding for finding in findings if finding.line == line]
    if any(finding.outcome is Outcome.DIFFERS for finding in own):
        return False
    return any(f.outcome is Outcome.CONFORMS and f.aspect in IDENTIFIES for f in own)
