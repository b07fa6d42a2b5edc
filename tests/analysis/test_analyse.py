"""What a run log shows: one promise a test, each log wrong in one place only."""

from __future__ import annotations

import subprocess
import sys

import msgspec
import numpy as np
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.analysis.curves import Curve, thinned
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import Event, Report, Row
from shipworthy.model.words import Aspect, Ending, Origin, Outcome, Unit
from tests.analysis.logs import (
    DRIVE,
    FAN,
    MATCHES,
    ORDER,
    PLAN,
    PROCESSOR,
    THROTTLE,
    Run,
    reading,
    start,
)

SHOP_LIMIT = Limit(quantity="temperature", value=85.0, unit=Unit.CELSIUS, origin=Origin.SHOP)


def analysis_of(*segments: Segment, limits: tuple[Limit, ...] = ()) -> Analysis:
    return analyse(PLAN, segments, ORDER, MATCHES, reading(), limits)


def codes(analysis: Analysis, outcome: Outcome) -> list[str]:
    return sorted(f.code for f in analysis.findings if f.outcome is outcome)


def one(analysis: Analysis, code: str) -> Finding:
    (found,) = [f for f in analysis.findings if f.code == code]
    return found


def named(finding: Finding) -> dict[str, object]:
    return {value.name: value.value for value in finding.values}


def test_a_clean_run_conforms_in_everything() -> None:
    analysis = analysis_of(Run().segment())
    assert {f.outcome for f in analysis.findings} == {Outcome.CONFORMS}
    assert {(f.line, f.aspect) for f in analysis.findings} == {
        ("", Aspect.ENDING),
        ("", Aspect.HEAT),
        ("", Aspect.FANS),
        ("1", Aspect.LOAD),
        ("2", Aspect.LOAD),
        ("3", Aspect.LOAD),
    }


@pytest.mark.parametrize(("target", "line"), [("cpu:1", "1"), ("memory", "2"), (DRIVE, "3")])
def test_one_wrong_result_is_a_difference_on_the_line_of_that_part(target: str, line: str) -> None:
    wrong = one(analysis_of(Run(wrong={target: 1}).segment()), "load.wrong")
    assert (wrong.outcome, wrong.line) == (Outcome.DIFFERS, line)
    assert named(wrong)["target"] == target


def test_a_wrong_result_on_a_part_that_nobody_ordered_speaks_of_the_unit() -> None:
    run = Run(wrong={"gpu:0": 2})
    run.targets = (*run.targets, ("pixels", "gpu:0"))
    assert one(analysis_of(run.segment()), "load.wrong").line == ""


def test_a_processor_that_was_not_loaded_is_not_checked() -> None:
    run = Run()
    run.targets = tuple(t for t in run.targets if t[1] != "cpu:1")
    left_out = one(analysis_of(run.segment()), "load.not-run")
    assert (left_out.outcome, left_out.line) == (Outcome.NOT_CHECKED, "1")
    assert named(left_out)["targets"] == "cpu:1"


def test_a_load_without_a_single_check_shows_nothing() -> None:
    run = Run()
    unchecked = tuple(
        msgspec.structs.replace(line, checks=0)
        if isinstance(line, Report) and line.target == "memory"
        else line
        for line in run.lines()
    )
    analysis = analysis_of(Segment(file="burn-in/log-001.jsonl", lines=unchecked))
    assert one(analysis, "load.not-run").line == "2"


def test_no_stop_line_means_interrupted_whatever_stood_before() -> None:
    analysis = analysis_of(Run(ending=None).segment())
    assert analysis.ending is Ending.INTERRUPTED
    assert codes(analysis, Outcome.DIFFERS) == ["burn-in.not-completed"]


def test_a_torn_last_line_means_interrupted() -> None:
    segment = Run().segment()
    torn = Segment(file=segment.file, lines=segment.lines, torn=True)
    assert analysis_of(torn).ending is Ending.INTERRUPTED


@pytest.mark.parametrize("ending", [Ending.STOPPED_BY_GUARD, Ending.STOPPED_BY_PERSON, Ending.FAILED_TO_RUN])
def test_any_other_ending_than_completed_is_a_difference(ending: Ending) -> None:
    analysis = analysis_of(Run(ending=ending).segment())
    assert named(one(analysis, "burn-in.not-completed"))["ending"] == ending.value


def test_a_step_that_was_cut_short_does_not_count_as_run() -> None:
    analysis = analysis_of(Run(step_seconds=6.0).segment())
    assert named(one(analysis, "burn-in.step-cut-short"))["steps"] == "together"


def test_no_burn_in_at_all_is_not_checked() -> None:
    assert codes(analysis_of(), Outcome.NOT_CHECKED) == ["burn-in.none"]


def _second(boot_id: str) -> Segment:
    begin = start(seconds=130.0, segment=2, boot_id=boot_id)
    return Segment(file="burn-in/log-002.jsonl", lines=Run().lines(begin))


def test_being_taken_up_on_the_same_start_is_no_difference() -> None:
    analysis = analysis_of(Run(ending=None).segment(), _second("one"))
    assert codes(analysis, Outcome.DIFFERS) == []
    assert one(analysis, "burn-in.taken-up").outcome is Outcome.CONFORMS
    assert analysis.spans[-1].end_s == pytest.approx(42.0)


def test_an_unannounced_restart_of_the_machine_is_a_difference() -> None:
    analysis = analysis_of(Run(ending=None).segment(), _second("two"))
    assert codes(analysis, Outcome.DIFFERS) == ["burn-in.unannounced-restart"]


def test_reaching_the_device_limit_is_a_difference_that_says_who_set_it() -> None:
    analysis = analysis_of(Run(rows=[(50.0, 900.0), (95.0, 900.0), (95.0, 900.0)]).segment())
    hot = one(analysis, "heat.limit-reached")
    assert (named(hot)["highest_c"], named(hot)["limit_c"], named(hot)["origin"]) == (95.0, 95.0, "device")


def test_the_lower_of_two_limits_binds() -> None:
    rows = [(50.0, 900.0), (86.0, 900.0), (86.0, 900.0)]
    assert codes(analysis_of(Run(rows=rows).segment()), Outcome.DIFFERS) == []
    hot = one(analysis_of(Run(rows=rows).segment(), limits=(SHOP_LIMIT,)), "heat.limit-reached")
    assert named(hot)["origin"] == "shop's policy"


def test_no_temperature_is_cannot_tell_and_never_a_number() -> None:
    analysis = analysis_of(Run(columns=(FAN,), rows=[(900.0,)] * 13).segment())
    assert codes(analysis, Outcome.CANNOT_TELL) == ["heat.no-sensor"]
    assert analysis.thermals == ()


def test_a_sensor_that_gave_nothing_all_the_time_counts_as_none() -> None:
    analysis = analysis_of(Run(rows=[(None, 900.0)] * 13).segment())
    assert codes(analysis, Outcome.CANNOT_TELL) == ["heat.no-sensor"]


def test_a_fan_that_stops_at_low_load_is_judged_over_the_whole_run() -> None:
    rows = [(50.0, 0.0)] * 6 + [(50.0, 900.0)] * 7
    assert one(analysis_of(Run(rows=rows).segment()), "fans.turn").outcome is Outcome.CONFORMS


def test_a_fan_channel_that_stays_at_nothing_is_for_a_person_to_look_at() -> None:
    run = Run(columns=(PROCESSOR, FAN, FAN), rows=[(50.0, 900.0, 0.0)] * 13)
    second = run.columns[2]
    run.columns = (*run.columns[:2], msgspec.structs.replace(second, channel="fan2"))
    assert one(analysis_of(run.segment()), "fans.one-silent").outcome is Outcome.CANNOT_TELL


def test_a_throttle_counter_that_rises_is_a_difference_and_one_that_stands_is_not() -> None:
    for last, wanted in ((70.0, ["heat.throttled"]), (4.0, [])):
        rows = [(50.0, 900.0, 4.0), (50.0, 900.0, last)]
        run = Run(columns=(PROCESSOR, FAN, THROTTLE), rows=rows)
        assert codes(analysis_of(run.segment()), Outcome.DIFFERS) == wanted


def test_a_hole_in_the_log_is_named() -> None:
    run = Run()
    lines = tuple(line for line in run.lines() if not (isinstance(line, Row) and 0 < line.t_s < 12))
    analysis = analysis_of(Segment(file="burn-in/log-001.jsonl", lines=lines))
    assert named(one(analysis, "burn-in.hole"))["longest_s"] == 12.0


@pytest.mark.parametrize("quantity", ["temperature/pci:0000:00:18.3/temp1", "disk"])
def test_a_stop_by_the_guard_is_told_with_its_limit(quantity: str) -> None:
    said = {"quantity": quantity, "label": "it", "seen": "96 °C", "limit": "95 °C", "origin": "device"}
    limit = Event(t_s=5.0, code="guard.limit", values=values(**said))
    analysis = analysis_of(Run(events=(limit,), ending=Ending.STOPPED_BY_GUARD).segment())
    stopped = one(analysis, "burn-in.guard-stopped")
    assert named(stopped).items() >= said.items()
    assert stopped.aspect is Aspect.ENDING


def test_a_configuration_that_changed_in_a_step_is_a_difference() -> None:
    changed = one(
        analysis_of(Run(changed=("firmware/version",)).segment()), "configuration.changed-during-burn-in"
    )
    assert named(changed) == {"step": "together", "keys": "firmware/version"}


def test_rates_stand_beside_the_limit_of_the_same_run() -> None:
    (summary,) = [s for s in analysis_of(Run().segment()).loads if s.target == "cpu:0"]
    assert (summary.rate, summary.limit, summary.checks) == (10.0, 12.0, 40)


def test_thinning_a_curve_keeps_its_highest_value() -> None:
    seen = np.arange(5000) % 7.0
    seen[3333] = 99.0
    thin = thinned(Curve(PROCESSOR, np.arange(5000.0), seen), 100)
    assert len(thin.v) <= 100
    assert max(v for v in thin.v if v is not None) == 99.0
    assert thin.t_s[thin.v.index(99.0)] == 3333.0


def test_thinning_a_fans_curve_keeps_the_moment_in_which_it_stood() -> None:
    seen = np.full(5000, 900.0)
    seen[3333] = 0.0
    thin = thinned(Curve(FAN, np.arange(5000.0), seen), 100)
    assert len(thin.v) <= 100
    assert thin.t_s[thin.v.index(0.0)] == 3333.0


def test_thinning_a_share_of_time_is_its_mean() -> None:
    seen = np.tile([0.0, 1.0, 1.0, np.nan], 1000)
    busy = msgspec.structs.replace(FAN, quantity="utilisation")
    thin = thinned(Curve(busy, np.arange(4000.0), seen), 100)
    assert (len(thin.v), set(thin.v), thin.t_s[1]) == (100, {0.6667}, 40.0)


def test_a_segment_begun_under_another_configuration_is_a_difference() -> None:
    other = Configuration.of({"firmware/version": "F8"})
    begin = msgspec.structs.replace(start(seconds=130.0, segment=2), configuration=other)
    second = Segment(file="burn-in/log-002.jsonl", lines=Run().lines(begin))
    analysis = analysis_of(Run(ending=Ending.STOPPED_BY_PERSON).segment(), second)
    assert codes(analysis, Outcome.DIFFERS) == ["configuration.changed-between-segments"]
    told = one(analysis, "configuration.changed-between-segments")
    assert named(told) == {"segment": "burn-in/log-002.jsonl", "keys": "firmware/version"}


def test_a_restart_does_not_hide_behind_a_segment_without_a_start() -> None:
    lost = Segment(file="burn-in/log-002.jsonl", lines=(Row(t_s=0.0, v=(50.0, 900.0)),))
    analysis = analysis_of(Run(ending=None).segment(), lost, _second("two"))
    assert "burn-in.unannounced-restart" in codes(analysis, Outcome.DIFFERS)


def test_throttling_before_a_restart_is_not_lost_when_the_counter_begins_anew() -> None:
    columns = (PROCESSOR, FAN, THROTTLE)
    first = Run(columns=columns, rows=[(50.0, 900.0, 0.0), (50.0, 900.0, 50.0)] * 6, ending=None).segment()
    second = Segment(
        file="burn-in/log-002.jsonl",
        lines=Run(columns=columns, rows=[(50.0, 900.0, 0.0)] * 13).lines(start(130.0, 2)),
    )
    assert "heat.throttled" in codes(analysis_of(first, second), Outcome.DIFFERS)


def test_a_temperature_that_falls_silent_shows_nothing() -> None:
    rows: list[tuple[float | None, ...]] = [(50.0, 900.0)] * 3 + [(None, 900.0)] * 10
    assert codes(analysis_of(Run(rows=rows).segment()), Outcome.CANNOT_TELL) == ["heat.no-sensor"]


def test_a_drives_temperature_does_not_speak_for_the_processor() -> None:
    drive = msgspec.structs.replace(PROCESSOR, place="pci:0000:04:00.0", label="Composite")
    analysis = analysis_of(Run(columns=(drive, FAN)).segment())
    assert codes(analysis, Outcome.CANNOT_TELL) == ["heat.no-processor"]


def test_a_log_that_stops_long_before_its_end_has_a_hole() -> None:
    lines = tuple(line for line in Run().lines() if not (isinstance(line, Row) and line.t_s > 1))
    analysis = analysis_of(Segment(file="burn-in/log-001.jsonl", lines=lines))
    assert "burn-in.hole" in codes(analysis, Outcome.CANNOT_TELL)


def test_a_burn_in_shorter_than_the_policy_asks_is_a_difference() -> None:
    analysis = analyse(PLAN, [Run().segment()], ORDER, MATCHES, reading(), (), burn_in_least_s=11.0)
    assert named(one(analysis, "burn-in.too-short")) == {"loaded_s": 10.0, "least_s": 11.0}


def test_who_only_reads_segments_does_not_wait_for_numpy() -> None:
    code = "import sys, shipworthy.jobs.unit; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
