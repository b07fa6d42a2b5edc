"""Parts that nobody ordered, and parts that stand in another unit's record."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from shipworthy.compare import compare
from shipworthy.compare.onboard import is_in_a_slot, is_soldered
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.known import Gear, Known, Restocking, Seen
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Absent, Category, Outcome, PartKind
from shipworthy.orders.draft import draft_order
from shipworthy.verdict.decide import weight_of
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.compare import machines as m

NVME = m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD")
CARD = m.line(Category.GRAPHICS, "Sable 210", "2")
RAM = m.line(Category.MEMORY, "Fennec 32GB (2x16GB) DDR5-6000", "3")
POLICY = parse_policy(shipped_policy(), "shipped")


def said(*parts: Part, of: tuple[OrderLine, ...] = (NVME,), known: Known | None = None) -> list[Finding]:
    """Return what is said of parts that no line asks for, and of serials seen elsewhere."""
    found = compare(m.order(*of), m.machine(m.drive(), *parts), (), m.EVIDENCE, known or Known())
    about = [f for f in found.findings if f.code.startswith(("unordered.", "elsewhere."))]
    for finding in about:
        sentence = finding_sentence(finding)
        assert sentence.do and "{" not in sentence.say + sentence.do
    return about


def codes(*parts: Part, of: tuple[OrderLine, ...] = (NVME,), known: Known | None = None) -> list[str]:
    return [finding.code for finding in said(*parts, of=of, known=known)]


def graphics(place: str = "pci:0000:01:00.0", **more: Scalar | Absent) -> Part:
    return m.part(PartKind.GRAPHICS, place, **{"model": "Sable 210", "port_type": "endpoint", **more})


def stick(serial: str = "KD-STICK-0001", **more: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"interface": "USB", "model": "Wren 32", "serial": serial}
    return m.drive("pci:0000:00:14.0/usb-2", **{**known, **more})


def screen(**more: Scalar | Absent) -> Part:
    return m.part(PartKind.DISPLAY, "drm:card0-DP-1", **{"model": "Heron 27", "serial": "H27-0042", **more})


# Parts that nobody ordered


def test_a_drive_that_nobody_ordered_holds_and_says_whose_data_may_be_on_it() -> None:
    (finding,) = said(m.drive("pci:0000:09:00.0/nvme-ns-1", model="Heron 5", serial="HN-77120"))
    assert (finding.code, finding.outcome, finding.line) == ("unordered.drive", Outcome.DIFFERS, "")
    assert finding.part == "pci:0000:09:00.0/nvme-ns-1" and weight_of(finding, POLICY).value == "hold"
    assert "HN-77120" in finding_sentence(finding).say and "data" in finding_sentence(finding).do


def test_what_was_ordered_is_no_extra_part() -> None:
    assert codes() == []
    assert codes(graphics(), of=(NVME, CARD)) == []
    assert codes(m.module("A2"), m.module("B2"), of=(NVME, RAM)) == []


def test_an_order_without_memory_or_processor_speaks_of_a_machine_that_has_its_own() -> None:
    assert codes(m.module("A2"), m.processor()) == []


def test_a_second_processor_that_the_kernel_sees_is_one_too_many_and_one_of_the_firmware_alone_is_none() -> (
    None
):
    line = m.line(Category.PROCESSOR, "Tarn C7", "2")
    two = (m.processor(place="socket:0"), m.processor(place="socket:1"))
    assert codes(*two, of=(NVME, line)) == ["unordered.processor"]
    assert codes(two[0], m.processor(place="smbios-processor:1"), of=(NVME, line)) == []
    pair = m.line(Category.PROCESSOR, "Tarn C7", "2", quantity=2)
    asleep = m.machine(m.drive(), two[0], m.processor(place="smbios-processor:1"))
    assert "processor.missing" in m.codes(compare(m.order(pair), asleep, (), ()))
    assert "processor.missing" not in m.codes(compare(m.order(pair), m.machine(*two), (), ()))


def test_an_optical_drive_that_nobody_ordered_holds() -> None:
    drive = m.part(PartKind.OPTICAL_DRIVE, "pci:0000:00:17.0/ata-3", model="BW-16", interface="SATA")
    assert codes(drive) == ["unordered.optical-drive"]


def test_a_reader_without_a_card_is_no_drive() -> None:
    assert codes(m.drive("pci:0000:00:1a.0/mmc", size_bytes=Absent.NOT_FITTED)) == []


def test_what_hangs_outside_is_named_and_is_a_note_under_the_shipped_policy() -> None:
    found = said(stick(), screen())
    assert [f.code for f in found] == ["unordered.plugged-in"] * 2
    assert {weight_of(f, POLICY).value for f in found} == {"note"}
    strict = msgspec.structs.replace(POLICY, weights=())
    assert {weight_of(f, strict).value for f in found} == {"hold"}


def test_the_benchs_own_gear_is_left_out_by_its_serial_and_named() -> None:
    known = Known(gear=(Gear(serial="kd-stick-0001", what="The bench's stick"),))
    (finding,) = said(stick(), known=known)
    assert (finding.code, finding.outcome) == ("unordered.bench-gear", Outcome.NOT_CHECKED)
    assert "The bench's stick" in finding_sentence(finding).say
    assert codes(stick("KD-STICK-0002"), known=known) == ["unordered.plugged-in"]
    assert codes(stick(serial=Absent.NOT_OFFERED), known=known) == ["unordered.plugged-in"]
    keyboard = m.part(PartKind.USB_DEVICE, "pci:0000:00:14.0/usb-5", serial="KD-STICK-0001")
    assert codes(keyboard, known=known) == ["unordered.bench-gear"]


def test_gear_of_the_bench_that_was_sold_stands_for_its_line_all_the_same() -> None:
    known = Known(gear=(Gear(serial="QM-1", what="A drive on the bench's list"),))
    assert codes(known=known) == []
    line = m.line(Category.STORAGE, "Wren 32GB USB stick", "4")
    sold = stick(size_bytes=32_010_928_128, technology=Absent.NOT_OFFERED)
    assert codes(sold, of=(NVME, line), known=Known(gear=(Gear(serial="KD-STICK-0001", what="s"),))) == []


def test_a_drive_on_the_controller_of_one_that_was_sold_is_no_function_of_it() -> None:
    sata = m.line(Category.STORAGE, "Heron 5 4TB SATA hard drive", "6")
    known: dict[str, Scalar | Absent] = {"interface": "SATA", "technology": "spinning", "model": "Heron 5"}

    def disk(place: str) -> Part:
        return m.drive(place, **{**known, "size_bytes": 4_000_787_030_016, "serial": place})

    sold, second = disk("pci:0000:00:17.0/ata-1"), disk("pci:0000:00:17.0/ata-2")
    third = disk("pci:0000:00:17.0/ata-3")
    found = said(sold, second, third, of=(NVME, sata))
    assert [f.part for f in found] == [second.place, third.place]
    jack = m.part(PartKind.NETWORK, "pci:0000:00:1f.6", model="Tern 1G", technology="Ethernet")
    lan = m.line(Category.NETWORK, "Tern 1G Ethernet", "7")
    assert codes(jack, disk("pci:0000:00:1f.2"), of=(NVME, lan)) == ["unordered.drive"]


def test_a_memory_card_in_a_reader_is_somebodys() -> None:
    card = m.drive("pci:0000:05:00.0/mmc-1", interface="MMC", model="SD64G", serial="0x1f2e3d4c")
    assert codes(card) == ["unordered.drive"]


def test_a_card_with_two_jacks_is_one_card() -> None:
    jacks = [
        m.part(PartKind.NETWORK, f"pci:0000:03:00.{n}", model="Tern 10G", technology="Ethernet")
        for n in range(2)
    ]
    slot = m.part(
        PartKind.SLOT, "smbios:X4", type="PCI Express", in_use=True, device_place="pci:0000:03:00.0"
    )
    assert codes(*jacks, slot) == ["unordered.card"]
    assert codes(*jacks, slot, of=(NVME, m.line(Category.NETWORK, "Tern 10G Ethernet", "7"))) == []


# What is the board's or the processor's own


def test_a_card_that_nobody_ordered_holds_once_with_all_its_functions() -> None:
    sound = m.part(PartKind.SOUND, "pci:0000:01:00.1", model="Sable sound", port_type="endpoint")
    slot = m.part(
        PartKind.SLOT, "smbios:X16", type="PCI Express", in_use=True, device_place="pci:0000:01:00.0"
    )
    assert codes(graphics(), sound, slot) == ["unordered.card"]
    assert codes(graphics(), sound, slot, of=(NVME, CARD)) == []


@pytest.mark.parametrize(
    "parts",
    [
        (graphics("pci:0000:00:02.0"),),
        (graphics(port_type="root endpoint"),),
        (
            graphics("pci:0000:0a:00.0"),
            m.part(PartKind.PCI_DEVICE, "pci:0000:0a:00.2", **{"class": "0x108000"}),
        ),
        (
            graphics("pci:0000:0a:00.1"),
            m.part(PartKind.PCI_DEVICE, "pci:0000:0a:00.0", **{"class": "0x088000"}),
        ),
        (
            graphics("pci:0000:0b:01.0", port_type=Absent.NOT_OFFERED),
            m.part(PartKind.PCI_DEVICE, "pci:0000:00:1c.0", port_type="root port"),
        ),
        (
            graphics(),
            m.part(PartKind.ONBOARD_DEVICE, "smbios:Video", enabled=True, device_place="pci:0000:01:00.0"),
        ),
    ],
    ids=["root bus", "root complex", "with a security processor", "later function", "old bus", "the table"],
)
def test_graphics_of_the_board_or_the_processor_are_no_extra_card(parts: tuple[Part, ...]) -> None:
    assert codes(*parts) == []


@pytest.mark.parametrize(
    "parts",
    [
        (graphics(), m.part(PartKind.PCI_DEVICE, "pci:0000:01:00.2", **{"class": "0x0c0330"})),
        (
            graphics("pci:0000:01:00.0"),
            m.part(PartKind.PCI_DEVICE, "pci:0000:0a:00.2", **{"class": "0x108000"}),
        ),
        (
            graphics(),
            m.part(PartKind.ONBOARD_DEVICE, "smbios:Video", enabled=False, device_place="pci:0000:01:00.0"),
        ),
        (graphics("pci:0000:05:01.0", port_type=Absent.NOT_OFFERED),),
    ],
    ids=["a card with USB", "another device's", "switched off in the table", "nothing has a link"],
)
def test_a_card_stays_one_where_nothing_tells_that_it_is_soldered(parts: tuple[Part, ...]) -> None:
    assert codes(*parts) == ["unordered.card"]


def test_a_network_adapter_is_an_extra_card_only_where_the_firmware_says_that_it_sits_in_a_slot() -> None:
    adapter = m.part(PartKind.NETWORK, "pci:0000:03:00.0", model="Drakeline 10G", port_type="endpoint")
    assert codes(adapter) == []

    def slot(**more: Scalar | Absent) -> Part:
        told = {"type": "PCI Express", "in_use": True, "device_place": "pci:0000:03:00.0", **more}
        return m.part(PartKind.SLOT, "smbios:X4", **told)

    assert codes(adapter, slot()) == ["unordered.card"]
    assert codes(adapter, slot(in_use=False)) == []
    assert codes(adapter, slot(type="M.2 Socket 1-SD")) == []
    assert codes(adapter, slot(device_place="pci:0000:04:00.0")) == []
    assert is_in_a_slot(adapter, m.machine(adapter, slot()))


def test_soldered_memory_and_storage_and_a_panel_are_of_the_machine() -> None:
    chips, plain = m.module("A", form_factor="Row of chips"), m.module("B", form_factor="DIMM")
    flash, panel = m.drive("pci:1/mmc", interface="eMMC"), m.part(PartKind.DISPLAY, "drm:card0-eDP-1")
    card = m.drive("pci:2/mmc", interface="MMC")
    reading = m.machine(chips, plain, flash, card, panel, screen())
    soldered = {part.place for part in reading.parts if is_soldered(part, reading)}
    assert soldered == {chips.place, flash.place, panel.place}


# Serials that stand elsewhere

SEEN = Seen(
    serial="QM2-000481",
    kind=PartKind.STORAGE,
    model="Quarrel M2 1TB",
    unit_id="KD-0398-1",
    attempt=1,
    on=date(2026, 2, 10),
)
BACK = Restocking(serial="QM2-000481", by="Ines Vaal", on=date(2026, 2, 20), why="order was cancelled")


def of_drive(known: Known, serial: str = "QM2-000481") -> Comparison:
    drive = m.drive(serial=serial)
    return compare(m.order(NVME), m.machine(drive), (), m.EVIDENCE, known)


def elsewhere(found: Comparison) -> list[Finding]:
    return [f for f in found.findings if f.code.startswith("elsewhere.")]


def test_a_serial_of_another_units_record_holds_at_the_line_and_names_that_unit() -> None:
    (finding,) = elsewhere(of_drive(Known(seen=(SEEN,))))
    assert (finding.code, finding.outcome, finding.line) == (
        "elsewhere.seen-in-another-unit",
        Outcome.DIFFERS,
        NVME.line_id,
    )
    assert weight_of(finding, POLICY).value == "hold"
    assert "KD-0398-1, attempt 1" in finding_sentence(finding).say


def test_a_restocking_entry_clears_what_was_seen_until_its_day_and_nothing_later() -> None:
    (finding,) = elsewhere(of_drive(Known(seen=(SEEN,), restocked=(BACK,))))
    assert (finding.code, finding.outcome) == ("elsewhere.restocked", Outcome.NOT_CHECKED)
    assert "Ines Vaal" in finding_sentence(finding).say and "cancelled" in finding_sentence(finding).say
    later = msgspec.structs.replace(SEEN, unit_id="KD-0405-1", on=date(2026, 2, 25))
    (again,) = elsewhere(of_drive(Known(seen=(SEEN, later), restocked=(BACK,))))
    assert again.outcome is Outcome.DIFFERS
    other = msgspec.structs.replace(BACK, serial="QM2-000482")
    (unmoved,) = elsewhere(of_drive(Known(seen=(SEEN,), restocked=(other,))))
    assert unmoved.outcome is Outcome.DIFFERS


@pytest.mark.parametrize(
    "seen",
    [
        msgspec.structs.replace(SEEN, serial="QM2-000482"),
        msgspec.structs.replace(SEEN, kind=PartKind.MEMORY_MODULE),
        msgspec.structs.replace(SEEN, model="Quarrel M2 2TB"),
    ],
    ids=["another serial", "another kind", "another model"],
)
def test_another_part_is_not_this_one(seen: Seen) -> None:
    assert elsewhere(of_drive(Known(seen=(seen,)))) == []


@pytest.mark.parametrize(
    "serial", ["00000000", "To be filled by O.E.M.", "Default string", "FFFFFFFF", "12", "X"]
)
def test_what_stands_for_no_serial_never_counts(serial: str) -> None:
    seen = msgspec.structs.replace(SEEN, serial=serial)
    assert elsewhere(of_drive(Known(seen=(seen,)), serial=serial)) == []


def test_a_serial_that_two_parts_of_the_machine_have_tells_neither() -> None:
    two = (m.drive(serial="QM2-000481"), m.part(PartKind.BOARD, "board", serial="QM2-000481"))
    found = compare(m.order(NVME), m.machine(*two), (), m.EVIDENCE, Known(seen=(SEEN,)))
    assert elsewhere(found) == []


def test_a_display_of_the_bench_goes_from_unit_to_unit_and_one_that_was_sold_does_not() -> None:
    seen = msgspec.structs.replace(SEEN, serial="H27-0042", kind=PartKind.DISPLAY, model="Heron 27")
    known = Known(seen=(seen,))
    assert codes(screen(), known=known) == ["unordered.plugged-in"]
    sold = m.line(Category.DISPLAY, "Heron 27", "5")
    assert codes(screen(), of=(NVME, sold), known=known) == ["elsewhere.seen-in-another-unit"]


def test_a_draft_has_one_processor_a_socket_and_those_that_run_where_the_kernel_tells() -> None:
    twice = [m.processor(place=f"smbios-processor:{n}", socket="U1") for n in (0, 1)]
    others = [m.processor(place="smbios-processor:2", socket="U2")]

    def drafted(*parts: Part) -> int:
        order = draft_order(m.machine(*parts), order_id="D", shop="Kestrel Desk", unit_id="U")
        return sum(line.quantity for line in order.lines if line.category is Category.PROCESSOR)

    assert drafted(*twice) == 1
    assert drafted(*twice, *others) == 2
    assert drafted(m.processor(place="socket:0"), *twice, *others) == 1
