"""Processors: the one that was sold, with all the cores and threads that were sold with it."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Comparison
from shipworthy.model.words import Absent, Aspect, Category, Outcome
from tests.compare import machines as m


def said_of(text: str, model: str = "Tarn C7-14400F", **said: Scalar | Absent) -> Comparison:
    of = m.line(Category.PROCESSOR, text)
    found = compare(m.order(of), m.machine(m.processor(model, **said)), (), ())
    assert all("{" not in finding_sentence(f).say for f in found.findings)
    return found


@pytest.mark.parametrize(
    ("text", "model", "code"),
    [
        ("Tarn C7-14400F 4.7 GHz boxed", "Tarn C7-14400F CPU @ 2.50GHz", "processor.model.conforms"),
        ("Tarn C7-14400F", "Tarn C7-14400", "processor.model.differs"),
        ("Tarn C7-14400F", "AMD Eng Sample: 100-000000560-40_Y", "processor.model.sample"),
        ("Tarn C7-14400F", "Genuine Intel(R) CPU 0000 @ 2.40GHz", "processor.model.no-number"),
        ("Tarn C7-14400F", "Common processor", "processor.model.cannot-tell"),
    ],
)
def test_the_model_is_told_by_its_whole_name(text: str, model: str, code: str) -> None:
    assert m.codes(said_of(text, model), Aspect.MODEL) == [code]


@pytest.mark.parametrize(
    ("said", "codes"),
    [
        ({"performance_cores": 6, "efficiency_cores": 8}, {"processor.cores.kind"}),
        (
            {"performance_cores": 6, "efficiency_cores": 4},
            {"processor.cores.kind", "processor.cores.kind-differs"},
        ),
        ({}, {"processor.cores.kind-open"}),
    ],
)
def test_kinds_of_cores_are_counted_apart(said: dict[str, Scalar], codes: set[str]) -> None:
    found = said_of("Tarn C7-14400F, 6P+8E", cores=14, threads=20, online_cpus="0-19", **said)
    kinds = {code for code in m.codes(found, Aspect.CORES) if ".kind" in code}
    assert kinds == codes
    assert not any(".kind" in code for code in m.codes(said_of("Tarn C7-14400F", **said)))


@pytest.mark.parametrize(
    ("text", "outcomes"),
    [
        ("Tarn C7-14400F, 8C/16T", {Outcome.CONFORMS}),
        ("Tarn C7-14400F, 8C/8T", {Outcome.CONFORMS, Outcome.DIFFERS}),
        ("Tarn C7-14400F, 6C/16T", {Outcome.CONFORMS, Outcome.DIFFERS}),
        ("Tarn C7-14400F with 16 threads", {Outcome.CONFORMS}),
    ],
)
def test_cores_and_threads_that_the_text_tells_must_be_there(text: str, outcomes: set[Outcome]) -> None:
    found = said_of(text)
    assert {f.outcome for f in found.findings if f.aspect is Aspect.CORES} == outcomes


def test_threads_of_a_processor_with_one_thread_a_core_are_missing() -> None:
    found = said_of("Tarn C7-14400F, 8C/16T", cores=8, threads=8, online_cpus="0-7")
    assert "processor.cores.threads-differs" in m.codes(found, Aspect.CORES)
    unread = said_of("Tarn C7-14400F, 8C/16T", threads=Absent.NOT_READABLE)
    assert "processor.cores.threads-open" in m.codes(unread, Aspect.CORES)


def test_a_model_behind_the_word_for_its_socket_is_compared() -> None:
    for text, got, outcome in (
        ("LGA1700 socket Tarn-C500F", "Tarn-C500", Outcome.DIFFERS),
        ("LGA1700 socket Tarn-C500F", "Tarn-C500F", Outcome.CONFORMS),
    ):
        found = compare(m.order(m.line(Category.PROCESSOR, text)), m.machine(m.processor(got)), (), ())
        assert m.finding(found, Aspect.MODEL).outcome is outcome, got
