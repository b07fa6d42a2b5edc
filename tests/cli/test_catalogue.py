"""The verbs of the part list, and an order that is held against it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from shipworthy.jobs.catalogue import aliases_beside, open_catalogue
from shipworthy.model.base import decode_lines, read_bytes, read_record
from shipworthy.model.catalogue import Alias
from shipworthy.model.catalogue_used import CatalogueUsed, Decided
from shipworthy.model.orders import Order
from shipworthy.model.words import Aspect
from shipworthy.orders.catalogue.open_records import SOURCE
from shipworthy.record.locks import Lock
from tests.cli.calling import Call, caller
from tests.orders import catalogue_samples as samples

ORDER = """order_id = "KD-1"
shop = "Kestrel Desk"
units = ["KD-1-1"]
[[lines]]
category = "memory"
text = "Fennec Quiet 16GB (2x8GB) DDR5-6000"
[[lines]]
category = "memory"
text = "Fennec Quiet DDR5-6000"
"""


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    monkeypatch.setenv("SHIPWORTHY_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "parts.jsonl").write_bytes(samples.jsonl())
    (tmp_path / "order.toml").write_text(ORDER, "utf-8")
    return caller(monkeypatch, capsys)


@pytest.fixture
def listed(call: Call, tmp_path: Path) -> Path:
    assert call("catalogue", "import", "parts.jsonl").code == 0
    return tmp_path / "home/catalogue.jsonl"


# Importing


def test_an_import_says_what_came_in_and_the_list_is_there(call: Call, tmp_path: Path) -> None:
    done = call("catalogue", "import", "parts.jsonl")
    assert done.code == 0
    assert "Records read: 9. 9 new, 0 replaced, 0 the same" in done.out
    assert re.search(r"^memory +3 +type 2, ", done.out, re.MULTILINE)
    assert "fennec-quiet-64: fennec-quiet-32 has the part number FQ5-SHARED too" in done.out
    assert (tmp_path / "home/catalogue.jsonl").read_bytes() == samples.jsonl()
    assert (tmp_path / "home/catalogue.jsonl.index").exists()


def test_what_is_there_stays_unless_it_is_replaced(call: Call, listed: Path) -> None:
    assert "0 new, 0 replaced, 9 the same" in call("catalogue", "import", "parts.jsonl").out
    Path("new.csv").write_text("part_id,category,name\nmarlin-7600,processor,Marlin Core 7 7600K tray\n")
    done = call("catalogue", "import", "new.csv")
    assert done.code == 1
    assert "marlin-7600 is there already with other words; --replace takes the new" in done.out
    assert listed.read_bytes() == samples.jsonl()
    assert call("catalogue", "import", "new.csv", "--replace").code == 0
    part = open_catalogue(listed).part("marlin-7600")
    assert part is not None and part.name == "Marlin Core 7 7600K tray"


def test_a_wrong_record_is_left_out_and_named(call: Call, tmp_path: Path) -> None:
    Path("new.csv").write_text("part_id,category,name,gtin\na,memory,Good,\nb,memory,Bad,2000000000016\n")
    done = call("catalogue", "import", "new.csv", "parts.jsonl")
    assert done.code == 1
    assert "new.csv, row 3: the check digit of the GTIN 2000000000016 is wrong" in done.out
    assert len(open_catalogue(tmp_path / "home/catalogue.jsonl")) == 10


def test_a_record_that_says_the_same_under_another_id_is_left_out_and_named(call: Call, listed: Path) -> None:
    copy = samples.jsonl([samples.CORE]).replace(b'"marlin-7600"', b'"marlin-copy"')
    Path("copy.jsonl").write_bytes(copy)
    done = call("catalogue", "import", "copy.jsonl")
    assert "marlin-copy says the same in all as marlin-7600" in done.out
    assert listed.read_bytes() == samples.jsonl()


def test_two_sources_with_one_id_are_told(call: Call) -> None:
    Path("new.csv").write_text("part_id,category,name\nMARLIN-7600,processor,Another\n")
    done = call("catalogue", "import", "parts.jsonl", "new.csv", "--json")
    report = json.loads(done.out)
    assert report["faults"] == [
        {"where": "new.csv", "what": "the part_id 'MARLIN-7600' stands in parts.jsonl already"}
    ]
    assert (report["records"], report["new"]) == (10, 9)


@pytest.mark.parametrize("more", [(), ("--replace",)])
def test_an_id_that_the_list_has_in_another_case_is_a_fault_and_the_list_still_opens(
    call: Call, listed: Path, more: tuple[str, ...]
) -> None:
    Path("new.csv").write_text("part_id,category,name\nMARLIN-7600,processor,Another\nnew,processor,New\n")
    done = call("catalogue", "import", "new.csv", *more)
    assert done.code == 1
    assert "new.csv: the part_id 'MARLIN-7600' stands in the list already, as 'marlin-7600'" in done.out
    opened = open_catalogue(listed)
    assert (len(opened), opened.part("MARLIN-7600"), opened.part("new") is not None) == (10, None, True)


def test_open_part_records_are_imported_with_their_credit(call: Call, tmp_path: Path) -> None:
    (tmp_path / "open").mkdir()
    record = {
        "opendb_id": "o-1",
        "metadata": {"name": "Kittiwake Gust", "part_numbers": ["KW-0001"]},
        "tdp": 0,
    }
    (tmp_path / "open/GPU.jsonl").write_text(json.dumps(record) + "\n")
    done = call("catalogue", "import", "open")
    assert done.code == 0
    assert "1 x graphics tdp: a zero, which stands for not known" in done.out
    assert "Open Data Commons Attribution License" in done.out
    (credit,) = open_catalogue(tmp_path / "home/catalogue.jsonl").index.credits
    assert SOURCE in credit


def test_nothing_is_written_where_nothing_came_in(call: Call, tmp_path: Path) -> None:
    Path("new.csv").write_text("part_id,category,name\nb,nothing,Bad\n")
    assert call("catalogue", "import", "new.csv").code == 1
    assert not (tmp_path / "home").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("import", "none.jsonl"), "cannot be read"),
        (("import", "order.txt"), "not a part list by its name"),
        (("import", "."), "holds no part records that are known"),
        (("import", "parts.jsonl", "--into", "list.csv"), "an import writes JSON lines"),
        (("find", "x"), "the shop has no part list here"),
        (("show", "x"), "the shop has no part list here"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(call: Call, words: tuple[str, ...], says: str) -> None:
    assert says in call("catalogue", *words).complaint()


def test_two_lists_in_the_shops_folder_are_refused(call: Call, listed: Path) -> None:
    listed.with_suffix(".csv").write_text("part_id,category,name\n")
    assert "there is more than one part list" in call("catalogue", "find", "x").complaint()


# Looking up


def test_find_says_one_several_or_none(call: Call, listed: Path) -> None:
    one = call("catalogue", "find", "Quiet", "16GB", "(2x8GB)", "DDR5-6000")
    assert (one.code, one.out.splitlines()[0]) == (0, "By its name it is this part:")
    assert "FQ5-60-8X, FQ5608X/K" in one.out
    several = call("catalogue", "find", "FQ5-SHARED")
    assert several.code == 1 and several.out.startswith("By its part number it may be")
    none = call("catalogue", "find", "Sandpiper Breeze Heron HX 670 12GB")
    assert none.code == 1 and none.out.startswith("No part of the list. The nearest, which are others:")
    assert call("catalogue", "find", "wholly unknown").out == "No part of the list.\n"
    assert call("catalogue", "find", samples.GTIN).code == 0
    assert call("catalogue", "find", "QM2X-1T0", "--category", "board").code == 1
    found = json.loads(call("catalogue", "find", "FQ5-SHARED", "--json").out)
    assert (found["decided"], len(found["candidates"])) == ("several", 2)


def test_digits_with_a_wrong_check_digit_are_told(call: Call, listed: Path) -> None:
    assert "its check digit is wrong" in call("catalogue", "find", "2000000000016").complaint()
    assert "no category is called 'ram'" in call("catalogue", "find", "x", "--category", "ram").complaint()


def test_show_tells_what_is_known_and_what_is_not(call: Call, listed: Path) -> None:
    told = call("catalogue", "show", "fennec-quiet-16").out
    assert "module_bytes: 8 GiB" in told and "GTIN: 2000000000015" in told
    assert "not known: form, timings" in told
    assert "no facts" in call("catalogue", "show", "fennec-quiet-64").out
    assert json.loads(call("catalogue", "show", "ibis-b660", "--json").out)["part_id"] == "ibis-b660"
    assert "no part of that id" in call("catalogue", "show", "fennec").complaint()


def test_the_index_is_made_again_when_the_list_changes_or_it_is_damaged(call: Call, listed: Path) -> None:
    index = listed.with_name("catalogue.jsonl.index")
    whole = index.read_bytes()
    for damaged in (b"", b"x" * 100, whole[:-1], whole[:50] + bytes([whole[50] ^ 1]) + whole[51:]):
        index.write_bytes(damaged)
        assert call("catalogue", "show", "ibis-b660").code == 0
        assert index.read_bytes() == whole
    listed.write_bytes(samples.jsonl([samples.CORE]))
    assert call("catalogue", "show", "ibis-b660").code == 2
    assert index.read_bytes() != whole


def test_a_list_whose_index_cannot_be_kept_is_used_all_the_same(call: Call, listed: Path) -> None:
    index = listed.with_name("catalogue.jsonl.index")
    index.unlink()
    index.mkdir()  # nothing can be written there, whoever asks
    assert call("catalogue", "show", "ibis-b660").code == 0
    assert index.is_dir()


def test_a_list_with_a_wrong_record_is_not_used_until_it_is_corrected(call: Call, listed: Path) -> None:
    listed.write_bytes(samples.jsonl() + b'{"part_id":"x"}\n' + samples.jsonl([samples.CORE]))
    said = call("catalogue", "find", "FQ5-60-8X").complaint()
    assert "catalogue.jsonl, line 10" in said and "and 1 more are wrong" in said
    assert call("begin", "order.toml").code == 2


# Words learnt


def test_words_are_learnt_reviewed_used_and_undone(call: Call, listed: Path) -> None:
    words = "Fennec gaming kit, quiet"
    assert (
        call("catalogue", "learn", "fennec-quiet-16", words, "--by", "Odile Marsh", "--why", "KD-1").code == 0
    )
    assert call("catalogue", "find", words).code == 1
    waits = call("catalogue", "review")
    assert waits.code == 1 and "by Odile Marsh" in waits.out and "(KD-1)" in waits.out
    assert call("catalogue", "review", words, "--by", "Tomas Reed").code == 0
    assert call("catalogue", "find", words).out.startswith("By its alias it is this part:")
    assert (
        f'goes by "{words}" (Odile Marsh; reviewed by Tomas Reed)'
        in call("catalogue", "show", "fennec-quiet-16").out
    )
    assert call("catalogue", "review").out == "No words wait for a review.\n"
    assert call("catalogue", "undo", words, "--by", "Ines Vaal").code == 0
    assert call("catalogue", "find", words).code == 1
    lines, torn = decode_lines(read_bytes(listed.with_name("aliases.jsonl")), Alias, "aliases")
    assert (len(lines), torn) == (3, b"")
    assert len(aliases_beside(listed)) == 1


def test_what_is_refused_of_words_is_said_and_not_written(call: Call, listed: Path) -> None:
    assert "no part of that id" in call("catalogue", "learn", "x", "y", "--by", "O").complaint()
    assert "nobody is named" in call("catalogue", "learn", "ibis-b660", "y z", "--by", " ").complaint()
    assert call("catalogue", "review", "unheard of", "--by", "O").code == 2
    assert call("catalogue", "undo", "unheard of", "--by", "O").code == 2
    assert "Say who accepts it" in call("catalogue", "review", "unheard of").err
    assert not listed.with_name("aliases.jsonl").exists() or aliases_beside(listed) == ()


def test_a_torn_last_line_of_the_words_costs_nothing_before_it(call: Call, listed: Path) -> None:
    call("catalogue", "learn", "fennec-quiet-16", "first words", "--by", "O")
    beside = listed.with_name("aliases.jsonl")
    beside.write_bytes(beside.read_bytes() + b'{"said":"torn')
    assert call("catalogue", "learn", "ibis-b660", "second words", "--by", "O").code == 0
    assert [alias.said for alias in aliases_beside(listed)] == ["first words", "second words"]


def test_a_second_writer_waits_and_says_so(call: Call, listed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipworthy.record.locks._TRIES", 1)
    for name, words in (
        ("aliases.jsonl", ("learn", "ibis-b660", "some words", "--by", "O")),
        ("catalogue.jsonl", ("import", "parts.jsonl")),
    ):
        with Lock.take(listed.with_name(f".{name}.lock")):
            assert "changes it" in call("catalogue", *words).complaint()
        assert call("catalogue", *words).code == 0


# Orders


def kept(folder: Path) -> tuple[Order, Path]:
    (attempt,) = [path for path in (folder / "records/.open").iterdir() if path.is_dir()]
    return read_record(attempt / "data/order/order.json", Order), attempt / "data/order/catalogue-used.json"


def test_an_attempt_keeps_what_the_list_added_and_what_it_asks(
    call: Call, listed: Path, tmp_path: Path
) -> None:
    done = call("begin", "order.toml")
    assert done.code == 0
    assert "Fennec Quiet DDR5-6000: the list has 3 parts that it may be" in done.err
    order, file = kept(tmp_path)
    number = order.lines[0].wanted(Aspect.PART_NUMBER)
    assert number is not None and number.wants == ("FQ5-60-8X", "FQ5608X/K")
    used = read_record(file, CatalogueUsed)
    assert [line.decided for line in used.lines] == [Decided.ONE, Decided.SEVERAL]
    assert used.lines[0].part == samples.QUIET_16
    assert [question.code for question in used.questions] == ["catalogue.several"]
    assert used.list_name == "catalogue.jsonl"


def test_without_a_list_an_attempt_is_as_before(call: Call, tmp_path: Path) -> None:
    assert call("begin", "order.toml").code == 0
    order, file = kept(tmp_path)
    assert not file.exists()
    assert order.lines[0].wanted(Aspect.PART_NUMBER) is None


def test_another_list_is_named_with_an_option(call: Call, tmp_path: Path) -> None:
    assert call("begin", "order.toml", "--catalogue", "parts.jsonl").code == 0
    assert read_record(kept(tmp_path)[1], CatalogueUsed).list_name == "parts.jsonl"
    refused = call("begin", "order.toml", "--records", "r", "--catalogue", "no.jsonl")
    assert refused.code == 2 and "cannot be read" in refused.err


def test_the_same_words_in_two_categories_are_reviewed_and_undone_one_by_one(
    call: Call, listed: Path
) -> None:
    said, by = "our usual one", ("--by", "Odile Marsh")
    for part_id in ("fennec-quiet-16", "heron-680"):
        assert call("catalogue", "learn", part_id, said, *by).code == 0
    refused = call("catalogue", "review", said, *by)
    assert refused.code == 2 and "--category" in refused.err and "graphics" in refused.err
    assert call("catalogue", "review", said, *by, "--category", "graphics").code == 0
    waits = call("catalogue", "review")
    assert "memory fennec-quiet-16" in waits.out and "heron-680" not in waits.out
    assert call("catalogue", "undo", said, *by).code == 2
    assert call("catalogue", "undo", said, *by, "--category", "graphics").code == 0
    left = [alias for alias in aliases_beside(listed) if not alias.undone_by]
    assert [(alias.part_id, alias.reviewed_by) for alias in left] == [("fennec-quiet-16", "")]


def test_a_verb_that_asks_whether_there_is_a_list_loads_nothing_that_looks_up(tmp_path: Path) -> None:
    """Nor what unpacks: some builds of Python have no lzma."""
    code = (
        "import sys; sys.modules['lzma'] = sys.modules['numpy'] = None\n"
        "from shipworthy.cli.options import the_list\n"
        "from shipworthy.jobs.catalogue import held_against\n"
        "assert the_list(None) is None and held_against(None, None) is None\n"
        "print('shipworthy.orders.catalogue.lookup' in sys.modules)\n"
    )
    environment = {**os.environ, "SHIPWORTHY_HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stdout == "False\n"
