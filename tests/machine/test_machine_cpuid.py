"""CPUID dumps: samples built here after the manuals, and two projects' expectations."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.cpu import cpuid
from shipworthy.machine.parse.cpu.id_fields import Place, place, signature
from shipworthy.machine.parse.cpu.id_forms import MOST_BYTES, Leaves, read_dump
from shipworthy.machine.raw import Parsed
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import Facts, facts_of, file


def words(text: str) -> list[int]:
    raw = text.encode().ljust(-(-len(text) // 4) * 4, b"\0")
    return [int.from_bytes(raw[at : at + 4], "little") for at in range(0, len(raw), 4)]


def processor(apic: int, kind: int = 0, maker: str = "GenuineIntel", **more: tuple[int, ...]) -> Leaves:
    """One thread of a socket of four threads in two cores, as leaf 0Bh tells it."""
    b, d, c = words(maker)
    name = words("Tarn(R) Five   5 ".ljust(48, "\0"))
    leaves: Leaves = {
        (0, 0): (0x20, b, c, d),
        (1, 0): (0x000B06A2, apic << 24 | 4 << 16, 1 << 25 | 1 << 28, 1 << 28),
        (4, 0): (1 << 26 | 1 << 14 | 1 << 5 | 1, 7 << 22 | 63, 63, 0),
        (4, 1): (1 << 26 | 1 << 14 | 1 << 5 | 2, 7 << 22 | 63, 63, 0),
        (4, 2): (1 << 26 | 3 << 14 | 3 << 5 | 3, 15 << 22 | 63, 4095, 0),
        (7, 0): (1, 1 << 5 | 1 << 29, 0, 1 << 15 if kind else 0),
        (0xB, 0): (1, 2, 1 << 8, apic),
        (0xB, 1): (2, 4, 2 << 8 | 1, apic),
        (0x16, 0): (3400, 5300, 100, 0),
        (0x1A, 0): (kind << 24, 0, 0, 0),
        (0x8000_0000, 0): (0x8000_0008, 0, 0, 0),
    }
    for at in range(3):
        one, two, three, four = name[4 * at : 4 * at + 4]
        leaves[0x8000_0002 + at, 0] = (one, two, three, four)
    return leaves


def named(processors: list[Leaves]) -> str:
    """The form of our own, with a heading for each processor."""
    lines: list[str] = []
    for number, leaves in enumerate(processors):
        lines.append(f"CPU {number}:")
        for (leaf, sub), (a, b, c, d) in leaves.items():
            lines.append(
                f"   0x{leaf:08x} 0x{sub:02x}: eax=0x{a:08x} ebx=0x{b:08x} ecx=0x{c:08x} edx=0x{d:08x}"
            )
    return "\n".join(lines) + "\n"


def dashed(processors: list[Leaves]) -> str:
    lines: list[str] = []
    for number, leaves in enumerate(processors):
        lines.append(f"------[ CPUID Registers / Logical CPU #{number} ]------")
        for (leaf, sub), registers in leaves.items():
            text = "-".join(f"{register:08X}" for register in registers)
            lines.append(f"CPUID {leaf:08X}: {text} [SL {sub:02X}] [a word]")
    return "\n".join(lines) + "\n" + "-" * 60 + "\nwhat follows is no dump\n"


def indexed(processors: list[Leaves]) -> str:
    lines: list[str] = []
    for (leaf, sub), registers in processors[0].items():
        text = " ".join(f"{register:08x}" for register in registers)
        if leaf in (4, 0xB):
            lines.append(f"{'intel_fn4' if leaf == 4 else 'intel_fn11'}[{sub}]={text}")
        if sub == 0:
            table = "ext_cpuid" if leaf >> 31 else "basic_cpuid"
            lines.append(f"{table}[{leaf & 0x7FFF_FFFF}]={text}")
    return "\n".join(lines) + "\n"


def masked(processors: list[Leaves]) -> str:
    lines = ["# mask e[abcd]x => e[abcd]x"]
    for (leaf, sub), (a, b, c, d) in processors[0].items():
        lines.append(f"5 {leaf:x} 0 {sub:x} 0 => {a:x} {b:x} {c:x} {d:x}")
    return "\n".join(lines) + "\n"


def xml(processors: list[Leaves]) -> str:
    rows = [
        f"<cpuid eax_in='0x{leaf:08x}' ecx_in='0x{sub:02x}' eax='0x{a:08x}' ebx='0x{b:08x}' ecx='0x{c:08x}' "
        f"edx='0x{d:08x}'/>"
        for (leaf, sub), (a, b, c, d) in processors[0].items()
    ]
    return "<cpudata arch='x86'>" + "\n".join(rows) + "<msr index='0x10a' edx='0x0' eax='0x0'/></cpudata>"


FORMS = (named, dashed, indexed, masked, xml)


def parsed(text: str | bytes) -> Parsed:
    return cpuid.parse((file(text, "dump", "cpuid.1"),))


def facts(result: Parsed) -> list[Facts]:
    return [facts_of(one.said) for one in result.sightings]


@pytest.mark.parametrize("form", FORMS)
def test_one_processor_tells_of_its_socket_in_every_form(form: Callable[[list[Leaves]], str]) -> None:
    text = form([processor(0)])
    assert cpuid.recognises("anything.txt", text[:4096].encode())
    (got,) = facts(parsed(text))
    assert (got["maker"], got["model"]) == ("Intel", "Tarn(R) Five 5")
    assert (got["family"], got["model_number"], got["stepping"]) == (6, 186, 2)
    assert got["instruction_sets"] == "avx avx2 aes sha_ni" if form is not indexed else "avx aes"
    assert (got["cores"], got["threads"]) == (2, 4)
    assert (got["base_mhz"], got["max_mhz"]) == (3400, 5300)
    assert got["l1d_each_bytes"] == 32 << 10  # 8 ways, 1 partition, lines of 64, 64 sets
    assert got["l3_each_bytes"] == 4 << 20


@pytest.mark.parametrize("form", [named, dashed])
def test_several_processors_are_counted(form: Callable[[list[Leaves]], str]) -> None:
    """Two sockets of two cores with two threads; the last thread is missing, as if it were offline."""
    got = facts(parsed(form([processor(apic) for apic in range(7)])))
    assert [(one["cores"], one["threads"]) for one in got] == [(2, 4), (2, 3)]
    assert [one["l1d_bytes"] for one in got] == [64 << 10] * 2
    assert [one["l3_bytes"] for one in got] == [4 << 20] * 2


def test_kinds_of_cores_are_told_by_leaf_1a_and_low_power_ones_by_their_missing_third_level() -> None:
    members = [processor(apic, kind=0x40) for apic in (0, 1)]
    members.append(processor(2, kind=0x20))
    low = processor(3 << 1, kind=0x20)
    del low[4, 2]
    members.append(low)
    for leaves in members:
        leaves[0xB, 1] = (4, 4, 2 << 8 | 1, leaves[0xB, 1][3])
    (got,) = facts(parsed(named(members)))
    assert (got["performance_cores"], got["efficiency_cores"], got["low_power_cores"]) == (1, 1, 1)


def test_one_thread_of_a_hybrid_cannot_tell_how_many_cores_there_are() -> None:
    (got,) = facts(parsed(named([processor(0, kind=0x40)])))
    assert got["cores"] is Absent.NOT_OFFERED and got["threads"] == 4


def test_processors_that_name_one_id_are_not_counted() -> None:
    result = parsed(named([processor(0), processor(0)]))
    assert [remark.kind for remark in result.remarks] == [RemarkKind.REPEATED]
    assert [one["threads"] for one in facts(result)] == [4]  # as the one tells it


def test_a_dump_that_is_longer_than_is_read_is_named_and_not_counted() -> None:
    result = parsed(named([processor(apic) for apic in range(1200)]))
    assert [remark.kind for remark in result.remarks] == [RemarkKind.CUT_SHORT]
    assert all(one["threads"] == 4 for one in facts(result))


@pytest.mark.parametrize(
    ("eax", "shown"),
    [
        (0x000B06A2, (6, 0xBA, 2)),
        (0x00A20F12, (0x19, 0x21, 2)),  # AMD: family 0Fh and its extension
        (0x00000543, (5, 4, 3)),
        (0x00030543, (5, 4, 3)),  # the extended model does not count here
        (0x00800F11, (0x17, 1, 1)),
        (0x000307B2, (7, 0x3B, 2)),
    ],
)
def test_family_model_and_stepping_are_shown_by_the_manuals_rules(
    eax: int, shown: tuple[int, int, int]
) -> None:
    assert signature({(0, 0): (1, 0, 0, 0), (1, 0): (eax, 0, 0, 0)}) == shown


def test_before_leaf_0b_places_are_told_by_the_ids_there_is_room_for() -> None:
    """AMD of family 17h: ids of 4 bits for a socket, of which the lowest tells two threads apart."""
    b, d, c = words("AuthenticAMD")
    amd: Leaves = {
        (0, 0): (0xD, b, c, d),
        (1, 0): (0x00800F11, 0x15 << 24, 0, 1 << 28),
        (0x8000_0000, 0): (0x8000_001F, 0, 0, 0),
        (0x8000_0008, 0): (0, 0, 4 << 12 | 15, 0),
        (0x8000_001E, 0): (0x15, 1 << 8, 0, 0),
    }
    assert place(amd) == Place(0x15, 1, 4)
    (got,) = facts(parsed(named([amd])))
    assert (got["cores"], got["threads"]) == (8, 16)
    b, d, c = words("GenuineIntel")
    intel: Leaves = {
        (0, 0): (4, b, c, d),
        (1, 0): (0x6F6, 3 << 24 | 4 << 16, 0, 1 << 28),
        (4, 0): (1 << 26 | 1 << 5 | 1, 0, 0, 0),
    }
    assert place(intel) == Place(3, 1, 2)


def test_a_leaf_above_the_highest_is_not_believed() -> None:
    """What a processor answers there is that of its highest leaf (SDM 2A)."""
    leaves = processor(0)
    leaves[0, 0] = (0xB, *leaves[0, 0][1:])
    (got,) = facts(parsed(named([leaves])))
    assert "base_mhz" not in got


def test_what_is_no_dump_says_so() -> None:
    for text in ("", "no dump", "<list/>", "CPUID Registers (CPU #1):\n"):
        result = parsed(text)
        assert result.sightings == ()
        assert [remark.kind for remark in result.remarks] == [RemarkKind.NOT_UNDERSTOOD]
    assert not cpuid.recognises("cpuid.txt", b"Vendor ID: GenuineIntel\n")


def test_a_bomb_of_entities_is_no_dump() -> None:
    text = '<!DOCTYPE c [<!ENTITY a "aaaa">]><c><cpuid eax_in="&a;"/></c>'
    assert parsed(text).sightings == ()


def test_for_people_each_leaf_is_shown() -> None:
    (section, *_) = cpuid.describe(named([processor(3)]).encode())
    assert section.where == "APIC id 3"
    assert dict(section.fields)["00000016h/0"] == "00000d48 000014b4 00000064 00000000"


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_raise(data: bytes) -> None:
    cpuid.recognises("x", data)
    parsed(data)
    parsed(b"CPU 0:\n" + data)
    cpuid.describe(data)


def test_spoiled_dumps_of_every_form_raise_nothing_and_end() -> None:
    random_ = random.Random(20_260)
    for form in FORMS:
        whole = form([processor(apic) for apic in range(4)]).encode()
        for _ in range(120):
            data = bytearray(whole)
            for _ in range(random_.randint(1, 12)):
                at = random_.randrange(len(data))
                data[at : at + random_.randint(0, 3)] = random_.randbytes(random_.randint(0, 3))
            cut = random_.randrange(len(data)) if random_.random() < 0.3 else len(data)
            ends(partial(parsed, bytes(data[:cut])))
    assert len(read_dump(b"CPU 0:\n   0x0 0x0: eax=0x1 ebx=0x1 ecx=0x1 edx=0x1\n" * 40_000)) <= 512
    assert MOST_BYTES < 1 << 20
