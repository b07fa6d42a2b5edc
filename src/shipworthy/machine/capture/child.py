"""Run a tool of the system as a child process: bounded in time and in what it may print, and never waited for
longer than that."""

from __future__ import annotations

import os
import selectors
import signal
import subprocess
import time
from dataclasses import dataclass

ENVIRONMENT = {"LC_ALL": "C", "PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}


@dataclass(frozen=True)
class Printed:
    """What a tool printed and its exit status; or in one sentence why there is nothing."""

    data: bytes = b""
    status: int = 0
    trouble: str = ""


def run(command: tuple[str, ...], limit_s: float, most_bytes: int) -> Printed:
    """Run a command, without this process's variables and input, and return what it prints.

    What has not ended in its time is killed with its children, and not waited for: a process that hangs in
    a dead device's request cannot be ended.
    """
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=ENVIRONMENT,
            cwd="/",
            start_new_session=True,
        )
    except OSError as error:
        return Printed(trouble=str(error.strerror))
    data, trouble = _read(process, time.monotonic() + limit_s, most_bytes)
    if not trouble:
        try:
            process.wait(1.0)
        except subprocess.TimeoutExpired:
            trouble = "it did not end"
    if trouble:
        _end(process)
        return Printed(trouble=trouble)
    return Printed(data, process.returncode)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Kill a process and its children. One that the kernel holds ends when its request does."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:  # it ended by itself just now
        process.poll()
    try:
        process.wait(0.5)
    except subprocess.TimeoutExpired:
        process.returncode = -signal.SIGKILL  # left behind; nothing here can wait for it


def _read(process: subprocess.Popen[bytes], until_s: float, most_bytes: int) -> tuple[bytes, str]:
    assert process.stdout is not None
    pieces: list[bytes] = []
    size = 0
    with process.stdout as stream, selectors.DefaultSelector() as selector:
        selector.register(stream, selectors.EVENT_READ)
        while True:
            left_s = until_s - time.monotonic()
            if left_s <= 0 or not selector.select(left_s):
                return b"", "no answer in its time"
            piece = os.read(stream.fileno(), 1 << 16)
            if not piece:
                return b"".join(pieces), ""
            pieces.append(piece)
            size += len(piece)
            if size > most_bytes:
                return b"", f"more than {most_bytes} bytes"
