"""Links of PCI Express while they are sampled: which columns there are, and the values."""

from __future__ import annotations

from shipworthy.machine.capture import links as ask_links
from shipworthy.machine.capture.value_file import ValueFile
from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.pci.source import DEVICES
from shipworthy.machine.parse.sensors import links
from shipworthy.machine.root import Root
from shipworthy.machine.sensors_graphics import SUSPENDED
from shipworthy.model.runlog import Column

Values = tuple[float | None, ...]


def link_columns(root: Root) -> tuple[Column, ...]:
    """Return the columns of the links of graphics cards and NVMe drives."""
    reply = ask_links.capture(root)
    return links.columns(Listing(reply.data, reply.id), ask_links.WATCHED) if reply.read else ()


def is_link(column: Column) -> bool:
    """Return whether a column is one of a link's."""
    return column.quantity in (links.SPEED, links.WIDTH)


def function_of(column: Column) -> str:
    """Return the folder of the function that answers for a link's column."""
    return column.source.rpartition("/")[0]


class LinkWhileAwake:
    """The link of one function, told by its end away from the root. Of one that the kernel has suspended
    nothing is asked: newer kernels would wake it to answer (from memory), and it has no link to speak of."""

    def __init__(self, root: Root, columns: list[Column], *, keep: bool) -> None:
        """keep: whether the files may stay open between two samples."""
        folder = function_of(columns[0])
        assert folder.startswith(DEVICES)
        self._status = ValueFile(root, f"{folder}/power/runtime_status", keep=keep)
        self._columns = [(column, ValueFile(root, column.source, keep=keep)) for column in columns]

    def __call__(self) -> Values:
        if self._status.data().strip() == SUSPENDED:
            return (None,) * len(self._columns)
        return tuple(links.value_of(column, file.text()) for column, file in self._columns)
