"""Optical drives, wireless and Bluetooth adapters, sound cards: there, and of the sort that was sold."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.compare.discs import needs_of
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from tests.compare import machines as m

WRITER = m.line(Category.OPTICAL_DRIVE, "Norvik Blu-ray writer")
WIFI = m.line(Category.NETWORK, "Drakeline Wi-Fi 6E card")


def said(*parts: Part, of: OrderLine) -> Comparison:
    found = compare(m.order(of), m.machine(*parts), (), ())
    assert all("{" not in finding_sentence(f).say for f in found.findings)
    return found


def presence(found: Comparison) -> set[Outcome]:
    return {f.outcome for f in found.findings if f.aspect is Aspect.PRESENCE}


# Optical drives


def optical(place: str = "pci:0000:00:17.0/ata-3", **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"model": "BW-16", "interface": "SATA"}
    return m.part(PartKind.OPTICAL_DRIVE, place, **{**known, **said})


@pytest.mark.parametrize(
    ("can", "outcome"),
    [
        (True, {Outcome.CONFORMS}),
        (False, {Outcome.CONFORMS, Outcome.DIFFERS}),
        (Absent.NOT_READABLE, {Outcome.CONFORMS, Outcome.CANNOT_TELL}),
    ],
)
def test_a_writer_that_was_sold_has_to_say_that_it_writes(can: bool | Absent, outcome: set[Outcome]) -> None:
    assert presence(said(optical(writes_bd=can), of=WRITER)) == outcome


def test_a_drive_that_was_not_asked_leaves_it_open() -> None:
    assert Outcome.CANNOT_TELL in presence(said(optical(), of=WRITER))
    plain = m.line(Category.OPTICAL_DRIVE, "Norvik optical drive")
    assert presence(said(optical(), of=plain)) == {Outcome.CONFORMS}


def test_an_expectation_of_its_technology_is_judged_as_that() -> None:
    wish = Expectation(aspect=Aspect.TECHNOLOGY, want="DVD writer")
    of = m.line(Category.OPTICAL_DRIVE, "Norvik drive", expectations=(wish,))
    assert m.finding(said(optical(writes_dvd=False), of=of), Aspect.TECHNOLOGY).outcome is Outcome.DIFFERS
    vague = m.line(
        Category.OPTICAL_DRIVE,
        "Norvik drive",
        expectations=(Expectation(aspect=Aspect.TECHNOLOGY, want="a good one"),),
    )
    assert m.finding(said(optical(), of=vague), Aspect.TECHNOLOGY).code == "line.not-by-reading"


def test_the_drive_that_can_stands_for_the_line_that_asks() -> None:
    lines = (m.line(Category.OPTICAL_DRIVE, "DVD-ROM drive", "1"), m.line(WRITER.category, WRITER.text, "2"))
    reader = optical("pci:0000:00:17.0/ata-3", reads_dvd=True, writes_bd=False)
    writer = optical("pci:0000:00:17.0/ata-4", reads_dvd=True, writes_bd=True)
    found = compare(m.order(*lines), m.machine(writer, reader), (), ())
    assert {f.outcome for f in found.findings} == {Outcome.CONFORMS}
    assert {match.line: match.places for match in found.matches}["2"] == (writer.place,)


def test_no_optical_drive_is_missing_where_drives_were_listed_and_open_where_not() -> None:
    assert "optical-drive.missing" in m.codes(said(m.drive(), of=WRITER))
    rows = [m.row("/sys/block", SourceOutcome.REFUSED)]
    hidden = compare(m.order(WRITER), m.machine(rows=rows), (), ())
    assert m.codes(hidden) == ["optical-drive.presence.cannot-tell"]


def test_a_drive_of_the_bench_does_not_stand_for_one_in_the_case() -> None:
    outside = optical("pci:0000:00:14.0/usb-1-2", interface="USB", writes_bd=True)
    found = said(outside, of=WRITER)
    assert "optical-drive.missing" in m.codes(found)
    assert found.unclaimed == (outside.place,)
    sold = m.line(Category.OPTICAL_DRIVE, "Norvik external Blu-ray writer")
    assert presence(said(outside, of=sold)) == {Outcome.CONFORMS}


@pytest.mark.parametrize(
    ("text", "needs"),
    [
        ("Blu-ray writer", {"writes_bd": True}),
        ("DVD±RW drive, black", {"writes_dvd": True}),
        ("BD-ROM / DVD±RW", {"reads_bd": True, "writes_dvd": True}),
        ("Blu-ray combo / DVD writer", {"reads_bd": True, "writes_dvd": True}),
        ("Blu-ray/DVD writer", {"reads_bd": True, "writes_bd": False, "writes_dvd": True}),
        ("CD-ROM drive", {}),
        ("Norvik BD-12 optical drive", {}),
        ("Abduction CDX", {}),
    ],
)
def test_words_for_discs(text: str, needs: dict[str, bool]) -> None:
    assert {need.fact: need.certain for need in needs_of(text)} == needs


def test_a_drafted_optical_drive_is_the_one_that_was_read() -> None:
    reading = m.machine(optical(), m.processor())
    order = with_expectations(draft_order(reading, order_id="D", shop="Kestrel Desk", unit_id="U"))
    (line,) = [line for line in order.lines if line.category is Category.OPTICAL_DRIVE]
    found = compare(order, reading, (), ())
    assert {f.outcome for f in found.findings if f.line == line.line_id} == {Outcome.CONFORMS}


# Network


def net(place: str, **said: Scalar | Absent) -> Part:
    return m.part(PartKind.NETWORK, place, **said)


def test_a_wired_adapter_never_stands_for_a_wireless_one_nor_the_other_way() -> None:
    wired, radio = net("pci:2", technology="Ethernet"), net("pci:1", technology="Wi-Fi")
    assert "network.missing" in m.codes(said(wired, of=WIFI))
    both = said(wired, radio, of=WIFI)
    assert [match.places for match in both.matches] == [("pci:1",)]
    cable = m.line(Category.NETWORK, "Drakeline 2.5GbE network card")
    assert "network.missing" in m.codes(said(radio, of=cable))
    assert [match.places for match in said(wired, radio, of=cable).matches] == [("pci:2",)]


def test_an_adapter_without_a_driver_leaves_open_whether_it_is_wireless() -> None:
    found = said(net("pci:1", vendor_id="0x4b44", device_id="0x2600"), of=WIFI)
    assert presence(found) == {Outcome.CONFORMS, Outcome.CANNOT_TELL}
    old = said(net("pci:1", wireless=True), of=WIFI)
    assert presence(old) == {Outcome.CONFORMS}


def test_bluetooth_that_was_sold_with_it_has_to_be_seen() -> None:
    of = m.line(Category.NETWORK, "Drakeline Wi-Fi 6E and Bluetooth 5.3 card")
    radio = net("pci:1", technology="Wi-Fi")
    adapter = m.part(PartKind.BLUETOOTH, "pci:0000:00:14.0/usb-1-7", interface="USB")
    assert presence(said(radio, adapter, of=of)) == {Outcome.CONFORMS}
    assert "network.presence.no-bluetooth" in m.codes(said(radio, of=of))


def test_bluetooth_alone_is_never_a_network_card() -> None:
    of = m.line(Category.NETWORK, "Drakeline Bluetooth 5.3 adapter")
    wired = net("pci:2", technology="Ethernet")
    assert presence(said(wired, of=of)) == {Outcome.CANNOT_TELL}
    adapter = m.part(PartKind.BLUETOOTH, "pci:0000:00:14.0/usb-1-7", interface="USB")
    found = said(wired, adapter, of=of)
    assert presence(found) == {Outcome.CONFORMS}
    assert [match.places for match in found.matches] == [(adapter.place,)]


# Sound


def test_only_a_sound_card_that_names_itself_as_sold_is_there() -> None:
    of = m.line(Category.SOUND, "Holloway Lark 7 sound card")
    onboard = m.part(PartKind.SOUND, "pci:0000:00:1f.3", model="High Definition Audio Controller")
    assert said(onboard, of=of).findings == ()
    lark = m.part(PartKind.SOUND, "pci:0000:05:00.0", model="Lark", card_model="Holloway Lark 7")
    found = said(onboard, lark, of=of)
    assert presence(found) == {Outcome.CONFORMS}
    assert [match.places for match in found.matches] == [(lark.place,)]
    two = m.line(Category.SOUND, of.text, quantity=2)
    assert presence(said(onboard, lark, of=two)) == set()


def test_a_sound_card_sold_by_its_ids_is_told_by_them() -> None:
    card = m.part(PartKind.SOUND, "pci:0000:05:00.0", vendor_id="0x5ab1", device_id="0x0333")
    assert presence(said(card, of=m.line(Category.SOUND, "Sound card 5ab1:0333"))) == {Outcome.CONFORMS}
    assert presence(said(card, of=m.line(Category.SOUND, "Sound card 5ab1:0334"))) == set()


@pytest.mark.parametrize(
    ("makers", "outcome"),
    [
        ({"maker": "Holloway Audio"}, Outcome.CONFORMS),
        ({"maker": "Dunmore Semiconductor", "card_maker": "Holloway Audio"}, Outcome.CONFORMS),
        ({"maker": "Dunmore Semiconductor"}, Outcome.NOT_CHECKED),  # the chip's
    ],
)
def test_the_maker_of_a_sound_card_is_shown_or_left_to_a_person(
    makers: dict[str, Scalar], outcome: Outcome
) -> None:
    of = m.line(Category.SOUND, "Lark 7 sound card", maker="Holloway")
    card = m.part(PartKind.SOUND, "pci:0000:05:00.0", model="Lark", card_model="Lark 7", **makers)
    assert m.finding(said(card, of=of), Aspect.MAKER).outcome is outcome
