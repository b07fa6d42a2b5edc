"""What the same input of the same chip is on different boards, as people wrote it down of theirs.

It measures no decoder: it is the reason why a label is never made from a chip's name.
"""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path

from decoding.cpu import members
from decoding.tally import Tally
from shipworthy.machine.parse.sensors.limits import FROM_CHANNEL, channel_facts

_LINE = re.compile(r"^\s*(chip|label|ignore)\s+(.*?)\s*(?:#.*)?$")
_WORDS = re.compile(r'"([^"]*)"|(\S+)')

Boards = dict[str, str]
"""Of each board, what an input is there."""


def measure(folder: Path) -> Tally:
    tally = Tally(folder.name)
    inputs: dict[tuple[str, str], Boards] = defaultdict(dict)
    for name, data in members(folder / "lm-sensors-board-configs.tar.xz"):
        if not name.endswith(".conf"):
            continue
        tally.items += 1
        try:
            for chip, channel, label in statements(data.decode("utf-8", "replace")):
                inputs[chip, channel][name] = label
        except Exception as error:
            tally.crash(name, error)
    shared = {key: boards for key, boards in inputs.items() if len(boards) > 1}
    several = {key: boards for key, boards in shared.items() if len(set(boards.values())) > 1}
    ignored = {key for key, boards in shared.items() if "(nothing)" in boards.values()} & several.keys()
    tally.notes = {
        "inputs of chips on several boards": len(shared),
        "of them, with several meanings": len(several),
        "of them, wired to nothing on some boards": len(ignored),
    }
    slots = _memory_slots(folder)
    tally.notes |= {
        "memory addresses of controllers on several boards": len(slots),
        "of them, with several labels": sum(len(set(boards.values())) > 1 for boards in slots.values()),
    }
    for (chip, channel), boards in sorted(several.items(), key=lambda item: -len(set(item[1].values())))[:8]:
        words = sorted(set(boards.values()))
        tally.example(
            f"{chip} {channel}: {len(words)} meanings on {len(boards)} boards: {', '.join(words[:5])}"
        )
    for chip, channel in shared:
        said = {one.name: one.value for one in channel_facts(chip, channel, {})}
        tally.hold(
            f"{chip} {channel}",
            "a channel without a label of the driver's keeps its own name",
            (channel, FROM_CHANNEL),
            (said[f"{channel}_label"], said[f"{channel}_label_origin"]),
        )
    return tally


def statements(text: str) -> list[tuple[str, str, str]]:
    """Return chip, input and meaning of each `label` and `ignore`; letter case and spaces do not count."""
    found: list[tuple[str, str, str]] = []
    chips: list[str] = []
    for line in text.splitlines():
        match = _LINE.match(line)
        if match is None:
            continue
        words = [quoted or bare for quoted, bare in _WORDS.findall(match[2])]
        if match[1] == "chip":
            chips = [word.split("-")[0] for word in words if word != "*"]
        elif match[1] == "label" and len(words) > 1:
            found += [(chip, words[0], " ".join(words[1].lower().split())) for chip in chips]
        elif match[1] == "ignore" and words:
            found += [(chip, words[0], "(nothing)") for chip in chips]
    return found


def _memory_slots(folder: Path) -> dict[str, Boards]:
    """Of each address (controller, row, channel) that several boards have: the label of its slot there, from
    its last underscore on, as `DDR4_A1` and `DIMM_A1` mean the same."""
    found: dict[str, Boards] = defaultdict(dict)
    for file in sorted((folder / "rasdaemon-dimm-labels").glob("*.txt")):
        board = ""
        for line in file.read_text("utf-8").splitlines():
            if line.startswith("#"):
                continue
            head = re.match(r"\s*(?:Vendor|Product|Model):\s*(.+)", line)
            board = head[1] if head else board
            for label, addresses in re.findall(r"(\w+):\s*([\d., ]+);", line):
                for address in addresses.split(","):
                    found[address.strip()][f"{file.stem} {board}"] = label.rpartition("_")[2]
    return {address: boards for address, boards in found.items() if len(boards) > 1}
