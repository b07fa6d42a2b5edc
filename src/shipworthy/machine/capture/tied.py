"""Run a command that dies with the thread that started it: `python tied.py PARENT_PID COMMAND…`.

prctl(2) PR_SET_PDEATHSIG, which outlives execve(2). Stands alone: it is run as a file, without this package.
"""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def main() -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    asked = libc.prctl(PR_SET_PDEATHSIG, ctypes.c_ulong(signal.SIGKILL), 0, 0, 0) == 0
    if not asked or os.getppid() != int(sys.argv[1]):  # it may have died before it was asked
        sys.exit(70)
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)  # Python ignores it, and a command would inherit that
    os.execv(sys.argv[2], sys.argv[2:])  # noqa: S606


if __name__ == "__main__":
    main()
