"""Is there a place, a port and a lead for each drive?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from shipworthy.model.catalogue import BoardFacts, CaseFacts, M2Place, StorageFacts, SupplyFacts
from shipworthy.model.fit import FitFinding
from shipworthy.model.words import Category
from shipworthy.orders.fit.build import Build, Known, Pieces, pieces
from shipworthy.orders.fit.m2 import (
    Drive,
    drive_places,
    fast_enough,
    is_m2,
    link_of,
    may_go,
    placed,
    surely_goes,
)
from shipworthy.orders.fit.rules import MUST, SHOULD, Given, Rule, rule
from shipworthy.orders.fit.sharing import fewest_lost


@rule("storage.m2", MUST, "the board maker's list of places; lengths as in M.2's names (2280: 80 mm)")
def _m2(rule: Rule, build: Build) -> Iterator[FitFinding]:
    drives = _m2_drives(build)
    unknown = [drive.ask("form_factor") for drive in build.of(StorageFacts) if not drive.facts.form_factor]
    if not drives and not unknown:
        return
    for board in build.of(BoardFacts):
        places = board.ask("m2")
        if not places.known:
            yield rule.cannot_tell("", unknown, places=places, drives=pieces(drives))
            continue
        usable = drive_places(places.value)
        if placed(drives, usable, may_go) is None:
            yield rule.differs(places=places, drives=pieces(drives))
        elif unknown or placed(drives, usable, surely_goes) is None:
            yield rule.cannot_tell("" if unknown else "kind", unknown, places=places, drives=pieces(drives))
        else:
            yield rule.conforms(places=places, drives=pieces(drives))


@rule("storage.m2-speed", SHOULD, "PCI Express: a link runs at the lower of both ends' generations")
def _m2_speed(rule: Rule, build: Build) -> Iterator[FitFinding]:
    drives = [drive for drive in _m2_drives(build) if re.search(r"pci|nvme", link_of(drive), re.IGNORECASE)]
    for board in build.of(BoardFacts):
        places = board.ask("m2")
        if not drives or not places.known:
            continue
        usable = drive_places(places.value)
        if placed(drives, usable, may_go) is None:
            continue  # the rule of the places says so
        link = drives[0].ask("link" if drives[0].facts.link else "interface")
        if _all_fast(drives, usable, surely=True):
            yield rule.conforms(places=places, link=link)
        elif _all_fast(drives, usable, surely=False):
            yield rule.cannot_tell("generation", places=places, link=link)
        else:
            yield rule.differs(places=places, link=link)


@rule("storage.sata", MUST, "the board maker's figure")
def _sata(rule: Rule, build: Build) -> Iterator[FitFinding]:
    wanted, unknown = sata_devices(build)
    for board in build.of(BoardFacts):
        ports = board.ask("sata_ports")
        if ports.known and wanted > ports.value:
            yield rule.differs(ports=ports, drives=wanted)
        elif unknown:
            yield rule.cannot_tell("", unknown, ports=ports, drives=wanted)
        elif wanted:
            yield rule.judge(lambda ports: wanted <= ports, ports=ports, drives=wanted)


@rule(
    "storage.sharing",
    MUST,
    "the board maker's manual, which names every place that switches ports off where it names one",
)
def _sharing(rule: Rule, build: Build) -> Iterator[FitFinding]:
    drives = _m2_drives(build)
    wanted, unknown = sata_devices(build)
    if not drives or not wanted:
        return
    unknown += [drive.ask("form_factor") for drive in build.of(StorageFacts) if not drive.facts.form_factor]
    for board in build.of(BoardFacts):
        places, ports = board.ask("m2"), board.ask("sata_ports")
        if not places.known or not ports.known:
            yield rule.cannot_tell(places=places, ports=ports)
            continue
        usable = drive_places(places.value)
        if not any(place.shares_with for place in usable):  # most boards have some, and of none it is told
            yield rule.cannot_tell(places=Known(board.line, "board.m2_shares_with", None), ports=ports)
            continue
        least = fewest_lost(drives, usable, may_go)
        surely = fewest_lost(drives, usable, surely_goes)
        if least is None:
            continue  # the rule of the places says so
        given: Given = {"places": places, "ports": ports, "drives": wanted, "lost": least}
        if wanted > ports.value - least:
            yield rule.differs(**given)
        elif unknown:  # it may be one more for either
            yield rule.cannot_tell("", unknown, **given)
        elif surely is not None and wanted <= ports.value - surely:
            yield rule.conforms(**given)
        else:
            yield rule.cannot_tell("kind", **given)


@rule("storage.bays", MUST, "the case maker's figure")
def _bays(rule: Rule, build: Build) -> Iterator[FitFinding]:
    large, small = _of_form(build, "3.5"), _of_form(build, "2.5")
    unknown = [drive.ask("form_factor") for drive in build.of(StorageFacts) if not drive.facts.form_factor]
    if not large and not small and not unknown:
        return
    for case in build.of(CaseFacts):
        bays_35, bays_25 = case.ask("bays_35"), case.ask("bays_25")
        if not bays_35.known or (small and not bays_25.known):
            yield rule.cannot_tell(bays_35=bays_35, bays_25=bays_25)
            continue
        spare = bays_35.value - large
        given: Given = {"bays_35": bays_35, "bays_25": bays_25, "large": large, "small": small}
        over = small - (bays_25.value or 0)
        if spare < 0 or over > spare:
            yield rule.differs(**given)
        elif unknown:
            yield rule.cannot_tell("", unknown, **given)
        elif over > 0:
            yield rule.cannot_tell("adapter", **given)
        else:
            yield rule.conforms(**given)


@rule("storage.leads", MUST, "the supply maker's figure; one SATA plug a drive")
def _leads(rule: Rule, build: Build) -> Iterator[FitFinding]:
    wanted, unknown = sata_devices(build)
    for supply in build.of(SupplyFacts):
        plugs = supply.ask("sata_plugs")
        if unknown and not (plugs.known and wanted > plugs.value):
            yield rule.cannot_tell("", unknown, plugs=plugs, drives=wanted)
        elif wanted:
            yield rule.judge(lambda plugs: wanted <= plugs, plugs=plugs, drives=wanted)


@rule(
    "storage.interface",
    MUST,
    "common practice: SAS and U.2 drives want a controller of their own, mSATA a slot",
)
def _interface(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for drive in build.of(StorageFacts):
        interface, form = drive.ask("interface"), drive.ask("form_factor")
        if interface.known and re.search(r"\b(?:SAS|U\.?[23])\b", interface.value, re.IGNORECASE):
            yield rule.cannot_tell("controller", interface=interface)
        elif _is_msata(drive):
            yield rule.cannot_tell("slot", interface=interface, form="mSATA")
        elif "sata" in drive.facts.interface.casefold() and drive.facts.technology != "spinning":
            yield rule.judge(lambda *_: True, interface=interface, form=form)  # it may be mSATA
        else:
            yield rule.judge(lambda _: True, interface=interface)


def sata_devices(build: Build) -> tuple[Pieces, list[Known]]:
    """Return how many drives want a SATA port and a SATA plug, and the facts that leave others open.

    Optical drives are counted: built-in ones have been SATA for long (common practice). What sits in a slot,
    M.2 or mSATA, wants neither.
    """
    counted = build.pieces(Category.OPTICAL_DRIVE)
    unknown: list[Known] = []
    for drive in build.of(StorageFacts):
        interface, form = drive.ask("interface"), drive.ask("form_factor")
        if is_m2(drive) or _is_msata(drive):
            continue
        if not interface.known and not form.known:
            unknown.append(form)
        elif not interface.known:
            unknown.append(interface)
        elif "sata" in interface.value.casefold():
            counted += pieces([drive])
            unknown += [] if form.known else [form]  # it may be an M.2 one
    return counted, unknown


def _m2_drives(build: Build) -> list[Drive]:
    return [drive for drive in build.of(StorageFacts) if is_m2(drive)]


def wants_port(drive: Drive) -> bool:
    """Return whether a drive is SATA and, as far as anything tells, goes on a lead: not M.2 or mSATA."""
    return "sata" in drive.facts.interface.casefold() and not is_m2(drive) and not _is_msata(drive)


def _is_msata(drive: Drive) -> bool:
    return "msata" in f"{drive.facts.form_factor} {drive.facts.interface}".casefold()


def _all_fast(drives: Sequence[Drive], places: Sequence[M2Place], *, surely: bool) -> bool:
    def goes(drive: Drive, place: M2Place) -> bool:
        fast = fast_enough(drive, place)
        return may_go(drive, place) and (fast is True if surely else fast is not False)

    return placed(drives, places, goes) is not None


def _of_form(build: Build, inches: str) -> Pieces:
    return pieces(drive for drive in build.of(StorageFacts) if drive.facts.form_factor.startswith(inches))
