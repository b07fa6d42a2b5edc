"""Processors: /proc/cpuinfo, and the package power limits. Their topology is in `topology`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from shipworthy.machine.listing import Listing, number_or_implausible, said
from shipworthy.machine.parse.cpu.topology import parse_topology as parse_topology
from shipworthy.machine.parse.cpu.words import instruction_sets, maker_of
from shipworthy.machine.raw import Parsed, Reply, remark, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

_SAME = ("model name", "microcode", "stepping")

Block = dict[str, str]


def parse_cpuinfo(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `cpuinfo`: a block of `name : value` lines for each processor that is online.

    One sighting a socket (`physical id`; without one all are socket 0). instruction_sets: of those that all
    its processors have. Processors of one socket that do not agree on what they are get a remark.
    """
    reply = reply_read(replies, "cpuinfo")
    if reply is None:
        return Parsed()
    sockets: dict[int, list[Block]] = {}
    for text in reply.data.decode("utf-8", "replace").split("\n\n"):
        block = _fields(text)
        if "processor" in block:
            sockets.setdefault(_socket(block), []).append(block)
    found = [_sighting(s, reply.id, _cpuinfo_facts(blocks)) for s, blocks in sorted(sockets.items())]
    remarks = [r for socket, blocks in sorted(sockets.items()) for r in _remarks(reply.id, socket, blocks)]
    return Parsed(tuple(found), remarks=tuple(remarks))


def _fields(block: str) -> Block:
    pairs = (line.partition(":") for line in block.splitlines())
    return {name.strip(): value.strip() for name, _, value in pairs}


def _socket(block: Block) -> int:
    text = block.get("physical id", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0


def _sighting(socket: int, source: str, fields: tuple[Said, ...]) -> Sighting:
    return Sighting(kind=PartKind.PROCESSOR, place=f"socket:{socket}", source=source, said=fields)


def _remarks(source: str, socket: int, blocks: Sequence[Block]) -> Iterable[Remark]:
    for name in _SAME:
        values = sorted({block[name] for block in blocks if name in block})
        if len(values) > 1:
            detail = f"{name}: {', '.join(values[:4])}"
            yield remark(source, RemarkKind.BAD_VALUE, f"socket {socket}", detail)


def _cpuinfo_facts(blocks: Sequence[Block]) -> tuple[Said, ...]:
    block = blocks[0]
    model = " ".join(block.get("model name", "").split()) or None
    return (
        said("maker", maker_of(block.get("vendor_id", ""))),
        said("model", model),
        said("family", _number(block.get("cpu family"))),
        said("model_number", _number(block.get("model"))),
        said("stepping", _number(block.get("stepping"))),
        said("microcode", block.get("microcode") or None),
        said("instruction_sets", _common_sets(blocks) or None),
        said("online_threads", len(blocks)),
    )


def _number(text: str | None) -> int | Absent | None:
    """`unknown` is what the kernel writes for a stepping that the processor does not tell."""
    return None if text is None or text == "unknown" else number_or_implausible(text)


def _common_sets(blocks: Sequence[Block]) -> str:
    texts = {block.get("flags") or block.get("Features") or "" for block in blocks}
    return instruction_sets(set.intersection(*(set(text.split()) for text in texts)))


def parse_power_limits(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `power-limits`: of each package its long-term and short-term limit, in W."""
    reply = reply_read(replies, "power-limits")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for zone in listing.names("/sys/class/powercap"):
        folder = f"/sys/class/powercap/{zone}"
        package = re.fullmatch(r"package-(\d+)", listing.text(f"{folder}/name") or "")
        if package:
            fields = tuple(
                listing.said(f"power_limit_{term}_w", f"{folder}/constraint_{index}_power_limit_uw", _watts)
                for index, term in enumerate(("long", "short"))
            )
            found.append(_sighting(int(package[1]), reply.id, fields))
    return Parsed(tuple(found))


def _watts(text: str) -> float | Absent:
    """A limit of 0 or of more than any socket draws (4 kW) is no limit."""
    microwatts = number_or_implausible(text)
    if isinstance(microwatts, Absent):
        return microwatts
    return round(microwatts / 1e6, 3) if 0 < microwatts < 4_000_000_000 else Absent.NOT_OFFERED
