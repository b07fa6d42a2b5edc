"""Memory controllers' counts, and that their numbers lead to slots where somebody knows the board."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipworthy.machine.capture import edac as capture_edac
from shipworthy.machine.parse import edac
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.devices import by_place, failing, files, read
from tests.machine.ttar import unpack

MC = "sys/devices/system/edac/mc/mc0"
GIB = 1 << 30


def controller(root: Path, **texts: str) -> None:
    told = {"mc_name": "F19h_M20h", "size_mb": "16384", "seconds_since_reset": "3600", **texts}
    counts = {"ce_count": "0", "ue_count": "0", "ce_noinfo_count": "0", "ue_noinfo_count": "0"}
    files(root, MC, {**counts, **told})


def module(root: Path, name: str, **texts: str) -> None:
    told = {
        "dimm_label": "",
        "dimm_location": "",
        "size": "8192",
        "dimm_mem_type": "Unbuffered-DDR4",
        **texts,
    }
    counts = {"dimm_ce_count": "0", "dimm_ue_count": "0", "dimm_edac_mode": "SECDED"}
    files(root, f"{MC}/{name}", {**counts, **told})


def test_a_controller_and_its_modules_tell_their_counts(tmp_path: Path) -> None:
    controller(tmp_path, ce_count="7", ce_noinfo_count="2")
    module(tmp_path, "dimm0", dimm_label="DIMM_A2", dimm_location="csrow 0 channel 0", dimm_ce_count="5")
    module(tmp_path, "dimm1", dimm_label="mc#0csrow#1channel#0", dimm_location="csrow 1 channel 0")
    parsed = read(tmp_path, capture_edac.capture, edac.parse)
    assert {s.kind for s in parsed.sightings} == {PartKind.MEMORY_CONTROLLER}
    told = by_place(parsed)
    assert told["edac:mc0"] == {
        "kernel_name": "mc0",
        "model": "F19h_M20h",
        "size_bytes": 16 * GIB,
        "counting_s": 3600,
        "corrected_errors": 7,
        "uncorrected_errors": 0,
        "corrected_errors_unplaced": 2,
        "uncorrected_errors_unplaced": 0,
    }
    assert told["edac:mc0/dimm-0"] == {
        "label": "DIMM_A2",
        "location": "csrow 0 channel 0",
        "size_bytes": 8 * GIB,
        "type": "Unbuffered-DDR4",
        "error_correction": "SECDED",
        "corrected_errors": 5,
        "uncorrected_errors": 0,
    }
    assert told["edac:mc0/dimm-1"]["label"] is Absent.NOT_OFFERED
    assert parsed.remarks == ()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("mc#0csrow#0channel#1", Absent.NOT_OFFERED),
        ("mc0csrow2channel1", Absent.NOT_OFFERED),
        ("mc#0channel#1slot#0", Absent.NOT_OFFERED),
        ("mc#1memory#3", Absent.NOT_OFFERED),
        ("CPU_SrcID#0_MC#0_Chan#0_DIMM#0", Absent.NOT_OFFERED),
        ("unknown memory", Absent.NOT_OFFERED),
        ("CPU1_DIMM_A1", "CPU1_DIMM_A1"),
        ("P0 CHANNEL A DIMM 1", "P0 CHANNEL A DIMM 1"),
    ],
)
def test_what_a_driver_makes_up_of_its_own_numbers_is_no_label(
    tmp_path: Path, text: str, told: object
) -> None:
    controller(tmp_path)
    module(tmp_path, "dimm0", dimm_label=text)
    assert by_place(read(tmp_path, capture_edac.capture, edac.parse))["edac:mc0/dimm-0"]["label"] == told


def test_modules_that_count_more_than_their_controller_are_named(tmp_path: Path) -> None:
    controller(tmp_path, ce_count="3")
    module(tmp_path, "dimm0", dimm_ce_count="2")
    module(tmp_path, "dimm1", dimm_ce_count="2")
    parsed = read(tmp_path, capture_edac.capture, edac.parse)
    assert [(r.kind, r.detail) for r in parsed.remarks] == [
        (RemarkKind.BAD_VALUE, "ce_count 3, of its modules 4")
    ]


@pytest.mark.parametrize("text", ["-1", "many", ""])
def test_a_count_that_is_none_is_no_zero(tmp_path: Path, text: str) -> None:
    controller(tmp_path, ce_count=text)
    told = by_place(read(tmp_path, capture_edac.capture, edac.parse))["edac:mc0"]["corrected_errors"]
    assert told is (Absent.NOT_OFFERED if text == "" else Absent.IMPLAUSIBLE)


def test_a_count_that_fails_costs_its_own_field_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    controller(tmp_path, ue_count="1")
    module(tmp_path, "dimm0")
    failing(monkeypatch, "mc0/ce_count")
    told = by_place(read(tmp_path, capture_edac.capture, edac.parse))
    assert told["edac:mc0"]["corrected_errors"] is Absent.NOT_READABLE
    assert told["edac:mc0"]["uncorrected_errors"] == 1
    assert told["edac:mc0/dimm-0"]["corrected_errors"] == 0


def test_a_machine_whose_controller_has_no_driver_has_no_counts_of_zero(tmp_path: Path) -> None:
    assert read(tmp_path, capture_edac.capture, edac.parse).sightings == ()
    (tmp_path / "sys/devices/system/edac/mc").mkdir(parents=True)
    assert read(tmp_path, capture_edac.capture, edac.parse).sightings == ()


def test_the_older_form_of_rows_and_channels(reference: Path, tmp_path: Path) -> None:
    root = unpack(reference / "linux-sysfs/node_exporter/sys.ttar", tmp_path)
    parsed = read(root, capture_edac.capture, edac.parse)
    told = by_place(parsed)
    assert told["edac:mc0"]["corrected_errors"] == 1
    assert told["edac:mc0/csrow-1-channel-0"]["uncorrected_errors"] == 2
    assert len(told) == 7
    assert all(fields.get("label", Absent.NOT_OFFERED) is Absent.NOT_OFFERED for fields in told.values())
    assert [(r.kind, r.detail) for r in parsed.remarks] == [
        (RemarkKind.BAD_VALUE, "ue_count 5, of its modules 8")
    ]


def board_labels(text: str, board: str) -> dict[tuple[int, ...], str]:
    """Return slot labels by controller, row and channel, of one board in a list as rasdaemon has them."""
    block = re.split(rf"^\s*Model:.*{re.escape(board)}.*$", text, maxsplit=1, flags=re.MULTILINE)[1]
    block = re.split(r"^\s*(?:Model|Vendor|Product):", block, maxsplit=1, flags=re.MULTILINE)[0]
    found: dict[tuple[int, ...], str] = {}
    for label, numbers in re.findall(r"(\w+):\s*([\d., ]+)", block):
        for group in numbers.split(","):
            found[tuple(int(number) for number in group.strip().split("."))] = label
    return found


def test_a_location_leads_to_the_slot_where_somebody_knows_the_board(reference: Path, tmp_path: Path) -> None:
    """The two ranks of one module are two rows of the controller: both lead to the same slot."""
    text = (reference / "sensor-labels/rasdaemon-dimm-labels/asus.txt").read_text("utf-8")
    labels = board_labels(text, "PRIME X570-P")
    assert len(labels) == 8
    controller(tmp_path)
    for number, (_, row, channel) in enumerate(sorted(labels)):
        module(tmp_path, f"rank{number}", dimm_location=f"csrow {row} channel {channel}")
    told = by_place(read(tmp_path, capture_edac.capture, edac.parse))
    slots = []
    for place, fields in told.items():
        if place != "edac:mc0":
            numbers = re.findall(r"\d+", str(fields["location"]))
            slots.append(labels[(0, *(int(number) for number in numbers))])
    assert sorted(slots) == [
        "DIMM_A1",
        "DIMM_A1",
        "DIMM_A2",
        "DIMM_A2",
        "DIMM_B1",
        "DIMM_B1",
        "DIMM_B2",
        "DIMM_B2",
    ]
