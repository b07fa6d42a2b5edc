"""Files of lines: read many at a time, and held to all that one line alone is held to."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model import base
from shipworthy.model.base import Trouble, decode, decode_lines, encode, values
from shipworthy.model.runlog import Event, LogLine, Report, Row, read_log

EVENT = Event(t_s=1.5, code="step.began", values=values(step="ünd", index=0))
ROWS = [Row(t_s=n / 4, v=(50.0 + n % 7, None, 1e9)) for n in range(12_000)]
MANY = [*ROWS[:5000], EVENT, *ROWS[5000:]]
LINES = [encode(line) for line in MANY]

lines = st.one_of(
    st.builds(
        Row,
        t_s=st.floats(0, 1e6),
        v=st.lists(st.none() | st.floats(allow_nan=False, allow_infinity=False)).map(tuple),
    ),
    st.builds(Event, t_s=st.floats(0, 1e6), code=st.text(), values=st.just(EVENT.values)),
)


def joined(*written: bytes) -> bytes:
    return b"".join(line + b"\n" for line in written)


def test_the_file_is_longer_than_what_is_read_at_once() -> None:
    assert len(joined(*LINES)) > 2 * base._AT_ONCE_BYTES


def test_many_lines_are_what_each_is_alone() -> None:
    found, torn = read_log(joined(*LINES), "log")
    assert (found, torn) == (MANY, b"")


@given(st.lists(lines, max_size=6), st.binary(max_size=5).filter(lambda tail: b"\n" not in tail))
def test_law_what_was_written_is_read_again_and_a_torn_end_given_back(
    written: list[LogLine], tail: bytes
) -> None:
    assert read_log(joined(*map(encode, written)) + tail, "log") == (written, tail)


def test_a_spelling_of_somebody_elses_is_read_all_the_same() -> None:
    spaced = b'{"kind": "row", "v": [1, null], "t_s": 2}'
    assert read_log(joined(*LINES, spaced), "log")[0] == [*MANY, Row(t_s=2.0, v=(1.0, None))]


@pytest.mark.parametrize(
    ("spoiled", "why"),
    [
        (b'{"kind":"row","t_s":0.0,"t_s":1.0,"v":[]}', "'t_s' stands there twice"),
        (b'{"kind":"event","t_s":1.0,"code":"a","values":[{"name":"n","name":"m","value":1}]}', "twice"),
        (b'{"kind":"row","t_s":1.0,"v":[],"kind":"row"}', "twice"),
        (b'{"kind":"row","t_s":1.0,"v":[NaN]}', "row|Union|JSON|malformed"),
        (b'{"kind":"row","t_s":1.0,"v":[],"more":1}', "unknown field"),
        (b'{"kind":"row","t_s":1.0}', "missing required field"),
        (b"", "truncated"),
        (b'{"kind":"row","t_s":1.0,"v":[]}{"kind":"row","t_s":1.0,"v":[]}', "trailing"),
        (b'{"kind":"event","t_s":1.0,"code":"\xff","values":[]}', "utf-8|Invalid"),
    ],
)
@pytest.mark.parametrize("at", [0, 7, 4321, len(LINES)])
def test_one_bad_line_among_thousands_is_named_by_its_number(spoiled: bytes, why: str, at: int) -> None:
    data = joined(*LINES[:at], spoiled, *LINES[at:])
    with pytest.raises(Trouble, match=why) as told:
        read_log(data, "log-001.jsonl")
    assert told.value.where == f"log-001.jsonl, line {at + 1}"


def test_lines_of_one_kind_are_read_so_too() -> None:
    report = Report(
        t_s=1.0,
        step="s",
        load="march",
        target="memory",
        work=1.0,
        unit_of_work="bytes",
        seconds=1.0,
        checks=1,
        wrong=0,
    )
    data = encode(report)
    assert decode_lines(joined(data, data), Report, "x") == ([decode(data, Report, "x")] * 2, b"")
