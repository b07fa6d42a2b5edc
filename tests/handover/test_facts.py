"""What a handover says of a record."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from shipworthy.handover.facts import handover_of
from shipworthy.handover.naming import part_at
from shipworthy.handover.view import Entries, Entry, Graph, Handover, Plot, Section, Table, texts
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind
from shipworthy.record.sealed import Sealed
from tests.handover.records import CUSTOMER_REFERENCE


@pytest.fixture
def view_of(made: dict[str, Path]):
    return lambda name, signed=True: handover_of(Sealed(made[name]), signed=signed)


def section(view: Handover, name: str) -> Section:
    return next(s for s in view.sections if s.name == name)


def entries(view: Handover, name: str) -> list[Entry]:
    return [e for b in section(view, name).blocks if isinstance(b, Entries) for e in b.entries]


def said(*views: object) -> str:
    return " ".join(" ".join(texts(view)) for view in views).replace("\u00a0", " ")


def plots(view: Handover) -> dict[str, Plot]:
    return {b.name: b for s in view.sections for b in s.blocks if isinstance(b, Plot)}


def test_a_release_and_a_hold_say_so_first(view_of) -> None:
    assert view_of("released").cover.verdict == "Released"
    assert view_of("held").cover.verdict == "Held"
    assert view_of("held").sections[0].name == "reasons"
    assert "reasons" not in [s.name for s in view_of("released").sections]


def test_every_reason_to_hold_is_there_with_what_was_wanted_what_was_found_and_what_to_do(view_of) -> None:
    reasons = [{p.label: p.text for p in entry.pairs} for entry in entries(view_of("held"), "reasons")]
    assert len(reasons) == 5
    assert all(pairs["At the bench"] for pairs in reasons)
    speed = next(pairs for pairs in reasons if "order line 3" in pairs["Concerns"])
    assert (speed["Wanted"], speed["Found"]) == ("6,000\u00a0MT/s", "4,800\u00a0MT/s")
    hours = next(pairs for pairs in reasons if pairs.get("Found") == "3,120\u00a0h")
    assert "Quarrel M2 1TB (pci:0000:04:00.0/nvme-ns-1)" in hours["Part"]


def test_every_order_line_says_how_it_was_shown_and_who_looked(view_of) -> None:
    lines = {entry.title: entry for entry in entries(view_of("released"), "lines")}
    assert len(lines) == 11  # ten lines and the unit as a whole
    memory = lines["1 × Fennec Quiet 16GB (2x8GB) DDR5-6000"]
    assert memory.state == "as ordered"
    assert said(memory.shown) == (
        "size (16 GiB), speed (6,000 MT/s), how many (2): read from the machine "
        "right results under load: shown by the burn-in"
    )
    assert "looked at by Ines Vaal" in said(lines['1 × Lid lettering "Studio 4" in white'].shown)


def test_a_line_that_differs_or_is_open_never_reads_as_ordered(view_of) -> None:
    states = {entry.title: entry.state for entry in entries(view_of("held"), "lines")}
    assert states["1 × Quarrel M2 1TB NVMe SSD"] == "not as it should be"
    assert states['1 × Lid lettering "Studio 4" in white'] == "not shown in full"
    assert states["1 × Tarn C7 processor"] == "as ordered"


def test_what_was_not_checked_is_named_with_the_reason(view_of) -> None:
    told = said(section(view_of("held"), "unchecked"))
    assert "Nobody has answered inspection item 15.presence" in told
    assert "Sable 210 passive graphics card: right results under load not checked" in told
    assert "refused to this account" in told and "failed: Input/output error" in told
    assert "/sys/class/hwmon/hwmon2 and 2 more" in told


def test_sources_that_failed_are_a_table_and_those_not_there_a_line(view_of) -> None:
    shown = said(section(view_of("released"), "unchecked"))
    assert "nvme-smart-log" in shown and "failed: Input/output error" in shown
    assert "Looked for, and not on this machine: wireless." in shown  # what gave something else is there
    assert "/sys/class/ieee80211" not in shown


def test_people_mean_the_drive_by_its_bus_function_and_a_card_by_its_slot(made: dict[str, Path]) -> None:
    def part(kind: PartKind, place: str, *also: str) -> Part:
        return Part(kind=kind, place=place, facts=(), also_at=also)

    drive = part(PartKind.STORAGE, "pci:0000:03:00.0/nvme-ns-1")
    card = part(PartKind.GRAPHICS, "pci:0000:01:00.0")
    others = (
        part(PartKind.PCI_DEVICE, "pci:0000:03:00.0"),
        part(PartKind.SENSOR_CHIP, "pci:0000:03:00.0"),
        part(PartKind.SLOT, "smbios:PCIEX16", "pci:0000:01:00.0"),
    )
    kept = Sealed(made["released"]).read("reading/reading.json", Reading)
    reading = msgspec.structs.replace(kept, parts=(*others, drive, card))
    assert part_at(reading, "pci:0000:03:00.0") is drive
    assert part_at(reading, "pci:0000:01:00.0") is card
    assert part_at(reading, "pci:0000:09:00.0") is None and part_at(None, "board") is None


def test_a_hold_before_the_burn_in_says_that_nothing_is_known_of_heat(view_of) -> None:
    view = view_of("no burn-in")
    assert "nothing is known of how hot" in said(section(view, "heat"))
    assert "No burn-in was run" in said(section(view, "burn-in"))
    assert not plots(view)


def test_without_a_temperature_there_is_a_sentence_and_no_empty_plot(view_of) -> None:
    view = view_of("no temperatures")
    assert "no sensor gave one" in section(view, "heat").lead
    assert "temperature" not in plots(view) and "fan" in plots(view)


def test_every_temperature_stands_beside_its_limit_and_who_set_it(view_of) -> None:
    tables = [b for b in section(view_of("released"), "heat").blocks if isinstance(b, Table)]
    rows = [said(row) for table in tables for row in table.rows]
    assert any("95 °C the device" in row for row in rows)
    assert any("84.8 °C the device" in row for row in rows)


def test_clocks_of_many_cores_are_bounded_by_three_curves_in_their_unit(view_of) -> None:
    clock = plots(view_of("released"))["clock"]
    assert isinstance(clock.drawing, Graph)
    assert clock.drawing.y_unit == "MHz"
    assert [pair.text.split(":")[0] for pair in clock.key] == [
        f"{which} of 4 at each moment" for which in ("highest", "median", "lowest")
    ]
    assert "4,025\u00a0MHz" in clock.key[0].text


def test_of_many_sensors_the_hottest_are_drawn_and_all_are_in_the_table(view_of) -> None:
    view = view_of("many sensors")
    drawn = plots(view)["temperature"]
    assert isinstance(drawn.drawing, Graph)
    assert len(drawn.drawing.curves) == 5
    assert any("5 that went highest, of 11" in note for note in drawn.notes)
    table = next(b for b in section(view, "heat").blocks if isinstance(b, Table))
    assert len(table.rows) == 11


def test_loads_show_their_rate_beside_the_limit_of_the_same_run_and_their_checks(view_of) -> None:
    told = said(section(view_of("released"), "burn-in"))
    assert "matrix on 4 cores, taken together 150 of 158 billion floating-point operations a second" in told
    assert "11.4 of 12.1 GB/s 94 % 600 0" in told
    assert "4,200 results were checked; all were right." in told


def test_one_wrong_result_is_said_in_words_and_in_the_table(view_of) -> None:
    view = view_of("wrong result")
    assert view.held
    assert "Wrong ones among them: 1." in said(section(view, "burn-in"))


def test_the_monitors_port_comes_first_with_what_to_do_with_the_others(view_of) -> None:
    ports = entries(view_of("released"), "monitor")
    assert [(p.title, p.state) for p in ports] == [
        ("DisplayPort (DP-1)", "use this one"),
        ("HDMI (HDMI-A-1)", "do not use"),
        ("DisplayPort (DP-2)", "not tried"),
    ]
    assert "does not say which connectors" in said(section(view_of("no burn-in"), "monitor"))


def test_serials_name_the_part_and_where_it_is_wired_and_silence_is_no_serial(view_of) -> None:
    table = next(b for b in section(view_of("released"), "serials").blocks if isinstance(b, Table))
    rows = {row[0]: row for row in table.rows}
    assert rows["storage"][1:4] == ("Quarrel M2 1TB", "QM2X0014417", "pci:0000:04:00.0/nvme-ns-1")
    assert rows["memory module DIMM_A2"][2] == "7C4100A0"
    assert rows["graphics"][2] == "the part does not say"
    assert "memory module DIMM_A1" not in rows  # an empty slot is no part


def test_a_return_can_be_held_against_the_configuration_links_limits_and_digests(
    view_of, made: dict[str, Path]
) -> None:
    told = said(section(view_of("released"), "technical"))
    for expected in (
        Sealed(made["released"]).digest,
        "Europe/Ljubljana",
        "9 March 2026, 13:58 CET",
        "firmware: version 1.42",
        "graphics, Sable 210 pci:0000:01:00.0 8 16",
        "200 GB the shop's policy",
        "84.8 °C the device",
        "The configuration at the end is the one at the beginning.",
    ):
        assert expected in told, expected


def test_the_customers_reference_stands_on_the_cover_and_nowhere_else(view_of) -> None:
    view = view_of("released")
    assert CUSTOMER_REFERENCE in said(view.cover)
    assert CUSTOMER_REFERENCE not in said(view.furniture, view.sections)


def test_a_simulated_unit_says_so_in_the_furniture_and_on_the_cover(view_of) -> None:
    view = view_of("simulated")
    assert "simulated" in view.furniture.simulated.lower()
    assert any("no such PC" in caution for caution in view.cover.cautions)
    assert view_of("released").furniture.simulated == ""


def test_an_unsigned_pack_says_so_and_gives_no_command_that_would_fail(view_of) -> None:
    view = view_of("released", signed=False)
    assert any("not signed" in caution for caution in view.cover.cautions)
    assert "shipworthy verify" not in said(view)
    assert "shipworthy verify" in said(view_of("released"))


def test_a_zone_that_this_computer_does_not_know_and_an_unsure_clock_are_named(view_of) -> None:
    view = view_of("unknown zone")
    assert "13:04 UTC" in said(view.cover)
    assert any("Elsewhere/Nowhere" in caution for caution in view.cover.cautions)
    assert any("synchronised" in caution for caution in view.cover.cautions)


def test_a_conceded_difference_is_on_the_cover_at_its_line_and_in_the_notes_with_who_and_why(view_of) -> None:
    view = view_of("conceded")
    assert view.cover.verdict == "Released, with a difference that was agreed to"
    line = next(e for e in entries(view, "lines") if "Sable 210" in e.title)
    assert (line.state, line.strong) == ("differs, agreed to", True)
    assert "agreed to by Odile Marsh: the customer prefers the smaller card" in said(line)
    assert "Sable 110, wanted 210" in said(line)
    assert "differs, and was agreed to" in said(section(view, "notes"))


def test_the_same_record_gives_the_same_view(view_of) -> None:
    assert view_of("held") == view_of("held")


def test_no_sentence_is_left_without_words_of_ours(view_of) -> None:
    for name in ("released", "held", "no burn-in", "wrong result", "unknown zone"):
        assert "handover." not in said(view_of(name)), name
        assert "{" not in said(view_of(name)), name
