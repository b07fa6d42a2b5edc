"""Die with the parent: the kernel is asked to kill this process when the thread that started it ends.

prctl(2) PR_SET_PDEATHSIG. Between exec and this call the parent may already have died, and then no signal
comes: so the parent is checked after asking. Both together leave no gap.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h
PARENT_GONE = 70


def tie_to(parent_pid: int) -> None:
    """Tie this process to its parent; ends it at once if the parent is not the one expected."""
    libc = ctypes.CDLL(None, use_errno=True)
    asked = libc.prctl(PR_SET_PDEATHSIG, ctypes.c_ulong(signal.SIGKILL), 0, 0, 0) == 0
    if not asked or os.getppid() != parent_pid:
        sys.exit(PARENT_GONE)
