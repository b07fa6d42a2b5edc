"""Write a machine's files below a folder, in the forms that the kernel gives them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath


class Tree:
    """A root tree that is being written. Locators begin with `/`, as on a live machine."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, locator: str) -> Path:
        return self.folder / locator.lstrip("/")

    def data(self, locator: str, content: bytes) -> None:
        """Write a file as it is."""
        path = self.path(locator)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)

    def text(self, locator: str, content: str) -> None:
        """Write a text as it is."""
        self.data(locator, content.encode("utf-8"))

    def attributes(self, folder: str, named: Mapping[str, object]) -> None:
        """Write sysfs attributes: one value a file, ended by a newline."""
        for name, value in named.items():
            self.text(f"{folder}/{name}", f"{value}\n")

    def link(self, locator: str, target: str) -> None:
        """Make `locator` a link to `target`, both from the root; relative, as all links in sysfs are."""
        path = self.path(locator)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.symlink_to(os.path.relpath(target, PurePosixPath(locator).parent))


def uevent(named: Mapping[str, object]) -> str:
    """Return the text of a `uevent` attribute."""
    return "".join(f"{name}={value}\n" for name, value in named.items())


def cpu_list(numbers: Iterable[int]) -> str:
    """Return CPU numbers in the kernel's list form: `0-1,4`. Empty for none."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ",".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)


def cpu_mask(numbers: Iterable[int]) -> str:
    """Return CPU numbers in the kernel's mask form: hexadecimal words of 32, the highest first."""
    mask = sum(1 << number for number in set(numbers))
    words = [f"{mask & 0xFFFFFFFF:08x}"]
    while mask := mask >> 32:
        words.insert(0, f"{mask & 0xFFFFFFFF:08x}")
    return ",".join(words)
