"""A file whose readers wait for ever, as at a driver that hangs: a fanotify(7) permission event, never
answered. Needs the right to administer the system, and a kernel that was built with permission events."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

FAN_CLASS_CONTENT, FAN_CLOEXEC = 4, 1  # linux/fanotify.h
FAN_MARK_ADD = 1
FAN_OPEN_PERM, FAN_ACCESS_PERM = 0x10000, 0x20000
AT_FDCWD = -100


@contextmanager
def group() -> Iterator[int]:
    """Yield a fanotify group; whoever waits for it goes on when it is closed. Skips where it is refused."""
    libc = ctypes.CDLL(None, use_errno=True)
    descriptor = libc.fanotify_init(FAN_CLASS_CONTENT | FAN_CLOEXEC, os.O_RDONLY)
    if descriptor < 0:
        pytest.skip(f"fanotify_init: {os.strerror(ctypes.get_errno())}")
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def hang(descriptor: int, file: Path) -> None:
    """Replace a file by one whose opening waits. What was open before goes on being read."""
    libc = ctypes.CDLL(None, use_errno=True)
    mask = ctypes.c_uint64(FAN_OPEN_PERM | FAN_ACCESS_PERM)
    new = file.with_name("hanging")
    new.write_text("30000\n")
    if libc.fanotify_mark(descriptor, FAN_MARK_ADD, mask, AT_FDCWD, os.fsencode(new)) < 0:
        pytest.skip(f"fanotify_mark: {os.strerror(ctypes.get_errno())}")
    new.rename(file)
