"""NVIDIA's cards while they are sampled: one child, `nvidia-smi` in a loop, whose lines a thread takes.

To start the tool for each sample would cost more than the sensors of the whole machine, and where no process
holds the driver, seconds each. Whoever wants the values takes the last that came and never waits.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress

from shipworthy.machine.capture import nvidia_smi, tied
from shipworthy.machine.capture.child import ENVIRONMENT
from shipworthy.machine.capture.files import names_in, read_file, resolve
from shipworthy.machine.parse.graphics import NVIDIA_VENDOR
from shipworthy.machine.parse.pci.source import DEVICES
from shipworthy.machine.parse.sensors.nvidia import REASONS, Values, query, read_line
from shipworthy.machine.root import Root

INTERVAL_MS = 250
STALE_S = 1.0
"""A value that is older is none: three lines of the loop were missed."""
AGAIN_S = 5.0
"""From the end of a child to the start of the next: a card that is lost is asked for again, but not all the
time."""
END_S = 2.0
MOST_LINE_BYTES = 4096


def tool_of(root: Root) -> str | None:
    """Return NVIDIA's tool on a live machine that has such a card; None without the one or the other."""
    if not root.live or not nvidia_smi.has_card(root):
        return None
    return next((path for path in nvidia_smi.TOOLS if os.access(path, os.X_OK)), None)


def driven_places(root: Root) -> tuple[str, ...]:
    """Return the places of the cards that NVIDIA's own driver has, for where its tool does not say."""
    return tuple(
        f"pci:{address}"
        for address in names_in(root, DEVICES)
        if read_file(root, f"{DEVICES}/{address}/vendor", 64).data.strip() == b"0x" + NVIDIA_VENDOR.encode()
        and read_file(root, f"{DEVICES}/{address}/class", 64).data.startswith(b"0x03")
        and (resolve(root, f"{DEVICES}/{address}/driver") or "").endswith("/nvidia")
    )


class NvidiaStream:
    """The child and its last lines. Begins with the first look; ends with `close`, or with the process.

    The child is tied to the thread that reads it, and that thread lives as long as the child.
    """

    def __init__(self, tool: str, monotonic_s: Callable[[], float]) -> None:
        self._tool, self._monotonic_s = tool, monotonic_s
        self._given: dict[str, tuple[float, Values]] = {}
        self._lock = threading.Lock()
        self._left = threading.Event()
        self._process: subprocess.Popen[bytes] | None = None
        self._thread: threading.Thread | None = None

    def latest(self, place: str) -> tuple[float, Values] | None:
        """Return when a card's last line came, and its values; None if none came lately."""
        if self._thread is None:
            self._begin()
        given = self._given.get(place)
        return given if given is not None and self._monotonic_s() - given[0] <= STALE_S else None

    def close(self) -> None:
        """End the child. One that the kernel holds ends when its request does, and is not waited for."""
        with self._lock:
            self._left.set()
            if self._process is not None and self._process.poll() is None:
                with suppress(ProcessLookupError):  # it ended just now
                    os.killpg(self._process.pid, signal.SIGKILL)

    def _begin(self) -> None:
        with self._lock:
            if self._thread is None and not self._left.is_set():
                self._thread = threading.Thread(target=self._follow, name=nvidia_smi.NAME, daemon=True)
                self._thread.start()

    def _follow(self) -> None:
        """Listen to one child after the other. Where one ends without a single line, the driver may be too
        old for the name of a field, and the next is asked by the older name at once."""
        number = 0
        while not self._left.is_set():
            if not self._listen(REASONS[number]):
                number = (number + 1) % len(REASONS)
                if number:
                    continue
            self._left.wait(AGAIN_S)

    def _listen(self, reasons: str) -> bool:
        """Start a child and take its lines until it ends; return whether there were any."""
        process = self._started(reasons)
        if process is None or process.stdout is None:
            return False
        spoke = False
        with process.stdout as pipe:
            for line in _lines(pipe.fileno()):
                read = read_line(line.decode("ascii", "replace"))
                if read is not None:
                    place, values = read
                    self._given[place] = (self._monotonic_s(), values)
                    spoke = True
        self._bury(process)
        return spoke

    def _started(self, reasons: str) -> subprocess.Popen[bytes] | None:
        command = (self._tool, *query(reasons, INTERVAL_MS))
        with self._lock, suppress(OSError):
            if self._left.is_set():
                return None
            self._process = subprocess.Popen(
                (sys.executable, "-I", "-S", tied.__file__, str(os.getpid()), *command),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                bufsize=0,
                env=ENVIRONMENT,
                cwd="/",
                start_new_session=True,  # Ctrl-C is the engine's, which stops in order
            )
            return self._process
        return None

    def _bury(self, process: subprocess.Popen[bytes]) -> None:
        """Wait for a child that closed its end of the pipe, and has nothing more to say."""
        with suppress(subprocess.TimeoutExpired):
            process.wait(END_S)
        process.kill()
        with suppress(subprocess.TimeoutExpired):
            process.wait(END_S)


def _lines(descriptor: int) -> Iterator[bytes]:
    """Yield whole lines until the other end is closed. What stands behind the last line's end is torn, and
    what has none is no line of the tool's."""
    rest = b""
    while True:
        data = os.read(descriptor, 65536)
        if not data:
            return
        *lines, rest = (rest + data).split(b"\n")
        yield from (line for line in lines if len(line) <= MOST_LINE_BYTES)
        rest = rest if len(rest) <= MOST_LINE_BYTES else rest[: MOST_LINE_BYTES + 1]
