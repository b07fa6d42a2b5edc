"""Answers of several cores to the same rounds: who agrees, and who is blamed when one does not."""

from __future__ import annotations

import random

from shipworthy.stress.agreement import (
    PATIENCE_ROUNDS,
    REPEATS_MOST,
    Agreement,
    Asked,
    Blamed,
    Compared,
)
from shipworthy.stress.protocol import Answer


def answer(number: int, digest: str, *, proven: bool = False, turn: int = 0, kernel: str = "k") -> Answer:
    return Answer(round=number, digest=digest, proven=proven, turn=turn, kernel=kernel)


def test_a_round_counts_as_checked_for_everybody_once_two_agree() -> None:
    agreement = Agreement(3)
    assert agreement.hear("cpu:0", answer(1, "aa")) == []
    assert agreement.hear("cpu:1", answer(1, "aa")) == [Compared((("cpu:0", 1), ("cpu:1", 1)))]
    assert agreement.hear("cpu:2", answer(1, "aa")) == [Compared((("cpu:2", 1),))]


def test_answers_of_other_kernels_and_other_rounds_are_not_compared() -> None:
    agreement = Agreement(2)
    assert agreement.hear("cpu:0", answer(1, "aa")) == []
    assert agreement.hear("cpu:1", answer(1, "bb", kernel="other")) == []
    assert agreement.hear("cpu:1", answer(2, "bb")) == []
    assert agreement.close() == []


def test_a_single_core_is_compared_with_itself() -> None:
    agreement = Agreement(1)
    agreement.hear("cpu:0", answer(1, "aa"))
    assert agreement.hear("cpu:0", answer(1, "aa", turn=1)) == [Compared((("cpu:0", 2),))]
    agreement.hear("cpu:0", answer(2, "bb"))
    assert agreement.hear("cpu:0", answer(2, "cc", turn=1)) == [Asked(("cpu:0",), 2)]
    (blamed,) = agreement.hear_again("cpu:0", answer(2, "cc"))
    assert isinstance(blamed, Blamed)
    assert (blamed.target, blamed.found, blamed.expected) == ("cpu:0", "bb", "cc")


def test_whoever_gets_another_result_on_doing_it_again_was_wrong() -> None:
    agreement = Agreement(2)
    agreement.hear("cpu:0", answer(7, "bad", proven=True))  # a fault that came after the proof
    assert agreement.hear("cpu:1", answer(7, "aa")) == [Asked(("cpu:0", "cpu:1"), 7)]
    assert agreement.hear_again("cpu:1", answer(7, "aa")) == []
    (blamed,) = agreement.hear_again("cpu:0", answer(7, "aa"))
    assert isinstance(blamed, Blamed) and (blamed.target, blamed.expected, blamed.found) == (
        "cpu:0",
        "aa",
        "bad",
    )


def test_a_core_that_is_steadily_wrong_is_told_by_a_proof_or_by_the_majority() -> None:
    proof, majority = Agreement(2), Agreement(3)
    proof.hear("cpu:0", answer(3, "bad"))
    proof.hear("cpu:1", answer(3, "aa", proven=True))
    proof.hear_again("cpu:0", answer(3, "bad"))
    (by_proof,) = proof.hear_again("cpu:1", answer(3, "aa"))
    majority.hear("cpu:0", answer(3, "aa"))
    majority.hear("cpu:1", answer(3, "aa"))
    majority.hear("cpu:2", answer(3, "bad"))
    for target, digest in (("cpu:0", "aa"), ("cpu:1", "aa")):
        assert majority.hear_again(target, answer(3, digest)) == []
    (by_majority,) = majority.hear_again("cpu:2", answer(3, "bad"))
    assert isinstance(by_proof, Blamed) and by_proof.target == "cpu:0"
    assert isinstance(by_majority, Blamed) and by_majority.target == "cpu:2"
    assert by_proof.how != by_majority.how


def test_where_nothing_tells_who_is_right_everybody_is_named() -> None:
    agreement = Agreement(2)
    agreement.hear("cpu:0", answer(3, "aa"))
    agreement.hear("cpu:1", answer(3, "bb"))
    agreement.hear_again("cpu:0", answer(3, "aa"))
    blamed = agreement.hear_again("cpu:1", answer(3, "bb"))
    assert [b.target for b in blamed if isinstance(b, Blamed)] == ["cpu:0", "cpu:1"]


def test_a_dispute_that_nobody_could_repeat_is_settled_at_the_end() -> None:
    agreement = Agreement(2)
    agreement.hear("cpu:0", answer(3, "aa", proven=True))
    agreement.hear("cpu:1", answer(3, "bb"))
    (blamed,) = agreement.close()
    assert isinstance(blamed, Blamed) and blamed.target == "cpu:1"


def test_a_core_that_is_always_wrong_is_not_made_to_repeat_for_ever() -> None:
    agreement, asked, blamed = Agreement(2), 0, 0
    for number in range(100):
        agreement.hear("cpu:0", answer(number, "aa", proven=True))
        for outcome in agreement.hear("cpu:1", answer(number, f"b{number}")):
            asked += isinstance(outcome, Asked)
            blamed += isinstance(outcome, Blamed)
    assert (asked, blamed) == (REPEATS_MOST, 100 - REPEATS_MOST)


def test_one_wrong_answer_among_any_number_of_cores_always_blames_its_core_alone() -> None:
    draw = random.Random("agreement/one wrong")
    for _ in range(300):
        cores = draw.randrange(3, 9)
        agreement = Agreement(cores)
        bad, order = draw.randrange(cores), list(range(cores))
        draw.shuffle(order)
        heard = [
            outcome
            for core in order
            for outcome in agreement.hear(f"cpu:{core}", answer(1, "bad" if core == bad else "aa"))
        ]
        asked = next(o for o in heard if isinstance(o, Asked))
        for target in asked.targets:
            heard += agreement.hear_again(target, answer(1, "bad" if target == f"cpu:{bad}" else "aa"))
        heard += agreement.close()
        blamed = [o.target for o in heard if isinstance(o, Blamed)]
        assert blamed == [f"cpu:{bad}"]
        checked = sum(count for o in heard if isinstance(o, Compared) for _, count in o.checks)
        assert checked <= cores - 1


def disputed(agreement: Agreement) -> None:
    """Two cores that differ, and stay with what they said."""
    agreement.hear("cpu:0", answer(3, "aa"))
    assert agreement.hear("cpu:1", answer(3, "bad")) == [Asked(("cpu:0", "cpu:1"), 3)]
    agreement.hear_again("cpu:0", answer(3, "aa"))
    assert agreement.hear_again("cpu:1", answer(3, "bad")) == []  # cpu:2 has not answered yet


def test_a_slower_core_tells_which_of_two_was_right() -> None:
    agreement = Agreement(4)
    disputed(agreement)
    (blamed,) = agreement.hear("cpu:2", answer(3, "aa"))
    assert isinstance(blamed, Blamed) and (blamed.target, blamed.expected) == ("cpu:1", "aa")
    assert agreement.hear("cpu:3", answer(3, "aa")) == [Compared((("cpu:3", 1),))]


def test_an_answer_that_comes_after_a_dispute_is_judged_too() -> None:
    agreement = Agreement(4)
    disputed(agreement)
    agreement.hear("cpu:2", answer(3, "aa", proven=True))
    (late,) = agreement.hear("cpu:3", answer(3, "worse"))
    assert isinstance(late, Blamed) and (late.target, late.expected) == ("cpu:3", "aa")
    assert agreement.close() == []


def test_nobody_is_waited_for_for_ever() -> None:
    agreement = Agreement(3)
    disputed(agreement)
    found: list[object] = []
    for number in range(4, 4 + 10 * PATIENCE_ROUNDS):
        found += agreement.hear("cpu:0", answer(number, "cc"))
    assert [b.target for b in found if isinstance(b, Blamed)] == ["cpu:0", "cpu:1"]


def test_a_core_that_is_never_the_same_is_blamed_and_no_other() -> None:
    agreement = Agreement(2)
    agreement.hear("cpu:0", answer(3, "aa"))
    agreement.hear("cpu:1", answer(3, "bad"))
    agreement.hear_again("cpu:0", answer(3, "aa"))
    (blamed,) = agreement.hear_again("cpu:1", answer(3, "worse"))
    assert isinstance(blamed, Blamed) and blamed.target == "cpu:1"
