"""Burn-ins on a machine whose faults the host plants: each is found, and the right part is named."""

from __future__ import annotations

import os
import re

import pytest

from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import Event, Report, Row
from shipworthy.model.words import Ending, Outcome
from tests.bench import parts
from tests.bench.burning import FLIPPED_BIT, FLIPPED_BYTE, HOT_C, ROTTEN_BIT, UNREADABLE_SECTOR, Burnt

ASKED_FOR = "SHIPWORTHY_BENCH_BURN_IN"
pytestmark = [
    pytest.mark.bench,
    pytest.mark.slow,
    pytest.mark.skipif(
        not os.environ.get(ASKED_FOR), reason=f"some minutes of two emulated machines; set {ASKED_FOR}=1"
    ),
]

SENSORS = "ATK0110:00"
"""The end of the place of the board's own sensors: the processor's temperature and its fan."""
WORD_BYTES = 8


@pytest.fixture
def sound(burnt: tuple[Burnt, Burnt]) -> Burnt:
    return burnt[0]


@pytest.fixture
def faulty(burnt: tuple[Burnt, Burnt]) -> Burnt:
    return burnt[1]


def said(finding: Finding) -> dict[str, Scalar]:
    return {value.name: value.value for value in finding.values}


def one(burnt: Burnt, run: str, code: str, part: str = "") -> Finding:
    """Return the only difference of that code, and on that part if one is given."""
    (found,) = (
        f for f in burnt.differing(run) if f.code == code and (not part or named(burnt, run, f) == part)
    )
    return found


def named(burnt: Burnt, run: str, finding: Finding) -> str:
    """Return the serial of the part that a finding names, by its place or its target; else that place."""
    place = finding.part or str(said(finding).get("target", ""))
    part = burnt.reading(run).at(place)
    return (part.text("serial") if part else "") or place


def bit_of(byte: int, bit: int) -> int:
    """Return the mask of a word of 64 bits in which a bit of that byte of the memory or drive is set."""
    return 1 << 8 * (byte % WORD_BYTES) + bit


def flipped(wrong: dict[str, Scalar]) -> int:
    return int(str(wrong["expected"]), 16) ^ int(str(wrong["found"]), 16)


def number_after(words: str, wrong: dict[str, Scalar]) -> int:
    match = re.search(rf"{re.escape(words)} (0x[0-9a-f]+|\d+)", str(wrong["where"]))
    assert match, wrong["where"]
    return int(match[1], 0)


def test_a_sound_machine_shows_no_difference(sound: Burnt) -> None:
    assert sound.exit_code("clean") == 0
    assert [segment.ending for segment in sound.segments("clean")] == [Ending.COMPLETED]
    assert sound.differing("clean") == []
    right = [f for f in sound.findings("clean") if f.code == "load.right"]
    targets = {target for f in right for target in str(said(f)["targets"]).split(", ")}
    drives = {sound.reading("clean").at(target) for target in targets - {"cpu:0", "memory"}}
    assert {"cpu:0", "memory"} <= targets
    assert {drive.text("serial") for drive in drives if drive} == {parts.DISK.serial, parts.SSD.serial}


def test_a_bit_that_flips_in_memory_names_its_address_and_its_module(faulty: Burnt) -> None:
    finding = one(faulty, "worn", "load.wrong")
    (module,) = (m for m in parts.FITTED if m.holds(number_after("physical address", said(finding))))
    assert (said(finding)["load"], finding.part) == ("march", module.place)
    words = {address // WORD_BYTES * WORD_BYTES for address in faulty.flipped}
    for wrong in faulty.events("worn", "load.wrong"):
        assert number_after("physical address", wrong) in words
        assert flipped(wrong) == bit_of(FLIPPED_BYTE, FLIPPED_BIT)


def test_a_disk_that_reads_slowly_is_named(faulty: Burnt) -> None:
    assert named(faulty, "worn", one(faulty, "worn", "storage.slow")) == parts.DISK.serial


def test_a_fan_that_stops_is_named(faulty: Burnt) -> None:
    finding = one(faulty, "worn", "fans.stopped")
    assert finding.part.endswith(SENSORS) and said(finding)["label"] == "CPU FAN Speed"


def test_nothing_else_is_blamed_on_the_worn_machine(faulty: Burnt) -> None:
    assert [segment.ending for segment in faulty.segments("worn")] == [Ending.COMPLETED]
    codes = sorted(finding.code for finding in faulty.differing("worn"))
    assert codes == ["fans.stopped", "load.wrong", "storage.slow"]


def test_a_bit_that_rots_on_a_drive_names_the_drive_and_the_place_on_it(faulty: Burnt) -> None:
    finding = one(faulty, "failing", "load.wrong", parts.SSD.serial)
    assert said(finding)["load"] == "storage"
    of_drive = [w for w in faulty.events("failing", "load.wrong") if w["target"] == said(finding)["target"]]
    for wrong in of_drive:
        assert number_after("at byte", wrong) == faulty.rotten // WORD_BYTES * WORD_BYTES
        assert flipped(wrong) == bit_of(faulty.rotten, ROTTEN_BIT)
        assert "stays wrong when read again" in str(wrong["where"])


def test_a_sector_that_cannot_be_read_names_the_drive_and_the_sector(faulty: Burnt) -> None:
    finding = one(faulty, "failing", "load.wrong", parts.NVME.serial)
    assert (said(finding)["step"], said(finding)["what"]) == ("whole-drive", "reading failed")
    assert number_after("(LBA", said(finding)) == UNREADABLE_SECTOR


def test_the_kernels_own_word_for_it_is_on_the_same_drive(faulty: Burnt) -> None:
    assert named(faulty, "failing", one(faulty, "failing", "health.kernel-error")) == parts.NVME.serial


def test_a_drive_that_begins_to_warn_is_named(faulty: Burnt) -> None:
    finding = one(faulty, "failing", "health.drive")
    assert said(finding)["attribute"] == "critical warning"
    assert named(faulty, "failing", finding) == said(finding)["serial"] == parts.NVME.serial


def test_too_much_heat_stops_the_loads_and_names_its_sensor(faulty: Burnt) -> None:
    assert faulty.exit_code("failing") == 1
    assert [segment.ending for segment in faulty.segments("failing")] == [Ending.STOPPED_BY_GUARD]
    stopped, reached = (
        one(faulty, "failing", code) for code in ("burn-in.guard-stopped", "heat.limit-reached")
    )
    assert said(stopped)["label"] == said(reached)["label"] == "CPU Temperature"
    assert said(stopped)["origin"] == "shop's policy" and reached.part.endswith(SENSORS)
    assert float(str(said(stopped)["seen_c"])) == pytest.approx(HOT_C, abs=0.4)
    (limit,), (*_, ended) = (faulty.events("failing", code) for code in ("guard.limit", "load.stopped"))
    assert limit["quantity"] == f"temperature/{reached.part}/temp1"
    assert (ended["step"], ended["load"]) == (limit["step"], "ciphers")


def test_nothing_else_is_blamed_on_the_failing_machine(faulty: Burnt) -> None:
    """It may be said besides that the same sensor rose at once: that depends on when the host heats it."""
    differing = faulty.differing("failing")
    heat = [f for f in differing if f.code == "heat.rises-at-once"]
    assert {f.part for f in heat} <= {one(faulty, "failing", "heat.limit-reached").part}
    assert sorted(f.code for f in differing if f not in heat) == [
        "burn-in.guard-stopped",
        "health.drive",
        "health.kernel-error",
        "heat.limit-reached",
        "load.wrong",
        "load.wrong",
    ]


def test_a_power_cut_loses_nothing_that_was_logged(sound: Burnt) -> None:
    first, _ = sound.segments("cut")
    assert first.ending is Ending.INTERRUPTED
    logged, found = ((sound.share / f"{name}.jsonl").read_bytes() for name in ("logged", "found"))
    assert found.startswith(logged)
    assert (sound.share / "cut" / first.file).read_bytes() == found
    assert any(first.of(Row)) and any(report.load == "ciphers" for report in first.of(Report))


def test_after_a_power_cut_the_burn_in_goes_on_where_it_was(sound: Burnt) -> None:
    assert sound.exit_code("resumed") == 0
    first, second = sound.segments("cut")
    assert second.ending is Ending.COMPLETED
    assert first.start is not None and second.start is not None
    assert second.start.run_id == first.start.run_id and second.start.at.boot_id != first.start.at.boot_id
    assert (second.start.segment, second.start.first_step) == (2, 1)
    ended = [event for event in second.of(Event) if event.code == "step.ended"]
    assert len(ended) == 2


def test_the_restart_that_nobody_announced_is_the_only_difference(sound: Burnt) -> None:
    (finding,) = sound.differing("cut")
    assert finding.code == "burn-in.unannounced-restart"
    assert said(finding)["segment"] == "burn-in/log-002.jsonl"
    assert not [
        f for f in sound.findings("cut") if f.outcome is Outcome.CONFORMS and f.code == "burn-in.taken-up"
    ]
