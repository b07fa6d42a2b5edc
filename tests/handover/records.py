"""Small but complete records of an invented unit: one that is released, one that is held, one hostile.

Readings and findings of the comparison are made here; coverage, verdict, analysis, inspection items and the
seal come from the rooms that make them on the bench.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path

from shipworthy.analysis import analyse
from shipworthy.analysis.runs import Segment
from shipworthy.inspection.items import items_for
from shipworthy.inspection.results import findings_of
from shipworthy.model.base import Scalar, Value, digest_of, encode, encode_pretty, values
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Comparison, Finding, Match
from shipworthy.model.inspection import InspectionResult, Media, Observation
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.policy import Concession, Decision
from shipworthy.model.reading import (
    Configuration,
    Port,
    PortState,
    Privilege,
    RawRow,
    Reading,
    SourceOutcome,
    Tool,
)
from shipworthy.model.runlog import Column, Columns, Event, LogLine, Report, Row, Start, Stop
from shipworthy.model.time import Moment, PretendClock
from shipworthy.model.words import (
    Absent,
    Aspect,
    Category,
    Ending,
    EvidenceKind,
    Origin,
    Outcome,
    PartKind,
    Unit,
)
from shipworthy.record.attempt import open_new
from shipworthy.record.bag import seal
from shipworthy.record.keys import SigningKey, load_key, make_key, sign_attached
from shipworthy.verdict.binding import binding_findings
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.decide import Concerned, decide
from shipworthy.verdict.policies import parse_policy, shipped_policy

TOOL = Tool(name="shipworthy", version="0.1.0")
NONCE = "f0b1c2d3e4f5061728394a5b6c7d8e9f"
CUSTOMER_REFERENCE = "Halberd Post, cutting room 4"
DRIVE = "pci:0000:04:00.0/nvme-ns-1"
READING = ("reading/reading.json",)


@dataclass(frozen=True)
class Case:
    """What may differ from one made record to the next."""

    order: Order
    drive_hours: int = 2
    memory_mt_s: int = 6000
    graphics_device: str = "0x0210"
    ports: bool = True
    burn_in: bool = True
    temperatures: bool = True
    wrong_results: int = 0
    simulated: bool = False
    zone: str = "Europe/Ljubljana"
    notes: dict[str, str] = field(default_factory=dict)
    unanswered: tuple[str, ...] = ()
    observer: str = "Ines Vaal"
    sensor_label: str = "Tctl"
    clock_synchronised: bool | None = True
    sensors: int = 2
    conceded_by: str = ""


def released() -> Case:
    return Case(order=an_order())


def held() -> Case:
    return Case(
        order=an_order(),
        drive_hours=3120,
        memory_mt_s=4800,
        graphics_device="0x0110",
        unanswered=("15.presence", "unit.fans"),
        wrong_results=0,
    )


def make_signing_key(folder: Path) -> SigningKey:
    make_key(folder / "key.json", name="Kestrel Desk")
    return load_key(folder / "key.json")


def make_record(folder: Path, case: Case, key: SigningKey) -> Path:
    """Return the folder of a sealed record of that case."""
    clock = PretendClock(start=datetime(2026, 3, 9, 12, 58, tzinfo=UTC))
    attempt = open_new(
        folder / "records",
        unit_id="KD-0412-1",
        order_id=case.order.order_id,
        nonce=NONCE,
        zone=case.zone,
        simulated=case.simulated,
        tool=TOOL,
        clock=clock,
    )
    for name, data in contents(case, clock, key, attempt.attempt.attempt_id).items():
        attempt.write(name, data)
    return seal(attempt, key)


def a_concession(
    case: Case, comparison: Comparison, attempt_id: str, clock: PretendClock
) -> Iterator[Concession]:
    """Yield the concession of the smaller card, where the case has one."""
    for finding in comparison.findings if case.conceded_by else ():
        if finding.code == "graphics.model.differs":
            yield Concession(
                attempt_id=attempt_id,
                code=finding.code,
                line=finding.line,
                part=finding.part,
                aspect=finding.aspect,
                finding=digest_of(encode(finding)),
                by=case.conceded_by,
                reason="the customer prefers the smaller card",
                at=clock.now(),
            )


def contents(case: Case, clock: PretendClock, key: SigningKey, attempt_id: str) -> dict[str, bytes]:
    """Return the files of a record, apart from the attempt's own."""
    order = case.order
    policy_text = shipped_policy()
    if case.conceded_by:
        conceder = f'[[conceders]]\nname = "{case.conceded_by}"\nthumbprint = "{key.public.kid}"\n'
        policy_text += conceder.encode()
    policy = parse_policy(policy_text, "policy.toml")
    before = a_reading(case, clock, "0198-before")
    clock.sleep_s(4)
    comparison = a_comparison(case, before)
    concessions = tuple(a_concession(case, comparison, attempt_id, clock))
    plan = a_plan()
    log = a_log(case, before, plan, clock) if case.burn_in else ()
    segments = (Segment(file="burn-in/log-001.jsonl", lines=log),) if log else ()
    limits = (*plan.limits, *policy.limits)
    analysis = analyse(plan, segments, order, comparison.matches, before, limits)
    after = a_reading(case, clock, "0198-after")
    binding = binding_findings(NONCE, before, after, (NONCE,))
    so_far = (*comparison.findings, *analysis.findings, *binding)
    required = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy) if k.required]
    items = items_for(order, required, so_far)
    seen = observations(case, [item.item_id for item in items.items], clock)
    inspection = InspectionResult(findings=findings_of(items, seen))
    clock.sleep_s(90)
    decision: Decision = decide(
        Concerned(
            order=order,
            policy=policy,
            findings=(*so_far, *inspection.findings),
            configuration=after.configuration.digest,
            simulated=case.simulated,
            inputs=(),
            at=clock.now(),
            concessions=concessions,
        )
    )
    files = {
        "order/order.json": encode_pretty(order),
        "reading/reading.json": encode(before),
        "reading-after/reading.json": encode(after),
        "comparison.json": encode(comparison),
        "burn-in/plan.json": encode(plan),
        "inspection/items.json": encode(items),
        "inspection/observations.jsonl": b"".join(encode(o) + b"\n" for o in seen),
        "inspection/findings.json": encode(inspection),
        "policy.toml": policy_text,
        "decisions/001.json": encode(decision),
    }
    for concession in concessions:
        files["concessions/001.jws"] = sign_attached(encode(concession), key).encode("ascii")
    if log:
        files["burn-in/log-001.jsonl"] = b"".join(encode(line) + b"\n" for line in log)
        files["analysis.json"] = encode(analysis)
    return files


def line(number: int, category: Category, text: str, *expectations: Expectation, **more: str) -> OrderLine:
    return OrderLine(line_id=str(number), category=category, text=text, expectations=expectations, **more)  # type: ignore[arg-type]


def want(aspect: Aspect, value: Scalar, unit: Unit = Unit.TEXT) -> Expectation:
    return Expectation(aspect=aspect, want=value, unit=unit)


def an_order(**changes: object) -> Order:
    gib = 2**30
    lines = (
        line(1, Category.PROCESSOR, "Tarn C7 processor", want(Aspect.MODEL, "C7"), maker="Tarn"),
        line(2, Category.BOARD, "Holloway B6-Q board", want(Aspect.MODEL, "B6-Q"), maker="Holloway"),
        line(
            3,
            Category.MEMORY,
            "Fennec Quiet 16GB (2x8GB) DDR5-6000",
            want(Aspect.CAPACITY, 16 * gib, Unit.BYTES),
            want(Aspect.COUNT, 2, Unit.COUNT),
            want(Aspect.SPEED, 6000, Unit.MEGATRANSFERS),
            maker="Fennec",
            part_number="FQ5-60-8X",
        ),
        line(
            4,
            Category.STORAGE,
            "Quarrel M2 1TB NVMe SSD",
            want(Aspect.CAPACITY, 10**12, Unit.BYTES),
            want(Aspect.INTERFACE, "NVMe"),
            maker="Quarrel",
        ),
        line(
            5, Category.GRAPHICS, "Sable 210 passive graphics card", want(Aspect.MODEL, "210"), maker="Sable"
        ),
        line(6, Category.DISPLAY, "Lindwall L27Q 27 inch display, 2560x1440", maker="Lindwall"),
        line(7, Category.CASE, "Osprey Works Fold 2 case, slate grey, felt lined", maker="Osprey Works"),
        line(11, Category.CABLE, "DisplayPort cable, 2 m", gtin="2004120001013"),
        line(
            13,
            Category.SERVICE,
            "Memory profile switched on, 6000 MT/s",
            want(Aspect.SPEED, 6000, Unit.MEGATRANSFERS),
        ),
        line(15, Category.CUSTOMISATION, 'Lid lettering "Studio 4" in white', want(Aspect.TEXT, "Studio 4")),
    )
    given: dict[str, object] = {
        "order_id": "KD-0412",
        "shop": "Kestrel Desk",
        "units": ("KD-0412-1",),
        "lines": lines,
        "customer_reference": CUSTOMER_REFERENCE,
        "due": date(2026, 3, 13),
    }
    return Order(**(given | changes))  # type: ignore[arg-type]


def fact(name: str, value: Scalar | Absent) -> Fact:
    if isinstance(value, Absent):
        return Fact(name=name, source="made", absent=value)
    return Fact(name=name, source="made", value=value)


def part(kind: PartKind, place: str, **facts: Scalar | Absent) -> Part:
    return Part(kind=kind, place=place, facts=tuple(fact(name, value) for name, value in facts.items()))


def parts_of(case: Case) -> tuple[Part, ...]:
    modules = [
        part(
            PartKind.MEMORY_MODULE,
            f"smbios:DIMM_{slot}2/BANK {n}",
            locator=f"DIMM_{slot}2",
            bank=f"BANK {n}",
            size_bytes=2**33,
            type="DDR5",
            maker="Fennec",
            part_number="FQ5-60-8X",
            serial=f"7C41{n}0A{n}",
            configured_speed_mt_s=case.memory_mt_s,
        )
        for n, slot in ((0, "A"), (1, "B"))
    ]
    empty = part(
        PartKind.MEMORY_MODULE, "smbios:DIMM_A1/BANK 2", locator="DIMM_A1", size_bytes=Absent.NOT_FITTED
    )
    return (
        part(PartKind.SYSTEM, "system", maker="Kestrel Desk", model="KD quiet", serial=Absent.NOT_OFFERED),
        part(PartKind.BOARD, "board", maker="Holloway", model="B6-Q", serial="HQ-88213-7"),
        part(PartKind.FIRMWARE, "firmware", maker="Holloway", version="1.42", date="2026-01-20", mode="UEFI"),
        part(
            PartKind.PROCESSOR,
            "socket:0",
            model="Tarn C7",
            cores=4,
            threads=4,
            online_cpus="0-3",
            microcode="0x2b",
        ),
        part(PartKind.MEMORY, "memory", fitted_bytes=2**34),
        *modules,
        empty,
        part(
            PartKind.STORAGE,
            DRIVE,
            model="Quarrel M2 1TB",
            serial="QM2X0014417",
            firmware_version="3B2QGXA7",
            size_bytes=1_000_204_886_016,
            power_on_hours=case.drive_hours,
            interface="NVMe",
            link_width=4,
            link_max_width=4,
            link_speed_gt_s=16.0,
            link_max_speed_gt_s=16.0,
        ),
        part(
            PartKind.GRAPHICS,
            "pci:0000:01:00.0",
            vendor_id="0x5ab1",
            device_id=case.graphics_device,
            model="Sable 210" if case.graphics_device == "0x0210" else "Sable 110",
            serial=Absent.NOT_OFFERED,
            link_width=8,
            link_max_width=16,
            link_speed_gt_s=2.5,
            link_max_speed_gt_s=16.0,
        ),
        part(
            PartKind.NETWORK,
            "pci:0000:05:00.0",
            vendor_id="0x7a11",
            device_id="0x0025",
            mac="02:00:5e:10:00:01",
        ),
        part(PartKind.DISPLAY, "drm:card0-DP-1", maker="LWD", model="L27Q", serial="LW27-004113"),
    )


def a_moment(clock: PretendClock, case: Case) -> Moment:
    now = clock.now()
    return Moment(
        utc=now.utc,
        boot_id=now.boot_id,
        monotonic_s=now.monotonic_s,
        clock_synchronised=case.clock_synchronised,
    )


def a_reading(case: Case, clock: PretendClock, reading_id: str) -> Reading:
    def row(number: int, source: str, locator: str, outcome: SourceOutcome, error: str = "") -> RawRow:
        return RawRow(
            id=f"r{number}",
            source=source,
            platform="linux",
            locator=locator,
            at=clock.now(),
            privilege=Privilege.USER,
            outcome=outcome,
            error=error,
        )

    configuration = Configuration.of(
        {
            "firmware/version": "1.42",
            "board/serial": "HQ-88213-7",
            "processor/model": "Tarn C7",
            "memory module/DIMM_A2/BANK 0/serial": "7C4100A0",
            "memory module/DIMM_A2/BANK 0/configured_speed_mt_s": case.memory_mt_s,
            f"storage/{DRIVE}/serial": "QM2X0014417",
            "link/pci:0000:01:00.0/width": 8,
        }
    )
    ports = (
        Port(
            place="drm:card1-HDMI-A-1",
            label="HDMI-A-1",
            connector="HDMI",
            state=PortState.DO_NOT_USE,
            source="r1",
        ),
        Port(
            place="drm:card0-DP-1",
            label="DP-1",
            connector="DisplayPort",
            state=PortState.USE,
            source="r1",
            occupied_by="drm:card0-DP-1",
        ),
        Port(
            place="drm:card0-DP-2",
            label="DP-2",
            connector="DisplayPort",
            state=PortState.UNTESTED,
            source="r1",
        ),
    )
    return Reading(
        reading_id=reading_id,
        nonce=NONCE,
        taken=a_moment(clock, case),
        took_s=0.4,
        simulated=case.simulated,
        tool=TOOL,
        sources=(
            row(1, "drm", "/sys/class/drm", SourceOutcome.READ),
            row(2, "smbios", "/sys/firmware/dmi/tables/DMI", SourceOutcome.REFUSED, "Permission denied"),
            row(3, "nvme-smart-log", "/dev/nvme1", SourceOutcome.FAILED, "Input/output error"),
            *(row(4 + n, "hwmon", f"/sys/class/hwmon/hwmon{n}", SourceOutcome.EMPTY) for n in range(5)),
            row(9, "wireless", "/sys/class/ieee80211", SourceOutcome.ABSENT),
            row(10, "drm", "/usr/share/misc/pnp.ids", SourceOutcome.ABSENT),
        ),
        parts=parts_of(case),
        ports=ports if case.ports else (),
        configuration=configuration,
    )


def a_comparison(case: Case, reading: Reading) -> Comparison:
    digest, findings = reading.configuration.digest, []

    def add(
        code: str,
        outcome: Outcome,
        number: str,
        category: Category,
        aspect: Aspect,
        wanted: Scalar | None = None,
        got: Scalar | None = None,
        unit: Unit = Unit.TEXT,
        part: str = "",
        named: tuple[Value, ...] = (),
    ) -> None:
        if case.order.line(number) is None and number:
            return
        findings.append(
            Finding(
                code=code,
                outcome=outcome,
                category=category,
                aspect=aspect,
                by=EvidenceKind.READING,
                line=number,
                part=part,
                want=wanted,
                got=got,
                unit=unit,
                values=named,
                evidence=READING,
                configuration=digest,
            )
        )

    good, bad, dark = Outcome.CONFORMS, Outcome.DIFFERS, Outcome.CANNOT_TELL
    add("processor.model.conforms", good, "1", Category.PROCESSOR, Aspect.MODEL, "C7", "Tarn C7")
    add("processor.cores.conforms", good, "1", Category.PROCESSOR, Aspect.CORES, 4, 4, Unit.COUNT)
    add("board.model.conforms", good, "2", Category.BOARD, Aspect.MODEL, "B6-Q", "B6-Q")
    add("memory.capacity.conforms", good, "3", Category.MEMORY, Aspect.CAPACITY, 2**34, 2**34, Unit.BYTES)
    add("memory.count.conforms", good, "3", Category.MEMORY, Aspect.COUNT, 2, 2, Unit.COUNT)
    speed = good if case.memory_mt_s == 6000 else bad
    for number, category in (("3", Category.MEMORY), ("13", Category.SERVICE)):
        unit = Unit.MEGATRANSFERS
        add(
            "memory.speed.conforms" if speed is good else "memory.speed.below-sold",
            speed,
            number,
            category,
            Aspect.SPEED,
            6000,
            case.memory_mt_s,
            unit,
            "smbios:DIMM_A2/BANK 0",
        )
    add(
        "storage.capacity.conforms",
        good,
        "4",
        Category.STORAGE,
        Aspect.CAPACITY,
        10**12,
        1_000_204_886_016,
        Unit.BYTES,
    )
    add("storage.interface.conforms", good, "4", Category.STORAGE, Aspect.INTERFACE, "NVMe", "NVMe")
    new = good if case.drive_hours < 24 else bad
    add(
        "storage.newness.counters" if new is good else "storage.newness.used",
        new,
        "4",
        Category.STORAGE,
        Aspect.NEWNESS,
        24,
        case.drive_hours,
        Unit.HOURS,
        DRIVE,
        values(
            model="Quarrel M2 1TB",
            counters="power on hours",
            origin="shop's policy",
            power_on_hours=case.drive_hours,
            power_cycles=7,
            written_bytes=4_000_000_000,
            media_errors=0,
        ),
    )
    same = good if case.graphics_device == "0x0210" else bad
    found = "Sable 210" if same is good else "Sable 110"
    add(
        f"graphics.model.{same.value}",
        same,
        "5",
        Category.GRAPHICS,
        Aspect.MODEL,
        "210",
        found,
        part="pci:0000:01:00.0",
    )
    add("graphics.presence.conforms", good, "5", Category.GRAPHICS, Aspect.PRESENCE)
    add("display.presence.conforms", good, "6", Category.DISPLAY, Aspect.PRESENCE)
    add("ports.cannot-tell", dark, "", Category.UNIT, Aspect.PORTS)
    return Comparison(
        reading_id=reading.reading_id,
        configuration=digest,
        matches=(Match(line="1", places=("socket:0",)), Match(line="4", places=(DRIVE,))),
        findings=tuple(findings),
        unclaimed=("pci:0000:05:00.0",),
    )


def a_plan() -> Plan:
    return Plan(
        plan_id="one-minute",
        limits=(Limit(quantity="temperature", value=100.0, unit=Unit.CELSIUS, origin=Origin.SHOP),),
        steps=(
            PlanStep(step="rest", seconds=5),
            PlanStep(step="processor", seconds=20, loads=(LoadRequest(load="matrix"),)),
            PlanStep(step="memory", seconds=15, loads=(LoadRequest(load="march"),)),
            PlanStep(step="storage", seconds=10, loads=(LoadRequest(load="storage"),)),
            PlanStep(step="cooling", seconds=10),
        ),
    )


def columns_of(case: Case) -> tuple[Column, ...]:
    def column(
        quantity: str, place: str, channel: str, label: str, unit: Unit, critical: float | None = None
    ) -> Column:
        source = f"/sys/{quantity}/{channel}"
        return Column(
            quantity=quantity,
            place=place,
            channel=channel,
            label=label,
            unit=unit,
            source=source,
            critical=critical,
        )

    heat = [
        column("temperature", "socket:0", "temp1", case.sensor_label, Unit.CELSIUS, 95.0),
        column("temperature", DRIVE, "temp1", "Composite", Unit.CELSIUS, 84.8),
        *(
            column("temperature", "board", f"temp{n}", f"AUX{n}", Unit.CELSIUS)
            for n in range(2, case.sensors)
        ),
    ]
    return (
        *(heat if case.temperatures else ()),
        column("fan", "board", "fan1", "CPU fan", Unit.RPM),
        column("fan", "board", "fan2", "Case fan", Unit.RPM),
        *(column("utilisation", f"cpu:{n}", "busy", f"cpu {n}", Unit.RATIO) for n in range(4)),
        *(column("clock", f"cpu:{n}", "scaling_cur_freq", f"cpu {n}", Unit.MEGAHERTZ) for n in range(4)),
        column("power", "socket:0", "power1", "Package", Unit.WATTS),
    )


def a_log(case: Case, reading: Reading, plan: Plan, clock: PretendClock) -> tuple[LogLine, ...]:
    columns = columns_of(case)
    lines: list[LogLine] = [
        Start(
            run_id="run",
            segment=1,
            nonce=NONCE,
            at=clock.now(),
            seed=7,
            tool=TOOL,
            plan_digest=digest_of(encode(plan)),
            configuration=reading.configuration,
            simulated=case.simulated,
        ),
        Columns(columns=columns),
    ]
    at, heat = 0.0, 38.0
    for step in plan.steps:
        lines.append(Event(t_s=at, code="step.began", values=values(step=step.step)))
        busy = {"processor": 1.0, "memory": 0.7, "storage": 0.25}.get(step.step, 0.03)
        for _ in range(int(step.seconds * 2)):
            at += 0.5
            heat += (36 + 46 * busy - heat) * 0.09
            lines.append(Row(t_s=at, v=tuple(_sample(c, busy, heat, at) for c in columns)))
        lines += _reports(case, step, at)
        lines.append(Event(t_s=at, code="step.ended", values=values(step=step.step)))
    clock.sleep_s(at)
    lines.append(Stop(at=clock.now(), t_s=at, ending=Ending.COMPLETED))
    return tuple(lines)


def _sample(column: Column, busy: float, heat: float, at: float) -> float | None:
    ripple = math.sin(at * 1.7 + len(column.label))
    if column.quantity == "temperature":
        shift = {"socket:0": 0.0, DRIVE: -6.0}.get(column.place, -8.0 - 2 * len(column.channel))
        value = heat * (1.0 if column.place == "socket:0" else 0.7) + shift + ripple * 0.4
        return None if column.place == DRIVE and 30 < at < 33 else round(value, 1)
    if column.quantity == "fan":
        return round(420 + heat * (9 if column.channel == "fan1" else 5) + ripple * 6)
    if column.quantity == "clock":
        return round(1400 + 2600 * min(1.0, busy * 3) + ripple * 25)
    if column.quantity == "power":
        return round(9 + 56 * busy + ripple, 1)
    return round(min(1.0, max(0.0, busy - 0.02 + ripple * 0.02)), 3)


def _reports(case: Case, step: PlanStep, at: float) -> list[Report]:
    def report(load: str, target: str, work: float, unit: str, limit: float, written: int = 0) -> Report:
        wrong = case.wrong_results if load == "march" else 0
        return Report(
            t_s=at,
            step=step.step,
            load=load,
            target=target,
            work=work * step.seconds,
            unit_of_work=unit,
            seconds=step.seconds,
            checks=int(step.seconds * 40),
            wrong=wrong,
            written_bytes=written,
            limit=limit,
        )

    if step.step == "processor":
        return [
            report("matrix", f"cpu:{n}", 38.2e9 - n * 4e8, "floating-point operations", 39.5e9)
            for n in range(4)
        ]
    if step.step == "memory":
        return [report("march", "memory", 11.4e9, "bytes", 12.1e9)]
    if step.step == "storage":
        return [report("storage", DRIVE, 0.9e9, "bytes", 1.4e9, written=4_000_000_000)]
    return []


def observations(case: Case, item_ids: Sequence[str], clock: PretendClock) -> list[Observation]:
    seen = []
    for item in item_ids:
        clock.sleep_s(20)
        if item not in case.unanswered:
            media = (Media(file="inspection/media/lid.jpg", digest=digest_of(b"a picture")),)
            seen.append(
                Observation(
                    item_id=item,
                    outcome=Outcome.CONFORMS,
                    by=case.observer,
                    at=clock.now(),
                    note=case.notes.get(item, ""),
                    media=media if item.endswith("condition") else (),
                )
            )
    return seen


def hostile() -> Case:
    """Every text from outside is an attempt to break out, to mislead or to burst the page."""
    texts = (
        "<script>alert(1)</script><img src=x onerror=alert(1)>",
        '#import "@preview/evil:1.0.0": * #read("/etc/passwd") $x$ *bold* `raw` [link] \\ @label',
        "\u202egnihton\u202c \u2066ordered\u2069 \u200b\u200f",
        "W" * 480,
        "\U0001f5a5\ufe0f computer \U0001f468\u200d\U0001f469\u200d\U0001f467, \u6f22\u5b57, "
        "\u05e9\u05dc\u05d5\u05dd, \u0645\u0631\u062d\u0628\u0627",
        "{{ 7*7 }} {% raw %} </style></title><!-- ]]> &amp; \"quoted\" 'single'",
        "a" + "\u0301" * 60,
        "line\nbreak\ttab\u2028separator\x07bell",
    )
    lines = tuple(
        OrderLine(
            line_id=f"h{n}", category=Category.ACCESSORY, text=text, maker=text[:40], part_number=text[:30]
        )
        for n, text in enumerate(texts)
    )
    order = an_order(
        lines=lines, shop="<b>Shop</b> #emph[x] & Søn", customer_reference="<i>ref</i> #lorem(90)"
    )
    return replace(
        released(),
        order=order,
        observer="Ines <u>Vaal</u> #set page(fill: red)",
        sensor_label="</svg><script>alert(2)</script> #x",
        notes={f"h{n}.presence": text for n, text in enumerate(texts)},
    )
