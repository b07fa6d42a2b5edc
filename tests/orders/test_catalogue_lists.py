"""Part lists from outside: three forms of one list, and everything that can be wrong with one."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipworthy.model.base import Trouble, encode
from shipworthy.model.catalogue import FACTS_OF, CataloguePart, MemoryFacts, ProcessorFacts
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.lists import Listed, list_of, read_list
from tests.orders import catalogue_samples as samples

TOML = b"""
[[parts]]
part_id = "fennec-quiet-16"
category = "memory"
maker = "Fennec"
name = "Fennec Quiet 16GB (2x8GB) DDR5-6000"
part_numbers = ["FQ5-60-8X", "FQ5608X/K"]
gtins = ["2000000000015"]
[parts.facts]
type = "DDR5"
modules = 2
module_bytes = 8589934592
speed_mt_s = 6000
"""
CSV = (
    b"part_id,category,maker,name,part_numbers,gtin,facts.type,facts.modules,facts.module_bytes,facts.speed_mt_s\n"
    b"fennec-quiet-16,memory,Fennec,Fennec Quiet 16GB (2x8GB) DDR5-6000,FQ5-60-8X|FQ5608X/K,2000000000015,"
    b"DDR5,2,8 GB,6000\n"
)


def read(data: bytes, name: str = "list.jsonl") -> Listed:
    return list_of(data, Path(name))


def fault(data: bytes, name: str = "list.jsonl") -> str:
    """Return the one thing wrong with a list of one good record and a bad one."""
    listed = read(data, name)
    assert len(listed.faults) == 1, listed
    assert listed.faults[0].where.startswith(f"{name}, ")
    assert "\n" not in listed.faults[0].what
    return listed.faults[0].what


def line(**changes: object) -> bytes:
    tree = {"part_id": "b", "category": "memory", "name": "Fennec Loud 8GB", **changes}
    return samples.jsonl([samples.QUIET_16]) + json.dumps(tree).encode() + b"\n"


@pytest.mark.parametrize(
    ("data", "name"), [(TOML, "a.toml"), (CSV, "a.csv"), (samples.jsonl([samples.QUIET_16]), "a.jsonl")]
)
def test_three_forms_give_one_part(data: bytes, name: str) -> None:
    assert read(data, name) == Listed((samples.QUIET_16,), ())
    assert read(b"\xef\xbb\xbf" + data, name) == Listed((samples.QUIET_16,), ())  # a byte order mark


def test_every_sample_comes_through_json_lines() -> None:
    assert read(samples.jsonl()).parts == samples.PARTS


def test_a_line_in_another_spelling_is_the_same_part() -> None:
    tree = json.loads(encode(samples.QUIET_16))
    spelled = json.dumps({key: tree[key] for key in reversed(tree)}, indent=None).encode()
    assert read(spelled).parts == (samples.QUIET_16,)


def test_a_table_may_be_parted_by_semicolons_or_tabs_and_hold_rows_of_nothing() -> None:
    for sign in (b";", b"\t"):
        assert read(CSV.replace(b",", sign) + b"\n" + sign * 9 + b"\n", "a.csv").parts == (samples.QUIET_16,)


def test_cells_are_read_as_the_fact_asks() -> None:
    text = (
        "part_id,category,name,facts.graphics,facts.tdp_w,facts.memory_types,facts.memory_most_bytes\n"
        'c,processor,Marlin Core 7,Yes,"65,5",DDR4|DDR5,128 GiB\n'
    )
    (part,) = read(text.encode(), "a.csv").parts
    assert part.facts == ProcessorFacts(
        graphics=True, tdp_w=65.5, memory_types=("DDR4", "DDR5"), memory_most_bytes=128 * samples.GIB
    )


def test_what_is_left_out_is_not_known() -> None:
    (part,) = read(b"part_id,category,name,facts.type\nm,memory,Fennec Loud,\n", "a.csv").parts
    assert part.facts is None
    (part,) = read(
        b"part_id,category,name,facts.type,facts.form\nm,memory,Fennec Loud,,DIMM\n", "a.csv"
    ).parts
    assert part.facts == MemoryFacts(form="DIMM")


# One fault each, by name; the good record is read all the same


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"part_id": "FENNEC-QUIET-16"}, "stands in line 1 already"),
        ({"part_id": ""}, "part_id"),
        ({"part_id": "  "}, "the part_id is empty"),
        ({"name": ""}, "name"),
        ({"name": " \t "}, "the name is empty"),
        ({"name": "x\u0007y"}, "no text"),
        ({"category": "memmory"}, "is 'memory' meant?"),
        ({"category": "unit"}, "'unit' is no category of parts"),
        ({"category": None}, "None is no category of parts"),
        ({"colour": "red"}, "a part has no key 'colour'"),
        ({"gtins": ["2000000000016"]}, "the check digit of the GTIN 2000000000016 is wrong"),
        ({"gtins": ["4.00638E+12"]}, "gtins"),
        ({"part_numbers": ["OC"]}, "too short"),
        ({"part_numbers": "FQ5-60-8X"}, "expected `array`"),
        ({"facts": {"kind": "board"}}, "another kind"),
        ({"facts": {"modules": -1}}, "modules"),
        ({"facts": {"modules": 1.5}}, "modules"),
        ({"facts": {"volts": "1.1"}}, "volts"),
        ({"facts": {"sockets": ["AM5"]}}, "parts of this category have no fact 'sockets'"),
        ({"category": "cable", "facts": {"type": "DDR5"}}, "have no facts"),
    ],
)
def test_a_wrong_record_is_named_with_the_reason(changes: dict[str, object], says: str) -> None:
    assert says.casefold() in fault(line(**changes)).casefold()
    assert read(line(**changes)).parts == (samples.QUIET_16,)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (b'{"part_id":"b","category":"memory","name":"x","facts":{"volts":NaN}}', "NaN"),
        (b'{"part_id":"b","category":"memory","name":"x","facts":{"volts":Infinity}}', "Infinity"),
        (b'{"part_id":"b","category":"memory","name":"x","facts":{"volts":1e999}}', "not finite"),
        (b'{"part_id":"b","category":"memory","name":"x","name":"y"}', "twice"),
        (b'{"part_id":"b","category":"memory","name":"x\xff"}', "not UTF-8"),
        (b'{"part_id":"b","category":"memory","name":"x"', "not valid JSON"),
        (b"[1, 2]", "one table of keys"),
        (b"[" * 100_000, "nested too deep"),
        (b'{"part_id":"b","name":"' + b"x" * 50_000_000 + b'"}', "a line of 50.0 MB"),
    ],
    ids=["NaN", "infinity", "1e999", "key twice", "no UTF-8", "cut off", "no table", "deep", "50 MB"],
)
def test_a_bad_line_is_named_and_costs_no_other(row: bytes, says: str) -> None:
    good = samples.jsonl([samples.QUIET_16])
    assert says in fault(row + b"\n" + good)
    assert read(row + b"\n" + good).parts == (samples.QUIET_16,)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        (b'b,memory,Fennec,"=HYPERLINK(""x"")",,,,,,', "name is a formula"),
        (b"b,memory,Fennec,@SUM(A1),,,,,,", "name is a formula"),
        (b"b,memory,Fennec,x,,,,=1+1,,", "facts.modules is a formula"),
        (b"b,memory,Fennec,x,,,,nan,,", "facts.modules"),
        (b"b,memory,Fennec,x,,2000000000016,,,,", "check digit"),
        (b"b,memory,Fennec,x", "it has 4 cells"),
        (b"b,memory,Fennec,x,,,,,large,", "is no size"),
        (b"b,memory,Fennec,,,,,,,", "name"),
    ],
)
def test_a_bad_row_is_named(cells: bytes, says: str) -> None:
    assert says in fault(CSV + cells + b"\n", "list.csv")


def test_a_number_that_is_none_is_no_fact_in_a_table_either() -> None:
    head = b"part_id,category,name,facts.tdp_w\n"
    for text in (b"nan", b"inf", b"-1", b"0", b"1e999"):
        listed = read(head + b"b,processor,x," + text + b"\n", "list.csv")
        assert listed.parts == () and "tdp_w" in listed.faults[0].what


@pytest.mark.parametrize(
    ("data", "name", "says"),
    [
        (b"x", "list.txt", "not a part list by its name"),
        (b"part_id,category,name\n\xff,memory,x\n", "list.csv", "row 2 of the list is not UTF-8"),
        (b"part_id,category,name,price\n", "list.csv", "no column 'price'"),
        (b"part_id,category,name,name\n", "list.csv", "stands there twice"),
        (b"part_id,name\n", "list.csv", "no column 'category'"),
        (b'part_id,category,name\n"x,memory,x\n', "list.csv", "is no row of a table"),
        (b"part_id,category,name\n" + b"x" * 200_000 + b",memory,x\n", "list.csv", "is no row of a table"),
        (b"parts = 1", "list.toml", "has no parts"),
        (b"[[part]]\n", "list.toml", "no key 'part'"),
        (b"[[parts]\n", "list.toml", "not valid TOML"),
        (b'name = "\xff"', "list.toml", "row 1 of the list is not UTF-8"),
    ],
)
def test_a_file_that_is_no_list_is_refused_in_a_sentence(
    tmp_path: Path, data: bytes, name: str, says: str
) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(Trouble) as caught:
        read_list(tmp_path / name)
    assert says in caught.value.what
    assert caught.value.mend.endswith(".")
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Trouble):
        read_list(tmp_path / "list.jsonl")


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.binary(max_size=300), st.sampled_from(["a.jsonl", "a.toml", "a.csv"]))
def test_no_bytes_bring_anything_but_parts_faults_or_a_trouble(data: bytes, name: str) -> None:
    try:
        listed = read(data, name)
    except Trouble:
        return
    assert all(isinstance(part, CataloguePart) for part in listed.parts)


def test_every_category_with_facts_takes_facts_of_its_own_kind_only() -> None:
    for category, kind in FACTS_OF.items():
        part = CataloguePart(part_id="x", category=category, name="x", facts=kind())
        assert read(samples.jsonl([part])).parts == (part,)
        wrong = next(other for other in FACTS_OF.values() if other is not kind)
        part = CataloguePart(part_id="x", category=category, name="x", facts=wrong())
        assert "another kind" in fault(samples.jsonl([part]))
    assert Category.CABLE not in FACTS_OF
