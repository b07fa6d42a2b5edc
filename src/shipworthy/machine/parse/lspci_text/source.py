"""The report of `lspci`, as source of a machine that cannot be reached: `-nn`, `-vv`, `-vvnn` and `-vmm`.

Form: pciutils' lspci(8). A function's first line is `01:00.0 VGA compatible controller [0300]: name
[10de:2206] (rev a1)`; details follow, indented. With `-vmm` each function is a block of `Tag: value`.
What stands behind `<access denied>` was printed without root. The domain is 0000 where it is not printed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from shipworthy.machine.listing import said
from shipworthy.machine.parse.graphics import name_card, naming_facts
from shipworthy.machine.parse.lspci_text.details import detail_facts, function_of
from shipworthy.machine.parse.pci.links import links_of, offered, path_facts
from shipworthy.machine.parse.pci.source import kind_of
from shipworthy.machine.raw import Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "lspci-text"
MOST_BYTES = 8 << 20

_HEAD = re.compile(
    r"^((?:[0-9a-f]{4,8}:)?[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]) ([^:\n]{1,80}?)(?: \[([0-9a-f]{4})\])?: (\S.*)$"
)
_IDS = re.compile(r" \[([0-9a-f]{4}):([0-9a-f]{4})\]")
_REVISION = re.compile(r" \(rev ([0-9a-f]{2})\)")
_TAGGED = re.compile(rb"^(?:Slot|Device):\t(?:[0-9a-f]{4,8}:)?[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]$", re.MULTILINE)
_UNNAMED = re.compile(r"(?:unknown )?(?:vendor|device)(?: [0-9a-f]{4}(?::[0-9a-f]{4})?)?", re.IGNORECASE)
_MAKER_ALONE = re.compile(r"(.+) Device(?: [0-9a-f]{4})?")
"""A list that names a maker and not its card. Where it names both, nobody can tell where one name ends."""
_PROG_IF = re.compile(r" \(prog-if ([0-9a-f]{2})")
_BUS = re.compile(r"^[ \t]+Bus: primary=([0-9a-f]{2}), secondary=([0-9a-f]{2}),", re.MULTILINE)

# Words for a class, where the number is not printed (pci.ids, classes 02, 03, 0401 and 0403)
_CLASS_WORDS = {
    "VGA compatible controller": "0300",
    "XGA compatible controller": "0301",
    "3D controller": "0302",
    "Display controller": "0380",
    "Ethernet controller": "0200",
    "Network controller": "0280",
    "Infiniband controller": "0207",
    "Multimedia audio controller": "0401",
    "Audio device": "0403",
}


@dataclass
class Block:
    """One function as printed. ids: vendor and device. text: the lines below the first."""

    address: str
    class_word: str
    class_code: str = ""
    name: str = ""
    ids: tuple[str, str] | None = None
    revision: str = ""
    interface: str = ""
    maker: str = ""
    device: str = ""
    subsystem: tuple[str, str] | None = None
    card_maker: str = ""
    card: str = ""
    lines: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "\n".join(self.lines)


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report: its first full line is a function."""
    del name
    if _TAGGED.search(head):
        return True
    lines = (line for line in head.decode("utf-8", "replace").splitlines() if line.strip())
    return any(_HEAD.match(line) is not None for line, _ in zip(lines, range(3), strict=False))


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    if len(reply.data) > MOST_BYTES:
        return Parsed(remarks=(remark(reply.id, RemarkKind.BAD_LENGTH, "file"),))
    blocks, left = read_blocks(reply.data.decode("utf-8", "replace"))
    return Parsed(tuple(_sightings(blocks, reply.id)), remarks=tuple(_remarks(blocks, left, reply.id)))


def read_blocks(text: str) -> tuple[list[Block], int]:
    """Return the functions of a report, and how many lines belong to none."""
    if _TAGGED.search(text[:4096].encode("utf-8", "replace")):
        return list(_tagged(text)), 0
    blocks: list[Block] = []
    left = 0
    for line in text.splitlines():
        match = _HEAD.match(line)
        if match is not None:
            blocks.append(_block(*match.groups()))
        elif line[:1] in (" ", "\t") and blocks:
            blocks[-1].lines.append(line)
        elif line.strip():
            left += 1
    for block in blocks:
        _read_subsystem(block)
    return blocks, left


def _block(address: str, word: str, code: str | None, rest: str) -> Block:
    ids, revision = _IDS.findall(rest), _REVISION.search(rest)
    name = _REVISION.sub("", rest.split(" (prog-if ")[0])
    if ids:
        name = name[: name.rindex(f" [{ids[-1][0]}:{ids[-1][1]}]")]
    elif (bare := re.match(r"(?:Device )?([0-9a-f]{4}):([0-9a-f]{4})\b", rest)) is not None:
        ids, name = [(bare[1], bare[2])], ""  # `-n` alone, or neither maker nor device has a name
    if re.fullmatch(r"[0-9a-f]{4}", word) and code is None:
        word, code = "", word
    return Block(
        address=whole_address(address),
        class_word=word,
        class_code=code or _CLASS_WORDS.get(word, ""),
        name=name.strip(),
        ids=(ids[-1][0], ids[-1][1]) if ids else None,
        revision=revision[1] if revision else "",
        interface=interface[1] if (interface := _PROG_IF.search(rest)) else "",
    )


def whole_address(address: str) -> str:
    """Return an address with its domain."""
    return address if address.count(":") == 2 else f"0000:{address}"


def known_name(text: str) -> str:
    """Return a name; empty for lspci's words for a thing that its list does not name."""
    return "" if _UNNAMED.fullmatch(text) else text


def _read_subsystem(block: Block) -> None:
    match = re.search(
        r"^[ \t]+(?:Capabilities: \[[0-9a-f]+\] )?Subsystem: (.*?)(?: ?\[([0-9a-f]{4}):([0-9a-f]{4})\])?$",
        block.text,
        re.MULTILINE,
    )
    if match is not None:
        block.subsystem = (match[2], match[3]) if match[2] else None
        alone = _MAKER_ALONE.fullmatch(match[1])
        block.card_maker = alone[1] if alone else ""


def _tagged(text: str) -> Iterator[Block]:
    for piece in re.split(r"\n\s*\n", text):
        tags: dict[str, str] = {}
        for line in piece.splitlines():
            tag, colon, value = line.partition(":\t")
            if colon:
                tags.setdefault(tag if tag not in tags else f"{tag}.2", value.strip())
        if "Slot" not in tags and "Device.2" in tags:  # older versions call both the slot and the device so
            tags["Slot"], tags["Device"] = tags["Device"], tags["Device.2"]
        if not re.fullmatch(r"(?:[0-9a-f]{4,8}:)?[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]", tags.get("Slot", "")):
            continue
        yield _tagged_block(tags)


def _named(text: str) -> tuple[str, str]:
    """Split `NVIDIA Corporation [10de]`, `NVIDIA Corporation` and `10de` into name and id."""
    match = re.fullmatch(r"(.*?) ?\[([0-9a-f]{4})\]", text)
    if match is not None:
        return match[1], match[2]
    return ("", text) if re.fullmatch(r"[0-9a-f]{4}", text) else (text, "")


def _tagged_block(tags: dict[str, str]) -> Block:
    word, code = _named(tags.get("Class", ""))
    maker, vendor = _named(tags.get("Vendor", ""))
    device, number = _named(tags.get("Device", ""))
    card_maker, card_vendor = _named(tags.get("SVendor", ""))
    card, card_number = _named(tags.get("SDevice", ""))
    return Block(
        address=whole_address(tags["Slot"]),
        class_word=word,
        class_code=code or _CLASS_WORDS.get(word, ""),
        ids=(vendor, number) if vendor and number else None,
        revision=tags.get("Rev", ""),
        interface=tags.get("ProgIf", ""),
        maker=known_name(maker),
        device=known_name(device),
        subsystem=(card_vendor, card_number) if card_vendor and card_number else None,
        card_maker=known_name(card_maker),
        card=known_name(card),
        lines=[f"\tKernel driver in use: {tags['Driver']}"] if "Driver" in tags else [],
    )


def _sightings(blocks: list[Block], source: str) -> Iterator[Sighting]:
    functions = {block.address: function_of(block.address, block.text) for block in blocks}
    above = _bridges(blocks)
    tells_links = any(not function.silent for function in functions.values())
    for block in blocks:
        kind = kind_of(block.class_code) if block.class_code else PartKind.PCI_DEVICE
        fields = [*_identity(block, kind), *detail_facts(block.text, functions[block.address])]
        if tells_links:
            fields += path_facts(links_of(_chain(block.address, above), functions))
        yield Sighting(kind=kind, place=f"pci:{block.address}", source=source, said=tuple(fields))


def _bridges(blocks: list[Block]) -> dict[str, str]:
    """Return by bus, with its domain, the bridge that it lies behind (`Bus: primary=00, secondary=01`)."""
    found: dict[str, str] = {}
    for block in blocks:
        match = _BUS.search(block.text)
        domain = block.address.split(":")[0]
        if match is not None and match[1] != match[2] and match[2] != "00":
            found.setdefault(f"{domain}:{match[2]}", block.address)
    return found


def _chain(address: str, above: dict[str, str]) -> tuple[str, ...]:
    chain = [address]
    while len(chain) < 64 and (bridge := above.get(chain[0].rsplit(":", 1)[0])) and bridge not in chain:
        chain.insert(0, bridge)
    return tuple(chain)


def _identity(block: Block, kind: PartKind) -> Iterator[Said]:
    vendor, device = block.ids or ("", "")
    yield said("vendor_id", f"0x{vendor}" if vendor else None)
    yield said("device_id", f"0x{device}" if device else None)
    if block.subsystem is not None:
        maker, card = (None if value in ("0000", "ffff") else f"0x{value}" for value in block.subsystem)
        yield said("subsystem_vendor_id", maker)
        yield said("subsystem_device_id", card)
    if block.class_code:
        yield said("class", f"0x{block.class_code}{_interface(block)}")
    if block.revision:
        yield said("revision_id", Absent.IMPLAUSIBLE if block.revision == "ff" else f"0x{block.revision}")
    if (name := known_name(block.name)) and not re.search(r" Device(?: [0-9a-f]{4})?$", name):
        yield said("description", name)
    if kind is PartKind.GRAPHICS:
        listed = block.device or (block.name if block.name.endswith("]") else "")
        fields = naming_facts(name_card(((), False), listed, block.card, None))
        yield from (f for f in fields if block.device or f.name != "chip")  # else the maker stands before it
    elif block.device:
        yield said("model", block.device)
    yield from offered(
        said("maker", block.maker or None),
        said("card_maker", block.card_maker or None),
        said("card_model", block.card or None),
    )


def _interface(block: Block) -> str:
    """The class's last byte. A verbose report leaves it out where it is 00, a brief one always."""
    return block.interface or ("00" if "\tControl: " in block.text else "")


def _remarks(blocks: list[Block], left: int, source: str) -> Iterator[Remark]:
    if left:
        yield remark(source, RemarkKind.NOT_UNDERSTOOD, "lines of no function", count=left)
    for block in blocks:
        if "!!! Unknown header type 7f" in block.text or block.revision == "ff":
            yield remark(source, RemarkKind.NOT_ANSWERED, block.address, "its registers are all ones")
