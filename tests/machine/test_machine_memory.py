"""Memory that the kernel uses, of texts as it prints them and of others."""

from __future__ import annotations

import pytest

from shipworthy.machine.parse import memory
from shipworthy.machine.raw import Reply
from shipworthy.model.base import Scalar
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("MemTotal:       32595068 kB\nMemFree:        30000000 kB\n", 32595068 * 1024),
        ("MemFree: 1 kB\n", Absent.IMPLAUSIBLE),
        ("MemTotal: -1 kB\n", Absent.IMPLAUSIBLE),
        (f"MemTotal: {'9' * 5000} kB\n", Absent.IMPLAUSIBLE),
        ("", Absent.IMPLAUSIBLE),
    ],
)
def test_the_total_is_a_number_that_memory_can_have(text: str, wanted: Scalar | Absent) -> None:
    reply = Reply("meminfo", "/proc/meminfo", SourceOutcome.READ, text.encode())
    (said,) = memory.parse((reply,)).sightings[0].said
    assert (said.absent if said.value is None else said.value) == wanted
