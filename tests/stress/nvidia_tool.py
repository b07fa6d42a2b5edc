"""A program in place of NVIDIA's tool, which prints what a test tells it to, when it tells it to.

It takes the arguments of the real one: `-q -x` prints a report, a query with a loop prints a line for each
card every 20 ms. Files in its folder say what: `report`, `lines`; `mute`: nothing for as long as it is there;
`die`: its content without an end of line, then the end; `refuse`: a word that no query may have. `started`
has a line for each start, with its process id and arguments.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.machine.test_machine_graphics_reports import report

PROGRAM = """#!{python} -IS
import os, pathlib, sys, time
here = pathlib.Path({folder!r})
with (here / "started").open("a") as file:
    file.write(f"{{os.getpid()}} {{' '.join(sys.argv[1:])}}\\n")
if "-q" in sys.argv:
    print((here / "report").read_text())
    sys.exit(0)
query = sys.argv[1]
if (here / "refuse").exists() and (here / "refuse").read_text() in query:
    print(f'Field "{{query}}" is not a valid field to query.')
    sys.exit(2)
while True:
    if (here / "die").exists():
        sys.stdout.write((here / "die").read_text())
        (here / "die").unlink()
        sys.stdout.flush()
        sys.exit(15)
    if not (here / "mute").exists():
        sys.stdout.write((here / "lines").read_text())
        sys.stdout.flush()
    time.sleep(0.02)
"""
BUS_ID, PLACE = "00000000:0A:00.0", "pci:0000:0a:00.0"


def line(heat_c: int, busy: int = 3, reasons: int = 0, bus_id: str = BUS_ID) -> str:
    return f"{bus_id}, {heat_c}, [N/A], 71.25, 1350, {busy}, 0x{reasons:016x}\n"


class PretendTool:
    """The program in a folder, and the words to it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.path = folder, folder / "nvidia-smi"
        self.path.write_text(PROGRAM.format(python=sys.executable, folder=str(folder)))
        self.path.chmod(0o755)
        (folder / "report").write_bytes(report())
        self.say(line(41))

    def say(self, *lines: str) -> None:
        """From now on print these lines."""
        self.put("lines", "".join(lines))

    def put(self, name: str, text: str = "") -> None:
        """Write one of its files at once, so that it never sees half of it."""
        (self.folder / "new").write_text(text)
        (self.folder / "new").rename(self.folder / name)

    def take(self, name: str) -> None:
        (self.folder / name).unlink()

    def starts(self) -> list[tuple[int, str]]:
        """Return process id and arguments of each loop that was started."""
        file = self.folder / "started"
        rows = [row.partition(" ") for row in file.read_text().splitlines()] if file.exists() else []
        return [(int(pid), arguments) for pid, _, arguments in rows if "-q " not in f"{arguments} "]

    def alive(self) -> list[int]:
        return [pid for pid, _ in self.starts() if is_alive(pid)]


def is_alive(pid: int) -> bool:
    """Return whether a process runs; one that has ended and is not waited for yet does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def until(true: Callable[[], object], most_s: float = 60.0) -> None:
    end_s = time.monotonic() + most_s
    while not true():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.01)


def end_all(tool: PretendTool) -> None:
    for pid in tool.alive():
        os.kill(pid, 9)
