"""PCI Express links of graphics cards and NVMe drives while they are sampled: speed and lanes of each link on
the way to the root.

Source: the kernel's Documentation/ABI/testing/sysfs-bus-pci (`current_link_speed`, `current_link_width` and
what each end can do at most). A device's own link is not the whole way: see `machine.parse.pci.links`.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.pci.links import Function, Link, chain_of, links_of
from shipworthy.machine.parse.pci.source import ASLEEP, DEVICES, link_speed_gt_s, link_width
from shipworthy.model.runlog import Column
from shipworthy.model.words import Absent, Unit

SPEED, WIDTH = "link speed", "link width"
_FILES = {SPEED: "current_link_speed", WIDTH: "current_link_width"}
_UNITS = {SPEED: Unit.GIGATRANSFERS, WIDTH: Unit.COUNT}


def columns(listing: Listing, watched: tuple[str, ...]) -> tuple[Column, ...]:
    """Return two columns for each link on the way of each function of the classes watched, the way's first
    link first. Their place is the device's, their channel names the link; `high` is the most that both ends
    of it can do, none where that is not told."""
    return tuple(
        column
        for address in listing.names(DEVICES)
        if (listing.text(f"{DEVICES}/{address}/class") or "").startswith(watched)
        for column in _of_device(listing, address)
    )


def _of_device(listing: Listing, address: str) -> Iterator[Column]:
    chain = chain_of(listing.target(f"{DEVICES}/{address}") or address)
    known = {step: _function(listing, step) for step in chain}
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


def _function(listing: Listing, address: str) -> Function:
    """Return what a function can do. One without the files has no link; one that sleeps does not say."""
    folder = f"{DEVICES}/{address}"
    asleep = listing.text(f"{folder}/power_state") == ASLEEP
    speed = link_speed_gt_s(listing.text(f"{folder}/max_link_speed") or "")
    width = link_width(listing.text(f"{folder}/max_link_width") or "0")
    return Function(
        address=address,
        max_speed_gt_s=None if isinstance(speed, Absent) else speed,
        max_width=None if isinstance(width, Absent) else width,
        asleep=asleep and _FILES[WIDTH] in listing.names(folder),
        bridge=(listing.text(f"{folder}/class") or "").startswith("0x0604"),
    )


def value_of(column: Column, text: str) -> float | None:
    """Return GT/s or lanes; None where there is no link at the moment, or the text says neither."""
    value = link_speed_gt_s(text) if column.quantity == SPEED else link_width(text)
    return None if isinstance(value, Absent) else float(value)
