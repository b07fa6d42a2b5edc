"""PCI Express links of graphics cards and NVMe drives while they are sampled: speed and lanes of each link on
the way to the root.

Source: the kernel's Documentation/ABI/testing/sysfs-bus-pci (`current_link_speed`, `current_link_width` and
what each end can do at most). A device's own link is not the whole way: see `machine.parse.pci.links`.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.pci.links import Link, chain_of, links_of
from shipworthy.machine.parse.pci.source import DEVICES, function_of, link_speed_gt_s, link_width
from shipworthy.model.runlog import Column
from shipworthy.model.words import Absent, Unit

SPEED, WIDTH = "link speed", "link width"
WATCHED = ("0x03", "0x0108")
"""Classes of display controllers and of drives on NVMe (PCI Code and ID Assignment Specification, from
memory)."""
_FILES = {SPEED: "current_link_speed", WIDTH: "current_link_width"}
_UNITS = {SPEED: Unit.GIGATRANSFERS, WIDTH: Unit.COUNT}


def columns(listing: Listing) -> tuple[Column, ...]:
    """Return two columns for each link on the way of each function of the classes watched, the way's first
    link first. Their place is the device's, their channel names the link; `high` is the most that both ends
    of it can do, none where that is not told."""
    return tuple(
        column
        for address in listing.names(DEVICES)
        if (listing.text(f"{DEVICES}/{address}/class") or "").startswith(WATCHED)
        for column in _of_device(listing, address)
    )


def _of_device(listing: Listing, address: str) -> Iterator[Column]:
    chain = chain_of(listing.target(f"{DEVICES}/{address}") or address)
    known = {step: function_of(listing, f"{DEVICES}/{step}") for step in chain}
    for link in links_of(chain, known):
        names = listing.names(f"{DEVICES}/{link.address}")
        for quantity, file in _FILES.items():
            if file in names:
                yield _column(address, link, quantity, f"{DEVICES}/{link.address}/{file}")


def _column(address: str, link: Link, quantity: str, source: str) -> Column:
    most = link.max_speed_gt_s if quantity == SPEED else link.max_width
    own = link.address == address
    return Column(
        quantity=quantity,
        place=f"pci:{address}",
        channel="link" if own else f"link@{link.address}",
        label=quantity if own else f"{quantity} at {link.address}",
        unit=_UNITS[quantity],
        source=source,
        high=None if most is None else float(most),
    )


def end_of(column: Column) -> str:
    """Return the place of the end of a column's link that is away from the root."""
    _, _, other = column.channel.partition("@")
    return f"pci:{other}" if other else column.place


def value_of(column: Column, text: str) -> float | None:
    """Return GT/s or lanes; None where there is no link at the moment, or the text says neither."""
    value = link_speed_gt_s(text) if column.quantity == SPEED else link_width(text)
    return None if isinstance(value, Absent) else float(value)
