"""The published schemas: up to date, valid, and of the same mind as the strict reader."""

from __future__ import annotations

import copy
import importlib.util
import json
import subprocess
import sys
import tomllib
from importlib import resources
from pathlib import Path
from types import ModuleType
from typing import Any

import msgspec
import pytest
from jsonschema import Draft202012Validator

from shipworthy.model.attempt import Attempt, PackFile, PackStatement, StepEvent, StepLine, StepName
from shipworthy.model.base import Trouble, decode, digest_of, encode, values
from shipworthy.model.facts import Fact, Part, Witness
from shipworthy.model.findings import Comparison, Finding, Match
from shipworthy.model.inspection import InspectionResult, Item, Items, Media, Observation
from shipworthy.model.orders import Order
from shipworthy.model.policy import (
    Concession,
    CoverageState,
    Covered,
    Decision,
    Input,
    Policy,
    Reason,
)
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
from shipworthy.model.runlog import Column, Columns, ConfigurationSeen, Event, Report, Row, Start, Stop
from shipworthy.model.time import PretendClock, uuid7
from shipworthy.model.words import (
    Absent,
    Aspect,
    Category,
    Ending,
    EvidenceKind,
    Outcome,
    PartKind,
    Unit,
    VerdictWord,
)
from shipworthy.record.keys import TrustList, make_key

CLOCK = PretendClock()
TOOL = Tool(name="shipworthy", version="0.1.0")
CONFIGURATION = Configuration.of({"firmware/version": "1.04", "memory module/A2/size_bytes": 8 << 30})


@pytest.fixture(scope="module")
def schemas() -> ModuleType:
    file = Path(__file__).parent.parent / "tools" / "write_schemas.py"
    spec = importlib.util.spec_from_file_location("write_schemas", file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def validator(name: str) -> Draft202012Validator:
    file = Path(__file__).parent.parent / "schemas" / f"{name}.schema.json"
    return Draft202012Validator(json.loads(file.read_bytes()))


def scenario(name: str) -> dict[str, Any]:
    return tomllib.loads((resources.files("shipworthy.sim") / "scenario" / name).read_text("utf-8"))


def order() -> dict[str, Any]:
    found = scenario("order-kd-0412.toml")
    found["due"] = found["due"].isoformat()
    return found


def plan() -> dict[str, Any]:
    folder = resources.files("shipworthy.stress") / "plans"
    return tomllib.loads((folder / "one-hour.toml").read_text("utf-8"))


def policy() -> dict[str, Any]:
    folder = resources.files("shipworthy.verdict.policies")
    return tomllib.loads((folder / "workshop.toml").read_text("utf-8"))


FINDING = Finding(
    code="memory.speed.below-sold",
    outcome=Outcome.DIFFERS,
    category=Category.MEMORY,
    aspect=Aspect.SPEED,
    by=EvidenceKind.READING,
    line="3",
    want=6000,
    got=4800,
    unit=Unit.MEGATRANSFERS,
    values=values(slots="A2, B2"),
    evidence=("reading/reading.json",),
    configuration=CONFIGURATION.digest,
)
RAW_ROW = RawRow(
    id="cpuinfo",
    source="cpuinfo",
    platform="linux",
    locator="/proc/cpuinfo",
    at=CLOCK.now(),
    privilege=Privilege.USER,
    outcome=SourceOutcome.READ,
    file="raw/cpuinfo.txt",
    size_bytes=3,
    digest=digest_of(b"a\nb"),
)
READING = Reading(
    reading_id=uuid7(CLOCK),
    nonce=None,
    taken=CLOCK.now(),
    took_s=0.2,
    simulated=True,
    tool=TOOL,
    sources=(RAW_ROW,),
    parts=(
        Part(
            kind=PartKind.PROCESSOR,
            place="socket:0",
            facts=(
                Fact(name="model", source="cpuinfo", value="Tarn C7", witnesses=(Witness(source="smbios"),)),
                Fact(name="serial", source="smbios", absent=Absent.NOT_OFFERED),
            ),
        ),
    ),
    ports=(
        Port(place="drm:card0-DP-1", label="DP-1", connector="DisplayPort", state=PortState.USE, source="d"),
    ),
    configuration=CONFIGURATION,
)
REASON = Reason(
    code=FINDING.code,
    state=CoverageState.DIFFERS,
    line="3",
    category=Category.MEMORY,
    aspect=Aspect.SPEED,
    finding=FINDING,
)
COVERED = Covered(
    line="3", category=Category.MEMORY, aspect=Aspect.SPEED, required=True, state=CoverageState.DIFFERS
)

RECORDS: tuple[tuple[str, msgspec.Struct], ...] = (
    ("reading", READING),
    ("raw-row", RAW_ROW),
    (
        "comparison",
        Comparison(
            reading_id=READING.reading_id,
            configuration=CONFIGURATION.digest,
            matches=(Match(line="3", places=("smbios:A2",)),),
            findings=(FINDING,),
        ),
    ),
    (
        "run-log-line",
        Start(
            run_id="r",
            segment=1,
            nonce="n",
            at=CLOCK.now(),
            seed=7,
            tool=TOOL,
            plan_digest=digest_of(b""),
            configuration=CONFIGURATION,
            simulated=False,
        ),
    ),
    (
        "run-log-line",
        Columns(
            columns=(
                Column(
                    quantity="temperature",
                    place="pci:0000:00:18.3",
                    channel="temp1",
                    label="Tctl",
                    unit=Unit.CELSIUS,
                    source="/sys/class/hwmon/hwmon0/temp1_input",
                ),
            )
        ),
    ),
    ("run-log-line", Row(t_s=0.5, v=(41.5, None))),
    ("run-log-line", Event(t_s=0.5, code="step.began", values=values(step="rest", index=0))),
    ("run-log-line", ConfigurationSeen(t_s=1.0, step="rest", digest=CONFIGURATION.digest)),
    (
        "run-log-line",
        Report(
            t_s=2.0,
            step="processor",
            load="matrix",
            target="cpu:0",
            work=1e9,
            unit_of_work="floating-point operations",
            seconds=1.0,
            checks=2,
            wrong=0,
        ),
    ),
    ("run-log-line", Stop(at=CLOCK.now(), t_s=3.0, ending=Ending.COMPLETED)),
    (
        "items",
        Items(
            items=(
                Item(
                    item_id="unit.fans",
                    ask="inspect.unit.fans",
                    because="policy",
                    category=Category.UNIT,
                    aspect=Aspect.FANS,
                ),
            )
        ),
    ),
    (
        "observation",
        Observation(
            item_id="unit.fans",
            outcome=Outcome.CONFORMS,
            by="Odile Marsh",
            at=CLOCK.now(),
            media=(Media(file="inspection/media/a.jpg", digest=digest_of(b"a")),),
        ),
    ),
    ("inspection-result", InspectionResult(findings=(FINDING,))),
    (
        "decision",
        Decision(
            verdict=VerdictWord.HOLD,
            reasons=(REASON,),
            notes=(),
            coverage=(COVERED,),
            configuration=CONFIGURATION.digest,
            simulated=False,
            policy_id="workshop-1",
            inputs=(Input(file="policy.toml", digest=digest_of(b"")),),
            at=CLOCK.now(),
        ),
    ),
    (
        "concession",
        Concession(
            attempt_id=uuid7(CLOCK),
            code=FINDING.code,
            line="3",
            part="",
            aspect=Aspect.MODEL,
            finding="sha512:" + "0" * 128,
            by="Ines Vaal",
            reason="Agreed by telephone.",
            at=CLOCK.now(),
        ),
    ),
    (
        "attempt",
        Attempt(
            attempt_id=uuid7(CLOCK),
            number=1,
            unit_id="KD-0412-1",
            order_id="KD-0412",
            nonce="5f0c",
            zone="Europe/Lisbon",
            simulated=False,
            tool=TOOL,
            opened=CLOCK.now(),
        ),
    ),
    (
        "step-line",
        StepLine(step=StepName.ORDER, event=StepEvent.ENDED, at=CLOCK.now(), wrote=("policy.toml",)),
    ),
    (
        "pack-statement",
        PackStatement(
            unit_id="KD-0412-1",
            attempt_id=uuid7(CLOCK),
            number=1,
            record_digest=digest_of(b""),
            files=(PackFile(file="report.html", digest=digest_of(b"")),),
        ),
    ),
)


def test_writing_the_schemas_again_changes_nothing(schemas: ModuleType, tmp_path: Path) -> None:
    schemas.write(tmp_path)
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {path.name: path.read_bytes() for path in schemas.FOLDER.glob("*.json")}
    assert written == kept, "run `make schemas` and read the difference"


def test_the_check_says_what_is_stale_missing_or_left_over(schemas: ModuleType, tmp_path: Path) -> None:
    schemas.write(tmp_path)
    assert schemas.faults(tmp_path) == []
    (tmp_path / "order.schema.json").write_text("{}")
    (tmp_path / "plan.schema.json").unlink()
    (tmp_path / "gone.schema.json").write_text("{}")
    found = schemas.faults(tmp_path)
    assert [line.split(": ")[0] for line in found] == [
        "schemas/gone.schema.json belongs to no kind of record",
        "schemas/order.schema.json is stale",
        "schemas/plan.schema.json is missing",
    ]


def test_the_check_is_a_command_with_an_exit_code(schemas: ModuleType) -> None:
    done = subprocess.run(
        [sys.executable, str(schemas.__file__), "--check"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_every_schema_is_one_and_says_which_dialect_it_is(schemas: ModuleType) -> None:
    for name in schemas.STORED:
        document = json.loads(schemas.schema_of(name))
        Draft202012Validator.check_schema(document)
        assert document["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        assert document["$id"].split(":")[-2:] == [name, "1"]
        assert document["title"]


def test_every_record_that_is_a_whole_file_has_a_schema(schemas: ModuleType) -> None:
    """A struct of the model with a field `schema` is stored as a file or a line of its own."""
    import shipworthy.model as model

    listed = {kind for _, kind in schemas.STORED.values()} | {Start}
    for module in Path(str(model.__file__)).parent.glob("*.py"):
        for kind in vars(__import__(f"shipworthy.model.{module.stem}", fromlist=["_"])).values():
            if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
                assert "schema" not in kind.__struct_fields__ or kind in listed, kind


@pytest.mark.parametrize(
    ("name", "record"), RECORDS, ids=lambda value: value if isinstance(value, str) else ""
)
def test_what_the_tool_writes_is_valid(name: str, record: msgspec.Struct) -> None:
    validator(name).validate(json.loads(encode(record)))


def test_a_key_and_a_trust_list_are_valid(tmp_path: Path) -> None:
    public = make_key(tmp_path / "key.json", name="Kestrel Desk")
    validator("public-key").validate(json.loads(encode(public)))
    validator("trust-list").validate(json.loads(encode(TrustList().add(public))))


@pytest.mark.parametrize(
    ("name", "sample"),
    [
        ("order", order()),
        ("plan", plan()),
        ("policy", policy()),
        ("answers", scenario("answers-kd-0412.toml")),
    ],
    ids=["order", "plan", "policy", "answers"],
)
def test_what_people_write_is_valid(name: str, sample: dict[str, Any]) -> None:
    validator(name).validate(sample)


def _spoiled() -> dict[str, dict[str, Any]]:
    """Orders that are wrong in one way each."""
    wrong = {
        name: copy.deepcopy(order()) for name in ("key", "line key", "unit", "count", "category", "none")
    }
    wrong["key"]["costumer_reference"] = "x"
    wrong["line key"]["lines"][0]["quantitiy"] = 1
    wrong["unit"]["lines"][12]["expectations"][0]["unit"] = "furlongs"
    wrong["count"]["lines"][0]["quantity"] = -1
    wrong["category"]["lines"][0]["category"] = "toaster"
    wrong["none"]["lines"] = []
    return wrong


@pytest.mark.parametrize("spoiled", _spoiled().values(), ids=_spoiled().keys())
def test_schema_and_strict_reader_both_refuse_a_spoiled_order(spoiled: dict[str, Any]) -> None:
    assert not validator("order").is_valid(spoiled)
    with pytest.raises(Trouble):
        decode(json.dumps(spoiled).encode(), Order, "order.json")


def test_a_policy_that_names_an_unknown_kind_of_evidence_is_refused() -> None:
    spoiled = policy()
    spoiled["coverage"][0]["by"] = ["hearsay"]
    assert not validator("policy").is_valid(spoiled)
    with pytest.raises(Trouble):
        decode(json.dumps(spoiled).encode(), Policy, "policy.json")


@pytest.mark.parametrize(
    "file", ["../x", "raw/../../x", "..", "raw/..", "./raw/x", "raw/x\n", "/etc/x", "raw//x"]
)
def test_no_row_names_a_file_outside_of_its_folder(file: str) -> None:
    with pytest.raises(Trouble):
        decode(encode(msgspec.structs.replace(RAW_ROW, file=file)), RawRow, "a row")
