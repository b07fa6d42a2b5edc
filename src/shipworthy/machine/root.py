"""Where a machine's files begin: `/` on the bench, a folder for a recorded or a pretend machine.

The root is an argument everywhere, so a saved machine and a live one take the same code. A folder
holds the same paths as a live system (`proc/…`, `sys/…`). What a live machine answers to a system
call on a device node (NVMe and ATA commands) is recorded below `replies/<device>/<request>.bin`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

SIMULATED_MARK = "simulated-unit.json"


@dataclass(frozen=True)
class Root:
    """The root folder of a machine."""

    folder: Path

    @property
    def live(self) -> bool:
        """Whether this is the machine that we run on."""
        return self.folder == Path("/")

    @property
    def simulated(self) -> bool:
        """Whether the folder says that it is a pretend unit's (records and pages then say so too)."""
        return not self.live and (self.folder / SIMULATED_MARK).is_file()

    def path(self, locator: str) -> Path:
        """Return where a locator such as `/proc/meminfo` lies."""
        return self.folder / locator.lstrip("/")


LIVE = Root(Path("/"))
