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
    """The root folder of a machine.

    privileged: the folder with what the privileged capture brought of the same machine (paths as here). It
    answers for a file or a device that this account may not read.
    """

    folder: Path
    privileged: Path | None = None

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

    def privileged_path(self, locator: str) -> Path | None:
        """Return where the privileged capture's copy of a file lies; None if it brought none."""
        path = None if self.privileged is None else self.privileged / locator.lstrip("/")
        return path if path is not None and path.is_file() and not path.is_symlink() else None


LIVE = Root(Path("/"))
