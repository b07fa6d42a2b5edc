"""The table of what evidence holds for is read by people: parts, words and units, and no keys of ours."""

from __future__ import annotations

import re

import pytest

from shipworthy.handover.settings import setting_text, value_text
from shipworthy.machine.configuration import FIELDS
from shipworthy.messages import known_codes
from shipworthy.model.base import Scalar


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("board/model", "board: model"),
        ("board#2/serial", "board#2: serial number"),
        ("firmware/secure_boot", "firmware: Secure Boot"),
        (
            "memory module/DIMM_A2/BANK 1/configured_speed_mt_s",
            "memory module DIMM_A2/BANK 1: speed that is set",
        ),
        (
            "storage/pci:0000:03:00.0/nvme-ns-1/firmware_version",
            "storage pci:0000:03:00.0/nvme-ns-1: firmware",
        ),
        ("processor/power_limit_long_w", "processor: power limit, for long"),
        ("processor/socket:1/microcode", "processor socket:1: microcode"),
        ("link/pci:0000:01:00.0/width", "pci:0000:01:00.0: lanes of its link"),
        ("pci/pci:0000:01:00.0", "pci:0000:01:00.0: vendor and device by their ids"),
        ("graphics/pci:0000:01:00.0/a_new_word", "graphics pci:0000:01:00.0: a new word"),
        ("something", "something"),
    ],
)
def test_a_key_is_told_as_a_part_and_what_of_it(key: str, text: str) -> None:
    assert setting_text(key) == text


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("memory module/A/size_bytes", 8 << 30, "8 GiB"),
        ("memory module/A/configured_speed_mt_s", 6000, "6,000 MT/s"),
        ("processor/power_limit_long_w", 90, "90 W"),
        ("processor/smt", "notsupported", "none that the processor has"),
        ("processor/smt", "a new word", "a new word"),
        ("firmware/mode", "on", "on"),
        ("board/serial", None, "none"),
    ],
)
def test_a_value_has_its_unit_and_no_word_of_the_kernels(key: str, value: Scalar | None, text: str) -> None:
    assert value_text(key, value) == text


def test_every_field_of_a_configuration_has_words() -> None:
    fields = {field for fields in FIELDS.values() for field in fields}
    assert {f"handover.setting.{field}" for field in (*fields, "width", "ids")} <= known_codes()
    assert not any(re.search(r"_", setting_text(f"processor/{field}")) for field in fields)
