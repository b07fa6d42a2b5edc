"""JSON of any form from outside is read in one place, which refuses what readers differ about."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.model.base import strict_json
from shipworthy.orders.catalogue.open_records import open_parts
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.records import Wrong


def test_any_value_is_read() -> None:
    assert strict_json('{"a": [1, 2.5, null, true, "é"]}') == {"a": [1, 2.5, None, True, "é"]}
    assert strict_json(' "text"\n') == "text"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('{"a": 1, "a": 1}', "the key 'a' stands there twice"),
        ('[{"b": {"a": 1, "a": 2}}]', "the key 'a' stands there twice"),
        ("[NaN]", "NaN is not a JSON number"),
        ("-Infinity", "-Infinity is not a JSON number"),
        ('{"a": 1} {}', "Extra data"),
        ("", "Expecting value"),
        ("[" * 100_000, "it is nested too deep"),
    ],
)
def test_what_readers_differ_about_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        strict_json(text)


def test_an_open_record_that_says_a_thing_twice_is_no_part(tmp_path: Path) -> None:
    file = tmp_path / "RAM.jsonl"
    meta = b'"metadata": {"name": "Fennec Quiet 16 GB"}'
    file.write_bytes(
        b'{"opendb_id": "a", "speed": 3200, "speed": 3600, '
        + meta
        + b'}\n{"opendb_id": "b", '
        + meta
        + b"}\n"
    )
    (_, first), (_, second) = open_parts(file, Notes())
    assert isinstance(first, Wrong) and "'speed' stands there twice" in first.what
    assert not isinstance(second, Wrong)
