"""The way from a device to the root: which links there are, what they carry, and which one narrows."""

from __future__ import annotations

import pytest

from shipworthy.machine.parse.pci.links import Function, chain_of, links_of, path_facts
from shipworthy.model.words import Absent
from tests.machine.facts_of import Facts, facts_of


def facts(chain: tuple[str, ...], *functions: Function) -> Facts:
    known = {function.address: function for function in functions}
    return facts_of(path_facts(links_of(chain, known)))


def port(
    address: str, width: int = 16, speed: float = 16.0, most: int = 16, kind: str | None = None
) -> Function:
    return Function(address, speed, width, 16.0, most, kind)


ROOT, UP, DOWN, CARD = "0000:00:01.1", "0000:01:00.0", "0000:02:00.0", "0000:03:00.0"
CHAIN = (ROOT, UP, DOWN, CARD)


def test_a_chain_is_the_functions_in_a_path() -> None:
    path = "/sys/devices/pci0000:00/0000:00:01.1/0000:01:00.0/0000:02:00.0/0000:03:00.0"
    assert chain_of(path) == CHAIN


@pytest.mark.parametrize("told", [True, False])
def test_the_inner_link_of_a_card_does_not_hide_a_slot_used_by_half(told: bool) -> None:
    """The card's own link runs at sixteen lanes: it is the one inside the card. Its slot has eight."""
    kinds = (
        ("root port", "switch upstream port", "switch downstream port", "endpoint") if told else (None,) * 4
    )
    root, up, down, card = (
        port(address, width, kind=kind)
        for address, width, kind in zip(CHAIN, (8, 8, 16, 16), kinds, strict=True)
    )
    found = facts(CHAIN, root, up, down, card)
    assert card.width == 16
    assert (found["path_width"], found["path_width_max"]) == (8, 16)
    assert found["path_narrowest_at"] == f"pci:{UP}"
    assert found["path_narrowed_at"] == f"pci:{UP}"


def test_an_idle_card_lowers_its_speed_and_not_its_width() -> None:
    found = facts((ROOT, UP), port(ROOT, speed=2.5), port(UP, speed=2.5))
    assert (found["path_speed_gt_s"], found["path_speed_max_gt_s"]) == (2.5, 16.0)
    assert (found["path_width"], found["path_width_max"]) == (16, 16)
    assert found["path_narrowed_at"] == "none"


def test_a_link_can_do_what_its_lesser_end_can() -> None:
    """A card for sixteen lanes in a slot of four is not narrowed: the slot has no more."""
    found = facts((ROOT, UP), port(ROOT, 4, most=4), port(UP, 4))
    assert (found["path_width"], found["path_width_max"], found["path_narrowed_at"]) == (4, 4, "none")


def test_a_narrowed_link_is_named_even_if_another_carries_less() -> None:
    found = facts(CHAIN, port(ROOT, 8), port(UP, 8), port(DOWN, 1, most=1), port(CARD, 1, most=1))
    assert (found["path_width"], found["path_width_max"]) == (1, 1)
    assert found["path_narrowest_at"] == f"pci:{CARD}"
    assert found["path_narrowed_at"] == f"pci:{UP}"


def test_fewer_lanes_at_a_higher_speed_can_carry_more() -> None:
    found = facts(CHAIN, port(ROOT, 4, 16.0), port(UP, 4, 16.0), port(DOWN, 8, 2.5), port(CARD, 8, 2.5))
    assert found["path_narrowest_at"] == f"pci:{CARD}"


def test_a_sleeping_card_has_no_link_to_judge() -> None:
    asleep = Function(UP, None, None, 16.0, 16, None, asleep=True)
    found = facts((ROOT, UP), port(ROOT, 1, 2.5), asleep)
    assert found["path_width"] is Absent.NOT_READABLE
    assert found["path_narrowest_at"] is Absent.NOT_READABLE
    assert found["path_width_max"] == 16


def test_one_end_that_says_nothing_leaves_the_other() -> None:
    found = facts((ROOT, UP), Function(ROOT), port(UP, 8))
    assert (found["path_width"], found["path_width_max"]) == (8, 16)


def test_a_function_on_the_root_bus_without_a_link_has_no_path() -> None:
    assert facts((ROOT,), Function(ROOT)) == {}
    assert facts((ROOT,), port(ROOT, kind="root port")) == {}


def test_a_card_of_a_guest_hangs_on_no_port_that_it_can_see() -> None:
    assert facts((ROOT,), port(ROOT, 8, most=16))["path_width"] == 8


def test_a_root_port_of_which_only_the_class_may_be_read_is_no_end_of_a_way() -> None:
    """Without root no port type is told; a port that runs on fewer lanes than it has is not narrowed."""
    port_alone = Function(ROOT, 2.5, 1, 8.0, 4, None, bridge=True)
    assert links_of((ROOT,), {ROOT: port_alone}) == ()
