"""Join what all sources say into parts. Nobody's word is lost: what is not believed is a witness.

Sightings are of one part where they are of one kind and share a place. Of each field one source is
believed, by the order in PRECEDENCE.
"""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.machine.pairing import natural, paired
from shipworthy.model.facts import Fact, Part, Said, Sighting, Witness
from shipworthy.model.words import Absent, PartKind

PRECEDENCE: dict[PartKind, tuple[str, tuple[str, ...]]] = {
    PartKind.PROCESSOR: (
        "the processor over the firmware",
        ("cpuinfo", "topology", "power-limits", "smbios"),
    ),
    PartKind.MEMORY: ("the firmware over the kernel", ("smbios", "meminfo")),
    PartKind.FIRMWARE: ("the table over the kernel's copy", ("smbios", "dmi-id", "boot")),
    PartKind.SYSTEM: ("the table over the kernel's copy", ("smbios", "dmi-id")),
    PartKind.BOARD: ("the table over the kernel's copy", ("smbios", "dmi-id")),
    PartKind.CHASSIS: ("the table over the kernel's copy", ("smbios", "dmi-id")),
    PartKind.STORAGE: ("the drive over the kernel", ("nvme", "ata", "block")),
    PartKind.GRAPHICS: ("the driver over the list of names", ("pci", "pci.names")),
    PartKind.NETWORK: ("the bus over the interface", ("pci", "pci.names", "network")),
    PartKind.SOUND: ("the bus over the list of names", ("pci", "pci.names")),
    PartKind.PCI_DEVICE: ("the bus over the list of names", ("pci", "pci.names")),
}
"""Of each kind of part: the rule's name, and sources from the most to the least believed. A source stands
for all its replies unless one is named. Sources not listed (other packages') come last, in their order."""

_REASONS = (
    Absent.NOT_FITTED,
    Absent.NOT_READABLE,
    Absent.IMPLAUSIBLE,
    Absent.NOT_OFFERED,
    Absent.NOT_ASKED,
)
"""Which reason is believed where no source has a value: the one that tells most, then what can be mended."""

_CUT = {"model": 16, "firmware_version": 4}
"""SCSI's inquiry has room for this many signs, so the kernel's copy of an ATA drive's name is cut off."""


def join(sightings: Sequence[Sighting]) -> tuple[Part, ...]:
    """Return the parts, ordered by kind and place. The same sightings give the same parts."""
    groups: list[list[Sighting]] = []
    where: dict[tuple[PartKind, str], list[Sighting]] = {}
    for sighting in paired(sightings):
        keys = [(sighting.kind, place) for place in (sighting.place, *sighting.also_at)]
        known = [where[key] for key in keys if key in where]
        group = known[0] if known else []
        for other in known[1:]:
            if other is not group:
                group.extend(other)
                groups.remove(other)
                where.update({key: group for key, value in where.items() if value is other})
        if not known:
            groups.append(group)
        group.append(sighting)
        where.update(dict.fromkeys(keys, group))
    kinds = list(PartKind)
    return tuple(sorted((_part(g) for g in groups), key=lambda p: (kinds.index(p.kind), natural(p.place))))


def _part(group: list[Sighting]) -> Part:
    first = group[0]
    also = dict.fromkeys(place for s in group for place in (s.place, *s.also_at) if place != first.place)
    words: dict[str, list[tuple[str, Said]]] = {}
    for sighting in group:
        for said in sighting.said:
            words.setdefault(said.name, []).append((sighting.source, said))
    rule, order = PRECEDENCE.get(first.kind, ("the order of the sources", ()))
    facts = tuple(_fact(name, said, rule, order) for name, said in words.items())
    return Part(kind=first.kind, place=first.place, facts=facts, also_at=tuple(also))


def _rank(source: str, order: tuple[str, ...]) -> int:
    exact = order.index(source) if source in order else None
    head = source.split(".", 1)[0]
    if exact is not None:
        return exact
    return order.index(head) if head in order else len(order)


def _fact(name: str, words: list[tuple[str, Said]], rule: str, order: tuple[str, ...]) -> Fact:
    ranked = sorted(words, key=lambda word: _rank(word[0], order))
    valued = [word for word in ranked if word[1].value is not None]
    if valued:
        source, believed = valued[0]
    else:
        source, believed = min(ranked, key=lambda word: _REASONS.index(word[1].absent or Absent.NOT_ASKED))
    others = [w for w in ranked if w != (source, believed) and not _is_cut_copy(name, w[1], believed)]
    values = {word[1].value for word in valued if not _is_cut_copy(name, word[1], believed)}
    if len(valued) < 2 or len(values) == 0:
        rule = "only"
    elif len(values) == 1:
        rule = "agreed"
    witnesses = tuple(Witness(source=s, value=w.value, absent=w.absent) for s, w in others)
    return Fact(
        name=name, source=source, value=believed.value, absent=believed.absent, rule=rule, witnesses=witnesses
    )


def _is_cut_copy(name: str, word: Said, believed: Said) -> bool:
    """Whether a word is the beginning of the believed one, as long as a cut copy is."""
    if word is believed or name not in _CUT:
        return False
    value, whole = word.value, believed.value
    if not isinstance(value, str) or not isinstance(whole, str) or value == whole:
        return False
    return whole.startswith(value) and _CUT[name] - 2 <= len(value) <= _CUT[name]
