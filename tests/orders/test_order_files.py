"""Order files: what is right is read, what is wrong is said in one sentence with its line."""

from __future__ import annotations

import csv
import json
import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.base import Trouble, decode
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders import files
from shipworthy.orders.files import order_json, order_toml, read_order

HEAD = 'order_id = "KD-0412"\nshop = "Kestrel Desk"\nunits = ["KD-0412-1"]\n'
LINE = '\n[[lines]]\nline_id = "ram"\ncategory = "memory"\ntext = "Fennec 16GB (2x8GB) DDR5-6000"\n'


def read(folder: Path, text: str | bytes, name: str = "order.toml") -> Order:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_order(path)


def trouble(folder: Path, text: str | bytes, name: str = "order.toml") -> Trouble:
    with pytest.raises(Trouble) as caught:
        read(folder, text, name)
    assert "\n" not in str(caught.value)
    assert caught.value.mend.endswith(".")
    assert caught.value.where.endswith(name)
    return caught.value


def test_a_toml_order_is_read(tmp_path: Path) -> None:
    order = read(tmp_path, HEAD + "due = 2026-03-13\n" + LINE)
    assert (order.order_id, order.units, order.due) == ("KD-0412", ("KD-0412-1",), date(2026, 3, 13))
    assert order.lines[0].category is Category.MEMORY


def test_a_json_order_is_the_same_order(tmp_path: Path) -> None:
    order = read(tmp_path, HEAD + "due = 2026-03-13\n" + LINE)
    assert read(tmp_path, order_json(order), "order.json") == order
    assert decode(order_json(order), Order, "order.json") == order


def test_a_byte_order_mark_is_no_trouble(tmp_path: Path) -> None:
    assert read(tmp_path, b"\xef\xbb\xbf" + (HEAD + LINE).encode()).order_id == "KD-0412"


def test_lines_without_an_id_are_numbered(tmp_path: Path) -> None:
    bare = LINE.replace('line_id = "ram"\n', "")
    assert [line.line_id for line in read(tmp_path, HEAD + bare + bare).lines] == ["1", "2"]


BAD = {
    "unknown key of a line": (LINE + 'colour = "red"\n', "'colour'", "line 1 (ram)"),
    "misspelt key": (LINE.replace("text", "texts"), "'texts'", "Write 'text'"),
    "negative quantity": (LINE + "quantity = -2\n", "quantity -2", "line 1 (ram)"),
    "quantity of none": (LINE + "quantity = 0\n", "quantity 0", "line 1 (ram)"),
    "quantity in words": (LINE + 'quantity = "two"\n', "quantity", "line 1 (ram)"),
    "unknown category": (LINE.replace('"memory"', '"modem"'), "modem", "line 1 (ram)"),
    "the whole unit as a line": (LINE.replace('"memory"', '"unit"'), "'unit'", "line 1 (ram)"),
    "no text": (LINE.replace("text =", "maker ="), "text", "line 1 (ram)"),
    "same id twice": (LINE + LINE, "lines 1 and 2", "'ram'"),
    "id of a number that another line gets": (
        LINE.replace('"ram"', '"2"') + LINE.replace('line_id = "ram"\n', ""),
        "lines 1 and 2",
        "'2'",
    ),
    "wrong unit": (
        LINE + 'expectations = [{ aspect = "capacity", want = 16, unit = "GB" }]\n',
        "'GB'",
        "expectation 1 of line 1 (ram)",
    ),
    "unit of another aspect": (
        LINE + 'expectations = [{ aspect = "capacity", want = 16, unit = "MT/s" }]\n',
        "'MT/s'",
        "Give it in 'bytes'.",
    ),
    "negative want": (
        LINE + 'expectations = [{ aspect = "count", want = -2, unit = "count" }]\n',
        "-2",
        "expectation 1 of line 1 (ram)",
    ),
    "not a number": (
        LINE + 'expectations = [{ aspect = "count", want = nan, unit = "count" }]\n',
        "nan",
        "expectation 1 of line 1 (ram)",
    ),
    "two wants of one aspect": (
        LINE + 'expectations = [{ aspect = "text", want = "a" }, { aspect = "text", want = "b" }]\n',
        "two things",
        "line 1 (ram)",
    ),
    "a number beyond 64 bits": (LINE + f"quantity = {2**70}\n", "64 bits", "line 1 (ram)"),
    "a control character": (LINE + 'maker = "Fen\\u001Bnec"\n', "maker", "line 1 (ram)"),
    "wrong check digit": (LINE + 'gtin = "2000000000010"\n', "2000000000010", "check digit"),
    "key twice": (LINE + 'maker = "a"\nmaker = "b"\n', "TOML", "Correct"),
}


@pytest.mark.parametrize("case", BAD)
def test_each_fault_is_named_with_its_line(tmp_path: Path, case: str) -> None:
    lines, *said = BAD[case]
    message = str(trouble(tmp_path, HEAD + lines))
    for part in said:
        assert part in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        (" \n\n", "empty"),
        ("order_id = ", "not valid TOML"),
        (HEAD, "lines"),
        (HEAD + "customer = 1\n" + LINE, "'customer'"),
        (HEAD + LINE.replace("[[lines]]", "[lines]"), "a list of tables"),
        (LINE, "order_id"),
        ('shop = "Kestrel Desk"\nunits = []\norder_id = "A"\n' + LINE, "units"),
        ("a = " + "[" * 20_000, "TOML"),
    ],
)
def test_a_file_that_is_no_order_is_refused(tmp_path: Path, text: str, said: str) -> None:
    assert said in str(trouble(tmp_path, text))


def test_text_in_another_encoding_is_named_with_its_row(tmp_path: Path) -> None:
    text = (HEAD + '[[lines]]\ncategory = "case"\ntext = "Gehäuse"\n').encode("latin-1")
    message = str(trouble(tmp_path, text))
    assert "row 6" in message and "UTF-8" in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"order_id": "A", "order_id": "B"}', "'order_id' stands there twice"),
        ('{"order_id": NaN}', "NaN"),
        ("[1, 2]", "one table"),
        ('{"order_id": "A"', "not valid JSON"),
        ("[" * 100_000, "not valid JSON"),
        ('{"order_id": "\\ud800", "shop": "K", "units": ["A"], "lines": []}', "order_id"),
        ('{"order_id": 1e999, "shop": "K", "units": ["A"], "lines": []}', "inf"),
    ],
)
def test_json_is_read_strictly(tmp_path: Path, text: str, said: str) -> None:
    assert said in str(trouble(tmp_path, text, "order.json"))


def test_a_million_lines_are_refused_by_their_number_or_size(tmp_path: Path) -> None:
    assert "larger than any order" in str(trouble(tmp_path, HEAD + "[[lines]]\n" * 1_000_000))
    many = json.dumps({"order_id": "A", "shop": "K", "units": ["A"], "lines": [{}] * 1_000_000})
    assert "1,000,000 lines" in str(trouble(tmp_path, many.replace(" ", ""), "order.json"))
    assert "300,000 lines" in str(trouble(tmp_path, HEAD + "[[lines]]\n" * 300_000))


def test_a_huge_file_is_not_even_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "order.toml"
    with path.open("wb") as file:
        file.truncate(files.MOST_BYTES + 1)

    def never(_: Path) -> bytes:
        raise AssertionError("the file was read")

    monkeypatch.setattr(files, "read_bytes", never)
    with pytest.raises(Trouble, match="larger than any order"):
        read_order(path)


def test_a_missing_file_a_folder_and_another_ending_are_troubles(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(Trouble):
            read_order(path)
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(Trouble, match="cannot be read"):
        read_order(tmp_path / "folder.toml")
    assert ".toml" in str(trouble(tmp_path, HEAD + LINE, "order.txt"))


def test_check_digits_are_those_of_gs1(tmp_path: Path, reference: Path) -> None:
    """GS1 General Specifications, section 7.9."""
    with (reference / "check-values/gs1-check-digits.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["kind"].startswith("GTIN")]
    assert rows
    for row in rows:
        good = row["full"]
        assert read(tmp_path, HEAD + LINE + f'gtin = "{good}"\n').lines[0].gtin == good
        bad = good[:-1] + str((int(good[-1]) + 1) % 10)
        assert "check digit" in str(trouble(tmp_path, HEAD + LINE + f'gtin = "{bad}"\n'))


NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60)
WANTS = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
)
EXPECTATIONS = st.builds(
    Expectation, aspect=st.sampled_from(Aspect), want=WANTS, unit=st.sampled_from(Unit), words=TEXTS
)
LINES = st.builds(
    OrderLine,
    line_id=NAMES,
    category=st.sampled_from(Category),
    quantity=st.integers(1, 1000),
    text=TEXTS,
    maker=TEXTS,
    part_number=TEXTS,
    expectations=st.lists(EXPECTATIONS, max_size=3).map(tuple),
)
ORDERS = st.builds(
    Order,
    order_id=NAMES,
    shop=TEXTS,
    units=st.lists(NAMES, min_size=1, max_size=3).map(tuple),
    lines=st.lists(LINES, min_size=1, max_size=3).map(tuple),
    customer_reference=TEXTS,
    due=st.none() | st.dates(),
)


@given(ORDERS)
def test_what_is_written_as_toml_is_read_as_it_was(order: Order) -> None:
    import msgspec

    assert msgspec.convert(tomllib.loads(order_toml(order)), Order) == order


@given(ORDERS)
def test_what_is_stored_is_read_as_it_was(order: Order) -> None:
    assert decode(order_json(order), Order, "order.json") == order


@given(st.binary(max_size=300))
def test_no_bytes_at_all_bring_anything_but_a_trouble(data: bytes) -> None:
    import tempfile

    for ending in (".toml", ".json"):
        with tempfile.NamedTemporaryFile(suffix=ending) as file:
            file.write(data)
            file.flush()
            with pytest.raises(Trouble):
                read_order(Path(file.name))
