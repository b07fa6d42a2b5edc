"""Reports of `lsblk -J`, made here."""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse import lsblk_json
from shipworthy.machine.raw import Parsed
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_by_place, file


def parsed(data: bytes) -> Parsed:
    return lsblk_json.parse((file(data, "lsblk.json", "lsblk-json.1"),))


def facts(*devices: dict[str, Any]) -> dict[str, Facts]:
    return facts_by_place(parsed(json.dumps({"blockdevices": devices}).encode()))


def test_drives_are_the_disks_wherever_they_lie_in_the_tree() -> None:
    disk = {"name": "sda", "type": "disk"}
    got = facts(
        {"name": "dm-0", "type": "lvm", "children": [{"name": "sda1", "type": "part", "children": [disk]}]},
        disk,
        {"name": "loop0", "type": "loop"},
        {"name": "/dev/sr0", "type": "rom"},
        {"name": "zram0", "type": "disk"},
        {"name": "mmcblk0", "type": "disk"},
        {"name": "mmcblk0boot0", "type": "disk"},
        {"name": "mmcblk0gp0", "type": "disk"},
        {"name": "nbd0", "type": "disk"},
    )
    assert list(got) == ["node:sda", "node:sr0", "node:mmcblk0"]
    assert got["node:sr0"]["technology"] == "optical"
    assert got["node:mmcblk0"]["interface"] == "MMC"


def test_a_drive_says_what_it_is() -> None:
    disk = {
        "name": "/dev/sdb",
        "type": "disk",
        "size": 4_000_787_030_016,
        "rota": True,
        "rm": False,
        "tran": "sata",
        "vendor": "ATA     ",
        "model": "Quarrel Archive  4TB ",
        "serial": "QA4-0017",
        "rev": "AA03",
        "log-sec": 512,
    }
    assert facts(disk)["node:sdb"] == {
        "kernel_name": "sdb",
        "interface": "SATA",
        "maker": Absent.NOT_OFFERED,
        "model": "Quarrel Archive 4TB",
        "serial": "QA4-0017",
        "firmware_version": "AA03",
        "size_bytes": 4_000_787_030_016,
        "logical_block_bytes": 512,
        "technology": "spinning",
        "removable": False,
    }


def test_old_reports_have_texts_for_numbers_and_flags() -> None:
    got = facts(
        {"name": "sda", "type": "disk", "size": "256060514304", "rota": "0", "rm": "1", "log-sec": "4096"}
    )
    assert (got["node:sda"]["size_bytes"], got["node:sda"]["technology"]) == (256_060_514_304, "solid state")
    assert (got["node:sda"]["removable"], got["node:sda"]["logical_block_bytes"]) == (True, 4096)


@pytest.mark.parametrize(
    ("size", "exact", "about"),
    [
        ("931.5G", Absent.NOT_OFFERED, 1_000_190_509_056),
        ("3,6T", Absent.NOT_OFFERED, 3_958_241_859_994),
        ("128G", Absent.NOT_OFFERED, 137_438_953_472),
        ("0B", Absent.NOT_OFFERED, Absent.NOT_OFFERED),
        (0, Absent.NOT_OFFERED, None),  # a reader without a card
        ("large", Absent.IMPLAUSIBLE, None),
        (-5, Absent.IMPLAUSIBLE, None),
    ],
)
def test_a_rounded_size_is_no_size_but_about_one(size: object, exact: object, about: object) -> None:
    got = facts({"name": "sda", "type": "disk", "size": size})["node:sda"]
    assert (got["size_bytes"], got.get("size_about_bytes")) == (exact, about)


def test_what_was_not_asked_for_is_not_said_and_what_is_null_is_silence() -> None:
    got = facts({"name": "nvme0n1", "type": "disk", "serial": None, "rota": False})["node:nvme0n1"]
    assert got["serial"] is Absent.NOT_OFFERED
    assert (got["interface"], got["technology"]) == ("NVMe", "NVMe")
    assert "model" not in got and "size_bytes" not in got


def test_a_report_without_types_is_named() -> None:
    result = parsed(b'{"blockdevices": [{"name": "sda", "size": "1T"}]}')
    assert (result.sightings, [r.kind for r in result.remarks]) == ((), [RemarkKind.NOT_UNDERSTOOD])


def test_what_is_no_report_says_so() -> None:
    odd = (b"\xff", b'{"blockdevices": [{"name": "\xb2"}]}')
    for data in (b"", b"[]", b'{"filesystems": []}', b'{"blockdevices": 3}', b'{"blockdevices": [', *odd):
        result = parsed(data)
        assert (result.sightings, [r.kind for r in result.remarks]) == ((), [RemarkKind.NOT_UNDERSTOOD])
    assert not lsblk_json.recognises("lsblk.json", b'{"filesystems": []}')
    assert lsblk_json.recognises("a", b'\n{\n   "blockdevices": [')


@settings(max_examples=80, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
        lambda below: (
            st.lists(below, max_size=3)
            | st.dictionaries(
                st.sampled_from(["name", "type", "size", "rota", "children", "log-sec", "tran", "model"]),
                below,
            )
        ),
        max_leaves=12,
    )
)
def test_no_json_raises(value: object) -> None:
    text = json.dumps(
        {"blockdevices": [value, {"name": value, "type": "disk", "size": value, "rota": value}]}
    )
    parsed(text.encode())
    parsed(text.encode()[:-3])


def test_large_input_ends() -> None:
    devices = b",".join(b'{"name":"sd%d","type":"disk"}' % number for number in range(30_000))
    for data in (b'{"blockdevices":[' + devices + b"]}", b'{"blockdevices":[' + b'{"children":[' * 50_000):
        result = ends(partial(parsed, data))
        assert len(result.sightings) in (0, 2048) and len(result.remarks) == 1


@pytest.mark.skipif(shutil.which("lsblk") is None, reason="lsblk is not installed")
def test_lsblk_of_this_machine_is_read() -> None:
    run = subprocess.run(["lsblk", "-J", "-b", "-O"], capture_output=True, env={"LC_ALL": "C"}, check=False)
    if run.returncode or not run.stdout:
        pytest.skip("lsblk finds no block devices here")
    devices = json.loads(run.stdout)["blockdevices"]
    sizes = {
        f"node:{device['name']}": device["size"]
        for device in devices
        if device["type"] == "disk" and device["name"].startswith(("sd", "vd", "nvme"))
    }
    got = {place: fields.get("size_bytes") for place, fields in facts(*devices).items()}
    assert {place: got.get(place) for place in sizes} == sizes
