"""The link of a card or a drive under load: as it should be, narrow, slow, not loaded, not told."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.messages import finding_sentence
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.runlog import Column, Columns, LogLine, Report, Row
from shipworthy.model.words import Aspect, Category, Outcome, PartKind, Unit
from tests.analysis import logs

CARD, DRIVE = "pci:0000:03:00.0", "pci:0000:04:00.0"
NAMESPACE = f"{DRIVE}/nvme-ns-1"
RATE = 4.0
State = tuple[float | None, float | None]


def column(quantity: str, place: str, high: float | None, channel: str = "link") -> Column:
    units = {"link speed": Unit.GIGATRANSFERS, "link width": Unit.COUNT, "utilisation": Unit.RATIO}
    return Column(
        quantity=quantity,
        place=place,
        channel=channel,
        label=quantity,
        unit=units[quantity],
        source="x",
        high=high,
    )


def way(
    place: str, speed: float | None = 16.0, width: float | None = 16.0, channel: str = "link"
) -> tuple[Column, ...]:
    return column("link speed", place, speed, channel), column("link width", place, width, channel)


def order(*wishes: str, category: Category = Category.GRAPHICS) -> Order:
    expectations = tuple(Expectation(aspect=Aspect.LINK, want=want) for want in wishes)
    lines = (
        OrderLine(line_id="1", category=category, text="Sable 210", expectations=expectations),
        OrderLine(line_id="2", category=Category.STORAGE, text="Quarrel M2 1TB"),
    )
    return Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=lines)


def found(
    columns: Sequence[Column],
    rows: Sequence[tuple[float | None, ...]],
    *reports: Report,
    of: Order | None = None,
    matches: tuple[Match, ...] = (Match(line="1", places=(CARD,)), Match(line="2", places=(NAMESPACE,))),
    parts: tuple[Part, ...] = (),
    rate: float = RATE,
) -> list[Finding]:
    lines: list[LogLine] = [logs.start(), Columns(columns=tuple(columns))]
    lines += [Row(t_s=n / rate, v=row) for n, row in enumerate(rows)]
    lines += reports
    reading = msgspec.structs.replace(logs.reading(), parts=parts)
    segment = Segment(file="burn-in/log-001.jsonl", lines=tuple(lines))
    findings = analyse(logs.PLAN, [segment], of or order(), matches, reading, ()).findings
    return [finding for finding in findings if finding.aspect is Aspect.LINK]


def reports(target: str = NAMESPACE, first: int = 1, last: int = 20) -> list[Report]:
    return [
        Report(
            t_s=float(second),
            step="storage",
            load="storage",
            target=target,
            work=1e9,
            unit_of_work="bytes read and compared",
            seconds=0.8,
            checks=10,
            wrong=0,
        )
        for second in range(first, last + 1)
    ]


def drive(states: Sequence[State], **kept: object) -> Finding:
    (finding,) = found(way(DRIVE, 16.0, 4.0), states, *reports(), **kept)  # type: ignore[arg-type]
    assert "{" not in finding_sentence(finding).say
    return finding


def test_a_link_that_runs_at_what_both_ends_can_do_conforms() -> None:
    finding = drive([(16.0, 4.0)] * 84)
    assert (finding.code, finding.outcome) == ("link.under-load", Outcome.CONFORMS)
    assert (finding.line, finding.category, finding.part) == ("2", Category.STORAGE, DRIVE)
    assert "16 GT/s on 4 lanes" in finding_sentence(finding).say


@pytest.mark.parametrize("worked", [(8.0, 4.0), (16.0, 2.0), (2.5, 1.0)])
def test_one_that_is_slow_or_narrow_while_its_drive_works_differs(worked: State) -> None:
    finding = drive([(16.0, 4.0)] * 4 + [worked] * 80)
    assert (finding.code, finding.outcome) == ("link.narrow-under-load", Outcome.DIFFERS)


def test_one_that_gives_way_for_a_tenth_of_the_time_differs_and_one_garbled_sample_does_not() -> None:
    assert drive([(16.0, 4.0)] * 76 + [(16.0, 2.0)] * 8).outcome is Outcome.DIFFERS
    assert drive([(16.0, 4.0)] * 70 + [(5.0, 4.0)] * 14).outcome is Outcome.DIFFERS
    for garbled in ((None, None), (16.0, 2.0), (2.5, 4.0)):
        assert drive([(16.0, 4.0)] * 40 + [garbled] + [(16.0, 4.0)] * 43).outcome is Outcome.CONFORMS


def test_what_a_link_does_at_rest_says_nothing() -> None:
    """Before and after its load, a part that saves power may be as slow as it likes."""
    rest, work = [(2.5, 4.0)] * 400, [(16.0, 4.0)] * 80
    (finding,) = found(way(DRIVE, 16.0, 4.0), [*rest, *work, *rest], *reports(first=101, last=120))
    assert finding.outcome is Outcome.CONFORMS
    (still,) = found(way(DRIVE, 16.0, 4.0), rest, *reports(target="cpu:0"))
    assert (still.code, still.outcome) == ("link.not-loaded", Outcome.NOT_CHECKED)


def test_a_load_too_short_to_tell_is_not_checked() -> None:
    (finding,) = found(way(DRIVE, 16.0, 4.0), [(2.5, 4.0)] * 84, *reports(first=5, last=7))
    assert finding.outcome is Outcome.NOT_CHECKED
    assert "not checked under load" in finding_sentence(finding).say


def test_no_load_on_the_card_is_not_checked_under_load_and_nothing_is_held_for_it() -> None:
    (finding,) = found(way(CARD), [(2.5, 16.0)] * 84, *reports())
    assert (finding.code, finding.line, finding.outcome) == ("link.not-loaded", "1", Outcome.NOT_CHECKED)


BUSY = (*way(CARD), column("utilisation", CARD, None, "utilisation"))


def test_a_card_that_says_that_it_is_busy_is_under_load() -> None:
    busy, idle = [(16.0, 16.0, 1.0)] * 60, [(2.5, 16.0, 0.02)] * 60
    (whole,) = found(BUSY, [*idle, *busy, *idle])
    assert (whole.code, whole.outcome) == ("link.under-load", Outcome.CONFORMS)
    (narrow,) = found(BUSY, [*idle, *[(16.0, 8.0, 1.0)] * 60, *idle])
    assert (narrow.code, narrow.outcome) == ("link.narrow-under-load", Outcome.DIFFERS)
    (slow,) = found(BUSY, [*idle, *[(8.0, 16.0, 1.0)] * 60, *idle])
    assert slow.outcome is Outcome.DIFFERS
    (hardly,) = found(BUSY, [(2.5, 16.0, 0.6)] * 100)
    assert hardly.outcome is Outcome.NOT_CHECKED


def test_by_its_own_word_alone_a_card_may_be_slow_for_a_while_but_never_narrow() -> None:
    """Busy with little, it saves power; what it reached shows what the link can do."""
    reached, saving = [(16.0, 16.0, 1.0)] * 30, [(2.5, 16.0, 1.0)] * 100
    (follows,) = found(BUSY, [*reached, *saving])
    assert (follows.code, follows.outcome) == ("link.follows-its-part", Outcome.CONFORMS)
    (narrow,) = found(BUSY, [*reached, *[(2.5, 8.0, 1.0)] * 100])
    assert narrow.outcome is Outcome.DIFFERS
    (never,) = found(BUSY, saving)
    assert never.outcome is Outcome.DIFFERS
    (kept,) = found(way(CARD), [(2.5, 16.0)] * 100, *reports(target=CARD))
    assert kept.outcome is Outcome.DIFFERS  # a load that works on it keeps it at work


def test_the_narrowest_link_of_the_whole_way_counts() -> None:
    """A card's own switch runs inside at its full width, however the card sits in its slot."""
    both = (*way(CARD, 32.0), *way(CARD, 16.0, channel="link@0000:01:00.0"))
    load = reports(target=CARD)
    (sound,) = found(both, [(32.0, 16.0, 16.0, 16.0)] * 84, *load)
    assert sound.outcome is Outcome.CONFORMS
    (narrow,) = found(both, [(32.0, 16.0, 16.0, 8.0)] * 84, *load)
    assert narrow.outcome is Outcome.DIFFERS
    assert "most often at 16 GT/s on 8 lanes" in finding_sentence(narrow).say
    assert "should run at 16 GT/s on 16 lanes" in finding_sentence(narrow).say


def test_each_link_is_held_to_its_own_most() -> None:
    """Some cards tell of the link within them 2.5 GT/s on one lane, whatever their slot does."""
    odd = (*way(CARD, 16.0, channel="link@0000:01:00.0"), *way(CARD, 2.5, 1.0))
    load = reports(target=CARD)
    for of in (order(), order("PCIe 4.0 x16")):
        (sound,) = found(odd, [(16.0, 16.0, 2.5, 1.0)] * 84, *load, of=of)
        assert (sound.code, sound.outcome) == ("link.under-load", Outcome.CONFORMS)
        (narrow,) = found(odd, [(16.0, 8.0, 2.5, 1.0)] * 84, *load, of=of)
        assert narrow.outcome is Outcome.DIFFERS
        assert "pci:0000:01:00.0" in finding_sentence(narrow).say
    (below,) = found(odd, [(16.0, 16.0, 2.5, 1.0)] * 84, *load, of=order("PCIe 5.0 x16"))
    assert below.outcome is Outcome.DIFFERS


def test_what_is_wrong_is_told_of_the_link_that_is_wrong() -> None:
    """Not of one beside it of which nobody says what it can do, nor of one that follows its card's state."""
    slot = way(CARD, 16.0, channel="link@0000:01:00.0")
    (untold,) = found((*way(CARD, None, None), *slot), [(8.0, 16.0, 16.0, 8.0)] * 84, *reports(target=CARD))
    said = finding_sentence(untold).say
    assert untold.outcome is Outcome.DIFFERS
    assert "most often at 16 GT/s on 8 lanes" in said and "should run at 16 GT/s on 16 lanes" in said
    whole, saving = (16.0, 16.0, 16.0, 16.0, 1.0), (16.0, 16.0, 2.5, 16.0, 1.0)
    narrow = (16.0, 8.0, 2.5, 16.0, 1.0)
    (lanes,) = found((*slot, *BUSY), [whole] * 30 + [saving] * 80 + [narrow] * 20)
    assert lanes.outcome is Outcome.DIFFERS
    assert "(pci:0000:01:00.0)" in finding_sentence(lanes).say


def test_a_link_that_was_seen_but_once_is_not_whole_when_it_was_narrow_then() -> None:
    def once(lanes: float) -> Outcome:
        rows = [(16.0, 4.0), (16.0, lanes), (16.0, 4.0)]
        (finding,) = found(way(DRIVE, 16.0, 4.0), rows, *reports(last=15), rate=0.1)
        return finding.outcome

    assert (once(4.0), once(2.0)) == (Outcome.CONFORMS, Outcome.DIFFERS)


def test_a_drive_is_held_to_what_was_sold_on_every_link_of_its_way() -> None:
    """Behind a chipset that hangs on four lanes of the third generation, none gets more."""
    wish = Expectation(aspect=Aspect.LINK, want="PCIe 4.0 x4")
    line = OrderLine(line_id="2", category=Category.STORAGE, text="Quarrel M2 1TB", expectations=(wish,))
    of = Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=(line,))
    ways = (*way(DRIVE, 8.0, 4.0, "link@0000:02:00.0"), *way(DRIVE, 16.0, 4.0))
    (finding,) = found(ways, [(8.0, 4.0, 16.0, 4.0)] * 84, *reports(), of=of)
    assert finding.outcome is Outcome.DIFFERS
    (sound,) = found(ways, [(8.0, 4.0, 16.0, 4.0)] * 84, *reports())
    assert sound.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("sold", "state", "outcome"),
    [
        ("PCIe 4.0 x16", (16.0, 16.0), Outcome.CONFORMS),
        ("PCIe 3.0 x8", (8.0, 8.0), Outcome.CONFORMS),  # all that was sold
        ("PCIe 3.0", (8.0, 8.0), Outcome.DIFFERS),  # of lanes nothing was said: all that there are
        ("PCIe 4.0 x16", (8.0, 16.0), Outcome.DIFFERS),
        ("PCIe 5.0 x16", (16.0, 16.0), Outcome.DIFFERS),
        ("a fast one", (16.0, 16.0), Outcome.CONFORMS),
        ("a fast one", (8.0, 16.0), Outcome.DIFFERS),
    ],
)
def test_a_link_that_the_order_names_is_what_it_is_held_to(
    sold: str, state: tuple[float, float], outcome: Outcome
) -> None:
    (finding,) = found(way(CARD), [state] * 84, *reports(target=CARD), of=order(sold))
    assert finding.outcome is outcome


def test_what_the_link_can_do_is_the_readings_where_the_columns_do_not_tell() -> None:
    columns, load = way(CARD, None, None), reports(target=CARD)
    (open_,) = found(columns, [(16.0, 16.0)] * 84, *load)
    assert (open_.code, open_.outcome) == ("link.most-untold", Outcome.CANNOT_TELL)
    facts = (
        Fact(name="path_speed_max_gt_s", source="pci", value=16.0),
        Fact(name="path_width_max", source="pci", value=16),
    )
    part = Part(kind=PartKind.GRAPHICS, place=CARD, facts=facts)
    (told,) = found(columns, [(16.0, 8.0)] * 84, *load, parts=(part,))
    assert told.outcome is Outcome.DIFFERS


def test_a_part_that_nobody_ordered_is_named_only_when_it_is_narrow() -> None:
    load = reports(target=CARD)
    assert found(way(CARD), [(16.0, 16.0)] * 84, *load, matches=()) == []
    assert found(way(CARD), [(2.5, 16.0)] * 84, matches=()) == []
    (narrow,) = found(way(CARD), [(16.0, 4.0)] * 84, *load, matches=())
    assert (narrow.line, narrow.category) == ("", Category.UNIT)


def test_a_part_is_known_by_its_other_places_too() -> None:
    part = Part(kind=PartKind.STORAGE, place="slot:M2_1", also_at=(NAMESPACE,), facts=())
    matches = (Match(line="2", places=("slot:M2_1",)),)
    (finding,) = found(
        way(DRIVE, 16.0, 4.0),
        [(16.0, 2.0)] * 84,
        *reports(target="slot:M2_1"),
        matches=matches,
        parts=(part,),
    )
    assert (finding.line, finding.outcome) == ("2", Outcome.DIFFERS)


def test_a_log_without_links_says_nothing_of_them() -> None:
    assert found((logs.PROCESSOR,), [(50.0,)] * 84, *reports()) == []
