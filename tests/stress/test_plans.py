"""Plans: those that ship, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, digest_of, encode_pretty
from shipworthy.model.facts import Fact, Part
from shipworthy.model.words import Absent, Cores, Origin, PartKind, PowerCycle
from shipworthy.stress.plans import (
    check_plan,
    parse_plan,
    plan_digest,
    read_plan,
    shipped_names,
    shipped_plan,
)
from shipworthy.stress.protocol import Drive, Ground
from shipworthy.stress.summary import CAUTIONS, Machine, summary
from shipworthy.verdict.policies import parse_policy, shipped_policy

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
    lengths = {
        "demo-sixty-seconds": 60,
        "first-ninety-seconds": 90,
        "two-minutes": 120,
        "one-hour": 3600,
        "eight-hours": 28_800,
    }
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


SENSOR = {
    "name": "coretemp",
    "temp1_input": "41000",
    "temp1_max": "85000",
    "temp1_crit": "95000",
    "temp1_label": "Package id 0",
}

OUR_LOADS = ("arithmetic", "caches", "ciphers", "exchange", "integers", "march", "matrix", "storage")

PULSES = 'load = "matrix"\npulse_hz = 2'

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
    "a share of memory for two": (
        GOOD.replace('load = "matrix"', 'load = "matrix"\nmemory_share = 0.6')
        + '[[steps.loads]]\nload = "march"\nmemory_share = 0.6',
        "more memory is asked for than there is",
    ),
    "an intensity of nothing": (GOOD + "intensity = 0", "wanted a number above 0, at steps number 1 loads"),
    "pulses that never rest": (GOOD.replace('load = "matrix"', PULSES), "has pulses and never rests"),
    "pulses too fast": (GOOD.replace('load = "matrix"', PULSES + "0"), "at most 10"),
    "a power cycle with loads": (
        GOOD.replace("seconds = 60", 'seconds = 60\npower = "cold start"'),
        "a cold start cannot have loads",
    ),
    "a power cycle that nobody knows": (GOOD.replace("seconds = 60", 'seconds = 60\npower = "nap"'), "nap"),
    "a step's limit out of this world": (
        GOOD + '[[steps.limits]]\nquantity = "temperature"\nvalue = 9\nunit = "celsius"\norigin = "device"',
        "A limit lies at",
    ),
    "no TOML": ("plan_id =", "not TOML"),
    "a huge file": ("#" * 300_000, "too large"),
    "a number of thousands of digits": ("schema = " + "9" * 6_000, "not TOML"),
    "a nesting without end": ("steps = " + "[" * 5_000 + "]" * 5_000, "nested too deep"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_plan_is_refused_in_one_sentence_that_says_why(case: str) -> None:
    text, why = BAD[case]
    with pytest.raises(Trouble, match=why) as caught:
        parse_plan(text.encode(), "ours.toml")
    assert caught.value.where.startswith("ours.toml") and caught.value.mend
    assert "$" not in caught.value.what and "`" not in caught.value.what


def test_text_in_another_encoding_is_refused() -> None:
    with pytest.raises(Trouble, match="UTF-8"):
        parse_plan(GOOD.encode("utf-16"), "ours.toml")


def test_a_load_that_is_not_installed_is_refused() -> None:
    with pytest.raises(Trouble, match="no load is called juggling"):
        check_plan(parse_plan(GOOD.replace("matrix", "juggling").encode(), "ours.toml"))


def test_a_storage_load_without_a_budget_is_refused_before_anything_runs() -> None:
    with pytest.raises(Trouble, match="may write 0 bytes"):
        check_plan(parse_plan(GOOD.replace("matrix", "storage").encode(), "ours.toml"))


@pytest.mark.parametrize(
    "name", [n for n in shipped_names() if n.startswith(("one-", "eight-", "after-a-r"))]
)
def test_a_plan_that_a_release_may_rest_on_loads_the_unit_for_as_long_as_the_shipped_policy_asks(
    name: str,
) -> None:
    least_s = parse_policy(shipped_policy(), "shipped").burn_in_least_s
    assert summary(shipped_plan(name)).under_load_s >= least_s


def test_the_long_plans_cover_what_the_field_studies_ask_for() -> None:
    """Each part alone, all together, load steps of 0.1 to 10 Hz, cores one by one, light load, cool-down."""
    for plan in (shipped_plan("one-hour"), shipped_plan("eight-hours")):
        requests = [request for step in plan.steps for request in step.loads]
        alone = {step.loads[0].load for step in plan.steps if len(step.loads) == 1}
        assert set(OUR_LOADS) <= alone
        assert any(len(step.loads) == 3 for step in plan.steps)
        assert {0.1, 1.0, 10.0} <= {request.pulse_hz for request in requests}
        assert any(request.cores is Cores.IN_TURN for request in requests)
        assert any(request.intensity <= 0.1 for request in requests)
        assert not plan.steps[0].loads and not plan.steps[-1].loads


def test_the_first_ramp_rises() -> None:
    loads = [step.loads[0] for step in shipped_plan("first-ninety-seconds").steps if step.loads]
    assert [load.intensity for load in loads[:3]] == [0.25, 0.5, 1.0]


def test_a_power_step_in_a_shipped_plan_is_none_of_those_that_run_unattended() -> None:
    with_power = {n for n in shipped_names() if any(s.power is not None for s in shipped_plan(n).steps)}
    assert with_power == {"power-cycles", "after-a-move"}
    asked = {step.power for step in shipped_plan("power-cycles").steps}
    assert set(PowerCycle) <= asked


def test_the_sum_tells_what_is_written_and_which_limits_stop_it_and_who_set_them() -> None:
    told = summary(shipped_plan("demo-sixty-seconds"))
    rows = {row.step: row for row in told.steps}
    assert [row.budget_bytes for row in rows["storage"].writes] == [2**30]
    assert rows["processor"].writes == ()
    assert [row.budget_bytes for row in told.written] == [2**30 + 2**29]
    stops = {(stop.quantity, stop.origin) for stop in rows["storage"].stops}
    assert {("temperature", Origin.DEVICE), ("temperature", Origin.SHOP)} <= stops
    assert {"free memory", "free disk space"} <= {quantity for quantity, _ in stops}
    assert "free disk space" not in {stop.quantity for stop in rows["processor"].stops}
    assert all(load.verifies and load.power for row in told.steps for load in row.loads)
    assert (told.seconds, told.under_load_s) == (60, 52)
    assert told.draws == () and told.cautions == CAUTIONS


def test_on_a_machine_the_sum_names_drives_processes_watts_and_the_devices_own_limits(tmp_path: Path) -> None:
    root = Root(tmp_path / "machine")
    for name, text in SENSOR.items():
        (path := root.folder / "sys/class/hwmon/hwmon0" / name).parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text + "\n", "utf-8")
    limit = Fact(name="power_limit_long_w", source="power-limits", value=125.0)
    silent = Fact(name="power_limit_short_w", source="power-limits", absent=Absent.NOT_READABLE)
    cpu = Part(kind=PartKind.PROCESSOR, place="cpu", facts=(limit, silent))
    ground = Ground(work_folders=(str(tmp_path),))
    told = summary(shipped_plan("demo-sixty-seconds"), Machine(root=root, ground=ground, parts=(cpu,)))
    (row,) = told.written
    assert row.folder == str(tmp_path) and row.place
    assert [(draw.place, draw.watts, draw.source) for draw in told.draws] == [("cpu", 125.0, "power-limits")]
    loads = [load for step in told.steps for load in step.loads]
    assert all(load.processes for load in loads)
    own = [stop for stop in told.steps[0].stops if stop.origin is Origin.DEVICE]
    assert [(stop.label, stop.value) for stop in own] == [("Package id 0", 95.0)]
    assert told.temperatures == 1


def test_a_machine_that_shows_no_heat_has_no_device_that_names_a_limit(tmp_path: Path) -> None:
    ground = Ground(work_folders=(str(tmp_path),))
    told = summary(shipped_plan("one-hour"), Machine(root=Root(tmp_path), ground=ground))
    assert told.temperatures == 0
    assert not [stop for step in told.steps for stop in step.stops if stop.origin is Origin.DEVICE]


def test_a_drives_own_budget_bounds_what_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = "pci:0000:01:00.0/nvme:1"
    monkeypatch.setattr("shipworthy.stress.loads.storage.drives_holding", lambda root, folder: (place,))
    drive = Drive(place=place, serial="KD-7", capacity_bytes=10**12, write_left_bytes=10**8)
    ground = Ground(work_folders=(str(tmp_path),), drives=(drive,))
    told = summary(shipped_plan("demo-sixty-seconds"), Machine(root=Root(tmp_path), ground=ground))
    (row,) = told.written
    assert (row.place, row.serial, row.budget_bytes, row.left_bytes) == (place, "KD-7", 2 * 10**8, 10**8)


def test_the_plans_digest_is_that_of_its_stored_bytes() -> None:
    plan = shipped_plan("one-hour")
    assert plan_digest(plan) == digest_of(encode_pretty(plan))
