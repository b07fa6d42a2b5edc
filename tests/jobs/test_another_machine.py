"""When a changed machine is still the same one, and when it is another."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shipworthy.jobs.unit import BurnIn, UnitFolder, another_machine, burn_in_unit, read_unit
from shipworthy.machine.root import Root
from shipworthy.model.base import Scalar, Trouble
from shipworthy.model.reading import Configuration
from shipworthy.model.time import PretendClock
from shipworthy.stress.plans import shipped_plan
from tests.machine import recorded

BUS: dict[str, Scalar] = {f"pci/pci:0000:{n:02x}:00.0": f"5ab1:{n:04x}" for n in range(1, 8)}
MINE: dict[str, Scalar] = {"board/serial": "HB65000077", "firmware/version": "F12b", **BUS}


def moved(**other: Scalar) -> Configuration:
    """The same machine behind a card that was added: every bus has another number."""
    buses = {f"pci/pci:0000:{n + 2:02x}:00.0": f"5ab1:{n:04x}" for n in range(1, 8)}
    return Configuration.of({**MINE, **buses, **other} | dict.fromkeys(list(BUS)[:2], "gone"))


def test_a_card_that_is_added_makes_no_other_machine() -> None:
    after = moved()
    changes = Configuration.of(MINE).changes_to(after)
    assert len(changes) > len(MINE) / 2
    assert not another_machine(Configuration.of(MINE), after)


def test_another_serial_is_another_machine_however_much_is_alike() -> None:
    assert another_machine(Configuration.of(MINE), Configuration.of({**MINE, "board/serial": "HB65000078"}))
    assert another_machine(Configuration.of(MINE), moved(**{"board/serial": "HB65000078"}))


def test_a_uuid_that_everybody_has_shows_no_sameness() -> None:
    uuid = {"system/uuid": "03000200-0400-0500-0006-000700080009"}
    here = Configuration.of({**{k: v for k, v in MINE.items() if k != "board/serial"}, **uuid})
    bench = Configuration.of({**uuid, "firmware/version": "1.4", "pci/pci:0000:00:02.0": "8086:9bc4"})
    assert another_machine(here, bench)


def test_without_serials_less_than_half_in_common_is_another_machine() -> None:
    silent = {k: v for k, v in MINE.items() if k != "board/serial"}
    assert another_machine(Configuration.of(silent), Configuration.of({"firmware/version": "F12b"}))
    assert not another_machine(
        Configuration.of(silent), Configuration.of({**silent, "firmware/version": "F13"})
    )


@pytest.mark.skipif(os.geteuid() != 0, reason="the reading has to be taken with root's rights")
def test_a_burn_in_with_lesser_rights_than_the_reading_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root, into = Root(recorded.build(tmp_path / "machine")), UnitFolder(tmp_path / "unit")
    read_unit(into, root, nonce=None, clock=PretendClock())
    monkeypatch.setattr(os, "geteuid", lambda: 65534)
    import threading

    job = BurnIn(
        root=root,
        clock=PretendClock(),
        show=lambda shown: None,
        stop=threading.Event(),
        work_folders=(tmp_path,),
    )
    with pytest.raises(Trouble, match="with root's rights, and this account has none"):
        burn_in_unit(into, shipped_plan("demo-half-minute"), job)
