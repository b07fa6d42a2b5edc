"""Order lines held against a part list made of the open records, as `shipworthy compare` does it. For
`bench/matching.py`.
"""

from __future__ import annotations

from pathlib import Path

from matching_outcome import line_of, order_of
from matching_tables import Retail

from shipworthy.model.base import digest_of, encode
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.index import indexed
from shipworthy.orders.catalogue.lookup import Catalogue
from shipworthy.orders.catalogue.open_records import open_files, open_parts
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.resolve import resolved
from shipworthy.orders.expect import with_expectations


class Found:
    """The line says the name alone; what the list finds by it is added, or asked about and not added."""

    title = "found in a catalogue"

    def __init__(self, folder: Path) -> None:
        notes = Notes()
        read = [part for file in open_files(folder / "open-db") for _, part in open_parts(file, notes)]
        parts = [part for part in read if isinstance(part, CataloguePart)]
        self._catalogue = Catalogue(indexed(parts, digest_of(b"".join(map(encode, parts)))), "open records")

    def line(self, category: Category, retail: Retail) -> OrderLine:
        order = with_expectations(order_of(line_of(category, retail)))
        return resolved(order, self._catalogue).order.lines[0]
