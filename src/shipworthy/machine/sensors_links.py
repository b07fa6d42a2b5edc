"""Links of PCI Express while they are sampled: which columns there are, and the values."""

from __future__ import annotations

from shipworthy.machine.capture import links as ask_links
from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.sensors import links
from shipworthy.machine.root import Root
from shipworthy.machine.sensors_readers import WhileAwake
from shipworthy.model.runlog import Column


def link_columns(root: Root) -> tuple[Column, ...]:
    """Return the columns of the links of graphics cards and NVMe drives."""
    reply = ask_links.capture(root)
    return links.columns(Listing(reply.data, reply.id)) if reply.read else ()


def is_link(column: Column) -> bool:
    """Return whether a column is one of a link's."""
    return column.quantity in (links.SPEED, links.WIDTH)


def function_of(column: Column) -> str:
    """Return the folder of the function that answers for a link's column."""
    return column.source.rpartition("/")[0]


def link_reader(root: Root, columns: list[Column], *, keep: bool) -> WhileAwake:
    """Return what reads the link of one function, told by its end away from the root. One that the kernel has
    suspended has no link to speak of, and newer kernels would wake it to answer (from memory)."""
    return WhileAwake(root, function_of(columns[0]), columns, links.value_of, asleep=None, keep=keep)
