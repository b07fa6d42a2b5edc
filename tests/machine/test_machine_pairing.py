"""One part, many witnesses: what pairs, what stays apart, who is believed, and that nobody's word is lost."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.join import FIELDS, PRECEDENCE, join, order_of
from shipworthy.machine.listing import said
from shipworthy.machine.pairing import natural, paired
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part, Sighting
from shipworthy.model.words import Absent, PartKind

GIB = 1 << 30
WIRED, OTHER = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:00:17.0/ata-2"


def sighting(
    kind: PartKind, place: str, source: str, also: tuple[str, ...] = (), **facts: Scalar | Absent
) -> Sighting:
    fields = tuple(said(name, value) for name, value in facts.items())
    return Sighting(kind=kind, place=place, source=source, said=fields, also_at=also)


def drive(
    place: str, source: str, serial: str | Absent = Absent.NOT_OFFERED, *also: str, **facts: Scalar
) -> Sighting:
    return sighting(PartKind.STORAGE, place, source, also, serial=serial, **facts)


def module(place: str, source: str, **facts: Scalar | Absent) -> Sighting:
    return sighting(PartKind.MEMORY_MODULE, place, source, **facts)


def places(sightings: list[Sighting]) -> list[str]:
    return [part.place for part in join(sightings)]


def fact(part: Part, name: str) -> Fact:
    found = part.fact(name)
    assert found is not None
    return found


# Drives


@pytest.mark.parametrize("spelling", ["QR1-TB000451", " qr1tb000451 ", "QR1TB_000451"])
def test_a_drive_known_by_its_nickname_is_the_wired_one_of_the_same_serial(spelling: str) -> None:
    (part,) = join(
        [
            drive(WIRED, "nvme.nvme0.identify-controller", "QR1TB000451", model="Quarrel"),
            drive("node:sda", "smartctl-json.1", spelling, power_on_hours=7),
        ]
    )
    assert (part.place, part.also_at) == (WIRED, ("node:sda",))
    assert part.value("power_on_hours") == 7


@pytest.mark.parametrize(
    "serial",
    [
        "To be filled by O.E.M.",
        "0000000000",
        "000-000-000",
        "FFFFFFFF",
        "123456789",
        "1234 5678 9",
        "----",
        "....",
        "Not Specified",
        "0123456789",
    ],
)
def test_a_placeholder_for_a_serial_pairs_nothing_even_where_a_decoder_let_it_through(serial: str) -> None:
    drives = [drive(WIRED, "nvme", serial), drive("node:sda", "lsblk-json.1", serial)]
    assert len(join(drives)) == 2
    assert (
        len(join([drive("node:sda", "lsblk-json.1", serial), drive("node:sdb", "smartctl-json.1", serial)]))
        == 2
    )


def test_silence_pairs_nothing() -> None:
    assert len(join([drive(WIRED, "nvme"), drive("node:sda", "lsblk-json.1")])) == 2


def test_two_wired_drives_of_one_serial_are_never_paired_nor_is_what_names_it() -> None:
    drives = [drive(WIRED, "nvme", "SAME1"), drive(OTHER, "ata", "SAME1"), drive("node:sda", "x", "SAME1")]
    assert places(drives) == sorted([WIRED, OTHER, "node:sda"], key=natural)


def test_two_nicknames_in_one_report_of_one_serial_are_two_drives() -> None:
    """A multipath host shows a disk twice; two USB boxes of one maker have one serial."""
    two = [drive("node:sda", "lsblk-json.1", "SAME1"), drive("node:sdb", "lsblk-json.1", "SAME1")]
    assert places([*two, drive(WIRED, "nvme", "SAME1")]) == ["node:sda", "node:sdb", WIRED]


def test_reports_of_one_nickname_are_one_part_and_pair_together() -> None:
    (part,) = join(
        [
            drive("node:sda", "lsblk-json.1", "QA4-0017", size_bytes=5),
            drive("node:sda", "smartctl-json.1", "QA40017", power_on_hours=9),
            drive("node:sda", "lshw-xml.1", model="Quarrel"),
            drive(OTHER, "dmesg.1", "QA4-0017"),
        ]
    )
    assert part.place == OTHER
    assert (part.value("size_bytes"), part.value("power_on_hours"), part.value("model")) == (5, 9, "Quarrel")


def test_an_nvme_controller_and_its_namespace_are_one_drive_and_pair_together() -> None:
    (part,) = join(
        [
            drive("node:nvme0n1", "lsblk-json.1", "QR1", size_bytes=5),
            drive("node:nvme0", "smartctl-json.1", "QR1", "node:nvme0n1", power_on_hours=9),
            drive(WIRED, "block", "QR1"),
        ]
    )
    assert part.place == WIRED
    assert (part.value("size_bytes"), part.value("power_on_hours")) == (5, 9)


def test_a_controllers_report_is_of_the_only_namespace_that_others_know() -> None:
    one = [
        drive("node:nvme0n1", "lsblk-json.1", model="a"),
        drive("node:nvme0", "smartctl-text.1", model="a"),
    ]
    assert places(one) == ["node:nvme0n1"]
    two = [*one, drive("node:nvme0n2", "lsblk-json.1")]
    assert len(join(two)) == 3


def test_nicknames_that_two_starts_gave_the_other_way_round_are_told_by_the_serials() -> None:
    parts = join(
        [
            drive("node:sda", "lsblk-json.1", "AAA111", size_bytes=1),
            drive("node:sdb", "lsblk-json.1", "BBB222", size_bytes=2),
            drive("node:sdb", "smartctl-json.1", "AAA-111", power_on_hours=10),
            drive("node:sda", "smartctl-json.2", "BBB-222", power_on_hours=20),
        ]
    )
    told = {part.place: (part.value("size_bytes"), part.value("power_on_hours")) for part in parts}
    assert told == {"node:sda": (1, 10), "node:sdb": (2, 20)}


def test_a_drive_is_not_moved_to_a_nickname_that_its_own_report_gives_another() -> None:
    """Here the second report has two drives: the serial's is at `sdb` in it, and so not at `sda`."""
    drives = [
        drive("node:sda", "smartctl-json.1", "AAA111", power_on_hours=10),
        drive("node:sda", "lsblk-json.1", size_bytes=2),
        drive("node:sdb", "lsblk-json.1", "AAA111", size_bytes=1),
    ]
    for order in itertools.permutations(drives):
        told = {p.place: (p.value("size_bytes"), p.value("power_on_hours")) for p in join(order)}
        assert told == {"node:sda": (2, None), "node:sdb": (1, 10)}


def test_a_report_without_a_nickname_is_of_the_drive_with_its_serial() -> None:
    parts = join(
        [
            drive("node:sda", "lsblk-json.1", "AAA111"),
            drive("report:smartctl-text.1/1", "smartctl-text.1", "AAA111", power_on_hours=3),
            drive("report:smartctl-text.2/1", "smartctl-text.2", "CCC333"),
        ]
    )
    assert {part.place: part.value("power_on_hours") for part in parts} == {
        "node:sda": 3,
        "report:smartctl-text.2/1": None,
    }


def test_a_bridges_serial_and_the_drives_own_at_one_nickname_stay_one_part_with_a_dispute() -> None:
    (part,) = join(
        [drive("node:sdc", "smartctl-json.1", "REAL1"), drive("node:sdc", "lsblk-json.1", "BRIDGE9")]
    )
    serial = fact(part, "serial")
    assert (serial.value, serial.disputed) == ("REAL1", True)
    assert [(w.source, w.value) for w in serial.witnesses] == [("lsblk-json.1", "BRIDGE9")]


def logged(place: str = "node:ata3.00", **facts: Scalar) -> Sighting:
    return sighting(PartKind.STORAGE, place, "dmesg.1", model="Quarrel", **facts)


def test_a_drive_of_the_kernels_log_is_the_only_one_of_its_model() -> None:
    (part,) = join(
        [logged(sata_now_gbit_s=6.0), drive("node:sda", "lsblk-json.1", "QA4-0017", model="Quarrel")]
    )
    assert (part.place, part.also_at, part.value("sata_now_gbit_s")) == ("node:sda", ("node:ata3.00",), 6.0)


def test_of_two_drives_of_one_model_none_is_taken_for_that_of_the_log() -> None:
    two = [drive(f"node:sd{n}", "lsblk-json.1", f"QA4-001{n}", model="Quarrel") for n in "ab"]
    assert len(join([logged(), *two])) == 3
    assert len(join([logged(), logged("node:ata4.00"), two[0]])) == 3
    assert (
        len(join([logged(size_bytes=1), drive("node:sda", "lsblk-json.1", model="Quarrel", size_bytes=2)]))
        == 2
    )


# Memory modules


def test_a_slot_whose_banks_name_a_report_leaves_out_is_the_one_of_its_locator() -> None:
    table = [
        module(f"smbios:{place}", "dmidecode-text.1", size_bytes=n)
        for n, place in enumerate(("DIMM 0/P0 A", "DIMM 0/P0 B", "DIMM 1/P0 A"))
    ]
    short = [
        module(f"smbios:{place}", "lshw-xml.1", form_factor=place)
        for place in ("DIMM 0", "DIMM 0#2", "DIMM 1")
    ]
    told = {p.place: (p.value("size_bytes"), p.value("form_factor")) for p in join([*table, *short])}
    assert told == {
        "smbios:DIMM 0/P0 A": (0, "DIMM 0"),
        "smbios:DIMM 0/P0 B": (1, "DIMM 0#2"),
        "smbios:DIMM 1/P0 A": (2, "DIMM 1"),
    }
    fewer = {p.place for p in join([*table, *short[:1]])}
    assert fewer == {*(s.place for s in table), "smbios:DIMM 0"}


def spd(address: int, **facts: Scalar) -> Sighting:
    return module(f"i2c:0-00{address}", f"spd.0-00{address}", **facts)


@pytest.mark.parametrize("spelling", ["0A0B0C0D", "0x0A0B0C0D", "0d0c0b0a", "A0B0C0D", "0A 0B 0C 0D"])
def test_spd_and_slot_are_one_module_by_their_serial_and_its_spelling_is_no_dispute(spelling: str) -> None:
    parts = join(
        [
            module("smbios:A1", "smbios.table", serial=spelling, size_bytes=16 * GIB, speed_mt_s=4800),
            module("smbios:A2", "smbios.table", serial="11111112", size_bytes=16 * GIB),
            spd(50, serial="0A0B0C0D", size_bytes=16 * GIB, rated_speed_mt_s=6000),
        ]
    )
    (part,) = [part for part in parts if part.place == "smbios:A1"]
    serial = fact(part, "serial")
    assert part.also_at == ("i2c:0-0050",)
    assert (serial.value, serial.source, serial.disputed) == ("0A0B0C0D", "spd.0-0050", False)
    assert part.value("rated_speed_mt_s") == 6000
    assert len(parts) == 2


def test_another_serial_in_the_same_slot_is_a_dispute_with_the_module_believed() -> None:
    (part,) = join(
        [module("smbios:A1", "smbios.table", serial="0A0B0C0D"), spd(50, serial="0A0B0CFF", type="DDR5")]
    )
    serial = fact(part, "serial")
    assert (serial.value, serial.disputed, serial.rule) == ("0A0B0CFF", True, "the module over the firmware")


def test_equal_modules_without_serials_stay_apart_and_are_counted_once() -> None:
    slots = [module(f"smbios:A{n}", "smbios.table", part_number="TARN-16G", size_bytes=GIB) for n in (1, 2)]
    chips = [spd(50 + n, part_number="TARN-16G", size_bytes=GIB) for n in (1, 2)]
    kinds = [(part.kind, part.place) for part in join([*slots, *chips])]
    assert kinds == [
        (PartKind.MEMORY_MODULE, "smbios:A1"),
        (PartKind.MEMORY_MODULE, "smbios:A2"),
        (PartKind.UNPLACED_MODULE, "i2c:0-0051"),
        (PartKind.UNPLACED_MODULE, "i2c:0-0052"),
    ]


def test_placeholder_serials_of_modules_pair_nothing() -> None:
    slots = [module(f"smbios:A{n}", "smbios.table", serial="00000000", size_bytes=GIB) for n in (1, 2)]
    chips = [spd(50 + n, serial="00000000", size_bytes=GIB) for n in (1, 2)]
    assert sum(part.kind is PartKind.UNPLACED_MODULE for part in join([*slots, *chips])) == 2


def test_the_last_module_goes_to_the_last_slot_that_holds_something() -> None:
    parts = join(
        [
            module("smbios:A1", "smbios.table", size_bytes=Absent.NOT_FITTED),
            module("smbios:A2", "smbios.table", size_bytes=16 * GIB),
            spd(50, serial="DEADBE01", size_bytes=16 * GIB),
        ]
    )
    assert {part.place: part.value("serial") for part in parts} == {
        "smbios:A1": None,
        "smbios:A2": "DEADBE01",
    }


def test_without_a_table_the_spds_are_the_modules() -> None:
    parts = join([spd(50, size_bytes=GIB), spd(51, size_bytes=GIB)])
    assert [(p.kind, p.place) for p in parts] == [
        (PartKind.MEMORY_MODULE, "i2c:0-0050"),
        (PartKind.MEMORY_MODULE, "i2c:0-0051"),
    ]


# Processors


def test_as_many_processors_of_firmware_as_of_the_kernel_are_taken_in_order() -> None:
    names = [f"socket:{n}" for n in (0, 2, 10)]
    kernel = [sighting(PartKind.PROCESSOR, place, "topology", cores=n) for n, place in enumerate(names)]
    firmware = [
        sighting(PartKind.PROCESSOR, f"smbios-processor:{n}", "smbios.table", socket=f"CPU{n}")
        for n in (0, 1, 2)
    ]
    for order in itertools.permutations(firmware):
        told = [(p.place, p.value("cores"), p.value("socket")) for p in join([*kernel, *order])]
        assert told == [("socket:0", 0, "CPU0"), ("socket:2", 1, "CPU1"), ("socket:10", 2, "CPU2")]


def test_where_the_kernel_sees_fewer_processors_than_the_firmware_none_is_guessed() -> None:
    kernel = [sighting(PartKind.PROCESSOR, "socket:0", "cpuinfo", model="T")]
    firmware = [sighting(PartKind.PROCESSOR, f"smbios-processor:{n}", "smbios.table") for n in (0, 1)]
    assert len(join([*kernel, *firmware])) == 3
    assert len(join(firmware)) == 2


# Who is believed, and that nobody's word is lost

GRAPHICS = {"smi": "nvidia-smi", "bus": "pci", "list": "pci.names"}


def test_a_field_may_be_believed_in_another_order_than_the_rest() -> None:
    (part,) = join(
        [
            sighting(PartKind.GRAPHICS, "pci:0000:01:00.0", "nvidia-smi", link_width=16, model="Ember 12G"),
            sighting(PartKind.GRAPHICS, "pci:0000:01:00.0", "pci", link_width=8, model="Ember"),
        ]
    )
    width, model = fact(part, "link_width"), fact(part, "model")
    assert (width.value, width.source, width.rule) == (8, "pci", "the registers over the driver")
    assert (model.value, model.source, model.rule) == (
        "Ember 12G",
        "nvidia-smi",
        "the driver over the list of names",
    )
    assert width.disputed and model.disputed


def test_every_order_of_a_field_names_sources_that_its_kind_has_too() -> None:
    for (kind, name), (rule, order) in FIELDS.items():
        assert order_of(kind, name) == (rule, order)
        assert set(order) <= set(PRECEDENCE[kind][1])


@pytest.mark.parametrize("kind", list(PRECEDENCE))
def test_of_each_kind_the_first_of_its_order_is_believed_and_the_rest_are_witnesses(kind: PartKind) -> None:
    rule, order = PRECEDENCE[kind]
    sightings = [
        sighting(kind, "here", f"{source}.1" if "." not in source else source, colour=source)
        for source in order
    ]
    for seed in range(4):
        mixed = random.Random(seed).sample(sightings, len(sightings))
        (part,) = join(mixed)
        colour = fact(part, "colour")
        assert colour.value == order[0]
        assert [witness.value for witness in colour.witnesses] == list(order[1:])
        assert colour.rule == (rule if len(order) > 1 else "only")
        assert colour.disputed == (len(order) > 1)


def test_a_value_is_believed_over_a_better_sources_silence_which_stays_a_witness() -> None:
    (part,) = join(
        [
            sighting(PartKind.BOARD, "board", "smbios.table", serial=Absent.NOT_OFFERED),
            sighting(PartKind.BOARD, "board", "dmi-id", serial="HW-1"),
        ]
    )
    serial = fact(part, "serial")
    assert (serial.value, serial.source, serial.rule, serial.disputed) == ("HW-1", "dmi-id", "only", False)
    assert [(w.source, w.absent) for w in serial.witnesses] == [("smbios.table", Absent.NOT_OFFERED)]


def test_where_nobody_has_a_value_the_reason_that_tells_most_is_believed() -> None:
    reasons = list(Absent)
    (part,) = join(
        [
            sighting(PartKind.BOARD, "board", f"s.{n}", serial=reason)
            for n, reason in enumerate(reversed(reasons))
        ]
    )
    serial = fact(part, "serial")
    assert (serial.value, serial.absent) == (None, Absent.NOT_FITTED)
    assert {w.absent for w in serial.witnesses} == set(reasons) - {Absent.NOT_FITTED}


def test_a_number_that_is_none_is_implausible_and_another_witness_is_believed() -> None:
    (part,) = join(
        [
            drive(WIRED, "nvme", temperature_c=float("nan"), hours=float("inf")),
            drive(WIRED, "block", temperature_c=31.0),
        ]
    )
    assert (part.value("temperature_c"), part.why_absent("hours")) == (31.0, Absent.IMPLAUSIBLE)
    assert [w.absent for w in fact(part, "temperature_c").witnesses] == [Absent.IMPLAUSIBLE]


def test_the_cut_copy_of_a_name_is_no_witness_and_a_shorter_name_of_another_length_is() -> None:
    whole = "Quarrel Archive 4TB Spinner"
    (part,) = join([drive(OTHER, "ata", model=whole), drive(OTHER, "block", model=whole[:16].strip())])
    assert fact(part, "model").witnesses == ()
    (part,) = join([drive(OTHER, "ata", model=whole), drive(OTHER, "block", model="Quarrel")])
    assert fact(part, "model").disputed


@pytest.mark.parametrize(
    ("listed", "disputed"),
    [
        ("0x0108", False),
        ("0x01", False),
        ("0x010802", False),
        ("0x0106", True),
        ("0x010", True),
        ("0x", True),
    ],
)
def test_a_class_of_fewer_bytes_is_the_same_class(listed: str, disputed: bool) -> None:
    place = "pci:0000:04:00.0"
    kind = PartKind.PCI_DEVICE
    whole = sighting(kind, place, "pci", **{"class": "0x010802"})
    (part,) = join([whole, sighting(kind, place, "lspci-text.1", **{"class": listed})])
    assert (part.value("class"), fact(part, "class").disputed) == ("0x010802", disputed)


def test_parts_that_a_later_sighting_connects_are_one() -> None:
    (part,) = join(
        [
            drive("node:sda", "a", model="x"),
            drive("node:nvme9", "b", size_bytes=4),
            drive("node:sda", "c", Absent.NOT_OFFERED, "node:nvme9", hours=3),
        ]
    )
    assert (part.value("model"), part.value("size_bytes"), part.value("hours")) == ("x", 4, 3)
    assert set(part.also_at) | {part.place} == {"node:sda", "node:nvme9"}


# Whatever is said

NAMES = st.sampled_from(["serial", "model", "size_bytes"])
VALUES = st.one_of(
    st.sampled_from(["QA4-0017", "QA40017", "x", "00000000"]), st.integers(0, 3), st.just(Absent.IMPLAUSIBLE)
)
PLACES = st.sampled_from([WIRED, OTHER, "node:sda", "node:sdb", "node:nvme0", "node:nvme0n1", "report:r.1/1"])
DRIVES = st.lists(
    st.builds(
        lambda place, also, source, facts: sighting(PartKind.STORAGE, place, source, also, **facts),
        PLACES,
        st.lists(PLACES, max_size=1).map(tuple),
        st.sampled_from(
            ["nvme", "block", "lsblk-json.1", "smartctl-json.1", "smartctl-json.2", "lshw-xml.1"]
        ),
        st.dictionaries(NAMES, VALUES, max_size=3),
    ),
    max_size=7,
)


@given(DRIVES)
def test_no_word_is_lost_or_made_up_whatever_pairs(sightings: list[Sighting]) -> None:
    """Golden superset: each word that was said stands in a part, as what is believed or as a witness."""
    parts = join(sightings)
    spoken = {(s.source, w.name, w.value, w.absent) for s in sightings for w in s.said}
    kept = {
        (source, f.name, value, absent)
        for part in parts
        for f in part.facts
        for source, value, absent in (
            (f.source, f.value, f.absent),
            *((w.source, w.value, w.absent) for w in f.witnesses),
        )
    }
    assert kept <= spoken
    copies = {word for word in spoken - kept if word[1] == "model"}
    assert spoken - kept == copies
    assert len({(part.kind, part.place) for part in parts}) == len(parts)
    assert len(paired(sightings)) == len(sightings)
    assert join(sightings) == parts


@given(DRIVES, st.randoms(use_true_random=False))
def test_what_is_one_part_does_not_hang_on_the_order_of_sources_of_unlike_ranks(
    sightings: list[Sighting], order: random.Random
) -> None:
    """The count of drives is the same in whichever order the sources answer."""
    mixed = order.sample(sightings, len(sightings))
    assert len(join(mixed)) == len(join(sightings))


@pytest.mark.parametrize(
    ("whole", "kernels", "copies"),
    [
        ("SVT02B6Q", "2B6Q", True),  # the last four of eight
        ("AA03", "AA03", True),
        ("AA03", "AA04", False),
        ("MB0GE", "E", True),
        ("SVT02B6Q", "SVT0", True),
        ("SVT02B6Q", "3B6Q", False),
    ],
)
def test_the_kernels_four_signs_of_a_firmware_version_are_no_other_word(
    whole: str, kernels: str, copies: bool
) -> None:
    place = "pci:0000:00:17.0/ata-2"
    (part,) = join(
        [
            sighting(PartKind.STORAGE, place, source, firmware_version=text)
            for source, text in (("ata.sda.identify", whole), ("block", kernels))
        ]
    )
    (fact,) = part.facts
    assert fact.value == whole
    assert (fact.rule in ("only", "agreed")) is copies


def test_a_drive_of_the_log_and_its_cut_firmware_version_are_one_drive() -> None:
    """A report of block devices knows the last four signs, the kernel's log all eight."""

    def seen(place: str, source: str, version: str) -> Sighting:
        return sighting(PartKind.STORAGE, place, source, model="Quarrel S5 1TB", firmware_version=version)

    log = seen("node:ata1", "dmesg.1", "SVT02B6Q")
    assert len(join([seen("node:sda", "lsblk-json.1", "2B6Q"), log])) == 1
    for other in ("9B6Q", "SVT03B6Q"):
        assert len(join([seen("node:sda", "lsblk-json.1", other), log])) == 2
