"""What a bench knows of parts: the shop's lists, and serials in the sealed records of other units."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import msgspec
import pytest

from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.known import GEAR_FILE, RESTOCKED_FILE, known_to, seen_elsewhere
from shipworthy.jobs.proving import compare_again
from shipworthy.jobs.run import run
from shipworthy.jobs.work import Work
from shipworthy.model.base import Trouble, encode_pretty, read_record
from shipworthy.model.facts import Part
from shipworthy.model.known import NOTHING_KNOWN, Known
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind
from shipworthy.record.attempt import take_up
from shipworthy.record.keys import make_key
from shipworthy.record.layout import PAYLOAD, TAG_MANIFEST
from shipworthy.sim import ORDER_FILE
from shipworthy.sim.unit import build
from shipworthy.stress.plans import shipped_plan
from shipworthy.verdict.policies import shipped_policy
from tests.compare import machines as m

SERIAL = "QM2-000481"
ENTRY = f"""
[[restocked]]
serial = "{SERIAL}"
by = "Ines Vaal"
on = 2026-03-04
why = "the order was cancelled"
"""


def sealed(
    records: Path, unit: str, *parts: Part, attempt: int = 1, name: str = "reading", simulated: bool = False
) -> Path:
    folder = records / unit / f"attempt-{attempt:03d}"
    file = folder / PAYLOAD / name / "reading.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(encode_pretty(msgspec.structs.replace(m.machine(*parts), simulated=simulated)))
    (folder / TAG_MANIFEST).write_text("")
    return folder


def units(records: Path, unit: str = "KD-0412-1", serial: str = SERIAL) -> list[tuple[str, int]]:
    return [(one.unit_id, one.attempt) for one in seen_elsewhere(records, {serial}, unit)]


def test_a_serial_is_found_in_another_units_record_with_its_day(tmp_path: Path) -> None:
    sealed(tmp_path, "KD-0398-1", m.drive(serial=SERIAL))
    (seen,) = seen_elsewhere(tmp_path, {SERIAL}, "KD-0412-1")
    assert (seen.unit_id, seen.attempt, seen.model) == ("KD-0398-1", 1, "Quarrel M2 1TB")
    assert seen.on == date(2026, 3, 2)


def test_what_was_there_at_the_end_alone_is_found_too_and_counts_once(tmp_path: Path) -> None:
    sealed(tmp_path, "KD-0398-1", m.drive(serial="OTHER-1"))
    sealed(tmp_path, "KD-0398-1", m.drive(serial=SERIAL), name="reading-after")
    assert units(tmp_path) == [("KD-0398-1", 1)]
    sealed(tmp_path, "KD-0398-1", m.drive(serial=SERIAL))
    assert units(tmp_path) == [("KD-0398-1", 1)]


def test_another_attempt_of_the_same_unit_is_no_other_unit(tmp_path: Path) -> None:
    for attempt in (1, 2):
        sealed(tmp_path, "KD-0412-1", m.drive(serial=SERIAL), attempt=attempt)
    assert units(tmp_path) == []
    assert units(tmp_path, "KD-0412-2") == [("KD-0412-1", 1), ("KD-0412-1", 2)]


def test_what_is_not_sealed_is_simulated_or_spoiled_tells_nothing(tmp_path: Path) -> None:
    unsealed = sealed(tmp_path, "A", m.drive(serial=SERIAL))
    (unsealed / TAG_MANIFEST).unlink()
    sealed(tmp_path, "B", m.drive(serial=SERIAL), simulated=True)
    spoiled = sealed(tmp_path, "C", m.drive(serial=SERIAL)) / PAYLOAD / "reading/reading.json"
    spoiled.write_bytes(spoiled.read_bytes()[:-40])
    sealed(tmp_path / ".open", "D", m.drive(serial=SERIAL))
    (tmp_path / "lost+found").touch()
    assert units(tmp_path) == []
    assert units(tmp_path / "none") == []


def test_a_serial_within_another_text_is_no_serial(tmp_path: Path) -> None:
    sealed(tmp_path, "KD-0398-1", m.drive(serial="OTHER-1", model=SERIAL), m.module("A", serial=f"{SERIAL}9"))
    assert units(tmp_path) == []


def test_a_serial_with_blanks_around_it_is_the_same(tmp_path: Path) -> None:
    sealed(tmp_path, "KD-0398-1", m.drive(serial=f"  {SERIAL} "))
    assert units(tmp_path) == [("KD-0398-1", 1)]


def test_a_serial_that_needs_escaping_is_found(tmp_path: Path) -> None:
    sealed(tmp_path, "KD-0398-1", m.drive(serial='ÄB"12\\34'))
    assert units(tmp_path, serial='ÄB"12\\34') == [("KD-0398-1", 1)]


def test_the_lists_of_the_shop_are_read_and_only_entries_that_speak_of_these_parts_are_kept(
    tmp_path: Path,
) -> None:
    records, shop = tmp_path / "records", tmp_path / "shop"
    sealed(records, "KD-0398-1", m.drive(serial=SERIAL))
    shop.mkdir()
    (shop / GEAR_FILE).write_text('[[gear]]\nserial = "4C53"\nwhat = "the stick"\n')
    (shop / RESTOCKED_FILE).write_text(ENTRY + ENTRY.replace(SERIAL, "ANOTHER-1"))
    known = known_to(shop, records, m.machine(m.drive(serial=SERIAL)), "KD-0412-1")
    assert [one.what for one in known.gear] == ["the stick"]
    assert [one.unit_id for one in known.seen] == ["KD-0398-1"]
    assert [(one.serial, one.by, one.on) for one in known.restocked] == [
        (SERIAL, "Ines Vaal", date(2026, 3, 4))
    ]
    assert known_to(tmp_path / "none", None, m.machine(m.drive(serial=SERIAL)), "") == NOTHING_KNOWN


@pytest.mark.parametrize("word", ["serial", "by", "why"])
def test_a_word_of_blanks_is_none(tmp_path: Path, word: str) -> None:
    text = "\n".join(f'{word} = " "' if line.startswith(word) else line for line in ENTRY.splitlines())
    (tmp_path / RESTOCKED_FILE).write_text(text)
    with pytest.raises(Trouble, match="not a valid list"):
        known_to(tmp_path, None, m.machine(), "KD-0412-1")


def test_gear_with_a_blank_serial_would_be_every_part_without_one(tmp_path: Path) -> None:
    (tmp_path / GEAR_FILE).write_text('[[gear]]\nserial = " "\nwhat = "the stick"\n')
    with pytest.raises(Trouble, match="not a valid list"):
        known_to(tmp_path, None, m.machine(), "KD-0412-1")


@pytest.mark.parametrize(
    "text",
    [
        "[[restocked]",
        '[[restocked]]\nserial = "X1234"\n',
        ENTRY.replace('"Ines Vaal"', '""'),
        ENTRY.replace("2026-03-04", '"yesterday"'),
        ENTRY + 'who = "me"\n',
        "\udcff",
    ],
    ids=["no TOML", "no name", "empty name", "no date", "another key", "no UTF-8"],
)
def test_a_list_that_is_not_valid_is_trouble_and_never_an_empty_list(tmp_path: Path, text: str) -> None:
    (tmp_path / RESTOCKED_FILE).write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(Trouble, match="not a valid list"):
        known_to(tmp_path, None, m.machine(), "KD-0412-1")


def test_an_attempt_keeps_what_was_known_and_a_restocking_entry_clears_it_at_the_next_comparison(
    tmp_path: Path,
) -> None:
    shop = tmp_path / "shop"
    bench = Bench(
        records=tmp_path / "records",
        packs=tmp_path / "packs",
        key=tmp_path / "key.json",
        trust=tmp_path / "trust.json",
        shop=shop,
    )
    bench.records.mkdir()
    make_key(bench.key, name="Kestrel Desk")
    device = tmp_path.stat().st_dev
    root = build(
        tmp_path / "unit", frozenset(), cpus=(0, 1), device_number=(os.major(device), os.minor(device))
    )
    request = RunRequest(
        order=ORDER_FILE,
        policy=(shipped_policy(), "shipped"),
        plan=shipped_plan("two-minutes"),
        unit_id="KD-0412-1",
        until="comparison",
        root=root,
    )
    run(request, bench)
    (folder,) = (path for path in (bench.records / ".open").iterdir() if path.is_dir())
    reading = read_record(folder / PAYLOAD / "reading/reading.json", Reading)
    drive = next(p for p in reading.parts if p.kind is PartKind.STORAGE and p.text("serial"))
    assert not (folder / PAYLOAD / "known.json").exists()

    def codes() -> list[str]:
        with take_up(bench.records, folder.name, bench.clock) as attempt:
            found = compare_again(Work(attempt, request, bench))
        return [f.code for f in found.findings if f.code.startswith("elsewhere.")]

    sealed(bench.records, "KD-0398-1", msgspec.structs.replace(drive, place="pci:elsewhere"))
    assert codes() == ["elsewhere.seen-in-another-unit"]
    shop.mkdir()
    (shop / RESTOCKED_FILE).write_text(ENTRY.replace(SERIAL, drive.text("serial")))
    assert codes() == ["elsewhere.restocked"]
    kept = read_record(folder / PAYLOAD / "known.json", Known)
    assert [one.unit_id for one in kept.seen] == ["KD-0398-1"] and kept.restocked[0].by == "Ines Vaal"
