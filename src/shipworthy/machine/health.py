"""What drives say of their health while they are under load: as little as tells a change.

Once a second would disturb a drive, so who asks does it once a minute at most. A drive that sleeps is not
woken, and one that did not answer in its time is asked no more.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from shipworthy.machine.capture import ata as ask_ata
from shipworthy.machine.capture import nvme as ask_nvme
from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.commands import NVME_GET_LOG_PAGE, NVME_IDENTIFY, asked, nvme_admin
from shipworthy.machine.capture.files import Answer, Lister
from shipworthy.machine.listing import Listing, encode_listing
from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata.pages import asleep, health_passed, identify_facts
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.parse.nvme.pages import controller_facts, health_facts
from shipworthy.machine.root import Root
from shipworthy.model.base import Record, Value, values
from shipworthy.model.facts import Said
from shipworthy.model.reading import SourceOutcome

NVME_ATTRIBUTES = {
    "critical_warning_words": "critical warning",
    "media_errors": "media errors",
    "available_spare_percent": "available spare",
    "percentage_used": "percentage used",
}
ATA_ATTRIBUTES = {
    "reallocated_sectors": "reallocated sectors",
    "pending_sectors": "pending sectors",
    "interface_crc_errors": "link errors",
}
"""Facts of the pages as the reading has them, and what they are called in the run log."""
SELF_ASSESSMENT = "health self-assessment"
_NAMESPACE, _DISK = re.compile(r"nvme\d+n\d+"), re.compile(r"sd[a-z]+")
_EVERY_NAMESPACE = 0xFFFFFFFF
_TIMED_OUT = ("0x371", "host 0x03", "ETIMEDOUT", "Errno 110")  # as in capture/nvme and capture/ata


class DriveHealth(Record):
    """What one drive said. why_not: the system's word where it said nothing; empty where it did."""

    place: str
    serial: str
    attributes: tuple[Value, ...] = ()
    why_not: str = ""


class DriveHealthReader:
    """Asks all drives each time. Keeps who they are, and which of them gave no answer in their time."""

    def __init__(self, root: Root) -> None:
        self._root = Root(root.folder)  # what a privileged capture brought is of another time
        self._serials: dict[str, str] = {}
        self._silent: set[str] = set()

    def read(self) -> tuple[DriveHealth, ...]:
        """Return the health of each drive that takes such commands. A drive that sleeps is left out."""
        lister = Lister(self._root)
        found: list[DriveHealth | None] = []
        for name in lister.names(BLOCK):
            path = lister.target(f"{BLOCK}/{name}")
            if path is None or name in self._silent:
                continue
            list_wiring(lister, name, path)
            listing = Listing(encode_listing(lister.rows), BLOCK)
            place = block_place(listing, name)
            if place is None:
                continue
            if _NAMESPACE.fullmatch(name):
                controller = listing.target_name(f"{BLOCK}/{name}/controller") or name.rpartition("n")[0]
                found.append(self._nvme(name, controller, place))
            elif _DISK.fullmatch(name) and ask_ata.takes_ata_commands(self._root, name, path):
                found.append(self._ata(name, place))
        return tuple(one for one in found if one is not None)

    def _nvme(self, name: str, controller: str, place: str) -> DriveHealth | None:
        node = f"/dev/{controller}"
        if name not in self._serials:
            _, identity = asked(
                self._root,
                controller,
                "identify-controller",
                lambda: (
                    node,
                    nvme_admin(node, NVME_IDENTIFY, 4096, cdw10=ask_nvme.IDENTIFY_CONTROLLER),
                ),
            )
            self._serials[name] = _serial(controller_facts(identity.data))
        _, log = asked(
            self._root,
            controller,
            "smart-log",
            lambda: (
                node,
                nvme_admin(node, NVME_GET_LOG_PAGE, 512, nsid=_EVERY_NAMESPACE, cdw10=ask_nvme.HEALTH_LOG),
            ),
        )
        if log.outcome is not SourceOutcome.READ:
            return self._nothing(name, place, log)
        return self._told(name, place, _attributes(health_facts(log.data), NVME_ATTRIBUTES))

    def _ata(self, name: str, place: str) -> DriveHealth | None:
        mode = self._ata_asked(name, "power-mode")
        if mode.outcome is SourceOutcome.READ and asleep(mode.data):
            return None
        if name not in self._serials:
            self._serials[name] = _serial(identify_facts(self._ata_asked(name, "identify").data))
        page, status = self._ata_asked(name, "smart"), self._ata_asked(name, "smart-status")
        if page.outcome is not SourceOutcome.READ or not ata_smart.sum_holds(page.data):
            return self._nothing(name, place, page)
        facts, _ = ata_smart.attribute_facts(ata_smart.attributes_of(page.data), "")
        passed = health_passed(status.data) if status.outcome is SourceOutcome.READ else None
        told = _attributes(facts, ATA_ATTRIBUTES)
        if passed is not None:
            told += values(**{SELF_ASSESSMENT: "passed" if passed else "failed"})
        return self._told(name, place, told)

    def _ata_asked(self, name: str, request: str) -> Answer:
        if name in self._silent:
            return Answer(SourceOutcome.FAILED, error="not asked, as it did not answer before")
        file, ask = ask_ata.REQUESTS[request]
        _, answer = asked(self._root, name, file, lambda: (f"/dev/{name}", ask(f"/dev/{name}")))
        self._note_silence(name, answer)
        return answer

    def _note_silence(self, name: str, answer: Answer) -> None:
        if answer.outcome is SourceOutcome.FAILED and any(mark in answer.error for mark in _TIMED_OUT):
            self._silent.add(name)

    def _told(self, name: str, place: str, told: tuple[Value, ...]) -> DriveHealth:
        return DriveHealth(place=place, serial=self._serials.get(name, ""), attributes=told)

    def _nothing(self, name: str, place: str, answer: Answer) -> DriveHealth | None:
        if answer.outcome is SourceOutcome.ABSENT:  # no such thing there, or no such request
            return None
        self._note_silence(name, answer)
        why = answer.error or answer.outcome.value
        return DriveHealth(place=place, serial=self._serials.get(name, ""), why_not=why)


def _serial(facts: Iterable[Said]) -> str:
    return next((str(fact.value) for fact in facts if fact.name == "serial" and fact.value is not None), "")


def _attributes(facts: Iterable[Said], names: dict[str, str]) -> tuple[Value, ...]:
    return tuple(
        Value(name=names[fact.name], value=fact.value)
        for fact in facts
        if fact.name in names and fact.value is not None
    )
