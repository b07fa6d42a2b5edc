"""Laws of the comparison, for any machine and any order."""

from __future__ import annotations

import random
from collections import Counter

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence, known_codes
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Order
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Category, Outcome, PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import order_json
from tests.compare import machines as m

ABSENT = st.sampled_from([Absent.NOT_OFFERED, Absent.NOT_READABLE, Absent.NOT_ASKED, Absent.IMPLAUSIBLE])
NAMES = st.one_of(
    st.sampled_from(
        [
            "Tarn C7-S 8-Core Processor",
            "Quarrel M2 1TB",
            "QRL QMS120G2G0A-00JH30",
            "Holloway B6-Q WIFI",
            "Lindwall L27Q",
            "KINGSTON SA400S37240G",
            "Samsung SSD 990 PRO 2TB",
            "Intel(R) Xeon(R) Processor @ 2.60GHz",
            "Virtual 512GB HDD SATA 2x8GB DDR4-3200",
        ]
    ),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1, max_size=40),
)


def maybe(values: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return values | ABSENT


def parts_of(kind: PartKind, place: str, **facts: st.SearchStrategy[object]) -> st.SearchStrategy[Part]:
    return st.fixed_dictionaries(facts).map(lambda said: m.part(kind, place, **said))


def several(
    kind: PartKind, stem: str, most: int, **facts: st.SearchStrategy[object]
) -> st.SearchStrategy[list[Part]]:
    def placed(said: list[dict[str, object]]) -> list[Part]:
        return [m.part(kind, f"{stem}{number}", **one) for number, one in enumerate(said)]

    return st.lists(st.fixed_dictionaries(facts), max_size=most).map(placed)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """A machine that does not contradict itself: all threads on, and usable what is fitted."""
    cores = draw(st.integers(1, 64))
    processor = m.processor(draw(NAMES), cores=cores, threads=cores * 2, online_cpus=f"0-{cores * 2 - 1}")
    size = st.sampled_from([1, 4, 8, 12, 16, 24, 32, 48]).map(lambda gib: gib * m.GIB) | ABSENT
    modules = draw(
        several(
            PartKind.MEMORY_MODULE,
            "smbios:",
            4,
            size_bytes=size | st.just(Absent.NOT_FITTED),
            type=maybe(st.sampled_from(["DDR5", "DDR4", "DDR3", "LPDDR5", "Other"])),
            configured_speed_mt_s=maybe(st.integers(400, 9000)),
            firmware_speed_mt_s=maybe(st.integers(400, 9000)),
            jedec_speed_mt_s=maybe(st.integers(400, 9000)),
            profile_speed_mt_s=maybe(st.integers(400, 9000)),
            profiles=maybe(st.sampled_from(["XMP 2.0", "XMP 3.0, EXPO"])),
            part_number=maybe(NAMES),
            maker=maybe(NAMES),
        )
    )
    fitted = sum(int(module.number("size_bytes") or 0) for module in modules)
    usable = int((fitted or draw(st.integers(m.GIB, 300 * m.GIB))) * 0.97)
    drives = draw(
        several(
            PartKind.STORAGE,
            "pci:",
            4,
            model=maybe(NAMES),
            size_bytes=maybe(st.integers(10**9, 30 * 10**12)),
            technology=maybe(st.sampled_from(["NVMe", "solid state", "spinning", "virtual"])),
            interface=maybe(st.sampled_from(["NVMe", "SATA", "SAS", "virtio", "USB"])),
            power_on_hours=maybe(st.integers(0, 50_000)),
            power_cycles=maybe(st.integers(0, 5000)),
            written_bytes=maybe(st.integers(0, 10**15)),
        )
    )
    board = draw(
        parts_of(PartKind.BOARD, "board", maker=maybe(NAMES), model=maybe(NAMES), version=maybe(NAMES))
    )
    ids = st.integers(0, 0xFFFF).map(lambda number: f"0x{number:04x}")
    lanes = draw(maybe(st.sampled_from([1, 4, 8, 16])))
    cards = draw(
        several(
            PartKind.GRAPHICS,
            "pci:g",
            2,
            model=maybe(NAMES),
            model_candidates=maybe(st.lists(NAMES, min_size=2, max_size=3).map(" | ".join)),
            card_model=maybe(NAMES),
            memory_bytes=maybe(st.integers(m.GIB, 96 * m.GIB)),
            path_width=st.just(lanes) | ABSENT,
            path_width_max=st.just(lanes) | ABSENT,
            vendor_id=maybe(ids),
            device_id=maybe(ids),
        )
    )
    optical = draw(
        several(
            PartKind.OPTICAL_DRIVE,
            "pci:o",
            2,
            model=maybe(NAMES),
            interface=maybe(st.sampled_from(["SATA", "USB"])),
            writes_dvd=maybe(st.booleans()),
        )
    )
    nets = draw(
        several(
            PartKind.NETWORK,
            "pci:n",
            3,
            vendor_id=maybe(ids),
            device_id=maybe(ids),
            speed_mbit_s=maybe(st.sampled_from([10, 100, 1000, 2500, 10_000])),
            technology=maybe(st.sampled_from(["Ethernet", "Wi-Fi"])),
        )
    )
    pixels = st.integers(320, 8000)
    screens = draw(
        several(
            PartKind.DISPLAY, "drm:", 2, model=maybe(NAMES), width_px=maybe(pixels), height_px=maybe(pixels)
        )
    )
    others = (*cards, *nets, *screens, *optical)
    return m.machine(processor, m.memory(usable), *modules, *drives, board, *others)


def drafted(reading: Reading) -> Order:
    return draft_order(reading, order_id="DRAFT", shop="Kestrel Desk", unit_id="KD-1")


def of(outcome: Outcome, comparison: Comparison) -> list[Finding]:
    return [finding for finding in comparison.findings if finding.outcome is outcome]


def weighed(comparison: Comparison) -> Counter[bytes]:
    return Counter(msgspec.json.encode(finding) for finding in comparison.findings)


@given(readings())
@settings(max_examples=150, deadline=None)
def test_a_drafted_order_never_differs_from_its_own_reading(reading: Reading) -> None:
    order = with_expectations(drafted(reading))
    differing = of(Outcome.DIFFERS, compare(order, reading, (), m.EVIDENCE))
    assert [f for f in differing if f.code != "unordered.plugged-in"] == []


@given(readings())
@settings(max_examples=40, deadline=None)
def test_every_finding_has_a_sentence_with_all_its_values(reading: Reading) -> None:
    order = with_expectations(drafted(reading))
    for finding in compare(order, reading, m.LIMITS, m.EVIDENCE).findings:
        assert finding.code in known_codes()
        named = {value.name for value in finding.values} | {"want", "got", "part", "line"}
        said = finding_sentence(finding)
        unfilled = [
            name
            for name in (
                *("why", "ids", "counters", "origin", "threads", "narrowed_at", "sold", "told"),
                *("ability", "profiles", "most_mt_s", "jedec_speed_mt_s", "profile_speed_mt_s"),
            )
            if f"{{{name}}}" in said.say
        ]
        assert set(unfilled) <= named and not unfilled


@given(readings(), readings(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_of_parts_and_lines_changes_nothing(
    reading: Reading, other: Reading, chance: random.Random
) -> None:
    order = with_expectations(drafted(other))
    lines, parts = list(order.lines), list(reading.parts)
    chance.shuffle(lines)
    chance.shuffle(parts)
    shuffled = compare(
        msgspec.structs.replace(order, lines=tuple(lines)),
        msgspec.structs.replace(reading, parts=tuple(parts)),
        m.LIMITS,
        m.EVIDENCE,
    )
    straight = compare(order, reading, m.LIMITS, m.EVIDENCE)
    assert weighed(shuffled) == weighed(straight)
    assert sorted(shuffled.unclaimed) == sorted(straight.unclaimed)


@given(readings(), readings())
@settings(max_examples=60, deadline=None)
def test_an_unrelated_part_never_turns_a_conform_into_a_differ(reading: Reading, other: Reading) -> None:
    order = with_expectations(drafted(other))
    before = compare(order, reading, m.LIMITS, m.EVIDENCE)
    extra = (
        m.part(PartKind.SENSOR_CHIP, "platform:chip", name="chip"),
        m.part(PartKind.PCI_DEVICE, "pci:0000:00:14.0", vendor_id="0x5ab1", device_id="0x1414"),
        m.part(PartKind.SYSTEM, "system", model="Quiet Desk 4"),
    )
    more = msgspec.structs.replace(reading, parts=(*reading.parts, *extra))
    assert weighed(compare(order, more, m.LIMITS, m.EVIDENCE)) == weighed(before)


@given(readings(), readings())
@settings(max_examples=60, deadline=None)
def test_one_more_drive_never_makes_more_differ_and_none_stands_for_two(
    reading: Reading, other: Reading
) -> None:
    order = with_expectations(drafted(other))
    more = msgspec.structs.replace(reading, parts=(*reading.parts, m.drive("pci:zz", model="Heron 5")))
    before, after = (compare(order, machine, (), m.EVIDENCE) for machine in (reading, more))
    assert _missing(after) <= _missing(before)
    if _missing(after) == _missing(before):
        assert _differing(after) <= _differing(before)
    for comparison in (before, after):
        taken = [place for match in comparison.matches for place in match.places]
        taken = [place for place in taken if place != "memory"]  # the whole of it is shared by its lines
        assert len(taken) == len(set(taken))


def _missing(comparison: Comparison) -> int:
    return sum(int(f.want or 0) - int(f.got or 0) for f in comparison.findings if f.code == "storage.missing")


def _differing(comparison: Comparison) -> int:
    return sum(f.category is Category.STORAGE for f in of(Outcome.DIFFERS, comparison))


@given(readings(), readings())
@settings(max_examples=60, deadline=None)
def test_each_expectation_has_a_finding_and_each_finding_its_line(reading: Reading, other: Reading) -> None:
    order = with_expectations(drafted(other))
    comparison = compare(order, reading, m.LIMITS, m.EVIDENCE)
    found = {(f.line, f.aspect) for f in comparison.findings}
    assert {(line.line_id, e.aspect) for line in order.lines for e in line.expectations} <= found
    of_lines = [f for f in comparison.findings if not f.code.startswith("unordered.")]
    assert {f.line for f in of_lines} <= {line.line_id for line in order.lines}


def test_a_makers_name_with_a_number_in_it_is_no_word_before_the_model() -> None:
    board = m.part(PartKind.BOARD, "board", maker="0:", model="Tarn C7-S", version="0")
    reading = m.machine(board)
    found = compare(with_expectations(drafted(reading)), reading, (), m.EVIDENCE)
    assert of(Outcome.DIFFERS, found) == []


@given(readings())
@settings(max_examples=40, deadline=None)
def test_a_drafted_order_can_be_stored(reading: Reading) -> None:
    order = drafted(reading)
    assert msgspec.json.decode(order_json(order), type=Order) == order
