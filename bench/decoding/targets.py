"""The decoders that the mutator feeds: each with what it is fed, what it does, and what must hold of it.

A decoder may raise nothing, but for the unpacking of a stream from another account, whose own word is
Trouble. What is parsed must be storable: no number that JSON does not have, no half of a character.
"""

from __future__ import annotations

import io
import random
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from decoding.corpus import Fed, corpora
from decoding.corpus_pages import CORES, sealed, summed, with_sum
from decoding.corpus_reports import reports
from decoding.corpus_tree import add_devices
from decoding.spoiling import spoiled, spoiled_replies, spoiled_text
from shipworthy.machine import scrubbing
from shipworthy.machine.capture.unpack import unpack
from shipworthy.machine.kinds import KINDS, Kind
from shipworthy.machine.parse import scsi
from shipworthy.machine.parse.network import ethtool as network_ethtool
from shipworthy.machine.parse.optical import mmc as optical_mmc
from shipworthy.machine.parse.usb import descriptors as usb_descriptors
from shipworthy.machine.pseudonyms import Pseudonyms
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.sources import SOURCES
from shipworthy.model.base import Trouble, encode
from shipworthy.model.reading import SourceOutcome
from shipworthy.sim.unit import build

Mend = Callable[[bytes], bytes]
NAMES = Pseudonyms(b"of no specimen")
SCRUBBED = {
    "edid": ("edid.1.bin",),
    "smbios": ("smbios.table.bin", "smbios-file.1.bin"),
    "spd": ("spd.0-0050.bin",),
    "ata-identify": ("ata.sda.identify.bin",),
}
"""What is scrubbed before a specimen is given away: the raw files' names tell how."""


@dataclass(frozen=True)
class Target:
    """One decoder.

    make: an input, by chance alone. steps: what is done with it, by name; each has the bounds to itself.
    check: raises where a step's result cannot be; its time is not the decoder's. own: its own exceptions.
    most_cpu_s: the bound of each step.
    """

    name: str
    make: Callable[[random.Random], Any]
    steps: dict[str, Callable[[Any], object]]
    check: Callable[[Any, object], None] = lambda data, result: None
    own: tuple[type[Exception], ...] = field(default=())
    most_cpu_s: float = 0.050


def targets(data: Path, work: Path) -> Iterator[Target]:
    """Yield every decoder, in a fixed order. data: the reference data. work: a folder of our own."""
    fed = corpora(data)
    for kind in KINDS:
        if kind.suffix == "bin":
            yield Target(kind.name, _maker(kind.name, fed[kind.name]), _steps(kind), _storable)
    plain: dict[str, dict[str, Callable[[bytes], object]]] = {
        "usb-capabilities": {
            "describe": usb_descriptors.describe,
            "speed": usb_descriptors.capability_mbit_s,
            "power": partial(usb_descriptors.self_powered, configuration=None),
        },
        "ethtool": {"describe": network_ethtool.describe, "permanent": network_ethtool.permanent_mac},
        "optical": {"describe": optical_mmc.describe},
        "scsi": {"describe": scsi.describe, "names": scsi.identification_facts},
    }
    for name, steps in plain.items():
        yield Target(name, _maker(name, fed[name]), steps, _storable)
    for name, files in SCRUBBED.items():
        steps = {file: partial(_scrubbed, file) for file in files}
        yield Target(f"scrub-{name}", _maker(name, fed[name]), steps, _same_length)
    stream, unpacking = fed["privileged-stream"], partial(_unpacked, work / "unpacked")
    make = _maker("privileged-stream", stream)
    yield Target("privileged-stream", make, {"unpack": unpacking}, own=(Trouble,))
    yield from _listings(work / "unit")
    yield from _reports(data)


def _steps(kind: Kind) -> dict[str, Callable[[bytes], object]]:
    def parse(data: bytes) -> Parsed:
        return kind.parse((Reply(kind.name, "file", SourceOutcome.READ, kind.prepare(data), suffix="bin"),))

    steps: dict[str, Callable[[bytes], object]] = {"parse": parse}
    if kind.describe is not None:
        steps["describe"] = kind.describe
    if kind.recognises is not None:
        recognises = kind.recognises
        steps["recognise"] = lambda data: recognises("file", data[:4096])
    return steps


def _maker(name: str, fed: Fed) -> Callable[[random.Random], bytes]:
    mend, others = MENDS.get(name, bytes), [*fed.own, *fed.real]

    def make(chance: random.Random) -> bytes:
        data = spoiled(fed.page(chance), chance, others)
        return mend(data) if chance.random() < 0.5 else data

    return make


# Sums, put right on half of the inputs: a decoder that stops at a wrong one is then tried behind it, too


def _edid_sums(data: bytes) -> bytes:
    """Every whole block's sum holds, and those of DisplayID sections within blocks."""
    found = bytearray(data)
    for at in range(0, len(data) - 127, 128):
        block = found[at : at + 128]
        if block[0] == 0x70 and block[2] <= 121:
            end = 5 + block[2]
            block[end] = -sum(block[1:end]) % 256
        found[at : at + 128] = with_sum(bytes(block))
    return bytes(found)


def _entry_sums(data: bytes) -> bytes:
    """An entry point's sums hold (DSP0134, 5.2): all of it, and the intermediate one of the 2.1 form."""
    found = bytearray(data)
    if data[:5] == b"_SM3_" and len(data) > 24:
        found[5] = 0
        found[5] = -sum(found[: found[6]]) % 256
    elif data[:4] == b"_SM_" and len(data) > 31:
        found[0x15] = found[4] = 0
        found[0x15] = -sum(found[0x10:0x1F]) % 256
        found[4] = -sum(found[: found[5]]) % 256
    return bytes(found)


def _tar_sums(data: bytes) -> bytes:
    """Each header's sum holds, as far as sizes lead from one to the next."""
    found, at = bytearray(data), 0
    while at + 512 <= len(found) and any(found[at : at + 512]):
        header = found[at : at + 512]
        header[148:156] = b" " * 8
        found[at + 148 : at + 156] = b"%06o\0 " % sum(header)
        digits = bytes(found[at + 124 : at + 136]).strip(b"\0 ")
        size = int(digits, 8) if digits and not digits.strip(b"01234567") else 0
        at += 512 + size + -size % 512
    return bytes(found)


MENDS: dict[str, Mend] = {
    "smbios": _entry_sums,
    "edid": _edid_sums,
    "spd": sealed,
    "ata-identify": summed,
    "ata-smart": summed,
    "privileged-stream": _tar_sums,
}


# What must hold of a result


def _storable(data: object, result: object) -> None:
    """Everything that was parsed can be stored, and everything that is described can be printed."""
    del data
    if isinstance(result, Parsed):
        for record in (*result.sightings, *result.ports, *result.remarks):
            encode(record)
    else:
        msgspec.json.encode(result)


def _same_length(data: bytes, result: object) -> None:
    if not isinstance(result, bytes) or len(result) != len(data):
        raise AssertionError("what is scrubbed has another length")


def _scrubbed(file: str, data: bytes) -> bytes:
    return scrubbing.seal_structures(file, scrubbing.scrub_structures(file, data, NAMES))


def _unpacked(folder: Path, stream: bytes) -> None:
    """Unpack a stream; what it leaves lies in the folder, or nowhere."""
    beside = {folder.name, "unit"}
    try:
        unpack(io.BytesIO(stream), folder)
    finally:
        if left := {entry.name for entry in folder.parent.iterdir()} - beside:
            raise AssertionError(f"left beside the folder: {sorted(left)}")
        if any(path.is_symlink() for path in folder.rglob("*")):
            raise AssertionError("left a link")
        shutil.rmtree(folder, ignore_errors=True)


def _listings(folder: Path) -> Iterator[Target]:
    """All sources of the simulated unit, their replies spoiled row by row: one target, a source an input."""
    root = build(folder, cpus=tuple(range(CORES)), device_number=(8, 0))
    add_devices(folder)
    captured = {source.name: tuple(source.capture(root)) for source in SOURCES}
    parses = {source.name: source.parse for source in SOURCES}
    told = [name for name, replies in captured.items() if any(reply.read for reply in replies)]

    def make(chance: random.Random) -> tuple[str, tuple[Reply, ...]]:
        name = chance.choice(told)
        return name, spoiled_replies(captured[name], chance)

    yield Target("sources", make, {"parse": lambda made: parses[made[0]](made[1])}, _storable)


def _reports(data: Path) -> Iterator[Target]:
    """Reports of other tools, of any kind: one target. They are long texts, so they may take longer."""
    found = reports(data)

    def make(chance: random.Random) -> tuple[Kind, bytes]:
        kind, content = chance.choice(found)
        return kind, spoiled_text(content, chance)

    def parse(made: tuple[Kind, bytes]) -> Parsed:
        kind, content = made
        return kind.parse((Reply(f"{kind.name}.1", "file", SourceOutcome.READ, content, suffix=kind.suffix),))

    def describe(made: tuple[Kind, bytes]) -> object:
        return () if made[0].describe is None else made[0].describe(made[1])

    if found:
        yield Target("reports", make, {"parse": parse, "describe": describe}, _storable, most_cpu_s=1.0)


def work_folder() -> Path:
    """Return a new folder, in memory where the system has such a place."""
    memory = Path("/dev/shm")
    return Path(tempfile.mkdtemp(prefix="mutate-", dir=memory if memory.is_dir() else None))
