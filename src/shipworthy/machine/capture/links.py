"""Ask on which links graphics cards and NVMe drives hang, and what these can do: no present values.

Nothing is woken for it. Of a function that sleeps without power only that it is there is asked.
"""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.parse.pci.links import chain_of
from shipworthy.machine.parse.pci.source import ASLEEP, DEVICES
from shipworthy.machine.parse.sensors.links import WATCHED
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

NAME = "sensors.links"
CAN = ("max_link_speed", "max_link_width")


def capture(root: Root) -> Reply:
    """Return a listing of those functions and of every one on their way to the root."""
    lister, asked = Lister(root), set[str]()
    for address in lister.names(DEVICES):
        folder = f"{DEVICES}/{address}"
        if not (lister.text(f"{folder}/class") or "").startswith(WATCHED):
            continue
        for step in chain_of(lister.target(folder) or address):
            if step not in asked:
                asked.add(step)
                _ask(lister, f"{DEVICES}/{step}")
    return lister.reply(NAME, DEVICES)


def _ask(lister: Lister, folder: str) -> None:
    lister.names(folder)
    if lister.text(f"{folder}/power_state") != ASLEEP:
        lister.texts(folder, CAN)
