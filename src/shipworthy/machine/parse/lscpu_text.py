"""Reports of lscpu: its text, flat as before util-linux 2.36 or in groups as since, and its JSON.

Source: lscpu(1). Before 2.34 a cache's size is that of one cache; since then it is the sum over all, with the
number of instances behind it (from 2.37 on; from memory). A report in another language than English has other
names, and is not understood.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from shipworthy.machine.listing import said
from shipworthy.machine.parse.cpu.cpu_list import cpu_list, cpu_list_text
from shipworthy.machine.parse.cpu.words import instruction_sets, maker_of
from shipworthy.machine.parse.opening import opened_json
from shipworthy.machine.parse.units import BYTES_IN
from shipworthy.machine.raw import Fault, Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "lscpu-text"
MOST_BYTES = 1 << 20
MOST_SOCKETS = 256
_LINE = re.compile(r"([A-Za-z][^:]{0,60}):[ \t]+(\S.*)")
_KNOWN = ("CPU(s)", "Socket(s)", "Core(s) per socket", "Thread(s) per core")
_OLD_SIZE = re.compile(r"(\d{1,9})([KMG]?)")
_NEW_SIZE = re.compile(r"([\d.,]{1,12}) ([KMG]i?B|B)(?: \((\d{1,6}) instances?\))?")

Fields = dict[str, str]


def recognises(name: str, head: bytes) -> bool:
    """By the lines that every version prints; a JSON report has them as the values of `field`."""
    del name
    text = head.decode("utf-8", "replace")
    if text.lstrip().startswith("{"):
        return '"lscpu"' in text and '"field"' in text
    return re.search(r"^[ \t]*CPU\(s\):\s", text, re.MULTILINE) is not None and (
        re.search(r"^[ \t]*(Architecture|CPU op-mode\(s\)|Vendor ID):\s", text, re.MULTILINE) is not None
    )


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report. A sighting for each socket: the report says the same of all."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    fields = read_fields(reply.data)
    if not any(name in fields for name in _KNOWN):
        detail = "no line that lscpu prints in English"
        return Parsed(remarks=(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", detail),))
    sockets, said_of_each, wrong = _understood(fields)
    found = [
        Sighting(kind=PartKind.PROCESSOR, place=f"socket:{number}", source=reply.id, said=said_of_each)
        for number in range(sockets)
    ]
    remarks = [remark(reply.id, RemarkKind.BAD_VALUE, where, detail) for where, detail in wrong]
    return Parsed(tuple(found), remarks=tuple(remarks))


def read_fields(data: bytes) -> Fields:
    """Return the first value of each name, of either form; empty for what is neither."""
    if len(data) > MOST_BYTES:
        return {}
    fields: Fields = {}
    text = data.decode("utf-8", "replace")
    pairs = _json_pairs(text) if text.lstrip().startswith("{") else _text_pairs(text)
    for name, value in pairs:
        fields.setdefault(name, value)
    return fields


def _text_pairs(text: str) -> Iterator[tuple[str, str]]:
    for line in text.splitlines():
        match = _LINE.match(line.strip())
        if match:
            yield match[1], match[2].strip()


class _Node(msgspec.Struct):
    field: str = ""
    data: str | None = None
    children: list[_Node] = []


class _Report(msgspec.Struct):
    lscpu: list[_Node] = []


def _json_pairs(text: str) -> Iterator[tuple[str, str]]:
    report = opened_json(text, MOST_BYTES, _Report)
    waiting = [] if isinstance(report, Fault) else report.lscpu[::-1]
    while waiting:
        node = waiting.pop()
        if node.data is not None:
            yield node.field.strip().removesuffix(":"), node.data.strip()
        waiting += node.children[::-1]


def _number(fields: Fields, name: str) -> int | None:
    text = fields.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _understood(fields: Fields) -> tuple[int, tuple[Said, ...], list[tuple[str, str]]]:
    """Return the number of sockets, what is said of each, and what is wrong."""
    wrong: list[tuple[str, str]] = []
    sockets = _number(fields, "Socket(s)") or 1
    if sockets > MOST_SOCKETS:
        wrong.append(("Socket(s)", f"{sockets} sockets"))
        sockets = 1
    cores, threads = _counts(fields, sockets, wrong)
    maker, model = (" ".join(fields.get(name, "").split()) for name in ("Vendor ID", "Model name"))
    clock = _decimal(fields.get("CPU max MHz", ""))
    facts = (
        said("maker", maker_of(maker) if maker != "-" else None),
        said("model", model if model and model != "-" else None),
        said("family", _number(fields, "CPU family")),
        said("model_number", _number(fields, "Model")),
        said("stepping", _number(fields, "Stepping")),
        said("microcode", fields.get("Microcode version")),
        said("instruction_sets", instruction_sets(fields.get("Flags", "").split()) or None),
        said("cores", cores),
        said("threads", threads),
        *_list(fields, sockets, "On-line CPU(s) list", "online_cpus"),
        *_list(fields, sockets, "Off-line CPU(s) list", "offline_cpus"),
        said("max_mhz", int(clock) if clock and 100 <= clock <= 20_000 else None),
        *_cache(fields, sockets, "L1d cache", "l1d_bytes", "l1d_each_bytes"),
        *_cache(fields, sockets, "L2 cache", "l2_bytes", "l2_each_bytes"),
        *_cache(fields, sockets, "L3 cache", "l3_bytes", "l3_each_bytes"),
        *_cache(fields, sockets, "L4 cache", "l4_bytes", "l4_each_bytes"),
    )
    return sockets, facts, wrong


def _counts(
    fields: Fields, sockets: int, wrong: list[tuple[str, str]]
) -> tuple[int | Absent | None, int | Absent | None]:
    """Return cores and threads of a socket.

    lscpu reckons threads for each core from the first one. Where not all have so many (a hybrid) or some are
    offline, the product is more than the processors that it counts: then these are believed. A count that is
    below that of the cores is believed by nobody, unless the list of those online proves the product.
    """
    cores, per_core = _number(fields, "Core(s) per socket"), _number(fields, "Thread(s) per core")
    every = _number(fields, "CPU(s)")
    if cores is None or per_core is None:
        return cores, every // sockets if every and every % sockets == 0 else None
    product = sockets * cores * per_core
    if every == product:
        return cores, cores * per_core
    wrong.append(("CPU(s)", f"{every} processors, but {sockets} x {cores} x {per_core} are {product}"))
    if len(cpu_list(fields.get("On-line CPU(s) list", ""))) == product:
        return cores, cores * per_core
    if every is not None and sockets * cores <= every < product and every % sockets == 0:
        return cores, every // sockets
    return Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE


def _list(fields: Fields, sockets: int, line: str, name: str) -> tuple[Said, ...]:
    """Which of several sockets a listed one belongs to is not told."""
    listed = cpu_list(fields.get(line, ""))
    return (said(name, cpu_list_text(listed)),) if listed and sockets == 1 else ()


def _decimal(text: str) -> float | None:
    """A decimal comma stands where the report's language has one."""
    match = re.fullmatch(r"(\d{1,8})(?:[.,](\d{1,8}))?", text)
    return float(f"{match[1]}.{match[2] or 0}") if match else None


def _cache(fields: Fields, sockets: int, line: str, total: str, each: str) -> tuple[Said, ...]:
    text = fields.get(line)
    if text is None:
        return ()
    old, new = _OLD_SIZE.fullmatch(text), _NEW_SIZE.fullmatch(text)
    if old:
        size = int(old[1]) * BYTES_IN[old[2]]
        return (said(each, size),) if size else ()
    number = _decimal(new[1]) if new else None
    if new is None or number is None:
        return (said(total, Absent.IMPLAUSIBLE),)
    whole, count = round(number * BYTES_IN[new[2][0]]), int(new[3] or 0)
    exact = number == int(number) and whole % sockets == 0
    facts = [said(total, whole // sockets if exact else Absent.NOT_OFFERED)]
    if exact and count and whole % count == 0:
        facts.append(said(each, whole // count))
    return tuple(facts)
