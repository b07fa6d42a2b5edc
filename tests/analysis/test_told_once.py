"""One fault, one finding: what several sources tell is told once, at the strongest; unlike faults apart."""

from __future__ import annotations

import ast
import re
import tomllib
from importlib import resources
from pathlib import Path

import msgspec
import pytest

from shipworthy import analysis as room
from shipworthy.analysis import Segment, analyse
from shipworthy.analysis.loads import load_summaries
from shipworthy.messages import finding_sentence, known_codes
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import Scalar
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import Event, LogLine, Report
from shipworthy.model.words import Aspect, Ending, PowerCycle
from tests.analysis.logs import FAN, MATCHES, ORDER, PROCESSOR, Run, reading, start
from tests.analysis.logs import PLAN as SHORT
from tests.analysis.seen import all_of, differs, event, one, said


def analysed(*segments: Segment) -> Analysis:
    return analyse(SHORT, segments, ORDER, MATCHES, reading(), ())


def told(*events: Event) -> Analysis:
    return analysed(Run(events=events).segment())


# Wrong results


def report(wrong: int, *, compared: bool, step: str = "together", target: str = "cpu:0") -> Report:
    return Report(
        t_s=9.0,
        step=step,
        load="matrix",
        target=target,
        work=1.0,
        unit_of_work="rounds compared" if compared else "GFLOP",
        seconds=0.0 if compared else 1.0,
        checks=4,
        wrong=wrong,
    )


@pytest.mark.parametrize(
    ("reports", "wrong"),
    [
        ([report(1, compared=False), report(1, compared=True)], 1),  # the proof and the comparison
        ([report(3, compared=False), report(1, compared=True)], 3),  # three products of one round
        ([report(0, compared=False), report(2, compared=True)], 2),  # below the bound of the proof
        ([report(1, compared=False), report(1, compared=True, step="rest")], 2),  # two steps, two faults
        ([report(1, compared=True), report(1, compared=True)], 2),
    ],
)
def test_a_fault_that_proof_and_comparison_both_saw_counts_once(reports: list[Report], wrong: int) -> None:
    lines = Run().lines()
    segment = Segment(file="burn-in/log-001.jsonl", lines=(*lines[:-1], *reports, lines[-1]))
    assert said(one(analysed(segment), "load.wrong"))["wrong"] == wrong
    (row,) = [row for row in load_summaries([segment]) if (row.load, row.target) == ("matrix", "cpu:0")]
    assert row.wrong == wrong


def test_the_same_step_run_twice_can_be_wrong_twice() -> None:
    def segment(begin_s: float, number: int, *reports: Report) -> Segment:
        lines = Run(ending=None).lines(start(begin_s, number))
        return Segment(file=f"burn-in/log-00{number}.jsonl", lines=(*lines, *reports))

    first = segment(100.0, 1, report(1, compared=False))
    again = segment(130.0, 2, report(1, compared=True))
    assert said(one(analysed(first, again), "load.wrong"))["wrong"] == 2


def _differ(target: str, *, expected: str = "", where: str = "round 3: the cores differ") -> Event:
    named: dict[str, Scalar] = {"step": "together", "load": "matrix", "target": target, "what": "a round"}
    return event("load.wrong", **named, where=where, expected=expected, found=target, wrong=1, checks=1)


def test_cores_of_which_nobody_knows_which_was_wrong_are_one_finding() -> None:
    wrong = {"cpu:0": 1, "cpu:1": 1}
    both = analysed(Run(wrong=wrong, events=(_differ("cpu:0"), _differ("cpu:1"))).segment())
    assert (said(one(both, "load.wrong"))["target"], said(one(both, "load.wrong"))["wrong"]) == (
        "cpu:0, cpu:1",
        1,
    )
    blamed = (_differ("cpu:0", expected="right"), _differ("cpu:1", expected="right"))
    assert len(all_of(analysed(Run(wrong=wrong, events=blamed).segment()), "load.wrong")) == 2
    apart = (_differ("cpu:0"), _differ("cpu:1", where="round 9: the cores differ"))
    assert len(all_of(analysed(Run(wrong=wrong, events=apart).segment()), "load.wrong")) == 2


def test_wrong_results_of_one_block_that_are_told_one_by_one_count_once() -> None:
    def shown(t_s: float, wrong: int) -> Event:
        return event("load.wrong", t_s, step="together", load="caches", target="cpu:1", wrong=wrong, checks=9)

    died = told(*[shown(3.0, 3)] * 3, shown(3.0, 1), shown(3.0, 1), *[shown(6.0, 20)] * 8)
    assert said(one(died, "load.wrong"))["wrong"] == 3 + 1 + 1 + 20


# How it ended, and heat


def test_a_stop_by_the_guard_is_how_it_ended_and_the_heat_what_it_showed() -> None:
    quantity = f"temperature/{PROCESSOR.place}/temp1"
    stop = event("guard.limit", 6.0, quantity=quantity, label="Processor", seen_c=97.0, limit_c=95.0)
    rows: list[tuple[float | None, ...]] = [(97.0, 900.0)] * 13
    found = analysed(Run(rows=rows, events=(stop,), ending=Ending.STOPPED_BY_GUARD).segment())
    assert differs(found, Aspect.ENDING) == ["burn-in.guard-stopped"]
    assert differs(found, Aspect.HEAT) == ["heat.limit-reached"]
    assert len(differs(found)) == 2


@pytest.mark.parametrize(
    ("stop", "label"),
    [
        (event("guard.limit", quantity="silence", label="Tctl"), "the silence of Tctl"),
        (
            event("guard.limit", 8.0, quantity="time", label="time over the step's", step="together"),
            "the time over that of the step together (storage on x)",
        ),
        (event("guard.limit", quantity="memory", label="free memory"), "free memory"),
    ],
)
def test_what_the_guard_stopped_at_is_said_so_that_it_reads(stop: Event, label: str) -> None:
    loads = (
        event("load.started", 1.0, step="together", load="storage", target="x"),
        event("load.started", 1.0, step="together", load="matrix", target="cpu:0"),
        event("load.stopped", 7.0, step="together", load="matrix", target="cpu:0"),
    )
    found = analysed(Run(events=(*loads, stop), ending=Ending.STOPPED_BY_GUARD).segment())
    assert said(one(found, "burn-in.guard-stopped"))["label"] == label
    assert differs(found) == ["burn-in.guard-stopped"]


def test_a_lost_guard_is_told_once_and_in_a_log_that_says_no_more() -> None:
    found = analysed(Run(events=(event("guard.lost"),), ending=Ending.FAILED_TO_RUN).segment())
    assert differs(found) == ["guard.lost"]
    assert one(found, "guard.lost")


def test_a_processors_sensors_are_at_their_limit_together() -> None:
    cores = tuple(
        msgspec.structs.replace(PROCESSOR, channel=f"temp{n}", label=f"Core {n}") for n in range(2, 18)
    )
    drive = msgspec.structs.replace(PROCESSOR, place="pci:0000:04:00.0", label="Composite", critical=85.0)
    rows = [(96.0, *[95.0 + n / 100 for n in range(16)], 86.0, 900.0)] * 13
    found = all_of(
        analysed(Run(columns=(PROCESSOR, *cores, drive, FAN), rows=rows).segment()), "heat.limit-reached"
    )
    assert [(f.part, said(f)["label"], said(f)["sensors"]) for f in found] == [
        (PROCESSOR.place, "Processor", 17),
        ("pci:0000:04:00.0", "Composite", 1),
    ]


# The configuration


OTHER = Configuration.of({"firmware/version": "F7", "memory/speed": 4800})
THIRD = Configuration.of({"firmware/version": "F8", "memory/speed": 4800})


def begun(number: int, configuration: Configuration, *events: LogLine, ending: Ending | None) -> Segment:
    begin = msgspec.structs.replace(start(130.0 * number, number), configuration=configuration)
    lines = Run(ending=ending).lines(begin)
    at = len(lines) - 1 if ending is not None else len(lines)
    return Segment(file=f"burn-in/log-00{number}.jsonl", lines=(*lines[:at], *events, *lines[at:]))


def test_what_a_power_cycle_changed_is_told_by_it_alone_and_what_changed_besides_by_itself() -> None:
    named: dict[str, Scalar] = {"step": "warm", "power": PowerCycle.WARM_RESTART.value}
    first = Run(events=(event("power.announced", 12.0, **named),), ending=Ending.AWAITING_POWER).segment()
    back = event("power.returned", 12.0, **named, away_s=40.0)
    second = begun(2, OTHER, back, ending=Ending.STOPPED_BY_PERSON)
    changed = [f for f in analysed(first, second).findings if f.aspect is Aspect.CONFIGURATION]
    assert [(f.code, said(f)["keys"]) for f in changed] == [("power.changed", "memory/speed")]
    third = begun(3, THIRD, ending=Ending.COMPLETED)
    changed = [f for f in analysed(first, second, third).findings if f.aspect is Aspect.CONFIGURATION]
    assert {(f.code, said(f)["keys"]) for f in changed} == {
        ("power.changed", "memory/speed"),
        ("configuration.changed-between-segments", "firmware/version"),
    }


def test_a_change_within_a_segment_is_not_told_again_when_the_next_begins_with_it() -> None:
    first = Run(changed=("memory/speed",), ending=Ending.STOPPED_BY_PERSON).segment()
    found = analysed(first, begun(2, OTHER, ending=Ending.COMPLETED))
    assert differs(found) == ["configuration.changed-during-burn-in"]


# Complaints


def kernel(kind: str, place: str, line: str = "a line") -> Event:
    return event("kernel.error", kind=kind, place=place, count=1, line=line)


def counter(name: str, place: str) -> Event:
    return event("counter.rose", counter=name, place=place, before=0, now=2)


CORRECTED, FATAL = "PCIe Bus Error: severity=Corrected", "PCIe Bus Error: severity=Uncorrected (Fatal)"
CARD, PORT = "pci:0000:01:00.0", "pci:0000:00:01.0"


@pytest.mark.parametrize(
    ("events", "codes"),
    [
        (
            [kernel("link error", CARD, CORRECTED), counter("pcie correctable errors", CARD)],
            ["health.kernel-mended"],
        ),
        (
            [kernel("link error", CARD, FATAL), counter("pcie fatal errors", CARD)],
            ["health.kernel-uncorrected"],
        ),
        # a graver one, and one of the other end of the link, are told besides
        (
            [kernel("link error", CARD, CORRECTED), counter("pcie fatal errors", CARD)],
            ["health.counter-rose", "health.kernel-mended"],
        ),
        (
            [kernel("link error", CARD, CORRECTED), counter("pcie correctable errors", PORT)],
            ["health.counter-mended", "health.kernel-mended"],
        ),
        # a mended error of memory: three lines and a counter, which knows the module
        (
            [
                kernel("machine check corrected", ""),
                kernel("machine check corrected", "edac:mc0", "EDAC MC0: 1 CE"),
                counter("corrected memory errors", "edac:mc0/dimm-0"),
            ],
            ["health.counter-mended"],
        ),
        (
            [kernel("machine check corrected", ""), kernel("machine check corrected", "cpu:3")],
            ["health.kernel-mended"],
        ),
        (
            [
                kernel("machine check uncorrected", "edac:mc0"),
                counter("corrected memory errors", "edac:mc0/dimm-0"),
            ],
            ["health.counter-mended", "health.kernel-uncorrected"],
        ),
        # of drives each line is an error of its own, though one of them is no longer there to be named
        ([kernel("disk error", ""), kernel("disk error", CARD)], ["health.kernel-error"] * 2),
    ],
)
def test_an_error_that_kernel_and_counter_both_tell_of_is_one(events: list[Event], codes: list[str]) -> None:
    assert differs(told(*events)) == codes


def test_the_kernels_line_of_a_slow_down_is_left_to_the_counters_and_one_of_critical_heat_is_not() -> None:
    throttle = msgspec.structs.replace(FAN, quantity="throttle", place="cpu:0", channel="core")
    rows = [(50.0, 900.0, float(n > 3)) for n in range(13)]
    slowed = kernel("thermal", "cpu:0", "CPU0: Core temperature is above threshold, cpu clock is throttled")
    critical = kernel("thermal", "", "thermal thermal_zone0: critical temperature reached")

    def codes(*events: Event) -> list[str]:
        return differs(analysed(Run(columns=(PROCESSOR, FAN, throttle), rows=rows, events=events).segment()))

    assert codes(slowed) == []
    assert codes(slowed, critical) == ["health.kernel-mended"]
    assert differs(told(slowed)) == ["health.kernel-mended"], "where nothing counts, the line is all there is"


# Words


def _codes_in_the_room() -> set[str]:
    folder = Path(str(room.__file__)).parent
    texts = {
        node.value
        for path in folder.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    return {text for text in texts if re.fullmatch(r"[a-z-]+(\.[a-z-]+)+", text)} | {
        f"burn-in.{what}" for what in ("load-died", "load-crashed", "load-could-not")
    }


def test_every_code_of_this_room_has_a_sentence_and_every_sentence_a_code() -> None:
    page = (resources.files("shipworthy.messages") / "en/analysis.toml").read_text("utf-8")
    sentences = tomllib.loads(page)
    assert set(sentences) <= _codes_in_the_room(), "a sentence that nobody says"
    beginnings = ("burn-in.", "heat.", "fans.", "health.", "clock.", "storage.", "configuration.")
    said_here = {code for code in _codes_in_the_room() if code.startswith(beginnings)}
    assert said_here <= known_codes()


WHO: dict[str, Scalar] = {"step": "together", "load": "matrix", "target": "cpu:0"}
LEAST = (
    event("guard.limit", step="together", quantity="silence"),
    event("guard.limit", step="together", quantity="time"),
    event("guard.limit", quantity="temperature/x/temp1", seen="96 °C"),
    event("guard.lost"),
    event("kernel.error", kind="disk error", count=1),
    event("counter.rose", counter="pcie fatal errors", before=0, now=1),
    event("drive.health", attribute="media errors", before=0, now=1),
    event("sensor.silent", channel="temp1"),
    event("loads.paused"),
    event("load.wrong", **WHO),
    event("load.died", **WHO, how="ended by SIGKILL"),
    event("load.could-not", step="together", why="no drive"),
    event("power.announced", step="cold", power="cold start"),
    event("kernel.not-read", why="refused"),
)
"""With no more than what the tool writes in any case."""
ENDINGS = [Ending.STOPPED_BY_GUARD, Ending.FAILED_TO_RUN, Ending.COMPLETED, None]


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("least", LEAST, ids=lambda e: e.code)
def test_no_sentence_lacks_a_value_though_an_event_says_little(least: Event, ending: Ending | None) -> None:
    under_load = event("step.under-load", 0.5, step="together")
    for told_event in (least, Event(t_s=5.0, code=least.code)):
        run = Run(events=(under_load, told_event), ending=ending)
        for finding in analysed(run.segment()).findings:
            words = finding_sentence(finding)
            assert "{" not in words.say + words.do
            assert "  " not in words.say or told_event is not least
