"""Ask for the memory that the kernel uses."""

from __future__ import annotations

from shipworthy.machine.capture.files import file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root


def capture(root: Root) -> list[Reply]:
    return [file_reply(root, "meminfo", "/proc/meminfo")]
