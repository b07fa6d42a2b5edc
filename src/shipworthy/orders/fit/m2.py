"""Which M.2 place takes which drive, as far as the records of both tell."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

from shipworthy.model.catalogue import BoardFacts, M2Place, StorageFacts
from shipworthy.orders.fit.build import Build, Fitted
from shipworthy.words.kinds import find_pci_links

_M2_SIZE = re.compile(r"M\.?2[\s-]*(?:\(?(?:22|30|25|21)(?P<length>110|30|42|60|80)\)?)?", re.IGNORECASE)
LONGEST_MM = 110
"""Places for the longest cards take shorter ones too (common practice): where no other length is told, nobody
listed them."""
Drive = Fitted[StorageFacts]


def is_m2(drive: Drive) -> bool:
    """Return whether a drive is known to have the form of M.2."""
    return _M2_SIZE.match(drive.facts.form_factor) is not None


def goes_into_m2(drive: Drive) -> bool:
    """Return whether a drive goes into an M.2 place as far as anything tells: by its form, else as NVMe."""
    return is_m2(drive) or (not drive.facts.form_factor and "nvme" in link_of(drive).casefold())


def drive_places(places: Iterable[M2Place]) -> list[M2Place]:
    """Return the M.2 places that drives go into: key E is for wireless cards (M.2 specification)."""
    return [place for place in places if place.key.strip().upper() != "E"]


def m2_plan(build: Build, board: Fitted[BoardFacts]) -> dict[str, tuple[tuple[int, M2Place], ...]] | None:
    """Return the board's places that the drives of each line get, numbered from 1 in the board's list.

    Places that surely take a drive at its full speed before others, the fastest first, of these such that
    switch nothing off. NVMe drives whose form is not told are taken for M.2. None if not all find a place.
    """
    drives = [drive for drive in build.of(StorageFacts) if goes_into_m2(drive)]
    numbered = [(n, p) for n, p in enumerate(board.facts.m2 or (), 1) if drive_places([p])]
    numbered.sort(key=lambda one: (-_speed(one[1]), bool(one[1].shares_with)))
    places = [place for _, place in numbered]
    found = next((got for goes in _BEST_FIRST if (got := placed(drives, places, goes)) is not None), None)
    if found is None:
        return None
    plan: dict[str, tuple[tuple[int, M2Place], ...]] = {}
    for drive, at in found:
        plan[drive.line] = (*plan.get(drive.line, ()), numbered[at])
    return plan


def placed(
    drives: Sequence[Drive], places: Sequence[M2Place], goes: Callable[[Drive, M2Place], bool]
) -> list[tuple[Drive, int]] | None:
    """Return each piece with the index of a place of its own, None if one gets none (Kuhn's algorithm).

    The first places go to the first drives, as far as all find one.
    """
    wanted = [drive for drive in drives for _ in range(min(drive.quantity, len(places) + 1))]
    taken: dict[int, int] = {}

    def find(piece: int, seen: set[int]) -> bool:
        fitting = [number for number, place in enumerate(places) if goes(wanted[piece], place)]
        for number in sorted(fitting, key=lambda number: number in taken):  # nobody moves without need
            if number in seen:
                continue
            seen.add(number)
            if number not in taken or find(taken[number], seen):
                taken[number] = piece
                return True
        return False

    if not all(find(piece, set()) for piece in range(len(wanted))):
        return None
    return [(wanted[piece], number) for number, piece in sorted(taken.items(), key=lambda one: one[1])]


def goes_in(drive: Drive, place: M2Place) -> bool | None:
    """Return whether a place takes a drive; None if what is known of them does not tell."""
    match = _M2_SIZE.match(drive.facts.form_factor)
    length = match["length"] if match else None
    fits = None if length is None else _long_enough(int(length), place.lengths)
    offered, wanted = place.interface.casefold(), link_of(drive).casefold()
    if not offered or not wanted:
        speaks = None
    elif "sata" in wanted:
        told = bool(find_pci_links(_spaced(place.interface)))  # a plain `PCIe` says nothing of SATA
        speaks = True if "sata" in offered else (False if told else None)
    else:
        speaks = "pci" in offered or "nvme" in offered
    if fits is False or speaks is False:
        return False
    return True if fits and speaks else None


def may_go(drive: Drive, place: M2Place) -> bool:
    """Return whether a place takes a drive as far as anything tells: nothing known is against it."""
    return goes_in(drive, place) is not False


def surely_goes(drive: Drive, place: M2Place) -> bool:
    """Return whether a place is known to take a drive."""
    return goes_in(drive, place) is True


def _long_enough(length_mm: int, lengths: tuple[int, ...]) -> bool | None:
    """Return whether a place takes a card of that length; None if its lengths do not tell."""
    if not lengths or (lengths == (LONGEST_MM,) and length_mm < LONGEST_MM):
        return None
    return length_mm in lengths


def link_of(drive: Drive) -> str:
    return f"{drive.facts.interface} {drive.facts.link}".strip()


def fast_enough(drive: Drive, place: M2Place) -> bool | None:
    """Return whether a place's generation is no older than the drive's; None if one of them is not told."""
    wanted, offered = find_pci_links(_spaced(link_of(drive))), find_pci_links(_spaced(place.interface))
    return offered[0].generation >= wanted[0].generation if wanted and offered else None


def _speed(place: M2Place) -> int:
    return max(
        (link.generation * 100 + (link.width or 0) for link in find_pci_links(_spaced(place.interface))),
        default=0,
    )


def _spaced(link: str) -> str:
    return re.sub(r"(?<=\d)(?=x\d)", " ", link)


_BEST_FIRST: tuple[Callable[[Drive, M2Place], bool], ...] = (
    lambda drive, place: surely_goes(drive, place) and fast_enough(drive, place) is True,
    lambda drive, place: surely_goes(drive, place) and fast_enough(drive, place) is not False,
    lambda drive, place: may_go(drive, place) and fast_enough(drive, place) is not False,
    may_go,
)
"""What is asked of every drive and its place; the first that all can meet is taken."""
