"""Reports of lscpu in its three layouts, made here, and one of this machine where lscpu is installed."""

from __future__ import annotations

import json
import shutil
import subprocess

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.capture.cpu import capture_cpuinfo, capture_topology
from shipworthy.machine.parse import lscpu_text
from shipworthy.machine.parse.cpu.source import parse_cpuinfo
from shipworthy.machine.parse.cpu.topology import parse_topology
from shipworthy.machine.raw import Parsed
from shipworthy.machine.root import LIVE
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_of, file

FLAT = """Architecture:          x86_64
CPU(s):                16
On-line CPU(s) list:   0-15
Thread(s) per core:    2
Core(s) per socket:    4
Socket(s):             2
Vendor ID:             GenuineIntel
CPU family:            6
Model:                 85
Model name:            Tarn(R)  Silver CPU
Stepping:              4
CPU max MHz:           3000,0000
L1d cache:             32K
L2 cache:              1024K
L3 cache:              11264K
Flags:                 fpu aes avx avx2
"""
GROUPS = """Architecture:                x86_64
  CPU op-mode(s):            32-bit, 64-bit
CPU(s):                      16
  On-line CPU(s) list:       0-15
Vendor ID:                   GenuineIntel
  Model name:                Tarn(R)  Silver CPU
    CPU family:              6
    Model:                   85
    Thread(s) per core:      2
    Core(s) per socket:      4
    Socket(s):               2
    Stepping:                4
    CPU(s) scaling MHz:      40%
    CPU max MHz:             3000.0000
    Flags:                   fpu aes avx avx2
Caches (sum of all):
  L1d:                       256 KiB (8 instances)
L1d cache:                   256 KiB (8 instances)
L2 cache:                    8 MiB (8 instances)
L3 cache:                    22.5 MiB (2 instances)
"""


def as_json(text: str) -> str:
    rows = [line.partition(":") for line in text.splitlines()]
    nodes = [{"field": f"{name.strip()}:", "data": value.strip() or None} for name, _, value in rows]
    return json.dumps({"lscpu": [{**nodes[0], "children": nodes[1:]}]}, indent=3)


def parsed(text: str | bytes) -> Parsed:
    return lscpu_text.parse((file(text, "lscpu.txt", "lscpu-text.1"),))


def facts(result: Parsed) -> list[Facts]:
    return [facts_of(one.said) for one in result.sightings]


@pytest.mark.parametrize("text", [FLAT, GROUPS, as_json(FLAT), as_json(GROUPS)])
def test_every_layout_says_the_same_of_each_socket(text: str) -> None:
    assert lscpu_text.recognises("cpu.txt", text[:4096].encode())
    result = parsed(text)
    assert [one.place for one in result.sightings] == ["socket:0", "socket:1"]
    for got in facts(result):
        assert (got["maker"], got["model"], got["instruction_sets"]) == (
            "Intel",
            "Tarn(R) Silver CPU",
            "avx avx2 aes",
        )
        assert (got["family"], got["model_number"], got["stepping"]) == (6, 85, 4)
        assert (got["cores"], got["threads"], got["max_mhz"]) == (4, 8, 3000)
        assert "online_cpus" not in got  # of two sockets nobody says whose they are
    assert result.remarks == ()


def test_which_run_is_told_of_one_socket() -> None:
    some = "CPU(s): 8\nOn-line CPU(s) list: 0-5\nOff-line CPU(s) list: 6,7\nThread(s) per core: 2\n"
    (got,) = facts(parsed("Architecture: x86_64\n" + some + "Core(s) per socket: 4\nSocket(s): 1\n"))
    assert (got["online_cpus"], got["offline_cpus"]) == ("0-5", "6-7")


def test_a_size_is_of_one_cache_in_old_reports_and_of_all_in_new_ones() -> None:
    old, new = facts(parsed(FLAT))[0], facts(parsed(GROUPS))[0]
    assert (old["l1d_each_bytes"], old["l3_each_bytes"]) == (32 << 10, 11264 << 10)
    assert "l1d_bytes" not in old
    assert (new["l1d_bytes"], new["l1d_each_bytes"]) == (4 * 32 << 10, 32 << 10)
    assert (new["l2_bytes"], new["l2_each_bytes"]) == (4 << 20, 1 << 20)
    assert new["l3_bytes"] is Absent.NOT_OFFERED  # 22.5 MiB is rounded
    assert "l3_each_bytes" not in new


@pytest.mark.parametrize(
    ("count", "cores", "threads"),
    [
        ("CPU(s): 20\nOn-line CPU(s) list: 0-19\n", 14, 20),  # a hybrid: not every core has two threads
        ("CPU(s): 28\nOn-line CPU(s) list: 0-27\n", 14, 28),
        ("CPU(s): 1\nOn-line CPU(s) list: 0-27\n", 14, 28),  # the list proves the product
        ("CPU(s): 8\nOn-line CPU(s) list: 0-7\n", Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE),
        ("CPU(s): 99\n", Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE),
    ],
)
def test_a_report_whose_counts_contradict_each_other_is_named(
    count: str, cores: object, threads: object
) -> None:
    result = parsed(count + "Thread(s) per core: 2\nCore(s) per socket: 14\nSocket(s): 1\n")
    (got,) = facts(result)
    assert (got["cores"], got["threads"]) == (cores, threads)
    assert [remark.where for remark in result.remarks] == ([] if "28" in count[:10] else ["CPU(s)"])


def test_offline_processors_are_listed_and_dashes_are_no_values() -> None:
    text = "CPU(s): 4\nOff-line CPU(s) list: 2,3\nModel name: -\nVendor ID: -\nStepping: -\nCPU max MHz: -\n"
    (got,) = facts(parsed(text))
    assert got["offline_cpus"] == "2-3"
    for name in ("model", "maker", "stepping", "max_mhz", "cores"):
        assert got[name] is Absent.NOT_OFFERED


def test_what_is_no_report_says_so() -> None:
    for text in ("", "Architektur: x86_64\nProzessor(en): 4\n", '{"lscpu": 3}', '{"lscpu": []}', "{"):
        result = parsed(text)
        assert (result.sightings, [r.kind for r in result.remarks]) == ((), [RemarkKind.NOT_UNDERSTOOD])
    assert not lscpu_text.recognises("lscpu.txt", b"processor : 0\n")


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, len(GROUPS)))
def test_no_bytes_raise(data: bytes, at: int) -> None:
    lscpu_text.recognises("x", data)
    parsed(data)
    for whole in (GROUPS.encode(), as_json(FLAT).encode()):
        parsed(whole[:at] + data + whole[at:])


def test_a_beginning_of_empty_lines_is_no_report() -> None:
    assert not ends(lambda: lscpu_text.recognises("lscpu.txt", b"\n" * 100_000))


@pytest.mark.parametrize(
    "text",
    [
        "CPU(s): 8\nA" + " b" * 500_000,
        "CPU(s): 8\nCore(s) per socket: 3\nThread(s) per core: 1\nOn-line CPU(s) list: "
        + "0-65535," * 90_000,
        '{"lscpu":[' + '{"field":"CPU(s):","data":"1","children":[' * 20_000,
    ],
)
def test_large_input_ends(text: str) -> None:
    ends(lambda: parsed(text))


@pytest.mark.skipif(shutil.which("lscpu") is None, reason="lscpu is not installed")
@pytest.mark.parametrize("option", [[], ["-J"]])
def test_lscpu_of_this_machine_says_what_we_read(option: list[str]) -> None:
    report = subprocess.run(["lscpu", *option], capture_output=True, check=True, env={"LC_ALL": "C"}).stdout
    told = facts(parsed(report))
    read: dict[str, Facts] = {}
    for source in (
        parse_cpuinfo(tuple(capture_cpuinfo(LIVE))),
        parse_topology(tuple(capture_topology(LIVE))),
    ):
        for one in source.sightings:
            read.setdefault(one.place, {}).update({s.name: s.value for s in one.said})
    assert len(told) == len(read)
    ours = read["socket:0"]
    for name in ("maker", "model", "family", "model_number", "stepping", "instruction_sets", "l2_bytes"):
        assert told[0].get(name) == ours.get(name), name
    if ours["cores"] is not None:
        assert (told[0]["cores"], told[0]["threads"]) == (ours["cores"], ours["threads"])
