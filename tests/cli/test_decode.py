"""The verb `decode`: raw files of one kind to facts, without a machine."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from shipworthy.jobs import decode as job
from shipworthy.machine import kinds
from shipworthy.machine.kinds import KINDS, kind_named
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.reports import MOST_BYTES, kind_of
from tests.cli.calling import Call, caller
from tests.machine import recorded
from tests.machine.reports_of_a_machine import FILES, LSHW
from tests.machine.smbios_bytes import end, entry_point_64, structure
from tests.machine.spd_bytes import ddr3

DOCS = Path(__file__).resolve().parent.parent.parent / "docs" / "reference" / "sources.md"

SAMPLES: dict[str, bytes] = {
    "smbios": recorded.smbios_table(),
    "edid": recorded.edid(),
    "spd": ddr3(),
    "nvme-controller": recorded.identify_controller(),
    "nvme-namespace": recorded.identify_namespace(),
    "nvme-health": recorded.health_log(),
    "ata-identify": recorded.ata_identify(),
    "ata-statistics": recorded.ata_statistics(),
    "dmidecode-text": FILES["dmidecode.txt"].encode(),
    "lshw-xml": LSHW.encode(),
    "lspci-text": FILES["lspci.txt"].encode(),
    "lscpu-text": FILES["lscpu.txt"].encode(),
    "lsblk-json": FILES["lsblk.json"].encode(),
    "sensors-json": FILES["sensors.json"].encode(),
    "smartctl-json": FILES["smartctl-sda.json"].encode(),
    "dmesg": FILES["dmesg.txt"].encode(),
}


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


@pytest.fixture
def samples(tmp_path: Path) -> dict[str, Path]:
    files = {name: tmp_path / f"{number}.dat" for number, name in enumerate(SAMPLES)}
    for name, file in files.items():
        file.write_bytes(SAMPLES[name])
    return files


# The kinds


def test_every_kind_has_a_name_of_its_own_in_one_form_and_says_what_it_is() -> None:
    names = [kind.name for kind in KINDS]
    assert len(set(names)) == len(names)
    for kind in KINDS:
        assert re.fullmatch(r"[a-z][a-z0-9-]*", kind.name) and kind.name != job.ANY
        assert kind.what and kind_named(kind.name) is kind
        assert kind.suffix in ("bin", "txt", "json", "xml")


def test_every_kind_is_a_row_of_the_page_with_whether_its_content_tells_it() -> None:
    section = DOCS.read_text("utf-8").split("\n## Kinds of file\n")[1].split("\n## ")[0]
    rows = [[cell.strip() for cell in line.split("|")] for line in section.splitlines() if line[:3] == "| `"]
    told = {row[1].strip("`"): row[5] for row in rows}
    assert told == {kind.name: "yes" if kind.recognises else "no" for kind in KINDS}


@pytest.mark.parametrize("name", SAMPLES)
def test_a_file_is_decoded_by_its_kinds_name(call: Call, samples: dict[str, Path], name: str) -> None:
    done = call("decode", name, samples[name], "--json")
    (told,) = json.loads(done.out)
    assert (told["kind"], told["file"], done.err) == (name, str(samples[name]), "")
    assert told["parts"], "a sample that tells of nothing proves nothing"
    assert done.code in (0, 1)


@pytest.mark.parametrize("name", [name for name in SAMPLES if getattr(kind_named(name), "recognises", None)])
def test_any_tells_the_kind_by_the_content(call: Call, samples: dict[str, Path], name: str) -> None:
    (told,) = json.loads(call("decode", "any", samples[name], "--json").out)
    (named,) = json.loads(call("decode", name, samples[name], "--json").out)
    assert told == named


def test_no_sample_is_taken_for_another_kind() -> None:
    for name, data in SAMPLES.items():
        told = [kind.name for kind in KINDS if kind.recognises and kind.recognises("x", data[:4096])]
        assert told in ([name], []), (name, told)
        found = kind_of("x", data)
        assert (found.name if found else None) == (told[0] if told else None)


# What it prints


def test_facts_are_shown_with_the_reason_where_there_is_none(call: Call, samples: dict[str, Path]) -> None:
    done = call("decode", "smbios", samples["smbios"])
    lines = [" ".join(line.split()) for line in done.out.splitlines()]
    assert lines[0] == f"{samples['smbios']}: smbios"
    assert "memory module smbios:DIMM_A2/BANK 1" in lines
    assert "serial 0A0B0C01" in lines
    assert any(re.fullmatch(r"not fitted: .*\w", line) for line in lines)


def test_several_files_are_shown_in_their_order(call: Call, samples: dict[str, Path]) -> None:
    files = [samples["lspci-text"], samples["lsblk-json"], samples["lspci-text"]]
    told = json.loads(call("decode", "any", *files, "--json").out)
    assert [(one["file"], one["kind"]) for one in told] == [
        (str(files[0]), "lspci-text"),
        (str(files[1]), "lsblk-json"),
        (str(files[2]), "lspci-text"),
    ]


def test_the_form_of_the_json_is_stable(call: Call, samples: dict[str, Path]) -> None:
    (told,) = json.loads(call("decode", "edid", samples["edid"], "--json", "--pieces").out)
    assert list(told) == ["file", "kind", "parts", "ports", "remarks", "pieces"]
    assert list(told["parts"][0]) == ["kind", "place", "facts", "also_at"]
    assert list(told["parts"][0]["facts"][0]) == ["name", "source", "value", "absent", "rule", "witnesses"]
    assert list(told["pieces"][0]) == ["title", "where", "fields"]
    assert list(told["pieces"][0]["fields"][0]) == ["name", "value"]
    (cut,) = json.loads(call("decode", "smbios", samples["edid"], "--json").out)
    assert list(cut["remarks"][0]) == ["source", "kind", "where", "detail", "count"]
    assert cut["pieces"] == []


@pytest.mark.parametrize("name", [kind.name for kind in KINDS if kind.describe and kind.name in SAMPLES])
def test_pieces_show_every_field_as_it_lies(call: Call, samples: dict[str, Path], name: str) -> None:
    (told,) = json.loads(call("decode", name, samples[name], "--pieces", "--json").out)
    assert told["pieces"] and (told["pieces"][0]["fields"] or name == "dmesg")  # a log without any error
    shown = call("decode", name, samples[name], "--pieces").out
    assert told["pieces"][0]["title"] in shown


@pytest.mark.parametrize("name", [kind.name for kind in KINDS if not kind.describe and kind.name in SAMPLES])
def test_pieces_of_a_kind_that_has_none_are_refused(call: Call, samples: dict[str, Path], name: str) -> None:
    assert name in call("decode", name, samples[name], "--pieces").complaint()


def test_what_a_file_says_commands_no_terminal(call: Call, tmp_path: Path) -> None:
    blocks = [{"name": "sda", "type": "disk", "size": 1, "model": "Quarrel\x1b]0;owned\x07\x9b2J"}]
    (tmp_path / "l.json").write_text(json.dumps({"blockdevices": blocks}))
    done = call("decode", "any", tmp_path / "l.json")
    assert "Quarrel" in done.out
    assert all(line.isprintable() for line in done.out.splitlines())


# How it ends


def test_a_whole_file_ends_well_and_what_is_not_decoded_is_no_fault(
    call: Call, samples: dict[str, Path]
) -> None:
    assert call("decode", "lsblk-json", samples["lsblk-json"]).code == 0
    assert call("decode", "edid", samples["edid"]).code == 0
    assert call("decode", "nvme-health", samples["nvme-health"]).code == 0


@pytest.mark.parametrize("name", ["edid", "spd", "ata-identify", "nvme-controller", "nvme-health", "smbios"])
def test_a_faulty_file_ends_with_one_and_says_what_is_wrong_among_good_ones(
    call: Call, samples: dict[str, Path], name: str
) -> None:
    samples[name].write_bytes(SAMPLES[name][: len(SAMPLES[name]) * 2 // 3])
    done = call("decode", name, samples[name], "--json")
    assert done.code == 1 and done.err == ""
    assert json.loads(done.out)[0]["remarks"]
    assert call("decode", name, samples[name]).code == 1


def test_an_unknown_kind_is_one_sentence_that_names_those_there_are(
    call: Call, samples: dict[str, Path]
) -> None:
    said = call("decode", "edids", samples["edid"]).complaint()
    assert said.startswith("there is no such kind of source (edids)")
    assert all(kind.name in said for kind in KINDS) and "any" in said


def test_a_file_whose_content_does_not_tell_is_one_sentence(call: Call, tmp_path: Path) -> None:
    (tmp_path / "words.txt").write_text("milk\n")
    (tmp_path / "empty").touch()
    for name in ("words.txt", "empty"):
        assert name in call("decode", "any", tmp_path / name).complaint()


def test_what_is_no_file_or_too_large_is_one_sentence_and_is_not_read(call: Call, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with (tmp_path / "huge").open("wb") as file:
        file.truncate(64 << 30)  # 64 GiB that are not there: reading them first would be noticed
    assert "cannot be read" in call("decode", "any", tmp_path / "nowhere").complaint()
    assert "no ordinary file" in call("decode", "edid", tmp_path / "pipe").complaint()
    assert f"more than {MOST_BYTES >> 20} MiB" in call("decode", "edid", tmp_path / "huge").complaint()
    assert str(tmp_path) in call("decode", "edid", tmp_path).complaint()
    assert "no ordinary file" in call("decode", "edid", "/dev/zero").complaint()


def test_one_file_that_cannot_be_read_among_good_ones_is_told_before_any_result(
    call: Call, samples: dict[str, Path], tmp_path: Path
) -> None:
    done = call("decode", "edid", samples["edid"], tmp_path / "nowhere")
    assert "nowhere" in done.complaint() and done.out == ""


def test_words_that_do_not_fit_end_with_two(call: Call) -> None:
    assert call("decode").code == 2
    assert call("decode", "edid").code == 2


@pytest.mark.parametrize("name", SAMPLES)
def test_no_kind_fails_on_another_kinds_bytes(call: Call, samples: dict[str, Path], name: str) -> None:
    for file in samples.values():
        for told in job.decode_files(name, [file]):
            assert all(remark.kind.value != "decoder failed" for remark in told.remarks), (name, file)


def test_a_decoder_that_fails_is_a_remark_and_the_exit_status_of_a_fault(
    call: Call, samples: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def parse(replies: tuple[Reply, ...]) -> Parsed:
        raise IndexError("byte 7 of 3")

    spoiled = kinds.Kind("spoiled", "a kind whose decoder fails", parse)
    monkeypatch.setattr(job, "kind_named", lambda name: spoiled)
    done = call("decode", "spoiled", samples["edid"])
    assert done.code == 1
    assert "a fault of this tool's decoder (IndexError: byte 7 of 3)" in done.out


def test_a_name_that_is_no_utf8_is_shown_as_far_as_it_can_be(call: Call, tmp_path: Path) -> None:
    file = tmp_path / os.fsdecode(b"\xff.json")
    file.write_bytes(SAMPLES["lsblk-json"])
    (told,) = job.decode_files("any", [file])
    assert told.file.endswith("/?.json")
    done = call("decode", "any", file, "--json")
    assert json.loads(done.out)[0]["file"].endswith("/?.json")


def test_structures_of_an_older_layout_are_named_and_no_fault(call: Call, tmp_path: Path) -> None:
    system = bytes([1, 2, 3, 4, *range(16), 6])  # as of 2.1: the SKU and the family came with 2.4
    table = structure(1, 1, system, "Norvik", "N1", "1.0", "NV-0042") + end()
    (tmp_path / "table").write_bytes(entry_point_64(table, (3, 8)).ljust(32, b"\0") + table)
    done = call("decode", "smbios", tmp_path / "table", "--json")
    assert {remark["kind"] for remark in json.loads(done.out)[0]["remarks"]} == {"old layout"}
    assert done.code == 0
    assert "the layout is an older one" in call("decode", "smbios", tmp_path / "table").out


def test_a_reading_gives_the_number_of_structures_of_an_older_layout_only(call: Call, tmp_path: Path) -> None:
    machine = recorded.build(tmp_path / "machine")
    table = machine / "sys/firmware/dmi/tables"
    (table / "smbios_entry_point").write_bytes(entry_point_64((table / "DMI").read_bytes(), (3, 8)))
    done = call("read", "--from", machine, "--into", tmp_path / "half")
    counted = re.search(r"(\d+) structures of an older layout", done.out)
    assert counted is not None and int(counted[1]) > 0
    assert "the layout is an older one" not in done.out
