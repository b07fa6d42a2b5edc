"""What progress tells of loads: their rates beside their limits, added up."""

from __future__ import annotations

from shipworthy.stress.telling import Paces
from shipworthy.stress.wire import Worked


def worked(target: str, work: float, limit: float | None) -> Worked:
    return Worked(
        step="s",
        load="matrix",
        target=target,
        work=work,
        unit_of_work="operations",
        seconds=1.0,
        checks=1,
        wrong=0,
        written_bytes=0,
        limit=limit,
    )


def test_the_share_is_that_of_all_targets_together() -> None:
    paces = Paces()
    paces.hear(worked("cpu:0", 70.0, 100.0), 1.0)
    paces.hear(worked("cpu:1", 35.0, 10.0), 1.0)  # its limit was measured in a bad moment
    (told,) = paces.told(1.0)
    named = {value.name: value.value for value in told.values}
    assert named["limit_ratio"] == round(105 / 110, 3)
    assert (named["lowest_ratio"], named["highest_ratio"], named["targets"]) == (0.7, 3.5, 2)


def test_no_share_is_told_before_every_target_has_a_limit() -> None:
    paces = Paces()
    paces.hear(worked("cpu:0", 70.0, 100.0), 1.0)
    paces.hear(worked("cpu:1", 35.0, None), 1.0)
    assert [told.code for told in paces.told(1.0)] == ["burn-in.load-unmeasured"]
    assert not list(paces.told(20.0))
