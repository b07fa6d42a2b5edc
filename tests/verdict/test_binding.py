"""What binds the two halves: nonce, plan, order in time, and whether it is a pretend unit."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.model.findings import Finding
from shipworthy.model.reading import Configuration, Reading
from shipworthy.model.time import Moment
from shipworthy.model.words import Outcome
from shipworthy.verdict import binding_findings
from tests.analysis.logs import at, reading

BEFORE = reading()
AFTER = msgspec.structs.replace(BEFORE, taken=at(200))


def wrong(found: tuple[Finding, ...]) -> list[str]:
    return [f.code for f in found if f.outcome is Outcome.DIFFERS]


def test_two_readings_and_a_run_of_one_attempt_are_bound() -> None:
    assert wrong(binding_findings("n", BEFORE, AFTER, ["n"], at(150), AFTER.configuration)) == []


@pytest.mark.parametrize(
    ("before", "after", "run", "code"),
    [
        (msgspec.structs.replace(BEFORE, nonce=None), AFTER, "n", "binding.from-files"),
        (BEFORE, msgspec.structs.replace(AFTER, nonce="other"), "n", "binding.other-nonce"),
        (BEFORE, AFTER, "other", "binding.other-nonce"),
        (BEFORE, AFTER, None, "binding.from-files"),
    ],
)
def test_any_other_nonce_or_none_is_a_difference(
    before: Reading, after: Reading, run: str | None, code: str
) -> None:
    assert wrong(binding_findings("n", before, after, [run])) == [code]


@pytest.mark.parametrize("boot_id", ["one", "two"])
def test_a_last_reading_from_before_the_end_is_a_difference(boot_id: str) -> None:
    assert wrong(binding_findings("n", BEFORE, AFTER, ["n"], at(300, boot_id))) == [
        "binding.read-before-the-end"
    ]


def moment(seconds: float, boot_id: str, synchronised: bool | None) -> Moment:
    return msgspec.structs.replace(at(seconds, boot_id), clock_synchronised=synchronised)


@pytest.mark.parametrize(
    ("ended", "read", "early"),
    [
        # the board's clock was an hour ahead until the network set it after the restart
        (moment(3900, "two", False), moment(600, "three", True), False),
        (moment(3900, "two", None), moment(600, "three", None), False),
        # both were right, and by days nobody is wrong
        (moment(3900, "two", True), moment(600, "three", True), True),
        (moment(9 * 86_400, "two", False), moment(600, "three", True), True),
        # of the start in which the first reading was taken: the burn-in ended in a later one
        (moment(300, "two", False), moment(600, "one", False), True),
        (moment(300, "two", True), moment(600, "three", True), False),
    ],
)
def test_a_clock_that_was_set_over_a_restart_makes_no_reading_too_early(
    ended: Moment, read: Moment, early: bool
) -> None:
    after = msgspec.structs.replace(BEFORE, taken=read)
    found = wrong(binding_findings("n", BEFORE, after, ["n"], ended))
    assert found == (["binding.read-before-the-end"] if early else [])


def test_another_plan_or_a_mixture_of_real_and_simulated_is_a_difference() -> None:
    assert wrong(binding_findings("n", BEFORE, AFTER, ["n"], other_plan=True)) == ["binding.other-plan"]
    assert wrong(binding_findings("n", BEFORE, AFTER, ["n"], simulated=(False, True))) == [
        "binding.simulated"
    ]


def test_what_changed_before_or_after_the_last_reading_is_named() -> None:
    changed = Configuration.of({"firmware/version": "F8"})
    later = msgspec.structs.replace(AFTER, configuration=changed)
    assert wrong(binding_findings("n", BEFORE, later, ["n"])) == ["configuration.changed"]
    assert wrong(binding_findings("n", BEFORE, AFTER, ["n"], None, changed)) == [
        "configuration.changed-since"
    ]
