"""Processors as the kernel tells them: what they are, their cores and kinds, caches and settings."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.capture.cpu import (
    capture_cpuinfo,
    capture_topology,
    capture_topology_configuration,
)
from shipworthy.machine.parse.cpu.caches import size_bytes
from shipworthy.machine.parse.cpu.cpu_list import cpu_list, cpu_list_text
from shipworthy.machine.parse.cpu.source import parse_cpuinfo
from shipworthy.machine.parse.cpu.topology import parse_topology
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_by_place
from tests.machine.recorded import write

CPUS = "sys/devices/system/cpu"


def cpuinfo(text: str) -> Parsed:
    return parse_cpuinfo((Reply("cpuinfo", "/proc/cpuinfo", SourceOutcome.READ, text.encode()),))


def topology(root: Path) -> dict[str, Facts]:
    return facts_by_place(parse_topology(tuple(capture_topology(Root(root)))))


def core(root: Path, cpus: tuple[int, ...], package: int = 0, **files: str) -> None:
    """Add a core with these threads. files: by names in which two underscores stand for a slash."""
    for cpu in cpus:
        folder = f"{CPUS}/cpu{cpu}"
        write(root, f"{folder}/topology/physical_package_id", f"{package}\n")
        write(root, f"{folder}/topology/core_id", f"{cpus[0]}\n")
        write(root, f"{folder}/topology/thread_siblings_list", ",".join(map(str, cpus)) + "\n")
        for name, text in files.items():
            write(root, f"{folder}/{name.replace('__', '/')}", f"{text}\n")


def cache(root: Path, cpus: tuple[int, ...], index: int, level: int, kind: str, size: str) -> None:
    for cpu in cpus:
        folder = f"{CPUS}/cpu{cpu}/cache/index{index}"
        for name, text in (("level", str(level)), ("type", kind), ("size", size)):
            write(root, f"{folder}/{name}", f"{text}\n")
        write(root, f"{folder}/shared_cpu_list", ",".join(map(str, cpus)) + "\n")


def hybrid(root: Path, **efficient: str) -> None:
    """Two cores of two threads and two of one."""
    write(root, f"{CPUS}/online", "0-5\n")
    write(root, f"{CPUS}/present", "0-5\n")
    for cpus in ((0, 1), (2, 3)):
        core(root, cpus, cpufreq__cpuinfo_max_freq="5000000", cpufreq__base_frequency="1900000")
    for cpu in (4, 5):
        core(root, (cpu,), **efficient)


BLOCK = (
    "processor\t: {n}\nvendor_id\t: GenuineIntel\ncpu family\t: 6\nmodel\t\t: 183\nmodel name\t: Tarn  i5\n"
    "stepping\t: {stepping}\nmicrocode\t: 0x12b\nphysical id\t: {socket}\nflags\t\t: fpu aes avx {more}\n\n"
)


def test_a_processor_says_family_model_stepping_and_what_all_its_cores_can_do() -> None:
    """proc(5); a hybrid's efficiency cores can do less, and a load may land on any."""
    more = ("avx2 fma avx512f sha_ni", "sha_ni fma avx2")
    text = "".join(BLOCK.format(n=n, stepping=1, socket=0, more=more[n]) for n in range(2))
    parsed = cpuinfo(text)
    got = facts_by_place(parsed)["socket:0"]
    assert (got["maker"], got["model"], got["microcode"]) == ("Intel", "Tarn i5", "0x12b")
    assert (got["family"], got["model_number"], got["stepping"]) == (6, 183, 1)
    assert got["instruction_sets"] == "avx avx2 fma aes sha_ni"
    assert got["online_threads"] == 2
    assert parsed.remarks == ()


def test_processors_of_one_socket_that_do_not_agree_are_named() -> None:
    text = "".join(BLOCK.format(n=n, stepping=n, socket=0, more="") for n in range(2))
    (remark,) = cpuinfo(text).remarks
    assert (remark.kind, remark.where, remark.detail) == (
        RemarkKind.BAD_VALUE,
        "socket 0",
        "stepping: 0, 1",
    )
    assert (
        len(
            facts_by_place(cpuinfo("".join(BLOCK.format(n=n, stepping=n, socket=n, more="") for n in (0, 1))))
        )
        == 2
    )


def test_what_the_kernel_does_not_know_of_a_processor_is_no_number() -> None:
    got = facts_by_place(cpuinfo("processor : 0\ncpu family : six\nstepping : unknown\n"))["socket:0"]
    assert got["family"] is Absent.IMPLAUSIBLE
    assert got["stepping"] is got["model_number"] is got["maker"] is Absent.NOT_OFFERED


def test_cores_are_the_threads_that_name_each_other(tmp_path: Path) -> None:
    write(tmp_path, f"{CPUS}/online", "0-7\n")
    write(tmp_path, f"{CPUS}/present", "0-7\n")
    write(tmp_path, f"{CPUS}/isolated", "3,6-7\n")
    for first in (0, 1):
        core(tmp_path, (first, first + 4), topology__die_id="0")
    for first in (2, 3):
        core(tmp_path, (first, first + 4), package=1, topology__die_id=str(first))
    got = topology(tmp_path)
    assert [(got[s]["cores"], got[s]["threads"]) for s in ("socket:0", "socket:1")] == [(2, 4), (2, 4)]
    assert [got[s]["online_cpus"] for s in ("socket:0", "socket:1")] == ["0-1,4-5", "2-3,6-7"]
    assert [got[s].get("isolated_cpus") for s in ("socket:0", "socket:1")] == [None, "3,6-7"]
    assert [got[s]["dies"] for s in ("socket:0", "socket:1")] == [1, 2]


def test_a_tree_without_thread_siblings_is_counted_by_numbers(tmp_path: Path) -> None:
    for cpu in range(4):
        write(tmp_path, f"{CPUS}/cpu{cpu}/topology/physical_package_id", "-1\n")
        write(tmp_path, f"{CPUS}/cpu{cpu}/topology/core_id", f"{cpu // 2}\n")
    got = topology(tmp_path)["socket:0"]
    assert (got["cores"], got["threads"]) == (2, 4)


def test_with_processors_offline_the_socket_is_not_counted(tmp_path: Path) -> None:
    write(tmp_path, f"{CPUS}/online", "0-1\n")
    write(tmp_path, f"{CPUS}/present", "0-3\n")
    core(tmp_path, (0, 1))
    for cpu in (2, 3):
        (tmp_path / CPUS / f"cpu{cpu}").mkdir()
    got = topology(tmp_path)["socket:0"]
    assert got["cores"] is got["threads"] is Absent.NOT_OFFERED
    assert (got["online_cores"], got["online_cpus"], got["offline_cpus"]) == (1, "0-1", "2-3")


def test_the_kernels_lists_tell_kinds_of_cores(tmp_path: Path) -> None:
    hybrid(tmp_path)
    write(tmp_path, "sys/devices/cpu_core/cpus", "0-3\n")
    write(tmp_path, "sys/devices/cpu_atom/cpus", "4\n")
    write(tmp_path, "sys/devices/cpu_lowpower/cpus", "5\n")
    got = topology(tmp_path)["socket:0"]
    names = ("performance_cores", "performance_cpus", "efficiency_cores", "efficiency_cpus")
    assert [got[name] for name in names] == [2, "0-3", 1, "4"]
    assert (got["low_power_cores"], got["low_power_cpus"]) == (1, "5")
    assert got["core_kinds_by"] == "the kernel's lists"


@pytest.mark.parametrize(
    ("files", "word"),
    [
        ({"cpufreq__cpuinfo_max_freq": "3900000", "cpufreq__base_frequency": "1400000"}, "base clock"),
        ({"cpufreq__cpuinfo_max_freq": "3900000"}, "top clock"),
    ],
)
def test_clocks_that_lie_apart_tell_kinds_where_there_are_no_lists(
    tmp_path: Path, files: dict[str, str], word: str
) -> None:
    hybrid(tmp_path, **files)
    got = topology(tmp_path)["socket:0"]
    assert (got["performance_cores"], got["efficiency_cores"], got["core_kinds_by"]) == (2, 2, word)
    assert "low_power_cores" not in got
    assert (got["max_mhz"], got["base_mhz"]) == (5000, 1900)


def test_favoured_cores_are_of_no_other_kind(tmp_path: Path) -> None:
    for cpu, top in enumerate(("5700000", "5700000", "5500000", "5300000")):
        core(tmp_path, (cpu,), cpufreq__cpuinfo_max_freq=top, cpu_capacity="1024")
    assert "performance_cores" not in topology(tmp_path)["socket:0"]


def test_a_clock_below_nought_tells_no_kinds(tmp_path: Path) -> None:
    for cpu, top in enumerate(("3900000", "-1")):
        core(tmp_path, (cpu,), cpufreq__cpuinfo_max_freq=top)
    assert "performance_cores" not in topology(tmp_path)["socket:0"]


def test_caches_are_added_over_the_distinct_ones(tmp_path: Path) -> None:
    hybrid(tmp_path)
    for cpus in ((0, 1), (2, 3)):
        cache(tmp_path, cpus, 0, 1, "Data", "48K")
        cache(tmp_path, cpus, 1, 1, "Instruction", "32K")
        cache(tmp_path, cpus, 2, 2, "Unified", "2048K")
    for cpu in (4, 5):
        cache(tmp_path, (cpu,), 0, 1, "Data", "32K")
        cache(tmp_path, (cpu,), 1, 1, "Instruction", "64K")
    cache(tmp_path, (4, 5), 2, 2, "Unified", "2048K")
    cache(tmp_path, (0, 1, 2, 3, 4, 5), 3, 3, "Unified", "24576K")
    got = topology(tmp_path)["socket:0"]
    assert got["l1d_bytes"] == (2 * 48 + 2 * 32) << 10 and "l1d_each_bytes" not in got
    assert (got["l2_bytes"], got["l2_each_bytes"]) == (3 * 2048 << 10, 2048 << 10)
    assert (got["l3_bytes"], got["l3_each_bytes"]) == (24576 << 10, 24576 << 10)


def test_a_cache_that_is_listed_twice_counts_once_and_one_without_a_size_spoils_the_sum(
    tmp_path: Path,
) -> None:
    core(tmp_path, (0,))
    cache(tmp_path, (0,), 0, 1, "Data", "32K")
    cache(tmp_path, (0,), 1, 1, "Data", "32K")
    cache(tmp_path, (0,), 2, 2, "Unified", "much")
    got = topology(tmp_path)["socket:0"]
    assert got["l1d_bytes"] == 32 << 10
    assert got["l2_bytes"] is Absent.NOT_OFFERED
    assert [size_bytes(text) for text in ("32K", "1M", "", "0K", "-1K", "32")] == [
        32 << 10,
        1 << 20,
        None,
        None,
        None,
        32,
    ]


@pytest.mark.parametrize(
    ("file", "text", "boost"),
    [
        ("cpufreq/boost", "1", True),
        ("cpufreq/boost", "0", False),
        ("intel_pstate/no_turbo", "1", False),
        ("intel_pstate/no_turbo", "0", True),
        ("cpufreq/boost", "2", Absent.IMPLAUSIBLE),
        (None, "", Absent.NOT_OFFERED),
    ],
)
def test_settings_of_the_processor(tmp_path: Path, file: str | None, text: str, boost: object) -> None:
    core(tmp_path, (0,))
    if file is not None:
        write(tmp_path, f"{CPUS}/{file}", f"{text}\n")
    assert topology(tmp_path)["socket:0"]["boost"] == boost
    assert topology(tmp_path)["socket:0"]["smt"] is Absent.NOT_OFFERED
    write(tmp_path, f"{CPUS}/smt/control", "forceoff\n")
    assert topology(tmp_path)["socket:0"]["smt"] == "forceoff"


def test_the_configuration_asks_for_no_caches(tmp_path: Path) -> None:
    core(tmp_path, (0,))
    cache(tmp_path, (0,), 0, 1, "Data", "32K")
    assert [reply.id for reply in capture_topology_configuration(Root(tmp_path))] == ["topology"]
    assert [reply.id for reply in capture_topology(Root(tmp_path))] == ["topology", "topology.caches"]


def test_replies_of_an_older_version_that_asked_every_thread_read_the_same(tmp_path: Path) -> None:
    """Until the first version's end each thread had its rows, and there was no listing of caches."""
    core(tmp_path, (0, 2))
    core(tmp_path, (1, 3))
    from shipworthy.machine.capture.files import Lister

    lister = Lister(Root(tmp_path))
    names = lister.names(f"/{CPUS}")
    for name in names:
        lister.texts(
            f"/{CPUS}/{name}/topology", ("physical_package_id", "core_id", "die_id", "thread_siblings_list")
        )
    got = facts_by_place(parse_topology((lister.reply("topology", f"/{CPUS}"),)))["socket:0"]
    assert (got["cores"], got["threads"], got["online_cpus"]) == (2, 4, "0-3")


def test_512_processors_are_read_with_few_questions(tmp_path: Path) -> None:
    """What is asked grows with cores, not with threads and files: eight files a core."""
    for first in range(256):
        core(tmp_path, (first, first + 256), package=first // 128)
        for index, (level, kind) in enumerate(((1, "Data"), (1, "Instruction"), (2, "Unified"))):
            cache(tmp_path, (first, first + 256), index, level, kind, "32K")
    replies = tuple(capture_topology(Root(tmp_path)))
    rows = sum(len(reply.data.splitlines()) for reply in replies)
    assert rows < 256 * 13
    got = facts_by_place(ends(lambda: parse_topology(replies)))
    assert [(got[s]["cores"], got[s]["threads"]) for s in ("socket:0", "socket:1")] == [(128, 256)] * 2
    assert got["socket:0"]["l1d_bytes"] == 128 * 32 << 10
    text = "".join(BLOCK.format(n=n, stepping=1, socket=0, more="x" * 1200) for n in range(512))
    assert facts_by_place(ends(lambda: cpuinfo(text)))["socket:0"]["online_threads"] == 512


def test_lists_of_processors_of_any_text() -> None:
    assert cpu_list("0-3,8,10-11\n") == {0, 1, 2, 3, 8, 10, 11}
    assert cpu_list("x,-,3-,-1,1-2-3,²,7") == {3, 7}
    assert cpu_list("") == cpu_list("99999999999") == cpu_list("70000") == set()
    assert len(cpu_list("0-65535," * 100_000)) == 65536  # and soon
    assert cpu_list_text({3, 1, 2, 8}) == "1-3,8"
    assert cpu_list_text(()) == ""


def test_this_machine_says_the_same_in_both_places() -> None:
    told = facts_by_place(parse_cpuinfo(tuple(capture_cpuinfo(LIVE))))
    counted = facts_by_place(parse_topology(tuple(capture_topology(LIVE))))
    assert told and told.keys() == counted.keys()
    for place, fields in told.items():
        listed = counted[place]["online_cpus"]
        assert isinstance(listed, str) and len(cpu_list(listed)) == fields["online_threads"]
