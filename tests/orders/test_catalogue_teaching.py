"""What an accepted match teaches: only what the list does not find, and only of lines that were accepted."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest

from shipworthy.jobs.catalogue import aliases_beside, open_catalogue
from shipworthy.jobs.catalogue_words import learn_from
from shipworthy.model.base import Trouble, encode
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Comparison, Finding, Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, PartKind
from shipworthy.orders.catalogue.lookup import Catalogue
from shipworthy.orders.catalogue.resolve import resolved
from shipworthy.orders.catalogue.teaching import taught_by
from shipworthy.orders.expect import with_expectations
from tests.orders import catalogue_samples as samples

LIST = samples.catalogue()
CLOCK = PretendClock()
SOLD = OrderLine(
    line_id="gpu", category=Category.GRAPHICS, text="Our quiet Heron card", part_number="SB-HX680-16"
)
PLACE = "pci:0000:01:00.0"


def order(line: OrderLine = SOLD) -> Order:
    return with_expectations(Order(order_id="KD-9", shop="Kestrel Desk", units=("KD-9-1",), lines=(line,)))


def reading(model: str) -> Reading:
    part = Part(kind=PartKind.GRAPHICS, place=PLACE, facts=(Fact(name="model", source="pci", value=model),))
    return Reading(
        reading_id="r",
        nonce=None,
        taken=CLOCK.now(),
        took_s=0.0,
        simulated=False,
        tool=Tool(name="shipworthy", version="1"),
        sources=(),
        parts=(part,),
        ports=(),
        configuration=Configuration.of({}),
    )


def finding(aspect: Aspect, outcome: Outcome, line: str = "gpu") -> Finding:
    return Finding(
        code="graphics.model.conforms",
        outcome=outcome,
        category=Category.GRAPHICS,
        aspect=aspect,
        by=EvidenceKind.READING,
        line=line,
    )


def comparison(*findings: Finding) -> Comparison:
    return Comparison(
        reading_id="r", configuration="c", matches=(Match(line="gpu", places=(PLACE,)),), findings=findings
    )


def taught(
    *findings: Finding, model: str = "HX680 Gaming Adapter", sold: OrderLine = SOLD
) -> list[tuple[str, str]]:
    whole = order(sold)
    used = resolved(whole, LIST).used
    assert used.lines[0].part is not None
    told = taught_by(whole, used, comparison(*findings), reading(model), (), LIST)
    return [(one.said, one.part.part_id) for one in told]


SAME = finding(Aspect.MODEL, Outcome.CONFORMS)


def test_an_accepted_line_teaches_its_words_and_those_of_its_device() -> None:
    assert taught(SAME) == [("Our quiet Heron card", "heron-680"), ("HX680 Gaming Adapter", "heron-680")]
    assert len(taught(finding(Aspect.PART_NUMBER, Outcome.CONFORMS))) == 2


@pytest.mark.parametrize(
    "findings",
    [
        (),
        (finding(Aspect.MODEL, Outcome.CANNOT_TELL),),
        (finding(Aspect.PRESENCE, Outcome.CONFORMS),),
        (SAME, finding(Aspect.CAPACITY, Outcome.DIFFERS)),
        (finding(Aspect.MODEL, Outcome.CONFORMS, line="another"),),
    ],
)
def test_a_line_that_was_not_accepted_teaches_nothing(findings: tuple[Finding, ...]) -> None:
    assert taught(*findings) == []


def test_a_difference_on_another_line_takes_nothing_away() -> None:
    assert len(taught(SAME, finding(Aspect.MODEL, Outcome.DIFFERS, line="another"))) == 2


def test_what_the_list_finds_already_is_not_taught() -> None:
    sold = msgspec.structs.replace(SOLD, text=samples.EIGHT.name)
    assert taught(SAME, model=samples.EIGHT.name, sold=sold) == []
    assert taught(SAME, model="", sold=sold) == []


def record(folder: Path, list_path: Path) -> Path:
    list_path.write_bytes(samples.jsonl())
    whole = order()
    files = {
        "order/order.json": whole,
        "order/catalogue-used.json": resolved(whole, LIST).used,
        "comparison.json": comparison(SAME),
        "reading/reading.json": reading("Sandpiper Breeze Heron HX 680 16GB White"),
    }
    for name, content in files.items():
        (folder / "data" / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / "data" / name).write_bytes(encode(content))
    return folder


def test_a_record_teaches_what_can_be_taken_and_says_what_cannot(tmp_path: Path) -> None:
    """The device called itself by the name of a sibling in the list: that is never learnt for this part."""
    path = tmp_path / "catalogue.jsonl"
    attempt = record(tmp_path / "attempt", path)
    told = learn_from(path, attempt, by="Odile Marsh", clock=CLOCK)
    assert [one.alias.said for one in told.changed] == ["Our quiet Heron card"]
    (refused,) = told.refused
    assert "name another part, 'heron-680-white'" in refused
    (alias,) = aliases_beside(path)
    assert (alias.part_id, alias.why, alias.holds) == ("heron-680", "line gpu of order KD-9", False)
    again = learn_from(path, attempt, by="Odile Marsh", clock=CLOCK)
    assert again.changed == () and "taught these words already" in again.refused[0]
    assert len(again.refused) == 2


def test_the_list_is_opened_once_for_all_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "catalogue.jsonl"
    attempt = record(tmp_path / "attempt", path)
    opened: list[Path] = []

    def counting(one: Path) -> Catalogue:
        opened.append(one)
        return open_catalogue(one)

    monkeypatch.setattr("shipworthy.jobs.catalogue.open_catalogue", counting)
    told = learn_from(path, attempt, by="Odile Marsh", clock=CLOCK)
    assert len(told.changed) + len(told.refused) == 2
    assert opened == [path]


def test_a_record_without_a_list_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.jsonl"
    attempt = record(tmp_path / "attempt", path)
    (attempt / "data/order/catalogue-used.json").unlink()
    with pytest.raises(Trouble) as caught:
        learn_from(path, attempt, by="O", clock=CLOCK)
    assert "used no part list" in caught.value.what


def test_everything_that_is_kept_fits_its_schema() -> None:
    from jsonschema import Draft202012Validator

    schemas = Path(__file__).resolve().parent.parent.parent / "schemas"

    def check(name: str, value: msgspec.Struct) -> None:
        Draft202012Validator(json.loads((schemas / f"{name}.schema.json").read_text())).validate(
            json.loads(encode(value))
        )

    for part in samples.PARTS:
        check("catalogue-part", part)
    check("catalogue-used", resolved(order(), LIST).used)
    check("order", resolved(order(), LIST).order)
