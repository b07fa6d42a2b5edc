"""FreeBSD's list of PCI functions (`pciconf -lv`, also with `-bc`): ids, names, class, link, error bits.

Source: pciconf(8). A function is a line `vgapci0@pci0:1:0:0:⇥class=0x030000 …`, numbers of its place in
decimal; since FreeBSD 13 its ids are four fields, before that `chip` and `card` hold two each, the device in
the upper half. Lines below it are indented. Parts and fields are those of the source `pci`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.pci.source import kind_of
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, RemarkKind

NAME = "pciconf-text"
MOST_BYTES = 1 << 19  # some hundred functions with all their capabilities have less
MOST_FUNCTIONS = 2048
_HEAD = re.compile(
    r"([a-z][a-z0-9_]{0,31}?)([0-9]{1,5})?@pci(?:([0-9]{1,5}):)?([0-9]{1,3}):([0-9]{1,2}):([0-7]):"
    r"[ \t]+(class=.*)"
)
_RECOGNISED = re.compile(rb"^[a-z][a-z0-9_]*@pci[0-9:]+:[ \t]+class=0x[0-9a-f]{6} ", re.MULTILINE)
_IDS = re.compile(r"(?<![a-z])([a-z]{1,16})=0x([0-9a-fA-F]{1,8})")
_LINK = re.compile(r"link x([0-9]+)\(x([0-9]+)\)(?: speed (undef|[0-9.]+)\((undef|[0-9.]+)\))?")
_PORT = re.compile(
    r"= PCI-Express [0-9]+ (.{1,80}?)(?: (?:MSI|IRQ) [0-9]+)? max data ([0-9]{1,4})\(([0-9]{1,4})\)"
)
_AER = re.compile(r"= AER [0-9]+ ([0-9]{1,2}) fatal ([0-9]{1,2}) non-fatal ([0-9]{1,2}) corrected")
_GLUED = re.compile(r"(= Vendor [0-9]+)(?=[a-z][a-z0-9_]*@pci)")
"""pciconf once forgot a line's end behind a vendor's capability, so that the next function hangs on it."""
_NONE = ("0x0000", "0xffff")


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a list, by its beginning."""
    return _RECOGNISED.search(head) is not None


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one list."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    return Parsed(tuple(sightings(reply.data, reply.id)), remarks=tuple(_remarks(reply)))


def blocks(data: bytes) -> list[list[str]]:
    """Return the lines of each function, the one with its place first."""
    found: list[list[str]] = []
    for line in _text(data).split("\n"):
        if _HEAD.match(line):
            found.append([line])
        elif found and line[:1].isspace():
            found[-1].append(line.strip())
    return found[:MOST_FUNCTIONS]


def _text(data: bytes) -> str:
    return _GLUED.sub(r"\1\n", data[:MOST_BYTES].decode("utf-8", "replace"))


def sightings(data: bytes, source: str) -> Iterator[Sighting]:
    """Yield each function. It is also at its driver's name, by which the boot log of the machine calls it."""
    for lines in blocks(data):
        head = _HEAD.match(lines[0])
        if head is None:
            continue
        place = f"pci:{int(head[3] or 0):04x}:{int(head[4]):02x}:{int(head[5]):02x}.{head[6]}"
        ids = ids_of(head[7])
        unit = f"node:{head[1]}{head[2] or ''}"
        yield Sighting(
            kind=kind_of(str(ids.get("class", ""))),
            place=place,
            source=source,
            said=(*_id_facts(ids), *_name_facts(lines[1:], head[1]), *_express_facts(lines[1:])),
            also_at=() if head[1] == "none" else (unit,),
        )


def ids_of(text: str) -> dict[str, str]:
    """Return the ids by the names that are newer, whichever way the line tells them."""
    ids = {name: int(value, 16) for name, value in _IDS.findall(text)}
    if "chip" in ids:
        ids["vendor"], ids["device"] = ids["chip"] & 0xFFFF, ids["chip"] >> 16
    if "card" in ids:
        ids["subvendor"], ids["subdevice"] = ids["card"] & 0xFFFF, ids["card"] >> 16
    widths = {"class": 6, "rev": 2, "vendor": 4, "device": 4, "subvendor": 4, "subdevice": 4}
    return {name: f"0x{ids[name]:0{width}x}" for name, width in widths.items() if name in ids}


def _id_facts(ids: dict[str, str]) -> tuple[Said, ...]:
    return (
        said("vendor_id", ids.get("vendor")),
        said("device_id", ids.get("device")),
        said("subsystem_vendor_id", _subsystem(ids.get("subvendor"))),
        said("subsystem_device_id", _subsystem(ids.get("subdevice"))),
        said("class", ids.get("class")),
        said("revision_id", ids.get("rev")),
    )


def _subsystem(value: str | None) -> str | None:
    """0x0000 and 0xffff: the function has none."""
    return None if value in _NONE else value


def _name_facts(lines: list[str], driver: str) -> tuple[Said, ...]:
    """Names are from the list that the system holds. `none` is no driver: nothing took the function."""
    names = {}
    for line in lines:
        name, equals, value = line.partition("=")
        if equals and value.startswith(" '"):
            names[name.strip()] = value.strip(" '")
    fields = [
        said(field, names[name])
        for field, name in (("model", "device"), ("maker", "vendor"))
        if names.get(name)
    ]
    return (*fields, said("driver", None if driver == "none" else driver))


def _express_facts(lines: list[str]) -> tuple[Said, ...]:
    """Link and port of PCI Express. The numbers of AER are how many kinds of error are marked in the status
    registers, which firmware and probing mark too: not how many errors there were."""
    fields: list[Said] = []
    for line in lines:
        if port := _PORT.search(line):
            fields.append(said("port_type", port[1]))
            fields.append(said("payload_bytes", int(port[2])))
            fields.append(said("payload_max_bytes", int(port[3])))
        elif link := _LINK.match(line):
            fields.append(said("link_speed_gt_s", _speed(link[3])))
            fields.append(said("link_width", _lanes(link[1])))
            fields.append(said("link_max_speed_gt_s", _speed(link[4])))
            fields.append(said("link_max_width", _lanes(link[2])))
        elif aer := _AER.search(line):
            fields.append(said("aer_fatal_bits", int(aer[1])))
            fields.append(said("aer_nonfatal_bits", int(aer[2])))
            fields.append(said("aer_correctable_bits", int(aer[3])))
    return tuple({field.name: field for field in fields}.values())


def _speed(text: str | None) -> float | Absent:
    """GT/s; `0.0` and `undef`: no link. More than PCI Express 7 has (128) cannot be."""
    match = re.fullmatch(r"[0-9]{1,6}\.[0-9]{1,3}", text or "")
    value = float(match[0]) if match else 0.0
    return Absent.IMPLAUSIBLE if value > 128 else value or Absent.NOT_OFFERED


def _lanes(text: str) -> int | Absent:
    lanes = int(text[:9])
    return Absent.NOT_OFFERED if lanes == 0 else lanes if lanes <= 32 else Absent.IMPLAUSIBLE


def _remarks(reply: Reply) -> Iterator[Remark]:
    """Lines that look like a function and could not be read, and a list that is too long."""
    if len(reply.data) > MOST_BYTES or reply.data.count(b"@pci") > MOST_FUNCTIONS:
        yield remark(reply.id, RemarkKind.CUT_SHORT, "list", "the rest is not read")
    odd = [line for line in _text(reply.data).split("\n") if "@pci" in line and not _HEAD.match(line)]
    if odd:
        yield remark(
            reply.id, RemarkKind.NOT_UNDERSTOOD, "a line of a function", odd[0][:100], count=len(odd)
        )


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every function with every line that is a field, as it stands."""
    return tuple(
        Section(lines[0].partition("\t")[0].rstrip(":"), "", tuple(_as_they_stand(lines)))
        for lines in blocks(data)
    )


def _as_they_stand(lines: list[str]) -> Iterator[tuple[str, str]]:
    yield from _IDS.findall(lines[0])
    for line in lines[1:]:
        name, equals, value = line.partition("=")
        yield (name.strip(), value.strip(" '")) if equals else ("", line)
