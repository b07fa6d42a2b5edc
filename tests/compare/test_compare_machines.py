"""The bench of whole machines: on a machine of our own, and on some of the real ones."""

from __future__ import annotations

import sys
from collections import defaultdict
from pathlib import Path

import pytest

from shipworthy.model.words import Aspect, Category
from shipworthy.verdict.policies import parse_policy, shipped_policy

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))

import machines_other as other
import machines_stated as stated
from machines_caught import Caught, plant_one
from machines_holds import Holds, contradictions, hold_unaltered
from machines_plant import KINDS, Kind
from machines_sets import LOG, PCI, SMBIOS, Machine
from machines_siblings import Siblings, pick

from bench import machines as bench

POLICY = parse_policy(shipped_policy(), "shipped")


def module(handle: str, slot: str, part_number: str) -> str:
    return f"""Handle 0x{handle}, DMI type 17, 40 bytes
Memory Device
\tTotal Width: 64 bits
\tData Width: 64 bits
\tSize: 8192 MB
\tForm Factor: DIMM
\tLocator: DIMM_{slot}
\tBank Locator: BANK {slot}
\tType: DDR4
\tSpeed: 2666 MT/s
\tManufacturer: Fennec
\tPart Number: {part_number}
\tConfigured Memory Speed: 2666 MT/s

"""


FIRMWARE = f"""# dmidecode 3.3
Getting SMBIOS data from sysfs.
SMBIOS 3.0.0 present.

Handle 0x0002, DMI type 2, 15 bytes
Base Board Information
\tManufacturer: Norvik
\tProduct Name: NB450 Heron
\tVersion: 1.2

Handle 0x0004, DMI type 4, 48 bytes
Processor Information
\tSocket Designation: CPU1
\tVersion: Tarn C7-4400K CPU @ 3.20GHz
\tStatus: Populated, Enabled
\tCore Count: 4
\tCore Enabled: 4
\tThread Count: 4

{module("0010", "A1", "FQ4-26-08X")}{module("0011", "B1", "FQ4-26-08Z")}"""
KERNEL = """---<<BOOT>>---
FreeBSD 13.1-RELEASE amd64
CPU: Tarn C7-4400K CPU @ 3.20GHz (3192.00-MHz K8-class CPU)
  Origin="GenuineIntel"  Id=0x506c9  Family=0x6  Model=0x5c  Stepping=9
real memory  = 17179869184 (16384 MB)
avail memory = 16500000000 (15735 MB)
FreeBSD/SMP: Multiprocessor System Detected: 4 CPUs
FreeBSD/SMP: 1 package(s) x 4 core(s)
ada0 at ahcich0 bus 0 scbus0 target 0 lun 0
ada0: <Quarrel SSD Q2 1TB QF02> ACS-4 ATA SATA 3.x device
ada0: 953869MB (1953525168 512 byte sectors)
"""
LIST = """hostb0@pci0:0:0:0:\tclass=0x060000 card=0x59101458 chip=0x59108086 rev=0x05 hdr=0x00
    vendor     = 'Intel Corporation'
    class      = bridge
    subclass   = HOST-PCI
vgapci0@pci0:1:0:0:\tclass=0x030000 card=0x11d81b0a chip=0x1c0210de rev=0xa1 hdr=0x00
    vendor     = 'NVIDIA Corporation'
    device     = 'GP106 [GeForce GTX 1060 3GB]'
    class      = display
    subclass   = VGA
    cap 10[78] = PCI-Express 2 legacy endpoint max data 256(256) RO NS
                 link x16(x16) speed 8.0(8.0) ASPM disabled(L0s/L1)
"""


def machine(firmware: str = FIRMWARE, kernel: str = KERNEL) -> Machine:
    texts = {SMBIOS: firmware, LOG: kernel, PCI: LIST}
    return Machine("one", {name: text.encode("utf-8") for name, text in texts.items()})


@pytest.fixture
def siblings() -> Siblings:
    found = Siblings(
        processors=["Tarn C7-4400 CPU @ 3.00GHz"],
        speeds={"DDR4": [2400, 2666]},
        versions=["1.0"],
        chips={"10de": {"1c02": "GP106 [GeForce GTX 1060 3GB]", "1c82": "GP107 [GeForce GTX 1050 Ti]"}},
    )
    half = stated.Drive(
        "ada0", "Quarrel SSD Q2 500GB QF02", "ATA", 500_107_862_016, "476940MB (976773168 512 byte sectors)"
    )
    plate = stated.Drive(
        "ada0", "WDC WD10EZEX-08M2NA0 01.01A01", "ATA", 10**12, "953869MB (1953525168 512 byte sectors)"
    )
    found.drives["ada"] += [half, plate]
    return found


def test_the_texts_state_what_stands_in_them() -> None:
    one = machine()
    assert [m.size_bytes >> 30 for m in stated.modules(FIRMWARE)] == [8, 8]
    assert [m.speed_mt_s for m in stated.modules(FIRMWARE)] == [2666, 2666]
    assert (stated.real_bytes(KERNEL), stated.usable_bytes(KERNEL)) == (16 << 30, 16_500_000_000)
    assert stated.processor_of_kernel(KERNEL) == stated.processors_of_firmware(FIRMWARE)[0]
    assert stated.board(FIRMWARE)[1:] == ("NB450 Heron", "1.2")
    assert [(d.name, d.size_bytes) for d in stated.drives(KERNEL)] == [
        ("Quarrel SSD Q2 1TB QF02", 1_000_204_886_016)
    ]
    assert [(d.bus, d.vendor, d.device) for d in stated.displays(LIST)] == [(1, "10de", "1c02")]
    assert contradictions(one) == {}


def test_an_unaltered_machine_holds_for_nothing_by_any_pair_of_witnesses() -> None:
    for pair in bench.PAIRS:
        holds = Holds()
        hold_unaltered(machine(), pair, POLICY, holds)
        assert (holds.machines, holds.false, holds.contradictions) == (1, set(), {}), pair


def test_texts_of_different_days_contradict_and_the_hold_is_counted_apart() -> None:
    other_day = machine(
        kernel=KERNEL.replace("17179869184 (16384", "8589934592 (8192").replace("16500000000", "8100000000")
    )
    assert set(contradictions(other_day)) == {(Category.MEMORY, Aspect.CAPACITY)}
    holds = Holds()
    hold_unaltered(other_day, ("firmware", "kernel"), POLICY, holds)
    assert holds.false == set() and set(holds.contradictions) == {"one"}


def test_texts_that_contradict_on_one_fact_excuse_no_other(siblings: Siblings) -> None:
    """Of memory the sizes contradict each other; that a module is slower is found all the same."""
    other_day = machine(
        kernel=KERNEL.replace("17179869184 (16384", "8589934592 (8192").replace("16500000000", "8100000000")
    )
    slower = next(kind for kind in KINDS if kind.name == "module slower")
    smaller = next(kind for kind in KINDS if kind.name == "module smaller")
    caught: dict[str, Caught] = defaultdict(Caught)
    for kind in (slower, smaller):
        plant_one(other_day, kind, siblings, frozenset(contradictions(other_day)), caught)
    assert caught["module slower, all > all"].caught == 1
    left = caught["module smaller, all > all"]
    assert (left.carried, dict(left.left_out)) == (0, {"the texts contradict": 1})


def test_a_difference_that_the_texts_do_not_explain_is_a_false_hold() -> None:
    cut = machine(firmware=FIRMWARE.replace("Tarn C7-4400K CPU @ 3.20GHz", "Tarn C7-440"))
    holds = Holds()
    hold_unaltered(cut, ("firmware", "kernel"), POLICY, holds)
    assert holds.false == {"one"} and holds.contradictions == {}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_each_kind_is_caught_where_it_is_carried_and_never_conforms(kind: Kind, siblings: Siblings) -> None:
    caught: dict[str, Caught] = defaultdict(Caught)
    plant_one(machine(), kind, siblings, frozenset(), caught)
    assert sum(one.carried for one in caught.values()) > 0
    for name, one in caught.items():
        assert one.missed_conforms == one.not_carried["conforms"] == 0, (name, one.examples)
    whole = caught[f"{kind.name}, all > all"]
    assert whole.carried == 1
    if kind.name != "drive of another technology":  # names of two makers can leave it open
        assert whole.caught == 1, whole.examples


def test_swapped_modules_show_between_two_readings_and_equal_ones_do_not() -> None:
    swap = other.swapped(machine())
    assert swap is not None and swap.carried
    assert swap.before.configuration.changes_to(swap.after.configuration)
    same = other.swapped(machine(firmware=FIRMWARE.replace("FQ4-26-08Z", "FQ4-26-08X")))
    assert same is not None and not same.carried
    assert not same.before.configuration.changes_to(same.after.configuration)


def test_names_contradict_only_where_each_has_a_number_of_its_own() -> None:
    assert stated.names_contradict("Tarn C7-4400 @ 3.00GHz", "Tarn C7-5600 @ 3.00GHz")
    assert not stated.names_contradict("Tarn C7-44", "Tarn C7-4400K")
    assert not stated.names_contradict("Tarn", "Tarn C7-4400K")


def test_a_choice_is_the_same_at_any_time() -> None:
    assert pick(["a", "b", "c"], "x") == pick(["a", "b", "c"], "x")
    assert pick([], "x") is None


@pytest.mark.slow
def test_real_machines_do_not_hold_falsely_and_no_planted_change_conforms(reference: Path) -> None:
    found = bench.measure(reference, 40)
    assert found["machines"] == 19
    assert found["false_holds"] == 0
    assert found["planted_conforms"] == 0
    assert "conforms" not in found["not_carried"]
    told = (found["by_kind"]["module smaller, all > all"], found["by_kind"]["extra part, all > all"])
    for one in told:  # no row vanishes
        rest = one["held_before"] + sum(one["left_out"].values()) + sum(one["not_carried"].values())
        assert one["planted"] + rest == found["machines"]
