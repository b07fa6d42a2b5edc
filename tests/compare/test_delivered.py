"""A system that was sold is delivered whole; where none was sold, the drives are blank."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence, known_codes
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m

FIRST, SECOND = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:05:00.0/nvme-ns-1"
HERE: dict[str, Scalar | Absent] = {
    "partitions": 2,
    "partition_table": "gpt",
    "file_systems": "vfat, ext4",
}
BARE: dict[str, Scalar | Absent] = {"partitions": 0, "partition_table": "none", "file_systems": "none"}
DRIVE = m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD")
TWO_DRIVES = m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD", quantity=2)
STICK = m.drive("pci:0000:00:14.0/usb-1-2", model="Wren Stick", interface="USB", **HERE)


def system(text: str = "Debian 12", **more: object) -> OrderLine:
    return m.line(Category.SYSTEM_SOFTWARE, text, "9", **more)


def running(
    on: str | None = FIRST, key: str = "debian", version: str = "12", edition: str = "", text: str = ""
) -> Part:
    said: dict[str, Scalar | Absent] = {
        "system_id": key,
        "system_version": version,
        "system_text": text or f"{key.capitalize()} {version}",
    }
    if edition:
        said["system_edition"] = edition
    if on:
        said["system_on"] = on
    return m.part(PartKind.KERNEL, "kernel", **said)


def device(kind: str, driver: str | None, place: str = "pci:0000:01:00.0") -> Part:
    said: dict[str, Scalar | Absent] = {"class": kind, "driver": driver if driver else Absent.NOT_OFFERED}
    return m.part(PartKind.PCI_DEVICE, place, **said)


def compared(*parts: Part, lines: tuple[OrderLine, ...]) -> Comparison:
    return compare(m.order(*lines), m.machine(*parts), m.LIMITS, m.EVIDENCE)


def told(comparison: Comparison, line_id: str = "9") -> dict[str, str]:
    of_line = [f for f in comparison.findings if f.line == line_id]
    assert {f.code for f in of_line} <= known_codes()
    return {f.aspect.value: f.code.split(".", 1)[1] for f in of_line}


def blank(comparison: Comparison) -> list[Finding]:
    return [f for f in comparison.findings if f.aspect is Aspect.BLANK]


def test_the_system_that_runs_from_the_drive_sold_is_told_by_its_name() -> None:
    found = compared(m.drive(**HERE), running(), device("0x010802", "nvme"), lines=(DRIVE, system()))
    assert told(found) == {
        "presence": "presence.runs",
        "model": "model.conforms",
        "position": "position.conforms",
        "drivers": "drivers.conforms",
        "format": "format.no-other",
        "encryption": "encryption.none-found",
    }
    assert blank(found) == [], "a drive with a system on it is not asked to be blank"


def test_a_stick_of_the_bench_says_nothing_of_the_system_sold() -> None:
    """A false hold otherwise: what the bench runs is another system, and has its own drivers."""
    bench = running(on=STICK.place, key="fedora", version="41")
    found = compared(m.drive(**HERE), STICK, bench, device("0x030000", None), lines=(DRIVE, system()))
    assert set(told(found)) == {"format", "encryption"}


@pytest.mark.parametrize(
    ("sold", "key", "version", "outcome"),
    [
        ("Debian 12", "debian", "12", Outcome.CONFORMS),
        ("Debian 12", "debian", "13", Outcome.DIFFERS),
        ("Debian", "debian", "13", Outcome.CONFORMS),
        ("Debian 12.7", "debian", "12", Outcome.CANNOT_TELL),
        ("Ubuntu 24 LTS", "ubuntu", "24.04", Outcome.CONFORMS),
        ("Ubuntu 2", "ubuntu", "24.04", Outcome.DIFFERS),
        ("Windows 11 Pro", "debian", "12", Outcome.DIFFERS),
        ("Kubuntu 24.04", "ubuntu", "24.04", Outcome.CANNOT_TELL),
        ("A system of the shop's own", "debian", "12", Outcome.CANNOT_TELL),
        ("Debian 12", "heron", "12", Outcome.CANNOT_TELL),
        ("Proxmox VE 8", "debian", "12", Outcome.CANNOT_TELL),
        ("TrueNAS SCALE", "debian", "12", Outcome.CANNOT_TELL),
        ("Proxmox VE 8", "ubuntu", "24.04", Outcome.DIFFERS),
    ],
)
def test_name_and_version(sold: str, key: str, version: str, outcome: Outcome) -> None:
    found = compared(m.drive(**HERE), running(key=key, version=version), lines=(DRIVE, system(sold)))
    assert m.finding(found, Aspect.MODEL, "9").outcome is outcome
    if outcome is not Outcome.CONFORMS:
        assert "presence" not in told(found)


@pytest.mark.parametrize(
    ("edition", "outcome"),
    [
        ("Workstation Edition", Outcome.CONFORMS),
        ("Server Edition", Outcome.DIFFERS),
        ("Desktop", Outcome.CANNOT_TELL),
        ("", Outcome.CANNOT_TELL),
    ],
)
def test_the_edition_where_one_was_sold(edition: str, outcome: Outcome) -> None:
    parts = (m.drive(**HERE), running(key="fedora", version="41", edition=edition, text="Fedora Linux 41"))
    found = compared(*parts, lines=(DRIVE, system("Fedora Workstation 41")))
    assert m.finding(found, Aspect.MODEL, "9").outcome is outcome


@pytest.mark.parametrize(
    ("sold", "runs", "outcome"),
    [
        ("Windows 11 Pro", "Windows 11 Home", Outcome.DIFFERS),
        ("Windows 11 Pro", "Windows 11 Pro", Outcome.CONFORMS),
        ("Windows 11 Pro for Workstations", "Windows 11 Pro", Outcome.CANNOT_TELL),
        ("Windows 11", "Windows 11 Home", Outcome.CONFORMS),
    ],
)
def test_two_editions_of_one_system_differ(sold: str, runs: str, outcome: Outcome) -> None:
    parts = (m.drive(**HERE), running(key="windows", version="11", text=runs))
    found = compared(*parts, lines=(DRIVE, system(sold)))
    assert m.finding(found, Aspect.MODEL, "9").outcome is outcome


def test_of_two_systems_sold_the_one_that_runs_is_no_difference_of_the_other() -> None:
    lines = (DRIVE, system(), m.line(Category.SYSTEM_SOFTWARE, "Windows 11 Pro", "10"))
    found = compared(m.drive(**HERE), running(), lines=lines)
    assert m.finding(found, Aspect.MODEL, "9").outcome is Outcome.CONFORMS
    assert m.finding(found, Aspect.MODEL, "10").outcome is Outcome.CANNOT_TELL


def test_a_system_sold_and_no_drive_with_anything_on_it_is_a_difference() -> None:
    found = compared(m.drive(**BARE), STICK, running(on=STICK.place), lines=(DRIVE, system()))
    assert told(found) == {"presence": "presence.no-drive-holds-one"}


@pytest.mark.parametrize(
    ("kind", "driver", "code"),
    [
        ("0x030000", None, "drivers.differs"),
        ("0x028000", None, "drivers.differs"),
        ("0x028000", "iwlwifi", "drivers.conforms"),
        ("0x060100", None, "drivers.conforms"),
        ("0x118000", None, "drivers.conforms"),
        ("0x0c03fe", None, "drivers.conforms"),
    ],
)
def test_a_device_of_use_without_its_driver(kind: str, driver: str | None, code: str) -> None:
    parts = (m.drive(**HERE), running(), device(kind, driver), device("0x010802", "nvme", "pci:0000:04:00.0"))
    found = compared(*parts, lines=(DRIVE, system()))
    assert told(found)["drivers"] == code
    if code.endswith("differs"):
        assert "pci:0000:01:00.0" in finding_sentence(m.finding(found, Aspect.DRIVERS, "9")).say


def test_a_second_drive_has_to_be_ready_for_use() -> None:
    for second, code in ((HERE, "format.conforms"), (BARE, "format.differs"), ({}, "format.cannot-tell")):
        found = compared(
            m.drive(FIRST, **HERE), m.drive(SECOND, **second), running(), lines=(TWO_DRIVES, system())
        )
        assert told(found)["format"] == code
        assert told(found)["position"] == "position.cannot-tell", "which of the two was meant, nobody said"


def test_a_second_drive_that_is_to_stay_blank_is_no_difference() -> None:
    service = m.line(Category.SERVICE, "Second drive left blank", "8")
    drives = (m.drive(FIRST, **HERE), m.drive(SECOND, **BARE))
    found = compared(*drives, running(), lines=(TWO_DRIVES, system(), service))
    assert told(found)["format"] == "format.cannot-tell"
    assert told(found, "8") == {}, "which drive it is, a person knows"


@pytest.mark.parametrize(
    ("sold", "on_it", "code"),
    [
        ("Windows 11 Pro", "vfat, BitLocker", "encryption.cannot-tell"),
        ("Windows 11 Pro, BitLocker on", "vfat, BitLocker", "encryption.conforms"),
        ("Windows 11 Pro, not encrypted", "vfat, BitLocker", "encryption.differs"),
        ("Windows 11 Pro, not encrypted", "vfat, ntfs", "encryption.none-found"),
        ("Windows 11 Pro", "vfat, ntfs", "encryption.none-found"),
        ("Debian 12, full disk encryption", "vfat, ext4", "encryption.open"),
        ("Debian 12, full disk encryption", "vfat, crypto_LUKS", "encryption.conforms"),
    ],
)
def test_encryption(sold: str, on_it: str, code: str) -> None:
    found = compared(m.drive(**{**HERE, "file_systems": on_it}), lines=(DRIVE, system(sold)))
    assert told(found)["encryption"] == code


def test_of_a_drive_that_nobody_looked_into_nothing_is_said_of_encryption() -> None:
    assert "encryption" not in told(compared(m.drive(), lines=(DRIVE, system())))


def test_an_expectation_that_no_reading_shows_is_left_to_a_person() -> None:
    wish = Expectation(aspect=Aspect.ACTIVATION, want="volume licence")
    found = compared(m.drive(**HERE), lines=(DRIVE, system(expectations=(wish,))))
    assert m.finding(found, Aspect.ACTIVATION, "9").code == "line.not-by-reading"


@pytest.mark.parametrize(
    ("on_it", "outcome"),
    [
        (BARE, Outcome.CONFORMS),
        (HERE, Outcome.DIFFERS),
        ({**BARE, "partitions": 1}, Outcome.DIFFERS),
        ({**BARE, "file_systems": "ext4"}, Outcome.DIFFERS),
    ],
)
def test_without_a_system_the_drive_has_to_be_blank(
    on_it: dict[str, Scalar | Absent], outcome: Outcome
) -> None:
    (found,) = blank(compared(m.drive(**on_it), lines=(DRIVE,)))
    assert (found.outcome, found.part, found.line) == (outcome, FIRST, "1")
    assert found.code in known_codes()


@pytest.mark.parametrize(
    "on_it",
    [{**BARE, "file_systems": Absent.NOT_OFFERED}, {"partitions": 0}, {}],
    ids=["part", "count", "none"],
)
def test_of_a_drive_that_nobody_looked_into_nothing_is_said(on_it: dict[str, Scalar | Absent]) -> None:
    assert blank(compared(m.drive(**on_it), lines=(DRIVE,))) == []


def test_the_system_that_runs_from_it_is_something_on_a_drive() -> None:
    (found,) = blank(compared(m.drive(), running(), lines=(DRIVE,)))
    assert found.outcome is Outcome.DIFFERS
    assert "the system that runs now" in finding_sentence(found).say


def test_the_bench_s_own_stick_is_not_asked_to_be_blank() -> None:
    found = blank(compared(m.drive(**BARE), STICK, running(on=STICK.place), lines=(DRIVE,)))
    assert [f.part for f in found] == [FIRST]


def test_a_drive_to_carry_about_may_come_formatted() -> None:
    sold = m.line(Category.STORAGE, "Wren Stick 1TB USB drive")
    (found,) = blank(compared(STICK, lines=(sold,)))
    assert found.code == "storage.blank.carried"


def test_a_service_that_installs_a_system_sells_one() -> None:
    service = m.line(Category.SERVICE, "Windows 11 Pro installed and updated", "8")
    assert blank(compared(m.drive(**HERE), lines=(DRIVE, service))) == []


@pytest.mark.parametrize(
    ("on_it", "code"), [(BARE, "presence.blank"), (HERE, "presence.not-blank"), ({}, None)]
)
def test_a_service_that_leaves_the_drive_blank(on_it: dict[str, Scalar | Absent], code: str | None) -> None:
    service = m.line(Category.SERVICE, "Drive left blank for the customer's own system", "8")
    assert told(compared(m.drive(**on_it), lines=(DRIVE, service)), "8").get("presence") == code
