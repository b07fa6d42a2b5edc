"""Reports of `sensors -j`, made here, sound and as some versions spoil them."""

from __future__ import annotations

import json
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.sensors import json_report as sensors_json
from shipworthy.machine.parse.sensors.json_report import chip_place
from shipworthy.machine.raw import Parsed
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import facts_by_place, file

REPORT: dict[str, Any] = {
    "nvme-pci-0400": {
        "Adapter": "PCI adapter",
        "Composite": {
            "temp1_input": 38.85,
            "temp1_max": 81.85,
            "temp1_min": -273.15,
            "temp1_crit": 84.85,
            "temp1_alarm": 0.0,
        },
        "Sensor 2": {"temp3_input": 41.85, "temp3_max": 65261.85},
    },
    "coretemp-isa-0000": {
        "Adapter": "ISA adapter",
        "Package id 0": {"temp1_input": 45.0, "temp1_max": 80.0, "temp1_crit": 100.0},
    },
    "nct6798-isa-0290": {
        "Adapter": "ISA adapter",
        "in0": {"in0_input": 1.016, "in0_min": 0.0, "in0_max": 1.744},
        "fan1": {"fan1_input": 842.0},
        "temp3": {"temp3_input": -128.0, "temp3_max": 0.0},
        "AUXTIN1": {"temp4_input": 127.0},
        "intrusion0": {"intrusion0_alarm": 1.0},
    },
}


def parsed(text: str | bytes) -> Parsed:
    return sensors_json.parse((file(text, "sensors.json", "sensors-json.1"),))


def test_chips_give_values_labels_and_limits_each_by_what_it_means() -> None:
    text = json.dumps(REPORT, indent=3)
    assert sensors_json.recognises("sensors.json", text[:4096].encode())
    got = facts_by_place(parsed(text))
    assert list(got) == ["pci:0000:04:00.0", "chip:coretemp-isa-0000", "chip:nct6798-isa-0290"]
    drive = got["pci:0000:04:00.0"]
    assert (drive["name"], drive["adapter"], drive["channels"]) == ("nvme", "PCI adapter", "temp1, temp3")
    assert (drive["temp1_label"], drive["temp1_c"]) == ("Composite", 38.85)
    assert (drive["temp1_high_c"], drive["temp1_critical_c"]) == (81.85, 84.85)
    processor = got["chip:coretemp-isa-0000"]
    assert (processor["temp1_control_target_c"], processor["temp1_critical_c"]) == (80.0, 100.0)
    assert "temp1_high_c" not in processor
    board = got["chip:nct6798-isa-0290"]
    assert (board["in0_v"], board["in0_high_v"], board["fan1_rpm"]) == (1.016, 1.744, 842.0)


def test_a_label_says_where_it_comes_from() -> None:
    board = facts_by_place(parsed(json.dumps(REPORT)))["chip:nct6798-isa-0290"]
    assert (board["fan1_label"], board["fan1_label_origin"]) == ("fan1", "channel name")
    assert (board["temp4_label"], board["temp4_label_origin"]) == ("AUXTIN1", "driver or configuration")


def test_what_cannot_be_is_named_and_not_used() -> None:
    result = parsed(json.dumps(REPORT))
    board, drive = (facts_by_place(result)[p] for p in ("chip:nct6798-isa-0290", "pci:0000:04:00.0"))
    assert board["temp3_c"] is board["temp4_c"] is drive["temp3_high_c"] is Absent.IMPLAUSIBLE
    assert "temp3_high_c" not in board  # a limit of nothing is none
    assert [remark.kind for remark in result.remarks] == [RemarkKind.BAD_VALUE] * 3
    assert [remark.where for remark in result.remarks] == [
        "nvme-pci-0400: temp3_max",
        "nct6798-isa-0290: temp3_input",
        "nct6798-isa-0290: temp4_input",
    ]


def test_what_some_versions_spoil_is_mended_and_named() -> None:
    text = (
        "ERROR: Can't get value of subfeature temp2_input: Can't read\n"
        '{\n   "amdgpu-pci-0300":{\n      "Adapter": "PCI adapter",\n      "edge":{\n'
        '         "temp1_input": nan,\n'
        '         "temp1_crit": 100.000,\n      },\n      "junction":{\n      }\n   },\n}\n'
    )
    assert sensors_json.recognises("a", text.encode())
    result = parsed(text)
    (got,) = facts_by_place(result).values()
    assert got["temp1_c"] is Absent.IMPLAUSIBLE and got["temp1_critical_c"] == 100.0
    assert [remark.where for remark in result.remarks] == ["file", "amdgpu-pci-0300: temp1_input"]


def test_of_a_name_given_twice_the_first_counts_and_the_other_is_named() -> None:
    text = (
        '{"a-isa-0001": {"Adapter": "x", "CPU": {"temp1_input": 30.0}, "CPU": {"temp2_input": 31.0},'
        ' "Fan": {"temp1_input": 99.0}}, "a-isa-0001": {"Adapter": "y"}}'
    )
    result = parsed(text)
    (got,) = facts_by_place(result).values()
    assert (got["channels"], got["temp1_c"], got["temp2_c"]) == ("temp1, temp2", 30.0, 31.0)
    assert [remark.where for remark in result.remarks] == ["a-isa-0001: temp1", "a-isa-0001"]
    assert (got["temp1_label"], got["temp2_label"]) == ("CPU", "CPU")


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("k10temp-pci-00c3", "pci:0000:00:18.3"),
        ("nvme-pci-10400", "pci:0001:04:00.0"),
        ("jc42-i2c-2-18", "i2c:2-0018"),
        ("acpitz-acpi-0", "chip:acpitz-acpi-0"),
        ("drivetemp-scsi-0-0", "chip:drivetemp-scsi-0-0"),
        ("nothing", "chip:nothing"),
    ],
)
def test_a_chips_name_tells_its_place(name: str, place: str) -> None:
    """libsensors has bus, device and function in 16 bits. The live source gives a PCI chip the same place."""
    assert chip_place(name) == place


def test_what_is_no_report_says_so() -> None:
    for text in ("", "[]", "{", '{"a": ', "3", '{"a-isa-1": {' * 30_000):
        result = parsed(text)
        assert (result.sightings, [r.kind for r in result.remarks]) == ((), [RemarkKind.NOT_UNDERSTOOD])
    assert not sensors_json.recognises("sensors.json", b'{"blockdevices": {"x": 1}}')
    assert not sensors_json.recognises("sensors.json", b'{"smartctl": {"version": [7, 4]}}')


@settings(max_examples=80, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
        lambda below: (
            st.lists(below, max_size=3)
            | st.dictionaries(
                st.sampled_from(["Adapter", "CPU", "temp1_input", "temp1_max", "fan1_input", "in0_max"]),
                below,
            )
        ),
        max_leaves=10,
    ),
    st.binary(max_size=20),
)
def test_nothing_raises(value: object, data: bytes) -> None:
    text = json.dumps({"a-isa-0001": value, "b-pci-0100": {"CPU": value, "Adapter": value}})
    parsed(text)
    parsed(text.encode()[:-2] + data)
    parsed(data)
    sensors_json.recognises("x", data)


def test_numbers_of_any_length_are_implausible() -> None:
    number = "9" * 600
    text = f'{{"a-pci-0100": {{"CPU": {{"temp1_input": {number}, "temp1_max": -{number}}}}}}}'
    (got,) = facts_by_place(parsed(text)).values()
    assert got["temp1_c"] is Absent.IMPLAUSIBLE


def test_large_input_ends() -> None:
    features = ",".join(f'"l{n}": {{"temp{n}_input": nan}}' for n in range(4_000))
    for text in (f'{{"a-pci-0100": {{{features}}}}}', '{"a-pci-0100":{' + ", " * 70_000, '{"a":' * 30_000):
        ends(partial(parsed, text))
