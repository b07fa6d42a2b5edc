"""The way of cards and drives to the processor: narrow, whole, asleep, or not told at all."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.policy import CoverageState
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.verdict.coverage import keys_asked, state_of
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.compare import machines as m

NVME = m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD")
CARD = m.line(Category.GRAPHICS, "Sable 210 graphics card")
SWITCH = "pci:0000:02:00.0"


def link_of(*parts: Part, of: OrderLine) -> list[Finding]:
    found = compare(m.order(of), m.machine(*parts), m.LIMITS, m.EVIDENCE).findings
    return [f for f in found if f.aspect is Aspect.LINK]


def card(**said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"path_width": 16, "path_width_max": 16, "path_narrowed_at": "none"}
    return m.part(PartKind.GRAPHICS, "pci:0000:03:00.0", model="Sable 210", **{**known, **said})


def test_fewer_lanes_than_both_ends_can_do_differ_and_the_place_is_named() -> None:
    (found,) = link_of(card(path_width=8, path_narrowed_at=SWITCH), of=CARD)
    assert (found.code, found.outcome, found.want, found.got) == (
        "graphics.link.narrow",
        Outcome.DIFFERS,
        16,
        8,
    )
    assert SWITCH in finding_sentence(found).say


def test_a_drives_link_is_that_of_the_function_before_the_slash() -> None:
    (narrow,) = link_of(m.drive(), m.function(path_width=2), of=NVME)
    assert (narrow.code, narrow.part) == ("storage.link.narrow", "pci:0000:04:00.0/nvme-ns-1")
    (whole,) = link_of(m.drive(), m.function(), m.function("pci:0000:05:00.0", path_width=1), of=NVME)
    assert whole.outcome is Outcome.CONFORMS


def test_a_card_that_tells_one_lane_of_the_link_within_it_does_not_hide_a_narrow_slot() -> None:
    (found,) = link_of(card(path_width=1, path_width_max=1, path_narrowed_at=SWITCH), of=CARD)
    assert (found.code, found.outcome) == ("graphics.link.narrow-before", Outcome.DIFFERS)
    assert SWITCH in finding_sentence(found).say
    for whole in ("none", Absent.NOT_OFFERED):  # a card of one lane, or the same card well seated
        (sound,) = link_of(card(path_width=1, path_width_max=1, path_narrowed_at=whole), of=CARD)
        assert sound.outcome is Outcome.CONFORMS
    (wide,) = link_of(card(path_width=4, path_width_max=4, path_narrowed_at=SWITCH), of=CARD)
    assert wide.outcome is Outcome.CONFORMS  # a port above that has lanes to spare takes none from it


def test_less_speed_of_an_idle_device_is_no_finding() -> None:
    (found,) = link_of(card(path_speed_gt_s=2.5, path_speed_max_gt_s=16.0), of=CARD)
    assert found.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ({"path_width": Absent.NOT_READABLE, "path_narrowed_at": Absent.NOT_READABLE}, Outcome.CANNOT_TELL),
        ({"path_width": Absent.NOT_OFFERED}, Outcome.CANNOT_TELL),
        ({"path_width_max": Absent.NOT_OFFERED}, Outcome.CANNOT_TELL),
        ({"path_width": Absent.NOT_OFFERED, "path_width_max": Absent.NOT_OFFERED}, Outcome.NOT_CHECKED),
    ],
)
def test_a_link_that_is_not_told_never_conforms(said: dict[str, Absent], outcome: Outcome) -> None:
    (found,) = link_of(card(**said), of=CARD)
    assert found.outcome is outcome
    assert "{" not in finding_sentence(found).say


def test_a_device_without_a_link_is_not_checked() -> None:
    (found,) = link_of(m.part(PartKind.GRAPHICS, "pci:0000:00:02.0", model="Sable 210"), of=CARD)
    assert found.outcome is Outcome.NOT_CHECKED
    (drive,) = link_of(m.drive(), of=NVME)
    assert drive.outcome is Outcome.NOT_CHECKED


def test_a_drive_that_is_not_on_nvme_has_no_link_to_judge() -> None:
    sata = m.drive("pci:0000:00:17.0/ata-2", interface="SATA", technology="solid state")
    assert link_of(sata, of=m.line(Category.STORAGE, "Quarrel M2 1TB SATA SSD")) == []


@pytest.mark.parametrize(
    ("sold", "said", "codes"),
    [
        ("PCIe 4.0 x16", {}, ["graphics.link.conforms", "graphics.link.as-sold"]),
        ("PCIe 5.0 x16", {}, ["graphics.link.conforms", "graphics.link.below-sold"]),
        (
            "PCIe 4.0 x16",
            {"path_width": 4, "path_width_max": 4},
            ["graphics.link.conforms", "graphics.link.below-sold"],
        ),
        (
            "PCIe 4.0",
            {"path_speed_max_gt_s": Absent.NOT_OFFERED},
            ["graphics.link.conforms", "graphics.link.sold-cannot-tell"],
        ),
        ("a fast one", {}, ["graphics.link.conforms", "line.not-by-reading"]),
    ],
)
def test_a_link_that_the_order_names_is_judged_by_itself(
    sold: str, said: dict[str, Scalar | Absent], codes: list[str]
) -> None:
    """A way that is as wide as its slot is no proof of the link that was sold."""
    wish = Expectation(aspect=Aspect.LINK, want=sold)
    of = m.line(Category.GRAPHICS, "Sable 210 graphics card", expectations=(wish,))
    found = link_of(card(**{"path_speed_max_gt_s": 16.0, **said}), of=of)
    assert [f.code for f in found] == codes


def test_an_open_link_holds_only_where_the_order_or_the_policy_asks_for_it() -> None:
    policy = parse_policy(shipped_policy(), "policy")
    reading = m.machine(m.part(PartKind.GRAPHICS, "pci:0000:00:02.0", model="Sable 210"))
    plain = m.order(CARD)
    assert all(key.aspect is not Aspect.LINK for key in keys_asked(plain, policy))
    wish = Expectation(aspect=Aspect.LINK, want="PCIe 4.0 x16")
    asking = m.order(m.line(Category.GRAPHICS, "Sable 210 graphics card", expectations=(wish,)))
    (key,) = [key for key in keys_asked(asking, policy) if key.aspect is Aspect.LINK]
    found = compare(asking, reading, (), ())
    assert key.required
    state = state_of(key, found.findings, reading.configuration.digest).state
    assert state in (CoverageState.NOT_CHECKED, CoverageState.CANNOT_TELL)
