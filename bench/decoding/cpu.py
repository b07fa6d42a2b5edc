"""Processors: dumps of CPUID against what two projects expect of them, lscpu's reports against an index."""

from __future__ import annotations

import csv
import io
import re
import tarfile
from collections.abc import Iterator
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse import lscpu_text
from shipworthy.machine.parse.cpu import cpuid
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.base import Scalar
from shipworthy.model.reading import SourceOutcome

# Ours and libcpuid's names of the flags that both know
FLAGS = {
    "sse4_2": "sse4_2",
    "avx": "avx",
    "avx2": "avx2",
    "fma": "fma3",
    "f16c": "f16c",
    "bmi2": "bmi2",
    "avx512f": "avx512f",
    "avx512dq": "avx512dq",
    "avx512bw": "avx512bw",
    "avx512vl": "avx512vl",
    "aes": "aes",
    "pclmulqdq": "pclmul",
    "sha_ni": "sha_ni",
    "rdrand": "rdrand",
    "rdseed": "rdseed",
}
# Where libcpuid's expectation is not what the processor is (the maker's published counts of that model)
KNOWN_WRONG = {
    "amd-ryzen-7-5800x3d-8-core-processor": "8 cores with 16 threads; the file expects 48 threads",
    "intel-xeon-cpu-e7450-quad": "6 cores; the file expects the 8 that there are ids for",
    "intel-core-i7-4500u-cpu": "2 cores with 4 threads; the file expects 4 and 4",
    "intel-core-cpu-q-820": "4 cores with 8 threads; the file expects 8 and 8",
    "intel-core-i7-cpu-q-720": "4 cores with 8 threads; the file expects 8 and 8",
    "intel-core-i7-2600-cpu": "4 cores with 8 threads; the file expects 8 and 8",
}

Facts = dict[str, Scalar | None]


def measure(folder: Path) -> Tally:
    tally = Tally(folder.name)
    _libcpuid(tally, folder)
    _libvirt(tally, folder)
    _lscpu(tally, folder)
    return tally


def members(archive: Path) -> Iterator[tuple[str, bytes]]:
    with tarfile.open(archive) as whole:
        for member in whole:
            file = whole.extractfile(member) if member.isfile() else None
            if file is not None:
                yield member.name, file.read()


def reply(name: str, data: bytes) -> tuple[Reply, ...]:
    return (Reply(f"{name}.1", "", SourceOutcome.READ, data),)


def facts(parsed: Parsed) -> list[Facts]:
    return [{one.name: one.value for one in sighting.said} for sighting in parsed.sightings]


def _libcpuid(tally: Tally, folder: Path) -> None:
    """After a line of dashes, for each kind of core: three words, base family, model and stepping, family and
    model as shown, cores, threads, caches in KiB of data, instructions and the levels 2 to 4; at the end the
    flags."""
    corrected = 0
    for name, data in members(folder / "cpuid-raw-libcpuid.tar.xz"):
        tally.items += 1
        item = Path(name).stem
        if "/arm/" in f"/{name}":
            tally.unsupported += 1  # registers of another architecture
            continue
        try:
            if not cpuid.recognises(name, data[:4096]):
                raise ValueError("not recognised")
            sockets = facts(cpuid.parse(reply("cpuid", data)))
            first = sockets[0]
        except Exception as error:
            tally.crash(item, error)
            continue
        kinds = [k.strip().split(b"\n") for k in re.split(rb"^-{40,}$", data, flags=re.MULTILINE)[1:]]
        text = [[line.decode("utf-8", "replace") for line in kind] for kind in kinds]
        want = text[0]
        tally.hold(item, "family", int(want[6]), first["family"])
        tally.hold(item, "model", int(want[7]), first["model_number"])
        tally.hold(item, "stepping", int(want[5]), first["stepping"])
        counts = sum(int(k[8]) for k in text), sum(int(k[9]) for k in text)
        got = first["cores"], sum(int(socket["threads"] or 0) for socket in sockets)
        if item in KNOWN_WRONG and counts != got:
            corrected += 1
            tally.example(f"{item}: {got} against {counts}: {KNOWN_WRONG[item]}")
        else:
            tally.hold(item, "cores and threads", counts, got)
        if len(text) > 1:
            told = {k[2]: int(k[8]) for k in text}
            names = ("performance_cores", "efficiency_cores", "low_power_cores")
            words = ("performance", "efficiency", "low-power efficiency")
            tally.hold(item, "kinds", [told.get(w) for w in words], [first.get(n) for n in names])
        sets = set.intersection(*(set(k[-1].split()) for k in text))
        mine = set(str(first["instruction_sets"] or "").split())
        tally.hold(
            item, "flags", sorted(o for o, t in FLAGS.items() if t in sets), sorted(mine & FLAGS.keys())
        )
        if len(text) == 1:
            for at, field in ((10, "l1d_each_bytes"), (12, "l2_each_bytes"), (13, "l3_each_bytes")):
                size = int(want[at])
                if size > 0 and field in first:
                    tally.hold(item, field, size << 10, first[field])
                elif size > 0:
                    tally.unsupported += 1  # told by leaf 2's table of descriptors, which is not decoded
    tally.notes["corrected expectations"] = corrected


def _libvirt(tally: Tally, folder: Path) -> None:
    found = dict(members(folder / "cpuid-raw-libvirt.tar.xz"))
    for name, data in sorted(found.items()):
        if not name.endswith(".xml"):
            continue
        tally.items += 1
        item = Path(name).stem
        try:
            (got,) = facts(cpuid.parse(reply("cpuid", data)))
        except Exception as error:
            tally.crash(item, error)
            continue
        want = found[name.removesuffix(".xml") + ".sig"].decode()
        for word, field in (("family", "family"), ("model", "model_number"), ("stepping", "stepping")):
            match = re.search(rf"^{word}: +(\d+)", want, re.MULTILINE)
            tally.hold(item, word, int(match[1]) if match else None, got[field])
        comment = re.search(rb"<!-- (.+?) -->", data)
        if comment and any(word in comment[1] for word in (b"(R)", b"AMD", b"(tm)")):
            tally.hold(item, "name", " ".join(comment[1].decode().split()), got["model"])


def _lscpu(tally: Tally, folder: Path) -> None:
    """Names by the index; counts by a regular expression of its own over the text."""
    index = csv.DictReader(io.StringIO((folder / "lscpu-index.tsv").read_text("utf-8")), delimiter="\t")
    rows = {row["id"]: row for row in index}
    remarks = 0
    for name, data in members(folder / "lscpu-text.tar.xz"):
        tally.items += 1
        item = Path(name).stem
        try:
            parsed = lscpu_text.parse(reply("lscpu-text", data))
            got = facts(parsed)
        except Exception as error:
            tally.crash(item, error)
            continue
        row = rows[item]
        remarks += len(parsed.remarks)
        signature = f"{got[0]['family']}-{got[0]['model_number']}-{got[0]['stepping']}"
        tally.hold(item, "name", " ".join(row["model_name_line"].split()), got[0]["model"])
        # the index names VIA by the model; its letters are another maker's too, and stay as they are
        maker = {"VIA": "CentaurHauls"}.get(row["vendor"], row["vendor"])
        tally.hold(item, "maker", maker, got[0]["maker"])
        tally.hold(item, "signature", row["family-model-stepping"], signature)
        _counts(tally, item, data.decode("utf-8", "replace"), got)
    tally.notes["lscpu reports that contradict themselves"] = remarks


def _counts(tally: Tally, item: str, text: str, got: list[Facts]) -> None:
    def number(line: str) -> int:
        match = re.search(rf"^{re.escape(line)}: *(\d+)", text, re.MULTILINE)
        return int(match[1]) if match else -1

    sockets, cores, each = (number(n) for n in ("Socket(s)", "Core(s) per socket", "Thread(s) per core"))
    whole = sockets * cores * each == number("CPU(s)")
    want = (sockets, cores, cores * each) if whole else (sockets, None, None)
    tally.hold(item, "counts", want, (len(got), got[0]["cores"], got[0]["threads"]))
    clock = re.search(r"^CPU max MHz: *(\d+)", text, re.MULTILINE)
    tally.hold(item, "clock", int(clock[1]) if clock else None, got[0]["max_mhz"])
    cache = re.search(r"^L3 cache: *(\d+)K", text, re.MULTILINE)
    tally.hold(item, "L3", int(cache[1]) << 10 if cache else None, got[0].get("l3_each_bytes"))
