"""Newness by what SMART attributes tell, and a machine that says of itself that it is failing."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.compare import compare, findings_since
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part, Witness
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.policy import VerdictWord
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, EvidenceKind, Origin, Outcome, PartKind, Unit
from shipworthy.verdict import Concerned, decide
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.compare import machines as m

SSD = m.line(Category.STORAGE, "Quarrel M2 1TB SATA SSD")
NVME = m.line(Category.STORAGE, "Quarrel M2 1TB NVMe SSD")
ERRORS = Limit(quantity="storage/media_errors", value=0, unit=Unit.COUNT, origin=Origin.SHOP)
LIMITS = (*m.LIMITS, ERRORS)
PLACE = "pci:0000:00:17.0/ata-2"


def sata(**said: Scalar | Absent) -> Part:
    """A SATA drive without device statistics: what it tells are attributes."""
    known: dict[str, Scalar | Absent] = {
        "interface": "SATA",
        "technology": "solid state",
        "written_bytes": Absent.NOT_OFFERED,
        "media_errors": Absent.NOT_OFFERED,
        "reallocated_sectors": 0,
        "pending_sectors": 0,
    }
    return m.drive(PLACE, **{**known, **said})


def newness(part: Part, of: OrderLine = SSD) -> Finding:
    found = m.finding(compare(m.order(of), m.machine(part), LIMITS, ()), Aspect.NEWNESS)
    assert "{" not in finding_sentence(found).say
    return found


def of_health(*parts: Part, of: OrderLine = SSD) -> list[Finding]:
    found = compare(m.order(of), m.machine(*parts), LIMITS, m.EVIDENCE).findings
    return [f for f in found if f.code.startswith("health.")]


# Newness


def test_attributes_of_a_new_drive_conform() -> None:
    assert newness(sata()).code == "storage.newness.counters"


@pytest.mark.parametrize(
    ("said", "code", "outcome"),
    [
        ({"power_on_hours": 21_000}, "storage.newness.used", Outcome.DIFFERS),
        ({"pending_sectors": 3}, "storage.newness.defects", Outcome.DIFFERS),
        ({"uncorrectable_sectors": 1}, "storage.newness.defects", Outcome.DIFFERS),
        ({"reallocated_sectors": 8, "technology": "spinning"}, "storage.newness.defects", Outcome.DIFFERS),
        # what attribute 5 counts in a drive without a disk, no one agrees on
        ({"reallocated_sectors": 8}, "storage.newness.doubtful", Outcome.CANNOT_TELL),
        ({"power_on_hours": Absent.IMPLAUSIBLE}, "storage.newness.implausible", Outcome.CANNOT_TELL),
        ({"pending_sectors": Absent.IMPLAUSIBLE}, "storage.newness.implausible", Outcome.CANNOT_TELL),
        ({"power_on_hours": Absent.NOT_OFFERED}, "storage.newness.cannot-tell", Outcome.CANNOT_TELL),
    ],
)
def test_attributes_are_held_against_the_limits(
    said: dict[str, Scalar | Absent], code: str, outcome: Outcome
) -> None:
    found = newness(sata(**said))
    assert (found.code, found.outcome) == (code, outcome)


def test_what_is_not_among_the_attributes_that_were_read_is_not_offered() -> None:
    """Few SATA drives count bytes written or media errors; they are sold all the same."""
    read = m.drive(PLACE, interface="SATA", attributes_failing_now=0)
    bare = msgspec.structs.replace(
        read, facts=tuple(f for f in read.facts if f.name not in ("written_bytes", "media_errors"))
    )
    found = newness(bare)
    assert found.code == "storage.newness.counters"
    assert "media errors not told" in finding_sentence(found).say
    facts = tuple(f for f in bare.facts if f.name != "attributes_failing_now")
    unread = msgspec.structs.replace(bare, facts=facts)
    for source, outcome in (("ata.sda.smart", Outcome.CONFORMS), ("smartctl-json.1", Outcome.CANNOT_TELL)):
        test = Fact(name="self_test_last", source=source, value="completed or none run")
        assert newness(msgspec.structs.replace(bare, facts=(*facts, test))).outcome is outcome
    assert newness(unread).outcome is Outcome.CANNOT_TELL
    hidden = m.drive(PLACE, interface="SATA", pending_sectors=0, media_errors=Absent.NOT_READABLE)
    assert newness(hidden).outcome is Outcome.CANNOT_TELL


def test_a_counter_that_cannot_be_so_is_named() -> None:
    found = newness(sata(power_on_hours=Absent.IMPLAUSIBLE))
    assert "power on hours" in finding_sentence(found).say


def test_a_witness_that_says_more_is_not_brushed_aside() -> None:
    """Statistics that were reset and attributes that were not: nobody calls that drive new."""
    hours = Fact(
        name="power_on_hours",
        source="ata.sda.statistics",
        value=2,
        witnesses=(Witness(source="ata.sda.smart", value=21_000),),
    )
    part = sata()
    facts = (*(f for f in part.facts if f.name != "power_on_hours"), hours)
    found = newness(msgspec.structs.replace(part, facts=facts))
    assert (found.code, found.outcome, found.got) == (
        "storage.newness.doubtful",
        Outcome.CANNOT_TELL,
        21_000,
    )


# Health


def test_a_drive_that_fails_differs_in_its_own_line() -> None:
    (found,) = of_health(sata(health_passed=False, failing_attributes="5"))
    assert (found.code, found.outcome, found.line, found.category, found.part) == (
        "health.drive-failing",
        Outcome.DIFFERS,
        "1",
        Category.STORAGE,
        PLACE,
    )
    assert "failing: 5" in finding_sentence(found).say
    warned = m.drive(critical_warning=4, critical_warning_words="reliability degraded")
    (found,) = of_health(warned, of=NVME)
    assert found.got == "reliability degraded"


def test_a_drive_that_no_line_asks_for_is_the_units_and_a_stick_of_the_bench_is_not() -> None:
    extra = m.drive("pci:0000:09:00.0/nvme-ns-1", health_passed=False, model="Heron 5")
    (found,) = of_health(m.drive(), extra, of=NVME)
    assert (found.line, found.category, found.part) == ("", Category.UNIT, extra.place)
    stick = m.drive("pci:0000:00:14.0/usb-1-4", interface="USB", health_passed=False)
    assert of_health(m.drive(), stick, of=NVME) == []


def test_errors_on_the_bus_and_in_the_memory_are_the_units() -> None:
    port = m.part(
        PartKind.PCI_DEVICE, "pci:0000:00:01.0", aer_nonfatal=2, aer_fatal=0, aer_nonfatal_kinds="CmpltTO"
    )
    controller = m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0", uncorrected_errors=1, corrected_errors=9)
    module = m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0/dimm-1", uncorrected_errors=1, label="DIMM_A2")
    found = of_health(sata(), port, controller, module)
    assert [(f.code, f.got, f.line) for f in found] == [
        ("health.memory-uncorrected", 1, ""),
        ("health.bus-nonfatal", 2, ""),
    ]
    said = [finding_sentence(f).say for f in found]
    assert "DIMM_A2" in said[0] and "CmpltTO" in said[1]


@pytest.mark.parametrize(
    "quiet",
    [
        sata(health_passed=True, critical_warning=0),
        sata(health_passed=Absent.NOT_READABLE),
        m.part(PartKind.PCI_DEVICE, "pci:0000:00:01.0", aer_nonfatal=0, aer_correctable=7),
        m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0", uncorrected_errors=0, corrected_errors=3),
        m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0", uncorrected_errors=Absent.NOT_READABLE),
    ],
)
def test_what_is_well_or_silent_is_no_finding(quiet: Part) -> None:
    assert of_health(quiet) == []


def test_a_failing_part_holds_and_covers_nothing() -> None:
    """Whatever else is shown of the unit: a person who looked does not overrule what it says of itself."""
    reading = m.machine(
        sata(health_passed=True), m.part(PartKind.PCI_DEVICE, "pci:0000:00:01.0", aer_fatal=1)
    )
    order = m.order(SSD)
    found = compare(order, reading, LIMITS, ())
    reasons = _reasons(found)
    assert "health.bus-fatal" in reasons
    assert all(f.outcome is Outcome.DIFFERS for f in found.findings if f.code.startswith("health."))
    well = compare(order, m.machine(sata(health_passed=True)), LIMITS, ())
    assert "health.bus-fatal" not in _reasons(well)
    assert not any(f.aspect is Aspect.CONDITION for f in well.findings)


def _reasons(found: Comparison) -> list[str]:
    looked = Finding(
        code="inspection.conforms",
        outcome=Outcome.CONFORMS,
        category=Category.UNIT,
        aspect=Aspect.CONDITION,
        by=EvidenceKind.INSPECTION,
    )
    case = Concerned(
        order=m.order(SSD),
        policy=parse_policy(shipped_policy(), "policy"),
        findings=(*found.findings, looked),
        configuration=found.configuration,
        simulated=False,
        inputs=(),
        at=m.MOMENT,
    )
    decision = decide(case)
    assert decision.verdict is VerdictWord.HOLD
    return [reason.code for reason in decision.reasons]


# What began to fail between two readings


def since(before: Reading, after: Reading) -> list[Finding]:
    order = m.order(SSD)
    comparison = compare(order, before, LIMITS, ())
    return list(findings_since(order, comparison, before, after, LIMITS, m.EVIDENCE))


def test_what_fails_under_load_is_told_by_the_later_reading_alone() -> None:
    """A burn-in that breaks a drive: the first reading, with which the order was compared, knows nothing."""
    controller = m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0", uncorrected_errors=0)
    before = m.machine(sata(health_passed=True), controller)
    worn = sata(health_passed=False, failing_attributes="5", model="Quarrel M2 1TB")
    after = m.machine(worn, m.part(PartKind.MEMORY_CONTROLLER, "edac:mc0", uncorrected_errors=2))
    found = since(before, after)
    assert [(f.code, f.line) for f in found] == [
        ("health.memory-uncorrected", ""),
        ("health.drive-failing", SSD.line_id),
    ]
    assert all(f.outcome is Outcome.DIFFERS for f in found)
    assert since(before, before) == []


def test_what_was_told_before_is_told_once_and_more_of_it_again() -> None:
    def port(count: int) -> Part:
        return m.part(PartKind.PCI_DEVICE, "pci:0000:00:01.0", aer_fatal=count)

    first, more = m.machine(port(1)), m.machine(port(3))
    assert since(first, first) == []
    assert [f.got for f in since(first, more)] == [3]


@pytest.mark.parametrize(
    ("was", "said", "got"),
    [
        ({}, {"pending_sectors": 8}, 8),
        ({}, {"reallocated_sectors": 2}, 2),  # it grew under load: those are not the factory's
        ({"reallocated_sectors": 2}, {"reallocated_sectors": 2}, None),
        ({"pending_sectors": Absent.NOT_OFFERED}, {"pending_sectors": 1}, 1),
        ({"reallocated_sectors": Absent.NOT_OFFERED}, {"reallocated_sectors": 1}, None),
        ({}, {"media_errors": 3}, 3),
        ({}, {"power_on_hours": 99, "written_bytes": 5e11, "power_cycles": 60}, None),  # a test's own
        ({"pending_sectors": 8}, {"pending_sectors": Absent.NOT_READABLE}, None),
    ],
)
def test_errors_that_a_drive_came_to_under_load_speak_against_it(
    was: dict[str, Scalar | Absent], said: dict[str, Scalar | Absent], got: int | None
) -> None:
    """Most drives that go bad still say that they are well."""
    found = since(m.machine(sata(**was)), m.machine(sata(**said)))
    assert [f.got for f in found] == ([] if got is None else [got])
    for one in found:
        assert (one.code, one.outcome, one.line) == ("storage.newness.defects", Outcome.DIFFERS, SSD.line_id)
        assert "{" not in finding_sentence(one).say


def test_errors_of_a_drive_that_no_line_asks_for_are_not_of_its_order() -> None:
    extra = m.drive("pci:0000:09:00.0/nvme-ns-1", media_errors=4)
    assert since(m.machine(sata()), m.machine(sata(), extra)) == []


def test_why_a_value_is_not_there_reads_as_words_and_not_as_the_records_key() -> None:
    line = m.line(Category.GRAPHICS, "Corrie Ember 70 12GB")
    unread = m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", model="Ember 70", memory_bytes=Absent.NOT_ASKED)
    found = m.finding(compare(m.order(line), m.machine(unread), (), ()), Aspect.CAPACITY)
    assert finding_sentence(found).say.endswith("how much memory it has is told by no source here.")
