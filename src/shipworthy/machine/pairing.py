"""Tell that two sources speak of one part though they know it at different places.

Firmware counts sockets and slots in its own way, a module's SPD hangs on a bus, and a report of another tool
knows a drive by its nickname alone. What pairs them is the serial; where none does, they stay apart.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

import msgspec

from shipworthy.machine.parse.spd import pairs as spd_pairs
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_NICKNAME, _NO_PLACE = "node:", "report:"
_NAMESPACE = re.compile(r"(nvme\d+)n\d+")


def natural(text: str) -> tuple[tuple[int, int | str], ...]:
    """Return a key that puts `cpu:10` after `cpu:9`."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple((0, int(piece)) if piece[0].isdigit() else (1, piece) for piece in pieces)


def paired(sightings: Sequence[Sighting]) -> list[Sighting]:
    """Return the sightings with one place for what is one part, as far as that can be told."""
    return _drives(_modules(_slots(_processors(sightings))))


def _moved(sighting: Sighting, place: str) -> Sighting:
    return msgspec.structs.replace(sighting, place=place, also_at=(*sighting.also_at, sighting.place))


def _processors(sightings: Sequence[Sighting]) -> list[Sighting]:
    """The firmware counts sockets in an order of its own and does not know the kernel's numbers. Where both
    know equally many processors they are taken in order, which is exact for one; else they stay apart."""
    kernel = {s.place for s in sightings if s.kind is PartKind.PROCESSOR and s.place.startswith("socket:")}
    firmware = {s.place for s in sightings if s.place.startswith("smbios-processor:")}
    if len(kernel) != len(firmware):
        return list(sightings)
    pairs = dict(zip(sorted(firmware, key=natural), sorted(kernel, key=natural), strict=True))
    return [_moved(s, pairs[s.place]) if s.place in pairs else s for s in sightings]


def _slots(sightings: list[Sighting]) -> list[Sighting]:
    """A report that leaves out the bank's name (lshw) knows a slot by its locator alone. It is the one slot
    of that locator; of several, all reports list them in the table's order, where they know equally many."""
    slots = dict.fromkeys(s.place for s in sightings if s.kind is PartKind.MEMORY_MODULE)
    named: dict[str, list[str]] = {}
    for place in slots:
        bare = re.sub(r"#\d+$", "", place)
        if any(other.startswith(f"{bare}/") for other in slots):
            named.setdefault(bare, []).append(place)
    pairs: dict[str, str] = {}
    for bare, places in named.items():
        whole = [other for other in slots if other.startswith(f"{bare}/")]
        pairs |= dict(zip(places, whole, strict=True)) if len(whole) == len(places) else {}
    return [
        _moved(s, pairs[s.place]) if s.kind is PartKind.MEMORY_MODULE and s.place in pairs else s
        for s in sightings
    ]


def _modules(sightings: list[Sighting]) -> list[Sighting]:
    """An SPD that no slot can be told for is a part of its own kind, so that no module is counted twice."""
    modules = [s for s in sightings if s.kind is PartKind.MEMORY_MODULE]
    chips = [s for s in modules if _is_spd(s)]
    slots = list({s.place: s for s in modules if not _is_spd(s) and _fitted(s)}.values())
    if not slots or not chips:
        return sightings
    pairs = spd_pairs.pairs(slots, chips)

    def placed(sighting: Sighting) -> Sighting:
        if sighting not in chips:
            return sighting
        if sighting.place in pairs:
            return _moved(sighting, pairs[sighting.place])
        return msgspec.structs.replace(sighting, kind=PartKind.UNPLACED_MODULE)

    return [placed(s) for s in sightings]


def _drives(sightings: list[Sighting]) -> list[Sighting]:
    """A drive known by its nickname is the wired one with the same serial, if exactly one has it."""
    sightings = _ports(_controllers(_by_serial(sightings)))
    groups = _one_place([s for s in sightings if s.kind is PartKind.STORAGE])
    wired = _by_word([g for g in groups if any(map(_is_wired, g))], _serials)
    named = _by_word([g for g in groups if not any(map(_is_wired, g))], _serials)
    places: dict[str, str] = {}
    for group in {id(g): g for one in named.values() for g in one}.values():
        found = _sharing(group, wired, _serials)
        if len(found) == 1 and len(_sharing(found[0], named, _serials)) == 1:
            where = next(p for s in found[0] for p in _places(s) if _is_wiring(p))
            places |= {s.place: where for s in group}
    return [
        _moved(s, places[s.place]) if s.kind is PartKind.STORAGE and s.place in places else s
        for s in sightings
    ]


def _by_serial(sightings: list[Sighting]) -> list[Sighting]:
    """The kernel gives nicknames anew at each start, so two reports may have them the other way round. Drives
    that reports know by one serial and several nicknames, or by none, are at one of these."""
    loose = [s for s in sightings if s.kind is PartKind.STORAGE and not _is_wired(s)]
    groups: dict[str, list[Sighting]] = {}
    for s in loose:
        for serial in _serials([s]):
            groups.setdefault(serial, []).append(s)
    to: dict[tuple[str, str], str] = {}
    for _, group in sorted(groups.items()):
        home = _home(group, loose)
        if home and home not in to.values():
            to |= {(s.source, s.place): home for s in group}
    return [
        msgspec.structs.replace(s, place=to[s.source, s.place], also_at=())
        if s.kind is PartKind.STORAGE and not _is_wired(s) and (s.source, s.place) in to
        else s
        for s in sightings
    ]


def _home(group: Sequence[Sighting], loose: Sequence[Sighting]) -> str:
    """Return the place for sightings of one serial: one where none of their reports has another drive.

    Empty where they need none, as they have one nickname; and where a report has the serial twice.
    """
    reports = {s.source for s in group}
    names = {_NAMESPACE.sub(r"\1", name) for s in group for name in (_nicknames(s) or (s.place,))}
    if len(reports) < len(group) or len(names) < 2:
        return ""
    free = (
        s.place
        for s in group
        if not any(o.source in reports and s.place in _places(o) for o in loose if o not in group)
    )
    return min(free, key=lambda place: (not place.startswith(_NICKNAME), natural(place)), default="")


def _controllers(sightings: list[Sighting]) -> list[Sighting]:
    """A report of an NVMe controller is of its namespace, where the others know of exactly one."""
    names = {p for s in sightings if s.kind is PartKind.STORAGE for p in _nicknames(s)}
    below: dict[str, list[str]] = {}
    for name in names:
        if match := _NAMESPACE.fullmatch(name):
            below.setdefault(match[1], []).append(name)
    return [
        _moved(s, _NICKNAME + below[name][0])
        if s.kind is PartKind.STORAGE
        and not s.also_at
        and len(below.get(name := s.place.removeprefix(_NICKNAME), ())) == 1
        else s
        for s in sightings
    ]


def _ports(sightings: list[Sighting]) -> list[Sighting]:
    """A kernel's log knows a SATA drive by libata's number of its port, which nobody else gives, and tells
    no serial. It is the one drive of that model, where the log and the other reports know one each."""
    groups = _one_place([s for s in sightings if s.kind is PartKind.STORAGE])
    by_model = _by_word(groups, _models)
    pairs: dict[str, str] = {}
    for group in filter(_is_of_the_log, groups):
        others = [other for other in _sharing(group, by_model, _models) if other is not group]
        if len(others) != 1 or _is_of_the_log(others[0]) or _serials(group):
            continue
        if not _differ(group, others[0]):
            pairs |= {s.place: others[0][0].place for s in group}
    return [
        _moved(s, pairs[s.place]) if s.kind is PartKind.STORAGE and s.place in pairs else s for s in sightings
    ]


def _is_of_the_log(group: Iterable[Sighting]) -> bool:
    return all(name.startswith("ata") for s in group for name in _nicknames(s) or ("",))


def _models(group: Iterable[Sighting]) -> set[str]:
    return {str(said.value) for s in group for said in _named(s, "model") if said.value is not None}


def _differ(one: Sequence[Sighting], other: Sequence[Sighting]) -> bool:
    """Return whether both say how large the drive is, or by which firmware it runs, and not the same."""

    def values(group: Sequence[Sighting], name: str) -> set[object]:
        return {said.value for s in group for said in _named(s, name) if said.value is not None}

    def other_versions(a: set[object], b: set[object]) -> bool:
        return not any(same_firmware(str(x), str(y)) for x in a for y in b)

    for name, differ in (("size_bytes", set[object].isdisjoint), ("firmware_version", other_versions)):
        mine, its = values(one, name), values(other, name)
        if mine and its and differ(mine, its):
            return True
    return False


def same_firmware(one: str, other: str) -> bool:
    """Whether two words for a drive's firmware version may be one, told in eight signs and in four.

    SCSI's inquiry has room for four: of an ATA drive's eight these are the last four, the first where those
    are blank (T10 SAT, and libata; from memory).
    """
    short, whole = sorted((one.strip(), other.strip()), key=len)
    return bool(short) and short in (whole, whole[:4].strip(), whole[4:8].strip())


Group = list[Sighting]
Words = Callable[[Iterable[Sighting]], set[str]]


def _one_place(sightings: Sequence[Sighting]) -> list[Group]:
    """Return the sightings in groups that share a place."""
    groups: dict[int, Group] = {}
    where: dict[str, Group] = {}
    for sighting in sightings:
        alike = {id(where[place]): where[place] for place in _places(sighting) if place in where}
        group = [*(s for one in alike.values() for s in one), sighting]
        for number in alike:
            del groups[number]
        groups[id(group)] = group
        where.update(dict.fromkeys((place for s in group for place in _places(s)), group))
    return list(groups.values())


def _by_word(groups: Iterable[Group], words: Words) -> dict[str, list[Group]]:
    """Return the groups by each serial, or model, that stands in them."""
    found: dict[str, list[Group]] = {}
    for group in groups:
        for word in words(group):
            found.setdefault(word, []).append(group)
    return found


def _sharing(group: Group, known: dict[str, list[Group]], words: Words) -> list[Group]:
    """Return the known groups that have a word of this one's."""
    return list({id(g): g for word in words(group) for g in known.get(word, ())}.values())


def _places(sighting: Sighting) -> tuple[str, ...]:
    return (sighting.place, *sighting.also_at)


def _is_wired(sighting: Sighting) -> bool:
    return any(map(_is_wiring, _places(sighting)))


def _is_wiring(place: str) -> bool:
    return not place.startswith((_NICKNAME, _NO_PLACE))


def _nicknames(sighting: Sighting) -> tuple[str, ...]:
    return tuple(p.removeprefix(_NICKNAME) for p in _places(sighting) if p.startswith(_NICKNAME))


def _serials(sightings: Iterable[Sighting]) -> set[str]:
    """Return the serials that drives give, in one spelling. A text that firmware leaves is none."""
    texts = [str(said.value) for s in sightings for said in _named(s, "serial") if said.value is not None]
    bare = {re.sub(r"[^0-9A-Z]", "", text.upper()) for text in texts if not is_placeholder(text)}
    return {serial for serial in bare if not is_placeholder(serial)}


def _is_spd(sighting: Sighting) -> bool:
    return sighting.source.split(".", 1)[0] == "spd"


def _fitted(sighting: Sighting) -> bool:
    return all(said.absent is not Absent.NOT_FITTED for said in _named(sighting, "size_bytes"))


def _named(sighting: Sighting, name: str) -> Iterable[Said]:
    return (said for said in sighting.said if said.name == name)
