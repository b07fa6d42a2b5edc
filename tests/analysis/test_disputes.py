"""Cores that differed, and a run that ended before it was told which of them was wrong."""

from __future__ import annotations

from shipworthy.analysis.runs import Happened
from shipworthy.analysis.wrong import wrong_results
from shipworthy.model.base import Scalar


def happened(code: str, **said: Scalar) -> Happened:
    return Happened(3.0, code, {"step": "all", "load": "integers", **said}, 0)


DISPUTED = happened("load.disputed", targets="cpu:0, cpu:1", round=7)


def test_a_dispute_at_which_the_run_ended_is_a_wrong_result() -> None:
    (wrong,) = wrong_results((), (DISPUTED,), ())
    assert (wrong.load, wrong.targets, wrong.wrong) == ("integers", ("cpu:0, cpu:1",), 1)
    assert "round 7" in str(wrong.named()["where"])


def test_a_dispute_that_was_settled_counts_once() -> None:
    blamed = happened(
        "load.wrong",
        target="cpu:1",
        what="w",
        where="round 7: another core's result is proven",
        expected="a",
        found="b",
        wrong=1,
        checks=1,
    )
    (wrong,) = wrong_results((), (DISPUTED, blamed), ())
    assert wrong.targets == ("cpu:1",)


def test_another_rounds_settlement_settles_no_other() -> None:
    blamed = happened("load.wrong", target="cpu:1", where="round 70: x", expected="a", found="b", wrong=1)
    assert len(wrong_results((), (DISPUTED, blamed), ())) == 2
