"""The engine's end of the guard: start it, give it orders, hear it and its loads, know when it is lost."""

from __future__ import annotations

import os
import queue
import select
import subprocess
import sys
import threading
import time
from collections.abc import Iterable

import msgspec

from shipworthy.model.base import Record
from shipworthy.stress.wire import Message, Ping, read_message

LOST_S = 5.0  # the guard pings each second
START_S = 60.0  # in which its first word has to come: from a slow stick, Python alone may take many seconds
DEAF_S = 2.0  # we were stopped or kept waiting ourselves: what the guard said meanwhile is yet to be heard
END_S = 5.0
KEPT_ERROR_BYTES = 4000


class GuardLost(Exception):
    """The guard died or fell silent. Its loads die with it."""


class GuardHandle:
    """A guard process. Must be made by a thread that lives as long as the run: the guard is tied to it."""

    def __init__(self) -> None:
        self._messages: queue.Queue[Message] = queue.Queue()
        self._errors = b""
        self._spoke = False
        self._heard_s = self._asked_s = time.monotonic()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "shipworthy.stress.guard", str(os.getpid())],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
            start_new_session=True,  # Ctrl-C goes to the engine alone
        )
        assert self._process.stdin is not None
        os.set_blocking(self._process.stdin.fileno(), False)
        self._hearing = [
            threading.Thread(target=hear, daemon=True) for hear in (self._hear, self._hear_errors)
        ]
        for thread in self._hearing:
            thread.start()

    @property
    def pid(self) -> int:
        return self._process.pid

    def order(self, record: Record) -> None:
        """Send an order. Raises GuardLost if nobody takes it."""
        assert self._process.stdin is not None
        data, pipe = msgspec.json.encode(record) + b"\n", self._process.stdin.fileno()
        most_s = LOST_S if self._spoke else START_S
        try:
            while data:  # an order for many cores is more than a pipe holds
                if not select.select([], [pipe], [], most_s)[1]:
                    raise GuardLost(f"no order was taken for {most_s:.0f} s")
                data = data[os.write(pipe, data) :]
        except OSError as error:
            raise GuardLost(self.last_words()) from error

    def next(self, timeout_s: float) -> Message | None:
        """Return the next message; None after the timeout. Raises GuardLost when it died or fell silent."""
        now_s = time.monotonic()
        if now_s - self._asked_s > DEAF_S:
            self._heard_s = now_s
        self._asked_s = now_s
        most_s = LOST_S if self._spoke else START_S
        if now_s - self._heard_s > most_s:
            raise GuardLost(f"no word for {most_s:.0f} s")
        try:
            return self._messages.get(timeout=timeout_s)
        except queue.Empty:
            if self._process.poll() is not None:
                raise GuardLost(self.last_words()) from None
            return None

    def last_words(self) -> str:
        """Return the last line that guard or loads wrote to standard error."""
        lines = self._errors.decode("utf-8", "replace").strip().splitlines()
        return lines[-1] if lines else ""

    def end(self) -> None:
        """Close the guard's orders, so that it ends; kill it if it does not. Its loads go with it."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.close()
            self._process.wait(END_S)
        except (OSError, subprocess.TimeoutExpired):
            self.kill()
        for thread, pipe in zip(self._hearing, (self._process.stdout, self._process.stderr), strict=True):
            thread.join(END_S)
            if pipe is not None and not thread.is_alive():  # a stuck load may hold the other end for ever
                pipe.close()

    def kill(self) -> None:
        self._process.kill()
        self._process.wait()

    def _hear(self) -> None:
        assert self._process.stdout is not None
        for line in _lines(self._process.stdout.fileno()):
            try:
                message = read_message(line)
                if isinstance(message, Ping):  # only the guard pings; its loads may speak without it
                    self._heard_s, self._spoke = time.monotonic(), True
                else:
                    self._messages.put(message)
            except msgspec.MsgspecError:
                self._errors = (self._errors + b"\nnot a message: " + line)[-KEPT_ERROR_BYTES:]

    def _hear_errors(self) -> None:
        assert self._process.stderr is not None
        for line in _lines(self._process.stderr.fileno()):
            self._errors = (self._errors + line + b"\n")[-KEPT_ERROR_BYTES:]


def _lines(descriptor: int) -> Iterable[bytes]:
    """Yield lines until everybody has closed the other end."""
    rest = b""
    while True:
        try:
            data = os.read(descriptor, 65536)
        except OSError:
            return
        if not data:
            return
        *lines, rest = (rest + data).split(b"\n")
        yield from lines
