"""FreeBSD's list of PCI functions: both ways to tell ids, links, error bits, and lines that hang together."""

from __future__ import annotations

import random
import tarfile
from pathlib import Path

import pytest

from shipworthy.machine.parse import pciconf_text
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import facts_of

LIST = """hostb0@pci0:0:0:0:\tclass=0x060000 rev=0x08 vendor=0x1234 device=0x3ed0 subvendor=0x0000
    vendor     = 'Norvik Semiconductors'
    class      = bridge
    ecap 000b[160] = Vendor 0pcib1@pci0:0:1:0:\tclass=0x060400 card=0x130a5678 chip=0x34081234 rev=0x13
    cap 10[90] = PCI-Express 2 root port max data 128(256)
                 link x16(x16) speed 8.0(16.0) ASPM disabled(L0s/L1)
    ecap 0001[100] = AER 1 0 fatal 1 non-fatal 2 corrected
vgapci0@pci1:26:0:1:\tclass=0x030000 rev=0xa1 vendor=0x1234 device=0x2484 subvendor=0x5678 subdevice=0x146b
    vendor     = 'Norvik Semiconductors'
    device     = 'Aurora A1 'Plus''
    class      = display
    cap 10[78] = PCI-Express 2 legacy endpoint MSI 1 max data 256(256) RO NS
                 link x0(x16) speed 0.0(16.0) ASPM disabled(L1)
none3@pci0:255:8:4:\tclass=0x0c0330 rev=0x00 vendor=0x1234 device=0x0001 subvendor=0xffff subdevice=0xffff
re0@pci0:3:0:0:\tclass=0x020000 card=0x86771043 chip=0x816810ec rev=0x15
                 link x1(x255) speed undef(2.5)
"""


def parse(data: bytes) -> Parsed:
    reply = Reply(id="pciconf-text.1", locator="pciconf.txt", outcome=SourceOutcome.READ, data=data)
    return pciconf_text.parse((reply,))


def by_place() -> dict[str, Sighting]:
    return {s.place: s for s in parse(LIST.encode()).sightings}


def test_recognised_by_content() -> None:
    assert pciconf_text.recognises("x", LIST.encode()[:4096])
    assert not pciconf_text.recognises("pciconf.txt", b"00:00.0 Host bridge [0600]: Norvik [1234:3ed0]\n")


def test_places_are_told_in_decimal_and_written_as_everywhere() -> None:
    places = by_place()
    assert list(places) == [
        "pci:0000:00:00.0",
        "pci:0000:00:01.0",
        "pci:0001:1a:00.1",
        "pci:0000:ff:08.4",
        "pci:0000:03:00.0",
    ]
    assert places["pci:0001:1a:00.1"].also_at == ("node:vgapci0",)
    assert places["pci:0000:ff:08.4"].also_at == ()
    assert places["pci:0001:1a:00.1"].kind is PartKind.GRAPHICS
    assert places["pci:0000:03:00.0"].kind is PartKind.NETWORK


def test_ids_in_both_forms() -> None:
    old, new = facts_of(by_place()["pci:0000:00:01.0"].said), facts_of(by_place()["pci:0001:1a:00.1"].said)
    assert (old["vendor_id"], old["device_id"]) == ("0x1234", "0x3408")
    assert (old["subsystem_vendor_id"], old["subsystem_device_id"]) == ("0x5678", "0x130a")
    assert (new["vendor_id"], new["device_id"], new["class"]) == ("0x1234", "0x2484", "0x030000")
    assert (new["revision_id"], new["driver"], new["model"]) == ("0xa1", "vgapci", "Aurora A1 'Plus")
    none = facts_of(by_place()["pci:0000:ff:08.4"].said)
    assert none["driver"] is Absent.NOT_OFFERED
    assert none["subsystem_vendor_id"] is Absent.NOT_OFFERED


def test_link_and_errors() -> None:
    port, card = facts_of(by_place()["pci:0000:00:01.0"].said), facts_of(by_place()["pci:0001:1a:00.1"].said)
    assert (port["link_width"], port["link_max_width"]) == (16, 16)
    assert (port["link_speed_gt_s"], port["link_max_speed_gt_s"]) == (8.0, 16.0)
    assert (port["port_type"], port["payload_bytes"], port["payload_max_bytes"]) == ("root port", 128, 256)
    assert [port[f"aer_{kind}_bits"] for kind in ("fatal", "nonfatal", "correctable")] == [0, 1, 2]
    assert card["port_type"] == "legacy endpoint"
    assert card["link_width"] is Absent.NOT_OFFERED
    assert card["link_speed_gt_s"] is Absent.NOT_OFFERED
    odd = facts_of(by_place()["pci:0000:03:00.0"].said)
    assert odd["link_max_width"] is Absent.IMPLAUSIBLE
    assert (odd["link_speed_gt_s"], odd["link_max_speed_gt_s"]) == (Absent.NOT_OFFERED, 2.5)


def test_a_line_that_cannot_be_read_is_counted() -> None:
    parsed = parse(LIST.replace("re0@pci0:3:0:0:", "re0@pci0:x:0:0:").encode())
    assert [(r.kind, r.count) for r in parsed.remarks] == [(RemarkKind.NOT_UNDERSTOOD, 1)]


def test_described_function_by_function() -> None:
    sections = pciconf_text.describe(LIST.encode())
    assert [s.title for s in sections][:2] == ["hostb0@pci0:0:0:0", "pcib1@pci0:0:1:0"]
    assert ("device", "Aurora A1 'Plus") in sections[2].fields


def test_spoiled_lists_raise_nothing() -> None:
    source = random.Random(21)
    for _ in range(400):
        data = bytearray(LIST.encode())
        for _ in range(source.randrange(1, 40)):
            data[source.randrange(len(data))] = source.randrange(256)
        parse(bytes(data[: source.randrange(len(data))]))


def test_every_function_of_real_lists_is_found(reference: Path) -> None:
    functions = 0
    with tarfile.open(reference / "bsd-joined-machines" / "bsd-joined-machines.tar.xz") as archive:
        for member in archive:
            if not member.name.endswith("pciconf.txt") or functions > 5000:
                continue
            file = archive.extractfile(member)
            assert file is not None
            data = file.read()
            parsed = parse(data)
            assert not parsed.remarks, member.name
            assert len(parsed.sightings) == data.count(b"@pci") == len({s.place for s in parsed.sightings})
            functions += len(parsed.sightings)
    assert functions > 5000


@pytest.mark.parametrize(
    "line",
    [
        "a" + "0" * 200_000,
        "a0@pci0:0:0:0:\tclass=0x060000 " + "x" * 400_000,
        "a0@pci0:0:0:0:\tclass=0x060000\n    cap = " + "= PCI-Express 1 a" * 20_000,
        "= Vendor " + "1" * 400_000,
    ],
)
def test_lines_without_end_have_an_end(line: str) -> None:
    ends(lambda: pciconf_text.describe(line.encode()))
    ends(lambda: parse(line.encode()))
