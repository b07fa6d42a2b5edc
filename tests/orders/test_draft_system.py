"""An order drafted from a machine sells what is on its drives: held against that reading nothing differs."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.words import Absent, Category, Outcome, PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from tests.compare import machines as m

HERE: dict[str, Scalar | Absent] = {"partitions": 2, "partition_table": "gpt", "file_systems": "vfat, ext4"}
BARE: dict[str, Scalar | Absent] = {"partitions": 0, "partition_table": "none", "file_systems": "none"}
PLACE = "pci:0000:04:00.0/nvme-ns-1"
STICK = m.drive("pci:0000:00:14.0/usb-1-2", model="Wren Stick", interface="USB", **HERE)


def running(on: str) -> Part:
    said = {"system_id": "heron", "system_text": "Heron Linux 7.1", "system_version": "7.1", "system_on": on}
    return m.part(PartKind.KERNEL, "kernel", **said)


@pytest.mark.parametrize(
    ("parts", "sold"),
    [
        ((m.drive(**HERE), running(PLACE)), ["Heron Linux 7.1"]),
        ((m.drive(), running(PLACE)), ["Heron Linux 7.1"]),
        ((m.drive(**HERE), STICK, running(STICK.place)), ["System as it is on the drive"]),
        ((m.drive(**HERE),), ["System as it is on the drive"]),
        ((m.drive(**BARE), STICK, running(STICK.place)), []),
        ((m.drive(), STICK, running(STICK.place)), []),
    ],
    ids=[
        "runs from it",
        "runs from it, not looked into",
        "bench's stick",
        "no word",
        "blank",
        "not looked into",
    ],
)
def test_a_draft_sells_the_system_that_is_there(parts: tuple[Part, ...], sold: list[str]) -> None:
    reading = m.machine(m.processor(), *parts)
    order = with_expectations(draft_order(reading, order_id="KD-1", shop="Kestrel Desk", unit_id="KD-1-1"))
    assert [line.text for line in order.lines if line.category is Category.SYSTEM_SOFTWARE] == sold
    found = compare(order, reading, m.LIMITS, m.EVIDENCE)
    about_the_order = [f for f in found.findings if not f.code.startswith("unordered.")]
    assert [f.code for f in about_the_order if f.outcome is Outcome.DIFFERS] == []
