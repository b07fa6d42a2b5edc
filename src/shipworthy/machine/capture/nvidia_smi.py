"""Ask NVIDIA's own tool for its cards, where one is fitted: one child process, bounded in time and size.

The driver tells memory, serials, power limits and error counts by its library alone (NVML), and the tool
comes with the driver. What it prints of running programs is no fact of the machine and is not kept.
"""

from __future__ import annotations

import os
import re

from shipworthy.machine.capture.child import run
from shipworthy.machine.capture.files import names_in, read_file
from shipworthy.machine.parse.graphics import NVIDIA_VENDOR
from shipworthy.machine.parse.pci.source import DEVICES
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

NAME = "nvidia-smi"
TOOLS = ("/usr/bin/nvidia-smi", "/usr/local/bin/nvidia-smi", "/usr/sbin/nvidia-smi")
RECORDED = "/replies/nvidia-smi/query.xml"
LIMIT_S = 8.0
MOST_BYTES = 8 << 20
_PROGRAMS = re.compile(rb"<(processes|accounted_processes)>.*?</\1>", re.DOTALL)


def capture(root: Root) -> list[Reply]:
    if not has_card(root):
        return [
            Reply(NAME, RECORDED if not root.live else TOOLS[0], SourceOutcome.ABSENT, error="no such card")
        ]
    if not root.live:
        answer = read_file(root, RECORDED, MOST_BYTES)
        data = without_programs(answer.data)
        return [Reply(NAME, RECORDED, answer.outcome, data, answer.error, "xml")]
    tool = next((path for path in TOOLS if os.access(path, os.X_OK)), None)
    if tool is None:
        return [Reply(NAME, TOOLS[0], SourceOutcome.ABSENT, error="the tool is not installed")]
    return [ask((tool, "-q", "-x"), LIMIT_S, MOST_BYTES)]


def has_card(root: Root) -> bool:
    """Return whether a graphics function of NVIDIA's is fitted, even one that no driver has."""
    for address in names_in(root, DEVICES):
        vendor = read_file(root, f"{DEVICES}/{address}/vendor", 64).data.strip().lower()
        if vendor != b"0x" + NVIDIA_VENDOR.encode():
            continue
        if read_file(root, f"{DEVICES}/{address}/class", 64).data.strip().lower().startswith(b"0x03"):
            return True
    return False


def without_programs(data: bytes) -> bytes:
    """Return a report without the names of the programs that use the cards."""
    return _PROGRAMS.sub(rb"<\1/>", data)


def ask(command: tuple[str, ...], limit_s: float, most_bytes: int) -> Reply:
    """Run a command and return what it prints, as a reply. It is ended when its time or its room is up."""
    locator = " ".join(command)
    printed = run(command, limit_s, most_bytes)
    if printed.trouble:
        return Reply(NAME, locator, SourceOutcome.FAILED, error=printed.trouble)
    data = without_programs(printed.data)
    if printed.status:  # the driver is not loaded, or a card has been lost: the tool says so instead of XML
        return Reply(NAME, locator, SourceOutcome.FAILED, data, f"exit status {printed.status}", "xml")
    outcome = SourceOutcome.READ if data.strip() else SourceOutcome.EMPTY
    return Reply(NAME, locator, outcome, data, "", "xml")
