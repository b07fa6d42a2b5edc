"""The way of a card or a drive to the root of PCI Express: has it the lanes that its links can have?

Lanes only. A device that has nothing to do lowers its speed to save power, and raises it again when it has;
it keeps its lanes. So fewer lanes are a fault at any time, and less speed is none in a reading; what the link
did under load is judged from the burn-in's samples (`analysis.links`). A slot that has no more lanes than it
uses is no fault either: what counts is what the ends of each link can do together.
"""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.compare.judgement import Judgement, cannot_tell, judged, not_by_reading
from shipworthy.compare.pieces import Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Outcome, PartKind, Unit
from shipworthy.words.kinds import PciLink, find_pci_links

_WITHIN = 1
"""Lanes that some cards with a switch of their own tell of the link within them, always (from memory). The
whole way then seems to have no more, and only the link that is narrowed tells that the slot has."""


def judge_link(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge the way of a graphics card or an NVMe drive, and what the order says of its link.

    Where nothing tells of a link (a virtual disk, graphics within a processor) it is *not checked*: that the
    reading says nothing is no sign of a sound link.
    """
    function = function_of(part, scene)
    if function is not None:
        yield _judge_width(function)
    wish = line.wanted(Aspect.LINK)
    if wish is not None:
        yield not_by_reading(wish) if function is None else _judge_wish(wish, function)


def function_of(part: Part, scene: Scene) -> Part | None:
    """Return the PCI function that a part is or hangs on; None for what has no link of its own.

    An NVMe namespace stands below its controller's place: `pci:0000:04:00.0/nvme-ns-1`.
    """
    if part.kind is PartKind.GRAPHICS:
        return part
    if part.text("interface") != "NVMe":
        return None
    place = part.place.partition("/")[0]
    found = next(
        (p for p in scene.reading.of_kind(PartKind.PCI_DEVICE) if place in (p.place, *p.also_at)), None
    )
    return found or Part(kind=PartKind.PCI_DEVICE, place=place, facts=())


def _judge_width(function: Part) -> Judgement:
    width, most = function.number("path_width"), function.number("path_width_max")
    narrowed = function.text("path_narrowed_at")
    narrowed = "" if narrowed == "none" else narrowed
    if width is None and most is None and not narrowed and not _is_unreadable(function):
        return judged(
            Outcome.NOT_CHECKED,
            Aspect.LINK,
            None,
            None,
            unit=Unit.COUNT,
            named={"why": _why(function).value},
        )
    if width is None or most is None:
        named = {"why": _why(function).value}
        return judged(Outcome.CANNOT_TELL, Aspect.LINK, most, width, unit=Unit.COUNT, named=named)
    if width < most:
        named = {"narrowed_at": narrowed or function.place}
        return judged(
            Outcome.DIFFERS, Aspect.LINK, most, width, unit=Unit.COUNT, ending="narrow", named=named
        )
    if most == _WITHIN and narrowed and function.kind is PartKind.GRAPHICS:
        named = {"narrowed_at": narrowed}
        return judged(Outcome.DIFFERS, Aspect.LINK, None, None, ending="narrow-before", named=named)
    return judged(Outcome.CONFORMS, Aspect.LINK, most, width, unit=Unit.COUNT)


def _is_unreadable(function: Part) -> bool:
    return any(
        function.why_absent(name) in (Absent.NOT_READABLE, Absent.IMPLAUSIBLE)
        for name in ("path_width", "path_width_max")
    )


def _why(function: Part) -> Absent:
    name = "path_width" if function.number("path_width") is None else "path_width_max"
    return function.why_absent(name)


def _judge_wish(wish: Expectation, function: Part) -> Judgement:
    """Compare a link that the order names (`PCIe 4.0 x16`): its lanes now, its speed as the most it can."""
    found = find_pci_links(str(wish.want))
    if len(found) != 1:
        return not_by_reading(wish)
    sold: PciLink = found[0]
    width, speed = function.number("path_width"), function.number("path_speed_max_gt_s")
    if speed is None or (sold.width is not None and width is None):
        missing = "path_speed_max_gt_s" if speed is None else "path_width"
        return cannot_tell(wish, function.why_absent(missing), ending="sold-cannot-tell")
    fits = speed >= sold.speed_gt_s and (sold.width is None or (width or 0) >= sold.width)
    lanes = "" if sold.width is None else f", {width} lanes"
    outcome, ending = (Outcome.CONFORMS, "as-sold") if fits else (Outcome.DIFFERS, "below-sold")
    return judged(outcome, Aspect.LINK, wish.want, f"{speed:g} GT/s{lanes}", ending=ending)
