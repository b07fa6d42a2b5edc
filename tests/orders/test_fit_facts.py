"""Facts of text and part list joined: sources, contradictions, values that cannot be, and spellings."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.model.base import encode
from shipworthy.model.catalogue import (
    FACTS_OF,
    BoardFacts,
    CaseFacts,
    CataloguePart,
    CoolerFacts,
    Facts,
    FanFacts,
    GraphicsFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.fit import BuildLine
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit import check_fit, fit_of
from shipworthy.orders.fit.build import Build
from shipworthy.orders.fit.facts import build_of, plausible
from shipworthy.orders.fit.numbering import chipset, processor
from shipworthy.orders.fit.spelling import (
    form_factor_of,
    lighting_of,
    memory_form_of,
    plug_of,
    socket_of,
    supply_form_of,
)
from shipworthy.orders.fit.tables import takes_board
from shipworthy.words.pictures import output_of
from tests.orders.fitting import GIB, NO, OPEN, build, outcome


def an_order(*lines: tuple[Category, str]) -> Order:
    return Order(
        order_id="F-1",
        shop="Kestrel Desk",
        units=("F-1-1",),
        lines=tuple(
            OrderLine(line_id=str(i), category=category, text=text)
            for i, (category, text) in enumerate(lines, 1)
        ),
    )


def listed(category: Category, facts: Facts) -> CataloguePart:
    return CataloguePart(part_id="KD-7", category=category, name="a part", facts=facts)


def joined(category: Category, text: str, facts: Facts | None = None) -> BuildLine:
    part = listed(category, facts) if facts else None
    (line,) = build_of(an_order((category, text)), lambda _: part).lines
    return line


def told(line: BuildLine) -> dict[str, Any]:
    blank = type(line.facts)()  # type: ignore[misc]
    return {
        n: getattr(line.facts, n)
        for n in blank.__struct_fields__
        if getattr(line.facts, n) != getattr(blank, n)
    }


# From the text alone


@pytest.mark.parametrize(
    ("category", "text", "facts"),
    [
        (
            Category.MEMORY,
            "Fennec 32GB (2x16GB) DDR5-6000 CL30 UDIMM",
            {
                "type": "DDR5",
                "form": "DIMM",
                "modules": 2,
                "module_bytes": 16 * GIB,
                "speed_mt_s": 6000,
                "registered": False,
            },
        ),
        (Category.MEMORY, "Fennec ECC memory", {"ecc": True}),
        (Category.MEMORY, "Fennec non-ECC memory", {"ecc": False}),
        (Category.MEMORY, "Fennec memory without ECC", {"ecc": False}),
        (Category.MEMORY, "Fennec memory, no ECC", {"ecc": False}),
        (Category.MEMORY, "Fennec memory, on-die ECC", {}),  # within the chip, and none of the module
        (Category.MEMORY, "Fennec non-ECC memory, on-die ECC", {"ecc": False}),
        (Category.NETWORK, "Loom WiFi card", {"wireless": True}),
        (Category.NETWORK, "Loom Wireless card PCIe 3.0 x1", {"wireless": True, "interface": "PCIe 3.0 x1"}),
        (Category.NETWORK, "Loom network card", {}),
        (Category.SOUND, "Loom Wireless sound card", {}),  # which is no network
        (Category.BOARD, "Marl board, no WiFi", {"wireless": False}),
        (Category.BOARD, "Marl board without Wi-Fi", {"wireless": False}),
        (
            Category.POWER_SUPPLY,
            "Osprey 850W 80 PLUS Gold SFX",
            {"watts": 850, "grade": "80 PLUS Gold", "form_factor": "SFX"},
        ),
        (Category.POWER_SUPPLY, "Osprey 850W ATX 3.1", {"watts": 850, "atx_version": "3.1"}),
        (Category.CASE, "Brant Mini-ITX case", {"boards": ("Mini-ITX",)}),
        (Category.FAN, "Harrier 120 mm ARGB fan", {"size_mm": 120, "lighting": "5 V", "pack": 1}),
        (Category.FAN, "Harrier fan, RGB 12 V", {"lighting": "12 V", "pack": 1}),
        (Category.FAN, "Harrier RGB fan, 12 V motor", {"pack": 1}),  # the motor's
        (Category.FAN, "Harrier 5V RGB fan", {"lighting": "5 V", "pack": 1}),
        (Category.FAN, "Harrier ARGB fan, or RGB 12 V", {"pack": 1}),  # two things
        (Category.FAN, "Harrier 120 mm fans, 3-pack", {"size_mm": 120, "pack": 3}),
        (Category.FAN, "Harrier 140 mm fans", {"size_mm": 140}),  # how many is not said
        (Category.COOLER, "Harrier 360 mm AIO", {"liquid": True, "radiator_mm": 360}),
        (Category.COOLER, "Harrier tower", {}),
        (Category.COOLER, "Harrier tower, sockets AM4 and LGA1700", {"sockets": ("AM4", "LGA 1700")}),
        (Category.COOLER, "Harrier tower, Sockel AM5", {"sockets": ("AM5",)}),
        (Category.GRAPHICS, "Corrie 12 with 16 GB", {"memory_bytes": 16 * GIB}),
        (Category.GRAPHICS, "Corrie 12, 240 mm long", {"length_mm": 240}),
        (Category.GRAPHICS, "Corrie 12, 240 mm lang", {"length_mm": 240}),
        (Category.GRAPHICS, "Corrie 12 with a 240 mm radiator", {}),  # which is no length of the card
        (Category.GRAPHICS, "Corrie 12, 240 mm long, with support 260 mm long", {}),  # two things
        (
            Category.BOARD,
            "Marl B650M WiFi 6E Micro ATX",
            {"chipset": "B650", "socket": "AM5", "form_factor": "Micro ATX", "wireless": True},
        ),
        (Category.BOARD, "Marl board, LGA1700, DDR4", {"socket": "LGA 1700", "memory_type": "DDR4"}),
        (
            Category.PROCESSOR,
            "Core i5-12400F",
            {"family": "Alder Lake", "socket": "LGA1700", "graphics": False},
        ),
        (Category.PROCESSOR, "Ryzen 7 9700X", {"family": "Zen 5", "socket": "AM5"}),
        (Category.PROCESSOR, "Ryzen 7 9700X or Ryzen 7 7700X", {}),  # two things
        (Category.PROCESSOR, "Core i7-6850K", {}),  # a number of another platform's
        (Category.PROCESSOR, "Tarn C7, boxed, no cooler", {"cooler_included": False}),
        (Category.PROCESSOR, "Tarn C7 boxed ohne Kühler", {"cooler_included": False}),
        (Category.PROCESSOR, "Tarn C7 (tray)", {"cooler_included": False}),
        (Category.PROCESSOR, "Tarn C7 incl. boxed cooler", {"cooler_included": True}),
        (Category.PROCESSOR, "Tarn C7 avec ventirad", {"cooler_included": True}),
        (Category.PROCESSOR, "Tarn C7, boxed", {}),  # makers sell boxes of both kinds
        (Category.PROCESSOR, "Tarn C7, not with cooler", {}),
        (Category.PROCESSOR, "Tarn C7, no cooler, with fan", {}),  # two things
        (Category.SERVICE, "fitted and tested", None),
    ],
)
def test_what_a_text_states(category: Category, text: str, facts: dict[str, Any] | None) -> None:
    line = joined(category, text)
    assert (told(line) if line.facts is not None else None) == facts
    assert {source.name for source in line.sources} == set(facts or {})
    assert all(source.source for source in line.sources)


def test_an_order_without_a_cooler_is_told_where_the_text_says_that_none_comes() -> None:
    def codes(text: str) -> set[str]:
        made = build_of(an_order((Category.PROCESSOR, text)), lambda _: None)
        return {f.code for f in fit_of(made).findings}

    assert "fit.cooler.presence.none" in codes("Tarn C7, no cooler")
    assert "fit.cooler.presence.none" not in codes("Tarn C7, boxed")


@pytest.mark.parametrize("text", ["Marl XB650Z", "Marl 650", "AB650", "B650 or X670 board"])
def test_a_chipset_is_a_word_of_its_own_and_only_one(text: str) -> None:
    assert chipset(text) is None


@pytest.mark.parametrize("text", ["i5-124000", "Ryzen 7 7840HS", "i7-1165G7", "Core i7-12700H", "12400"])
def test_a_number_of_another_series_tells_nothing(text: str) -> None:
    assert processor(text) is None


# Joined with a part list


def test_each_fact_says_where_it_is_from() -> None:
    line = joined(Category.POWER_SUPPLY, "Osprey 850W", SupplyFacts(watts=850, length_mm=150))
    assert told(line) == {"watts": 850, "length_mm": 150}
    line = joined(Category.POWER_SUPPLY, "Osprey 850W", SupplyFacts(length_mm=150))
    by_name = {source.name: source.source for source in line.sources}
    assert by_name == {"watts": 'text: "850W"', "length_mm": "catalogue: KD-7"}


@pytest.mark.parametrize(
    ("category", "text", "facts", "doubted"),
    [
        (Category.POWER_SUPPLY, "Osprey 850W", SupplyFacts(watts=750), "watts"),
        (Category.MEMORY, "Fennec 32GB (2x16GB)", MemoryFacts(modules=1, module_bytes=32 * GIB), "modules"),
        (Category.MEMORY, "Fennec DDR4", MemoryFacts(type="DDR5"), "type"),
        (Category.MEMORY, "Fennec DDR3L", MemoryFacts(type="DDR3"), "type"),  # what is listed may want 1.5 V
        (Category.MEMORY, "Fennec DDR3 1.5V", MemoryFacts(type="DDR3", volts=1.35), "volts"),
        (Category.MEMORY, "Fennec RDIMM", MemoryFacts(registered=False), "registered"),
        (Category.BOARD, "Marl AM5 board", BoardFacts(socket="AM4"), "socket"),
        (Category.BOARD, "Marl ATX board", BoardFacts(form_factor="mATX"), "form_factor"),
        (Category.CASE, "Brant E-ATX case", CaseFacts(boards=("ATX", "Mini-ITX")), "boards"),
        (Category.STORAGE, "Sable 2TB", StorageFacts(capacity_bytes=10**12), "capacity_bytes"),
        (Category.PROCESSOR, "Core i5-12400F", ProcessorFacts(graphics=True), "graphics"),
        (Category.COOLER, "Harrier tower, socket AM5", CoolerFacts(sockets=("AM4", "LGA1700")), "sockets"),
    ],
)
def test_a_contradiction_is_a_question_and_neither_side_is_believed(
    category: Category, text: str, facts: Facts, doubted: str
) -> None:
    line = joined(category, text, facts)
    assert doubted in {doubt.name for doubt in line.doubts}
    assert doubted not in told(line)
    assert doubted not in {source.name for source in line.sources}
    fit = check_fit(an_order((category, text)), lambda _: listed(category, facts))
    assert "fit.question.contradiction" in {question.code for question in fit.questions}


@pytest.mark.parametrize(
    ("category", "text", "facts"),
    [
        (Category.BOARD, "Marl LGA1700 board", BoardFacts(socket="LGA 1700")),
        (Category.COOLER, "Harrier tower, LGA1700", CoolerFacts(sockets=("AM5", "LGA1700"))),
        (Category.BOARD, "Marl B650E board", BoardFacts(chipset="AMD B650")),
        (Category.BOARD, "Marl micro-ATX board", BoardFacts(form_factor="mATX")),
        (Category.CASE, "Brant ATX case", CaseFacts(boards=("ATX", "Micro ATX"))),
        (
            Category.STORAGE,
            'Sable 1TB 2.5" hybrid',
            StorageFacts(capacity_bytes=1024 * 10**9, technology="hybrid"),
        ),
        (Category.POWER_SUPPLY, "Osprey 80+ Gold", SupplyFacts(grade="Gold")),
        (Category.PROCESSOR, "Core i5-13400", ProcessorFacts(family="Raptor Cove / Gracemont")),
        (Category.MEMORY, "Fennec 8GB DDR3-1600", MemoryFacts(type="DDR3L")),
    ],
)
def test_another_spelling_is_no_contradiction(category: Category, text: str, facts: Facts) -> None:
    assert joined(category, text, facts).doubts == ()


def test_facts_of_another_kind_than_the_lines_are_not_used() -> None:
    line = joined(Category.CASE, "Brant", listed(Category.FAN, FanFacts(pack=3)).facts)
    assert told(line) == {}


# What cannot be

HOSTILE = [0, -1, -0.5, 5001, 1e9, float("nan"), float("inf"), -float("inf")]


@pytest.mark.parametrize("length", HOSTILE)
def test_a_length_that_cannot_be_is_asked_and_settles_nothing(length: float) -> None:
    facts, doubts = plausible(GraphicsFacts(length_mm=length))
    assert isinstance(facts, GraphicsFacts) and facts.length_mm is None
    assert [doubt.code for doubt in doubts] == ["fit.question.implausible"]


@pytest.mark.parametrize("size", [0, -1, float("nan"), float("inf")])
def test_a_size_that_cannot_be_is_asked(size: float) -> None:
    facts, doubts = plausible(MemoryFacts(module_bytes=size))  # type: ignore[arg-type]
    assert facts == MemoryFacts()
    assert len(doubts) == 1


@pytest.mark.parametrize("length", [1501, 5000])
def test_five_metres_are_no_room_for_a_card(length: float) -> None:
    line = joined(Category.CASE, "Brant", CaseFacts(graphics_length_mm=length))
    assert told(line) == {}
    assert [doubt.name for doubt in line.doubts] == ["graphics_length_mm"]


@pytest.mark.parametrize("watts", [*HOSTILE, 1e9])
def test_a_supply_that_cannot_be_is_asked(watts: float) -> None:
    facts, doubts = plausible(SupplyFacts(watts=watts))
    assert isinstance(facts, SupplyFacts) and facts.watts is None
    assert len(doubts) == 1


def test_a_text_of_a_supply_that_cannot_be_is_a_question_and_no_pass() -> None:
    fit = check_fit(an_order((Category.POWER_SUPPLY, "Osprey 9999W supply"), (Category.PROCESSOR, "Tarn C7")))
    assert {q.code for q in fit.questions} == {"fit.question.implausible"}
    assert {f.outcome for f in fit.findings if f.rule == "power.sustained"} == {Outcome.CANNOT_TELL}


def test_zero_is_a_count_and_no_length() -> None:
    facts, doubts = plausible(BoardFacts(sata_ports=0, usb_c_headers=0))
    assert facts == BoardFacts(sata_ports=0, usb_c_headers=0)
    assert doubts == ()


numbers = st.none() | st.integers(-10, 10**7) | st.floats(allow_nan=True, allow_infinity=True)
words = st.sampled_from(
    [
        "",
        "ATX",
        "E-ATX",
        "SSI EEB",
        "AM5",
        "LGA 1700",
        "1700",
        "DDR5",
        "nonsense",
        "M.2-2280",
        "PCIe 4.0 x4",
        "SATA",
        "8-pin",
        "5 V",
    ]
)


@st.composite
def any_facts(draw: st.DrawFn, kind: type) -> Any:
    """Facts of a kind with anything of the right sort in them, out of all bounds."""
    found = {}
    for name in kind.__struct_fields__:  # type: ignore[attr-defined]
        default = getattr(kind(), name)
        if isinstance(default, str):
            found[name] = draw(words)
        elif isinstance(default, tuple):
            found[name] = (
                () if "plugs" in name or "rail" in name else tuple(draw(st.lists(words, max_size=3)))
            )
        elif name not in ("m2", "slots", "radiators", "plugs", "outputs", "inputs"):
            found[name] = draw(numbers | st.booleans())
    found = {k: v for k, v in found.items() if k not in ("memory_stated_mt_s", "firmware_least")}
    return plausible(kind(**found))[0]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_law_no_build_of_any_facts_ends_in_an_error_and_its_result_can_be_stored(data: st.DataObject) -> None:
    lines = tuple(
        BuildLine(
            line=category.value,
            category=category,
            quantity=data.draw(st.sampled_from([1, 2, 1000])),
            text=category.value,
            facts=data.draw(any_facts(FACTS_OF[category])),
        )
        for category in data.draw(st.sets(st.sampled_from(list(FACTS_OF))))
    )
    fit = fit_of(Build(lines))
    assert encode(fit)
    for finding in fit.findings:
        assert not finding.missing or finding.outcome is Outcome.CANNOT_TELL
        assert finding.facts or finding.outcome is not Outcome.DIFFERS or finding.values


# Words and spellings


@pytest.mark.parametrize("text", ["LGA1700", "LGA 1700", "1700", "FCLGA1700", "Socket LGA-1700"])
def test_one_socket_in_many_spellings(text: str) -> None:
    assert socket_of(text) == "LGA1700"


@pytest.mark.parametrize("text", ["LGA 17000", "AM", "AM55", "LGA", "", "AM3+/AM3", "BGA1296", "LGA 1700-2"])
def test_what_is_no_socket_is_none(text: str) -> None:
    assert socket_of(text) is None


def test_sockets_that_look_alike_are_two() -> None:
    assert (
        len({socket_of(s) for s in ("LGA 2011", "LGA 2011-3", "AM3", "AM3+", "FM2", "FM2+", "sTR4", "sTRX4")})
        == 8
    )


def test_form_factors_in_many_spellings() -> None:
    assert {form_factor_of(w) for w in ("EATX", "E-ATX", "Extended ATX")} == {"E-ATX"}
    assert {form_factor_of(w) for w in ("mATX", "µATX", "uATX", "Micro ATX", "micro-atx")} == {"Micro-ATX"}
    assert form_factor_of("SSI EEB") == "SSI EEB" != form_factor_of("EATX")
    assert form_factor_of("Own size") is None
    assert supply_form_of("ATX/EPS") == "ATX" and supply_form_of("SFX-L") == "SFX-L"


@pytest.mark.parametrize(
    ("listed_forms", "board", "want"),
    [
        (("Mini-ITX",), "Mini-ITX", True),
        (("Mini-ITX",), "Micro-ATX", False),
        (("Mini-ITX",), "ATX", False),
        (("Mini-ITX",), "Mini-DTX", False),  # 203 mm by 170
        (("ATX",), "Mini-ITX", True),
        (("ATX",), "E-ATX", False),
        (("E-ATX",), "SSI EEB", None),  # one size, other holes
        (("SSI EEB",), "E-ATX", None),
        (("ATX",), "Thin Mini-ITX", None),
    ],
)
def test_which_boards_a_case_takes(listed_forms: tuple[str, ...], board: str, want: bool | None) -> None:
    found = takes_board(listed_forms, board)
    assert (found.answer if found else None) is want


def test_plugs_outputs_lighting_and_modules_in_many_spellings() -> None:
    assert [plug_of(w) for w in ("8-pin", "6+2 pin", "6-pin", "12VHPWR", "12V-2x6", "Molex")] == [
        "8",
        "8",
        "6",
        "16",
        "16",
        None,
    ]
    assert [output_of(w) for w in ("HDMI 2.1", "DP 1.4a", "mini DisplayPort", "DVI-D", "USB-C", "SDI")] == [
        "HDMI",
        *("DisplayPort", "DisplayPort", "DVI", "USB-C"),
        None,
    ]
    assert [lighting_of(w) for w in ("ARGB", "5 V", "12V", "RGB", "none")] == [
        "5 V",
        "5 V",
        "12 V",
        None,
        "none",
    ]
    assert [memory_form_of(w) for w in ("288-pin DIMM", "262-pin SO-DIMM", "UDIMM", "CAMM2")] == [
        "DIMM",
        "SO-DIMM",
        "DIMM",
        None,
    ]


def test_a_doubted_suffix_is_not_believed_by_the_rule_of_the_picture() -> None:
    """The name says no graphics, the list says graphics: neither is known, and no rule tells otherwise."""
    order = an_order((Category.PROCESSOR, "Core i5-12400F"), (Category.BOARD, "Marl board"))
    parts = {"1": listed(Category.PROCESSOR, ProcessorFacts(graphics=True)), "2": None}
    doubted = check_fit(order, lambda line: parts[line.line_id])
    assert {f.outcome for f in doubted.findings if f.rule == "displays.picture"} == {Outcome.CANNOT_TELL}
    alone = check_fit(order)
    assert {f.outcome for f in alone.findings if f.rule == "displays.picture"} == {Outcome.DIFFERS}


@pytest.mark.parametrize(
    ("field", "row", "good"),
    [
        *(
            ("memory_stated_mt_s", row, False)
            for row in ("4 modules=3600", "4=fast", "4", "=", "4=" + 9 * "9")
        ),
        *(("firmware_least", row, False) for row in ("F3", "=F3", "Zen 4=")),
        ("memory_stated_mt_s", "4=3600", True),
        ("firmware_least", "Zen 4=F3", True),
    ],
)
def test_a_list_of_pairs_is_read_at_the_edge_or_refused_there(field: str, row: str, good: bool) -> None:
    tree = {"kind": "board", field: [row]}
    if good:
        assert getattr(msgspec.convert(tree, BoardFacts), field) == (row,)
    else:
        with pytest.raises(msgspec.ValidationError):
            msgspec.convert(tree, BoardFacts)


def test_a_thousand_fans_do_not_fit() -> None:
    of = build({"fans.quantity": 1000})
    assert outcome("fans.places", of) is NO
    assert outcome("fans.current", of) is NO
    assert outcome("fans.headers", of) is NO


def test_a_form_factor_that_nobody_knows_is_no_pass() -> None:
    assert outcome("board.form-factor", build({"board.form_factor": "XQTX"})) is OPEN


def test_two_processors_on_a_board_of_one_socket_are_told_from_the_texts_alone() -> None:
    order = an_order((Category.PROCESSOR, "Ryzen 7 7700X"), (Category.BOARD, "Marl B650 board"))
    two = msgspec.structs.replace(order.lines[0], quantity=2)
    fit = check_fit(msgspec.structs.replace(order, lines=(two, order.lines[1])))
    assert "fit.processor.count.single" in {finding.code for finding in fit.findings}
    assert not fit.fits
    assert check_fit(order).fits


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("Fennec 8GB DDR3-1600 1.35V", 1.35),
        ("Fennec 8GB DDR3-1600, 1,5 V", 1.5),
        ("Fennec 8GB DDR3L-1600 1.35V / 1.5V", None),  # it runs at both
        ("Fennec Glow 16GB DDR5-6000, 5V ARGB", None),
        ("Fennec 8GB DDR3-1600", None),
    ],
)
def test_the_volts_of_memory_are_those_that_memory_has(text: str, volts: float | None) -> None:
    (line,) = build_of(an_order((Category.MEMORY, text))).lines
    assert isinstance(line.facts, MemoryFacts) and line.facts.volts == volts


def test_low_voltage_memory_goes_beside_ddr3_and_plain_ddr3_not_where_only_low_voltage_goes() -> None:
    def fits(memory: str, board: str) -> Outcome:
        order = an_order((Category.MEMORY, memory), (Category.BOARD, board))
        return outcome("memory.type", build_of(order))

    assert fits("Fennec 8GB DDR3L-1600", "Holloway B85 DDR3") is Outcome.CONFORMS
    assert fits("Fennec 8GB DDR3-1600 1.35V", "Holloway H110 DDR3L") is Outcome.CONFORMS
    assert fits("Fennec 8GB DDR3-1600 1.5V", "Holloway H110 DDR3L") is Outcome.DIFFERS
    assert fits("Fennec 8GB DDR3-1600", "Holloway H110 DDR3L") is Outcome.CANNOT_TELL
    assert fits("Fennec 8GB DDR4-2400 1.35V", "Holloway H110 DDR3L") is Outcome.DIFFERS
