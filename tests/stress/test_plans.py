"""Plans: those that ship, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.model.base import Trouble, digest_of, encode_pretty
from shipworthy.model.words import Origin
from shipworthy.stress.plans import (
    check_plan,
    parse_plan,
    plan_digest,
    read_plan,
    shipped_names,
    shipped_plan,
    summary,
)

GOOD = """
plan_id = "ours"
[[limits]]
quantity = "temperature"
value = 90
unit = "celsius"
origin = "shop's policy"
[[steps]]
step = "processor"
seconds = 60
[[steps.loads]]
load = "matrix"
"""


@pytest.mark.parametrize("name", shipped_names())
def test_a_shipped_plan_is_sound_and_carries_its_own_name(name: str) -> None:
    plan = shipped_plan(name)
    check_plan(plan)
    assert plan.plan_id == name
    assert any(limit.quantity == "temperature" for limit in plan.limits)


def test_shipped_plans_last_as_long_as_their_names_say() -> None:
    lengths = {"demo-sixty-seconds": 60, "first-ninety-seconds": 90, "one-hour": 3600, "eight-hours": 28_800}
    assert {name: shipped_plan(name).seconds for name in lengths} == lengths
    assert 20 <= shipped_plan("demo-half-minute").seconds <= 25


def test_a_plan_that_does_not_ship_is_trouble_that_names_those_that_do() -> None:
    with pytest.raises(Trouble, match="one-hour"):
        shipped_plan("three-years")


def test_a_shops_own_plan_is_read_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "ours.toml"
    path.write_text(GOOD, "utf-8")
    assert read_plan(path).steps[0].loads[0].load == "matrix"
    with pytest.raises(Trouble, match="cannot be read"):
        read_plan(tmp_path / "missing.toml")


BAD = {
    "a wrong key": (GOOD.replace("seconds = 60", "minutes = 1"), "minutes|seconds"),
    "a unit that is no unit": (GOOD.replace('"celsius"', '"fahrenheit"'), "fahrenheit"),
    "a unit of something else": (GOOD.replace('"celsius"', '"rpm"'), "is in rpm"),
    "a negative time": (GOOD.replace("60", "-60"), "seconds"),
    "a time as text": (GOOD.replace("60", '"60 s"'), "seconds"),
    "a limit on nothing watched": (
        GOOD.replace('"temperature"', '"noise"'),
        "nothing that the guard watches",
    ),
    "a limit out of this world": (GOOD.replace("90", "900"), "A limit lies at"),
    "a limit in the device's name": (
        GOOD.replace("shop's policy", "device"),
        "claims to be set by the device",
    ),
    "a limit by nobody": (GOOD.replace("shop's policy", "somebody"), "somebody"),
    "no step": ('plan_id = "ours"\nsteps = []', "length"),
    "two steps of one name": (GOOD + '[[steps]]\nstep = "processor"\nseconds = 1', "two steps"),
    "a load twice": (GOOD + '[[steps.loads]]\nload = "matrix"', "twice"),
    "more memory than there is": (GOOD.replace("seconds", "memory_share = 0.9\nseconds"), "memory_share"),
    "no TOML": ("plan_id =", "not TOML"),
    "a huge file": ("#" * 300_000, "too large"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_plan_is_refused_in_one_sentence_that_says_why(case: str) -> None:
    text, why = BAD[case]
    with pytest.raises(Trouble, match=why) as caught:
        parse_plan(text.encode(), "ours.toml")
    assert caught.value.where == "ours.toml" and caught.value.mend


def test_text_in_another_encoding_is_refused() -> None:
    with pytest.raises(Trouble, match="UTF-8"):
        parse_plan(GOOD.encode("utf-16"), "ours.toml")


def test_a_load_that_is_not_installed_is_refused() -> None:
    with pytest.raises(Trouble, match="no load is called juggling"):
        check_plan(parse_plan(GOOD.replace("matrix", "juggling").encode(), "ours.toml"))


def test_a_storage_load_without_a_budget_is_refused_before_anything_runs() -> None:
    with pytest.raises(Trouble, match="may write 0 bytes"):
        check_plan(parse_plan(GOOD.replace("matrix", "storage").encode(), "ours.toml"))


def test_the_sum_tells_what_is_written_and_which_limits_stop_it_and_who_set_them() -> None:
    rows = {row.step: row for row in summary(shipped_plan("demo-sixty-seconds"))}
    assert rows["storage"].write_budget_bytes == 2**30
    assert "unnamed file" in rows["storage"].written_where
    assert rows["processor"].write_budget_bytes == 0 and rows["processor"].written_where == ""
    stops = {(stop.quantity, stop.origin) for stop in rows["storage"].stops}
    assert {("temperature", Origin.DEVICE), ("temperature", Origin.SHOP)} <= stops
    assert {"time", "free memory", "free disk space"} <= {quantity for quantity, _ in stops}
    assert all(row.verifies for row in rows.values() if row.loads)


def test_the_plans_digest_is_that_of_its_stored_bytes() -> None:
    plan = shipped_plan("one-hour")
    assert plan_digest(plan) == digest_of(encode_pretty(plan))
