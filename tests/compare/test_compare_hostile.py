"""Machines that look right at first sight: cores that firmware switched off, memory that is fitted and not
used, and graphics that answer for a card that is dead."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part, Witness
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Port, PortState
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m


def witnessed(part: Part, **told: Scalar) -> Part:
    """Let the firmware's table say something else of some of a part's facts."""

    def fact(one: Fact) -> Fact:
        if one.name not in told:
            return one
        return msgspec.structs.replace(one, witnesses=(Witness(source="smbios", value=told[one.name]),))

    return msgspec.structs.replace(part, facts=tuple(map(fact, part.facts)))


def told(found: Finding) -> tuple[str, Outcome]:
    assert "{" not in finding_sentence(found).say
    return found.code, found.outcome


# Cores

OFFLINE = ("processor.cores.offline", Outcome.DIFFERS)
OPEN = ("processor.cores.cannot-tell", Outcome.CANNOT_TELL)
ALL = ("processor.cores.conforms", Outcome.CONFORMS)


@pytest.mark.parametrize(
    ("sold", "runs", "table", "expected"),
    [
        # Figures as reported: reference data, bsd-joined-machines.
        ("Tarn C7", (7, 14), (8, 16), OFFLINE),  # one core of eight is gone
        ("Tarn C7", (4, 4), (8, 8), OFFLINE),
        ("Tarn C7", (6, 12), (10, 12), OPEN),  # the small cores are off; the table contradicts itself
        ("Tarn C7", (8, 8), (8, 16), OFFLINE),  # one thread a core
        ("Tarn C7", (8, 16), (8, 16), ALL),
        ("Tarn C7", (8, 16), (4, 8), ALL),  # a table that says less
        ("Tarn C7, 2 cores", (2, 4), (4, 4), ALL),  # so it was sold; the table counts threads as cores
        ("Tarn C7, 6 cores", (6, 12), (8, 16), ALL),  # so it was sold
        ("Tarn C7, 8 cores", (8, 8), (8, 16), OFFLINE),
    ],
)
def test_cores_that_firmware_switched_off_are_not_all_there(
    sold: str, runs: tuple[int, int], table: tuple[int, int], expected: tuple[str, Outcome]
) -> None:
    cores, threads = runs
    part = m.processor(cores=cores, threads=threads, online_cpus=f"0-{threads - 1}")
    part = witnessed(part, cores=table[0], threads=table[1])
    order = m.order(m.line(Category.PROCESSOR, sold))
    assert told(m.finding(compare(order, m.machine(part), (), ()), Aspect.CORES)) == expected


def test_a_processor_that_died_in_its_socket_is_missing_and_none_is_counted_twice() -> None:
    """The firmware tells of two, the kernel runs one: nobody says which of the two that is."""
    runs = m.processor(place="socket:0")
    table = [
        m.part(PartKind.PROCESSOR, f"smbios-processor:{n}", model="Tarn C7", cores=8, threads=16)
        for n in (0, 1)
    ]
    order = m.order(m.line(Category.PROCESSOR, "Tarn C7", quantity=2))
    found = [f for f in compare(order, m.machine(runs, *table), (), ()).findings if f.aspect is Aspect.CORES]
    assert {(f.code, f.want, f.got) for f in found} == {("processor.cores.offline", 32, 16)}


# Memory


@pytest.mark.parametrize(
    ("count", "usable_gib", "outcome"),
    [
        (8, 125.4, Outcome.CONFORMS),
        (8, 110.3, Outcome.DIFFERS),  # one module of eight is not used
        (6, 78.2, Outcome.DIFFERS),  # one of six
        (6, 93.9, Outcome.CONFORMS),
        (2, 15.2, Outcome.DIFFERS),
        (2, 27.5, Outcome.CONFORMS),  # 4 GiB for graphics: no module is gone
    ],
)
def test_a_module_that_is_fitted_and_not_used_is_noticed_however_many_there_are(
    count: int, usable_gib: float, outcome: Outcome
) -> None:
    modules = [m.module(f"DIMM_{letter}") for letter in "ABCDEFGH"[:count]]
    reading = m.machine(*modules, m.memory(int(usable_gib * m.GIB)))
    order = m.order(m.line(Category.MEMORY, f"Fennec {count}x16GB DDR5"))
    assert m.finding(compare(order, reading, (), ()), Aspect.CAPACITY).outcome is outcome


# Graphics


def graphics(place: str, vendor: str) -> Part:
    """Graphics on a system without a list of names."""
    return m.part(
        PartKind.GRAPHICS,
        place,
        vendor_id=vendor,
        device_id="0x7a5e",
        model=Absent.NOT_OFFERED,
        path_width=16,
    )


INTEGRATED = graphics("pci:0000:00:02.0", "0x8086")


@pytest.mark.parametrize("sold", ["GeForce RTX 4070", "NVIDIA RTX A2000", "Radeon RX 7800 XT"])
def test_graphics_of_the_processor_do_not_answer_for_a_card_that_is_dead(sold: str) -> None:
    order = m.order(m.line(Category.GRAPHICS, sold))
    found = m.finding(compare(order, m.machine(INTEGRATED), (), ()), Aspect.MODEL)
    assert told(found) == ("graphics.model.differs", Outcome.DIFFERS)
    assert "8086:7a5e" in str(found.got)


@pytest.mark.parametrize(
    ("sold", "vendor"),
    [("GeForce RTX 4070", "0x10de"), ("Radeon RX 7800 XT", "0x1002"), ("Arc A770 for Intel", "0x8086")],
)
def test_without_a_name_a_card_of_the_maker_sold_stays_open_and_is_the_one_meant(
    sold: str, vendor: str
) -> None:
    other = graphics("pci:0000:00:02.0", "0x8086" if vendor != "0x8086" else "0x1002")
    card = graphics("pci:0000:0a:00.0", vendor)
    order = m.order(m.line(Category.GRAPHICS, sold))
    found = m.finding(compare(order, m.machine(other, card), (), ()), Aspect.MODEL)
    assert (*told(found), found.part) == ("graphics.model.only-ids", Outcome.CANNOT_TELL, card.place)


def test_words_that_name_no_maker_of_chips_tell_nothing_against_a_card() -> None:
    for sold in ("Sable 210", "GeForce or Radeon card"):
        order = m.order(m.line(Category.GRAPHICS, sold))
        found = m.finding(compare(order, m.machine(INTEGRATED), (), ()), Aspect.MODEL)
        assert found.outcome is Outcome.CANNOT_TELL


# Network


def adapter(place: str, **said: Scalar | Absent) -> Part:
    return m.part(PartKind.NETWORK, place, technology="Ethernet", wireless=False, **said)


def test_the_boards_own_jack_does_not_answer_for_a_faster_card() -> None:
    own = adapter("pci:0000:06:00.0", speed_mbit_s=Absent.NOT_OFFERED, speed_max_mbit_s=2500)
    card = adapter("pci:0000:09:00.0", speed_mbit_s=10_000, speed_max_mbit_s=10_000)
    order = m.order(m.line(Category.NETWORK, "Drakeline 10GbE network card"))
    assert "network.missing" in m.codes(compare(order, m.machine(own), (), ()))
    both = compare(order, m.machine(own, card), (), ())
    assert (m.finding(both, Aspect.SPEED).code, both.matches[0].places) == (
        "network.speed.conforms",
        (card.place,),
    )


@pytest.mark.parametrize("text", ["Drakeline 10G SFP+ network card", "Drakeline 10G fibre network card"])
def test_a_cage_can_do_what_the_module_in_it_can(text: str) -> None:
    card = adapter("pci:0000:09:00.0", speed_mbit_s=1000, speed_max_mbit_s=1000)
    found = compare(m.order(m.line(Category.NETWORK, text)), m.machine(card), (), ())
    assert "network.missing" not in m.codes(found)


# Displays


def jack(card: int) -> Port:
    place = f"drm:card{card}-DP-1"
    return Port(
        place=place, label="DP-1", connector="DisplayPort", state=PortState.UNTESTED, source="displays"
    )


@pytest.mark.parametrize(
    ("cards", "code"),
    [
        ((0, 1), "display.missing"),
        ((1,), "display.presence.cannot-tell"),
        ((), "display.presence.cannot-tell"),
    ],
)
def test_a_display_on_a_card_whose_driver_shows_no_jack_is_open_and_not_missing(
    cards: tuple[int, ...], code: str
) -> None:
    parts = (INTEGRATED, graphics("pci:0000:01:00.0", "0x10de"))
    reading = msgspec.structs.replace(m.machine(*parts), ports=tuple(map(jack, cards)))
    order = m.order(m.line(Category.DISPLAY, "Lindwall 27"))
    assert code in m.codes(compare(order, reading, (), ()))


def test_a_3d_controller_has_no_jacks_that_could_be_hidden() -> None:
    helper = m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", vendor_id="0x10de", **{"class": "0x030200"})
    reading = msgspec.structs.replace(m.machine(INTEGRATED, helper), ports=(jack(0),))
    order = m.order(m.line(Category.DISPLAY, "Lindwall 27"))
    assert "display.missing" in m.codes(compare(order, reading, (), ()))
