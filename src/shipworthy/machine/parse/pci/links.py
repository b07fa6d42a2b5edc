"""PCI Express links from a device up to the root, and what they could do.

A link has two ends: a port above (of the root or of a switch) and what hangs on it. It can do what the
lesser end can. A device's own link is not the whole way: graphics cards carry a switch whose inner link
always runs at its full width, so only the chain shows a card that sits half in its slot.

Rates and encodings: PCI Express Base Specification (from memory): 8b/10b to 5 GT/s, 128b/130b from
8 GT/s, FLITs with 242 of 256 bytes at 64 GT/s.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shipworthy.machine.listing import said
from shipworthy.machine.parse.wiring import PCI_FUNCTION
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

_ABOVE = ("root port", "switch downstream port", "PCI to PCI Express bridge")
_BELOW = ("endpoint", "legacy endpoint", "switch upstream port", "PCI Express to PCI bridge")


@dataclass(frozen=True, slots=True)
class Function:
    """What one function says of its link; None where it says nothing. asleep: it cannot be asked (D3cold).
    bridge: by its class, which all may read, it is a bridge of some kind."""

    address: str
    speed_gt_s: float | None = None
    width: int | None = None
    max_speed_gt_s: float | None = None
    max_width: int | None = None
    port_type: str | None = None
    asleep: bool = False
    bridge: bool | None = None

    @property
    def silent(self) -> bool:
        return self.width is None and self.max_width is None and self.max_speed_gt_s is None


@dataclass(frozen=True, slots=True)
class Link:
    """One link: its address is that of the end away from the root."""

    address: str
    speed_gt_s: float | None
    width: int | None
    max_speed_gt_s: float | None
    max_width: int | None
    asleep: bool = False


def gbit_s(speed_gt_s: float, width: int) -> float:
    """Return what a link carries in one direction, in Gbit/s, before the overhead of packets."""
    if speed_gt_s <= 5:
        share = 8 / 10
    elif speed_gt_s <= 32:
        share = 128 / 130
    else:
        share = 242 / 256
    return speed_gt_s * share * width


def chain_of(path: str) -> tuple[str, ...]:
    """Return the functions from the root to a device by its path in sysfs, the device last."""
    return tuple(step for step in path.split("/") if PCI_FUNCTION.fullmatch(step))


def links_of(chain: tuple[str, ...], known: Mapping[str, Function]) -> tuple[Link, ...]:
    """Return the links on the way from the root to the last of the chain.

    Which neighbours a link joins is told by their port types. Where these cannot be read (they need root)
    every second step is one: a switch's two ports are neighbours, too, and have no link between them.
    """
    found: list[Link] = []
    functions = [known.get(address, Function(address)) for address in chain]
    joined = False  # whether the function above is already the lower end of a link
    for index, lower in enumerate(functions):
        upper = functions[index - 1] if index else None
        if upper is None:
            joined = lower.port_type in _BELOW and not lower.silent
            above = lower.bridge or lower.port_type in _ABOVE
            if len(functions) == 1 and not lower.silent and not above:
                found.append(_link(lower, None))  # a guest's card: its ports are hidden
            continue
        if _are_joined(upper, lower, joined):
            joined = True
            if not (upper.silent and lower.silent and not lower.asleep):
                found.append(_link(lower, upper))
        else:
            joined = False
    return tuple(found)


def _are_joined(upper: Function, lower: Function, upper_is_lower_end: bool) -> bool:
    if upper.port_type is not None:
        return upper.port_type in _ABOVE
    if upper.bridge is False:
        return False  # a controller whose drives are functions of a domain of their own (Intel VMD)
    if lower.port_type is not None:
        return lower.port_type in _BELOW
    return not upper_is_lower_end


def _link(lower: Function, upper: Function | None) -> Link:
    ends = (lower,) if upper is None else (lower, upper)
    return Link(
        address=lower.address,
        speed_gt_s=_least(end.speed_gt_s for end in ends),
        width=_least_lanes(end.width for end in ends),
        max_speed_gt_s=_least(end.max_speed_gt_s for end in ends),
        max_width=_least_lanes(end.max_width for end in ends),
        asleep=lower.asleep,
    )


def _least(values: Iterable[float | None]) -> float | None:
    return min((value for value in values if value is not None), default=None)


def _least_lanes(values: Iterable[int | None]) -> int | None:
    return min((value for value in values if value is not None), default=None)


def path_facts(links: tuple[Link, ...]) -> tuple[Said, ...]:
    """Return what the way to the root can carry now and at most; nothing where there is no link."""
    if not links:
        return ()
    unknown = Absent.NOT_READABLE if any(link.asleep for link in links) else Absent.NOT_OFFERED
    now = [link for link in links if link.width is not None and link.speed_gt_s is not None]
    whole = len(now) == len(links) and not any(link.asleep for link in links)
    narrowed = [
        link.address
        for link in links
        if not link.asleep
        and link.width is not None
        and link.max_width is not None
        and link.width < link.max_width
    ]
    widths = [link.width for link in links]
    return (
        said("path_width", _least_lanes(widths) if whole else unknown),
        said("path_speed_gt_s", _least(link.speed_gt_s for link in links) if whole else unknown),
        said("path_width_max", _least_lanes(link.max_width for link in links)),
        said("path_speed_max_gt_s", _least(link.max_speed_gt_s for link in links)),
        said("path_narrowest_at", f"pci:{_narrowest(now)}" if whole else unknown),
        said("path_narrowed_at", ", ".join(f"pci:{at}" for at in narrowed) or ("none" if whole else unknown)),
    )


def _narrowest(links: list[Link]) -> str:
    """The link that carries least now; of equals the one nearest to the device."""

    def carries(link: Link) -> float:
        return gbit_s(link.speed_gt_s or 0, link.width or 0)

    return min(reversed(links), key=carries).address


def offered(*fields: Said) -> tuple[Said, ...]:
    """Return the fields that a source offers: where most devices lack one, silence says nothing."""
    return tuple(field for field in fields if field.absent is not Absent.NOT_OFFERED)
