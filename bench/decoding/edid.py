"""The EDID decoder against edid-decode: its published text of 953 displays, and its report of 41 samples.

`edid.tar.xz` has each display's bytes and the text that edid-decode printed for them; the samples have a
conformity report besides. A text is read here by patterns of its own, not by the decoder under test. Where
the tool is installed it is run on a sample too, as the published texts are of several versions of it and
hide some serial numbers. Every display is also spoiled in one byte: exactly that block must be named.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import tarfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from decoding.edid_timings import TIMING, hold_timings
from decoding.tally import Tally
from shipworthy.machine.parse.edid.blocks import BLOCK_BYTES, Edid, read_edid
from shipworthy.machine.parse.edid.facts import display_facts, says_nothing
from shipworthy.machine.parse.edid.file import edid_of_file
from shipworthy.model.words import RemarkKind

SEED = 861
TOOL_SAMPLE = 120


def read_all(folder: Path) -> Iterator[tuple[str, bytes, str]]:
    """Yield (name, bytes, edid-decode's text) of every display and sample."""
    for archive, ending, told in (
        ("edid.tar.xz", ".bin", ".txt"),
        ("edid-decode-samples.tar.xz", ".edid", ".edid-decode.txt"),
    ):
        with tarfile.open(folder / archive) as tar:
            files = {m.name: f.read() for m in tar if m.isfile() and (f := tar.extractfile(m))}
        for name in sorted(files):
            if name.endswith(ending):
                stem = name.removesuffix(ending)
                yield stem, files[name], files[stem + told].decode("utf-8", "replace")


def measure(folder: Path) -> Tally:
    """Return the counts over the whole set."""
    tally = Tally("edid")
    bad = _bad_by_index(folder)
    tool = shutil.which("edid-decode")
    everything = list(read_all(folder))
    chosen = {
        name for name, _, _ in random.Random(SEED).sample(everything, min(TOOL_SAMPLE, len(everything)))
    }
    for name, raw, text in everything:
        tally.items += 1
        try:
            data = edid_of_file(raw)
            edid = read_edid(data)
            tally.hold(name, "bytes of the text's dump", data, edid_of_file(text.encode()))
            hold_text(tally, name, edid, text)
            if name in bad:
                tally.hold(name, "all checksums hold", bad[name], all(edid.sound))
            if tool and name in chosen:
                hold_text(tally, f"{name} (tool)", edid, run_tool(tool, data))
            hold_spoiled(tally, name, data)
        except Exception as error:  # a decoder never raises: this is what is counted
            tally.crash(name, error)
        tally.unsupported += sum(fault.kind is RemarkKind.NOT_UNDERSTOOD for fault in edid.faults)
    tally.notes["edid-decode run on"] = len(chosen) if tool else 0
    return tally


def run_tool(tool: str, data: bytes) -> str:
    """Return what edid-decode prints of the bytes."""
    done = subprocess.run([tool, "-c"], input=data, capture_output=True, timeout=20, check=False)
    return done.stdout.decode("utf-8", "replace")


def _bad_by_index(folder: Path) -> dict[str, bool]:
    """Whether all checksums hold, as index.tsv says."""
    rows = [line.split("\t") for line in (folder / "index.tsv").read_text("utf-8").splitlines()[1:]]
    return {row[0]: row[9] == "yes" for row in rows}


def hold_text(tally: Tally, name: str, edid: Edid, text: str) -> None:
    """Hold every field that a text of edid-decode prints against the decoder."""
    facts = {f.name: f.value for f in display_facts(edid.data)}
    if edid.trusted:
        _hold_identity(tally, name, edid, facts, text)
        _hold_extras(tally, name, edid, facts, text)
        _hold_preferred(tally, name, facts, text)
    _hold_cta(tally, name, edid, text)
    hold_timings(tally, name, edid, text)
    _hold_frame(tally, name, edid, text)


def _first(pattern: str, text: str) -> str | None:
    match = re.search(pattern, text, re.MULTILINE)
    return match[1] if match else None


def _field(edid: Edid, name: str) -> object:
    """A field of the base block as it is shown to people."""
    return next((v for s in edid.blocks[0].sections for n, v in s.fields if n == name), None)


def _hold_identity(tally: Tally, name: str, edid: Edid, facts: Mapping[str, object], text: str) -> None:
    base = text.split("\nBlock 1,")[0]
    maker = _first(r"^    Manufacturer: (\S+)$", base)
    if maker and re.fullmatch("[A-Z]{3}", maker):
        tally.hold(name, "maker", maker, facts["maker"])
    model = _first(r"^    Model: (\d+)$", base)
    if model:
        tally.hold(name, "product", int(model), int(str(facts["product_code"]), 16))
    serial = _first(r"^    Serial Number: (\d+)", base)
    if serial:
        tally.hold(name, "serial number", int(serial), _field(edid, "serial number"))
    tally.hold(name, "version", _first(r"Version & Revision: (\S+)", base), facts["edid_version"])
    made = re.search(r"^    Made in: (?:week (\d+) of )?(\d+)", base, re.MULTILINE)
    if made:
        want = f"week {made[1]} of {made[2]}" if made[1] else made[2]
        tally.hold(name, "made", want, _field(edid, "made"))
    year = _first(r"^    Model year: (\d+)", base)
    if year:
        tally.hold(name, "model year", int(year), facts["model_year"])
    _hold_texts(tally, name, edid, base, facts)
    size = re.search(r"Maximum image size: (\d+) cm x (\d+) cm", base)
    if size:
        tally.hold(name, "size cm", (int(size[1]), int(size[2])), (edid.data[21], edid.data[22]))
        tally.hold(name, "width cm", int(size[1]), _field(edid, "width cm"))
    gamma = _first(r"^    Gamma: ([\d.]+)", base)
    if gamma:
        tally.hold(name, "gamma", float(gamma), _field(edid, "gamma"))
    tally.hold(name, "digital", "Digital display" in base, facts["digital"])
    bits = _first(r"Bits per primary color channel: (\d+)", base)
    if bits:
        tally.hold(name, "bits per colour", int(bits), facts["bits_per_colour"])
    port = _first(r"^    (DisplayPort|HDMI-a|HDMI-b|DVI) interface", base)
    if port:
        tally.hold(name, "interface", port.split("-")[0], facts["interface"])
    ranges = re.search(
        r"Monitor ranges \(.*\): (\d+)-(\d+) Hz V, (\d+)-(\d+) kHz H(?:, max dotclock (\d+))?", base
    )
    if ranges and int(ranges[1]) <= int(ranges[2]) and int(ranges[3]) <= int(ranges[4]):
        wanted = (int(ranges[1]), int(ranges[2]), int(ranges[4]))
        tally.hold(name, "range", wanted, tuple(facts[f"range_{n}"] for n in ("min_hz", "max_hz", "max_khz")))


def _hold_texts(tally: Tally, name: str, edid: Edid, base: str, facts: Mapping[str, object]) -> None:
    """Names and serials as they lie; and as facts, where they are no placeholder."""
    for label, title, fact, tag in (
        ("Display Product Name", "Name", "model", 0xFC),
        ("Display Product Serial Number", "Serial", "serial", 0xFF),
        ("Alphanumeric Data String", "Text", "text", 0xFE),
    ):
        printed = [t.strip() for t in re.findall(rf"^    {label}: '(.*)'$", base, re.MULTILINE)]
        shown = [str(v) for s in edid.blocks[0].sections if s.title == title for _, v in s.fields]
        hidden = f"{label}: ..." in base
        # edid-decode ends a text at the first byte beyond ASCII, we go on after a space
        cut = [ours[: len(theirs)] for ours, theirs in zip(shown, printed, strict=False)]
        if not hidden:
            tally.hold(name, f"count of {title}", len(printed), len(shown))
            tally.hold(name, title, printed, cut)
            longer = sum(map(len, shown)) > sum(map(len, printed))
            tally.notes["texts that go on"] = int(tally.notes.get("texts that go on", 0)) + longer
        told = [t for t in printed if not says_nothing(t, tag)]
        if told:
            tally.hold(name, fact, told[0], str(facts[fact])[: len(told[0])])


def _hold_frame(tally: Tally, name: str, edid: Edid, text: str) -> None:
    """Checksums of all blocks, and the count of blocks."""
    printed = re.findall(r"^Checksum: 0x(..)(.*)$", text, re.MULTILINE)
    checksums = [edid.data[i * BLOCK_BYTES + 127] for i in range(len(edid.blocks))]
    tally.hold(name, "checksums", [int(value, 16) for value, _ in printed], checksums)
    wrong = [index for index, (_, rest) in enumerate(printed) if "should be" in rest]
    ours = [f.where for f in edid.faults if f.kind is RemarkKind.BAD_CHECKSUM and "section" not in f.detail]
    tally.hold(name, "bad checksums", [f"block {index}" for index in wrong], ours)
    inner = len(re.findall(r"^  Checksum: 0x.. \(should", text, re.MULTILINE))
    ours = [f.where for f in edid.faults if f.kind is RemarkKind.BAD_CHECKSUM and "section" in f.detail]
    tally.hold(name, "bad checksums of sections", inner, len(ours))
    tally.hold(name, "bad header", False, any(f.kind is RemarkKind.BAD_HEADER for f in edid.faults))
    if "EDID conformity" in text:
        counts = re.search(r"EDID specified (\d+) extension block\(s\), but found (\d+)", text)
        ours = [f.detail for f in edid.faults if f.kind in (RemarkKind.BAD_LENGTH, RemarkKind.CUT_SHORT)]
        ours = [detail for detail in ours if "extension blocks" in detail]
        tally.hold(name, "extension count disagrees", bool(counts), bool(ours))


def _hold_extras(tally: Tally, name: str, edid: Edid, facts: Mapping[str, object], text: str) -> None:
    """HDR, variable refresh and tiles of blocks that count, where nothing is spoiled or beyond the count."""
    if edid.believed != len(edid.blocks) or not all(edid.sound):
        return
    curves = [
        word
        for sign, word in (("SMPTE ST2084", "SMPTE ST 2084"), ("Hybrid Log-Gamma", "HLG"))
        if sign in text
    ]
    got = str(facts["hdr"] or "")
    tally.hold(name, "hdr", curves, [word for word in ("SMPTE ST 2084", "HLG") if word in got])
    light = _first(r"Desired content max luminance: \d+ \(([\d.]+) cd", text)
    if light:
        got_light = facts["luminance_max_cd_m2"]
        if "luminance: 0 (" not in text:  # code 0 means that nothing is told
            near = isinstance(got_light, float) and abs(got_light - float(light)) < 0.1
            tally.hold(name, "luminance", float(light), float(light) if near else got_light)
    _hold_variable_refresh(tally, name, facts, text)
    tiles = re.search(r"Num horizontal tiles: (\d+) Num vertical tiles: (\d+)", text)
    tally.hold(name, "tiles", f"{tiles[1]} x {tiles[2]}" if tiles else None, facts["tiles"])
    tally.hold(name, "audio", "  Basic audio support" in text, bool(facts["audio"]))


def _hold_preferred(tally: Tally, name: str, facts: Mapping[str, object], text: str) -> None:
    """The facts that the first detailed timing of the base block gives; its size, where the cm agree."""
    first = re.search(r"^    DTD +1:" + TIMING, text.split("\nBlock 1,")[0], re.MULTILINE)
    if first is None:
        return
    tally.hold(name, "preferred", (int(first[1]), int(first[2])), (facts["width_px"], facts["height_px"]))
    tally.hold(name, "preferred Hz", round(float(first[4]), 3), facts["refresh_hz"])
    size = re.search(r"\((\d+) mm x (\d+) mm\)", first[6])
    rough = re.search(r"Maximum image size: (\d+) cm x (\d+) cm", text)
    if size and rough and all(abs(int(size[n]) - 10 * int(rough[n])) <= 15 for n in (1, 2)):
        tally.hold(name, "size", (int(size[1]), int(size[2])), (facts["width_mm"], facts["height_mm"]))


def _hold_cta(tally: Tally, name: str, edid: Edid, text: str) -> None:
    """Sound formats, colorimetry and HDMI's address and clock of every CTA-861 block."""
    shown = [(s.title, dict(s.fields)) for block in edid.blocks for s in block.sections]
    formats = [
        (n, str(v))
        for block in edid.blocks
        for s in block.sections
        for n, v in s.fields
        if s.title == "Sound formats" and not n.startswith("reserved")
    ]
    printed = re.findall(
        r"^    (\S[^\n:]*):\n      Max channels: (\d+)\n      Supported sample rates \(kHz\):(.*)$",
        text,
        re.MULTILINE,
    )
    want = [(channels, sorted(rates.split(), key=float)) for _, channels, rates in printed]
    got = [
        (v.split(" ")[0], re.findall(r"[\d.]+", v.split("channels, ")[1].split(" kHz")[0]))
        for _, v in formats
    ]
    tally.hold(name, "sound formats", want, got)
    for label, title, field in (
        ("Source physical address", "HDMI", "physical address"),
        ("Maximum TMDS clock", "HDMI", "most TMDS clock MHz"),
        ("Maximum TMDS Character Rate", "HDMI Forum", "most TMDS rate MHz"),
    ):
        want = [n for n in re.findall(rf"^    {label}: ([\d.]+)", text, re.MULTILINE) if n != "0"]
        got = [str(fields[field]) for name_, fields in shown if name_ == title and fields.get(field)]
        tally.hold(name, label, want, got)
    blocks = re.findall(r"^  Colorimetry Data Block:\n((?:    .*\n)*)", text, re.MULTILINE)
    names = [re.findall(r"^    (\S+)$", b, re.MULTILINE) for b in blocks]
    ours = [str(f["colorimetry"]).split(", ") for t, f in shown if t == "Colorimetry"]
    tally.hold(name, "colorimetry", [n for n in names if n], [o for o in ours if o != ["-"]])


_VARIABLE = {
    "AMD": ("    Minimum Refresh Rate", "    Maximum Refresh Rate"),
    "HDMI Forum": ("    VRRmin", "    VRRmax"),
    "DisplayID": ("    Minimum Vertical Refresh Rate", "    Maximum Vertical Refresh Rate"),
    "adaptive sync": ("      Min Refresh Rate", "      Max Refresh Rate"),
}


def _hold_variable_refresh(tally: Tally, name: str, facts: Mapping[str, object], text: str) -> None:
    labels = _VARIABLE.get(str(facts["vrr_source"]))
    if labels is None:
        printed = any(f"\n{least}: " in text for least, _ in _VARIABLE.values())
        tally.hold(name, "no variable refresh", False, printed)
        return
    want = tuple(int(n) if (n := _first(rf"^{label}: (\d+)", text)) else None for label in labels)
    tally.hold(name, "variable refresh", want, (facts["vrr_min_hz"], facts["vrr_max_hz"]))


def hold_spoiled(tally: Tally, name: str, data: bytes) -> None:
    """Change one byte of a sound EDID: that block's checksum, and no other's, must be named."""
    if not all(read_edid(data).sound):
        return
    chance = random.Random(f"{SEED} {name}")
    at = chance.randrange(len(data))
    spoiled = bytearray(data)
    spoiled[at] ^= chance.randrange(1, 256)
    faults = read_edid(bytes(spoiled)).faults
    named = [f.where for f in faults if f.kind is RemarkKind.BAD_CHECKSUM and "section" not in f.detail]
    tally.hold(name, f"spoiled at {at}", [f"block {at // BLOCK_BYTES}"], named)
    headers = [f.where for f in faults if f.kind is RemarkKind.BAD_HEADER]
    tally.hold(name, f"header spoiled at {at}", ["block 0"] if at < 8 else [], headers)
