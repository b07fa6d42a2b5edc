"""smbios-raw: every field of every table against what dmidecode 3.4 prints of the same bytes, run here.

agree and differ count the types for which the goal is full agreement (GOAL); other types that we decode are
in the notes, as are the texts that lie beside the tables, some of which other versions printed. unsupported:
structures of types that we show as bytes and strings only.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from decoding.smbios_raw_rules import rule_for
from decoding.smbios_raw_text import VERSION, Printed, installed_version, run_dmidecode, structures, wrapped
from decoding.tally import Tally
from shipworthy.machine.parse.smbios.describe import LAYOUTS, describe_table
from shipworthy.machine.parse.smbios.source import parse
from shipworthy.machine.parse.smbios.table import Table, table_of_dump, walk
from shipworthy.machine.raw import Reply, Section
from shipworthy.model.reading import SourceOutcome

GOAL = frozenset((0, 1, 2, 3, 4, 7, 8, 9, 16, 17, 19, 39, 41))
_BARE, _DUMPS = (".dmi",), (".bin", ".dmp", ".dmidump")


@dataclass(frozen=True)
class Specimen:
    """One table: its name, our walk of it, and the dump that dmidecode is given."""

    name: str
    table: Table
    dump: bytes
    file: Path


def specimens(folder: Path) -> Iterator[Specimen]:
    """Yield the tables of the set. Bare ones get an entry point: their own where it lies beside, else 3.0."""
    for file in sorted(folder.rglob("*")):
        if file.suffix not in (*_BARE, *_DUMPS) or file.name == "entry.bin":
            continue
        data = file.read_bytes()
        name = f"{file.parent.name}/{file.name}"
        own = file.parent / "entry.bin"
        if data[:4] in (b"_SM_", b"_SM3"):
            yield Specimen(name, table_of_dump(data), data, file)
        elif file.name == "dmi.bin" and own.is_file():
            dump = wrapped(data, entry=own.read_bytes())
            yield Specimen(name, table_of_dump(dump), dump, file)
        else:
            yield Specimen(name, walk(data), wrapped(data), file)


def fields_of(sections: tuple[Section, ...]) -> list[tuple[int, int, dict[str, str | int | float | bool]]]:
    """Return (handle, type, fields) of each structure that we describe."""
    found = []
    for section in sections:
        if not section.where.startswith("structure 0x"):
            continue
        kind = int(section.title.rpartition("(type ")[2].rstrip(")"))
        found.append((int(section.where.split()[1], 16), kind, dict(section.fields)))
    return found


def hold(
    tally: Tally, also: Counter[str], name: str, printed: list[Printed], sections: tuple[Section, ...]
) -> None:
    """Hold what was printed against what we describe, structure by structure in order."""
    ours = fields_of(sections)
    tally.hold(name, "structures", [(p.handle, p.type) for p in printed], [(h, t) for h, t, _ in ours])
    for theirs, (handle, kind, mine) in zip(printed, ours, strict=False):
        if kind not in LAYOUTS:
            tally.unsupported += 1
            continue
        for label, value in theirs.values.items():
            rule = rule_for(kind, label)
            lines = theirs.lists.get(label, [])
            agrees = rule is not None and rule.agrees(value, lines, mine)
            shown = mine.get(rule.field) if rule else "no rule for this label"
            if kind in GOAL:
                want = "; ".join((value, *lines))
                tally.hold(f"{name} 0x{handle:04X} type {kind}", label, want, want if agrees else shown)
                also[f"type {kind} agree" if agrees else f"type {kind} differ"] += 1
            else:
                also[f"type {kind} agree" if agrees else f"type {kind} differ"] += 1
                if not agrees:
                    tally.example(
                        f"{name} 0x{handle:04X} type {kind}: {label}: want {value!r}, got {shown!r}"
                    )


def compare(specimen: Specimen, text: str) -> tuple[Tally, Counter[str]]:
    """Hold one table against one text."""
    one, also = Tally(specimen.name), Counter[str]()
    hold(one, also, specimen.name, structures(text), describe_table(specimen.table))
    return one, also


def measure(folder: Path) -> Tally:
    tally = Tally("smbios-raw")
    also: Counter[str] = Counter()
    beside: Counter[str] = Counter()
    version = installed_version()
    tally.notes["dmidecode"] = version or "not installed: the texts beside the tables are the reference"
    for specimen in specimens(folder):
        tally.items += 1
        texts = [text for text in _beside(specimen.file) if text.is_file()]
        try:
            _parse(specimen)
            first = run_dmidecode(specimen.dump) if version == VERSION else _decoded(texts)
            hold(tally, also, specimen.name, structures(first), describe_table(specimen.table))
            for text in texts:
                one, _ = compare(specimen, text.read_text("utf-8", "replace"))
                which = "upstream" if "upstream" in text.name else "decoded beside"
                beside[f"{which} agree"] += one.agree
                beside[f"{which} differ"] += one.differ
                for line in one.examples if one.differ else ():
                    tally.example(f"({which}) {line}")
        except Exception as error:  # a decoder that raises is what is counted here
            tally.crash(specimen.name, error)
    tally.notes |= dict(sorted(also.items())) | dict(sorted(beside.items()))
    return tally


def _beside(file: Path) -> tuple[Path, Path]:
    stem = file.name.removesuffix(file.suffix)
    own = file.parent / f"{stem}.decoded-by-dmidecode-{VERSION}.txt"
    return own, file.parent / f"{stem}.upstream-dmidecode.txt"


def _decoded(texts: list[Path]) -> str:
    own = [text for text in texts if "decoded-by" in text.name]
    return own[0].read_text("utf-8", "replace") if own else ""


def _parse(specimen: Specimen) -> None:
    reply = Reply("smbios.table", "", SourceOutcome.READ, specimen.file.read_bytes(), suffix="bin")
    parse((reply,))
