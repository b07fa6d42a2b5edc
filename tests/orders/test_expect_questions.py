"""Questions to the shop: what is open or torn is asked about, and a plain name is no question."""

from __future__ import annotations

import string

import pytest

from shipworthy.messages import known_codes, sentence
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders.expect import line_questions, questions_of, with_expectations


def asked(category: Category, text: str, **more: object) -> list[str]:
    line = OrderLine(line_id="1", category=category, text=text, **more)
    return [question.code.removeprefix("question.") for question in line_questions(line)]


@pytest.mark.parametrize(
    ("category", "text", "codes"),
    [
        (Category.MEMORY, "32GB DDR5", ["memory.count", "memory.speed"]),
        (Category.MEMORY, "Fennec 2x16GB 6000MHz", ["memory.technology"]),
        (Category.MEMORY, "RAM", ["memory.capacity"]),
        (Category.MEMORY, "32GB (2x16GB) DDR5-6000", []),
        (Category.STORAGE, "1TB SSD", ["storage.interface"]),
        (Category.STORAGE, "Samsung 1TB SSD", ["storage.interface"]),
        (Category.STORAGE, "NVMe SSD", ["storage.capacity"]),
        (Category.STORAGE, "1TB NVMe SSD", []),
        (Category.STORAGE, "4TB HDD", []),
        (Category.STORAGE, "Quarrel Q7 1TB SSD", []),
        (Category.GRAPHICS, "RTX 4070 graphics", ["graphics.maker"]),
        (Category.GRAPHICS, "AMD Radeon RX 7900 XTX 24GB GDDR6", ["graphics.maker"]),
        (Category.GRAPHICS, "Intel Arc A770 16GB", ["graphics.maker"]),
        (Category.GRAPHICS, "Sable RTX 4070 12GB", []),
        (Category.GRAPHICS, "RTX 4070 Founders Edition", []),
        (Category.POWER_SUPPLY, "850W power supply", ["power-supply.efficiency"]),
        (Category.POWER_SUPPLY, "Corsair 850W fully modular, black", ["power-supply.efficiency"]),
        (Category.POWER_SUPPLY, "Power supply", ["power-supply.rated-power", "power-supply.efficiency"]),
        (Category.POWER_SUPPLY, "850W 80+ Gold", []),
        (Category.POWER_SUPPLY, "Calder Still 550 W power supply", []),
        (Category.PROCESSOR, "Intel Core i7", ["processor.model"]),
        (Category.PROCESSOR, "Ryzen 7 processor", ["processor.model"]),
        (Category.PROCESSOR, "Ryzen 7 7700", []),
        (Category.PROCESSOR, "Tarn C7 processor", []),
        (Category.BOARD, "B650 board, Micro ATX", ["board.model"]),
        (Category.BOARD, "Holloway B6-Q", []),
        (Category.BOARD, "MSI B650M", []),
        (Category.DISPLAY, '27" 1440p 165Hz gaming monitor', ["display.model"]),
        (Category.DISPLAY, "Lindwall L27Q 27 inch display", []),
        (Category.COOLER, "AIO, black", ["cooler.size"]),
        (Category.COOLER, "240mm AIO", []),
        (Category.COOLER, "Calder Heron tower cooler", []),
        (Category.FAN, "Case fans", ["fan.size"]),
        (Category.FAN, "Moth 140 mm", []),
        (Category.CASE, "A case", []),
        (Category.SERVICE, "Assembly", []),
    ],
)
def test_what_is_open_is_asked_and_what_is_named_is_not(
    category: Category, text: str, codes: list[str]
) -> None:
    assert asked(category, text) == codes


@pytest.mark.parametrize(
    ("category", "text", "aspect", "words"),
    [
        (Category.MEMORY, "16GB or 32GB DDR5-6000", Aspect.CAPACITY, "16GB / 32GB"),
        (Category.MEMORY, "64GB (2x16GB) DDR5-6000", Aspect.CAPACITY, "64GB / 2x16GB"),
        (Category.MEMORY, "2x16GB DDR4 DDR5 5600", Aspect.TECHNOLOGY, "DDR4 / DDR5"),
        (Category.MEMORY, "2x16GB DDR5-5600 6000MHz", Aspect.SPEED, "DDR5-5600 / 6000MHz"),
        (Category.MEMORY, "2x16GB DDR5-6000 CL30 CL36", Aspect.TIMINGS, "CL30 / CL36"),
        (Category.STORAGE, "500GB SSD + 2TB NVMe", Aspect.CAPACITY, "500GB / 2TB"),
        (Category.STORAGE, "1TB SSD HDD SATA", Aspect.TECHNOLOGY, "SSD / HDD"),
        (Category.STORAGE, 'Quarrel 1TB SATA SSD 2.5" M.2', Aspect.FORM, '2.5" / M.2'),
        (Category.GRAPHICS, "Sable 4070 8GB 12GB", Aspect.CAPACITY, "8GB / 12GB"),
        (Category.POWER_SUPPLY, "750W 850W 80+ Gold", Aspect.RATED_POWER, "750W / 850W"),
        (Category.POWER_SUPPLY, "850W 80+ Gold 80+ Bronze", Aspect.EFFICIENCY, "80+ Gold / 80+ Bronze"),
    ],
)
def test_a_text_that_contradicts_itself_is_asked_about_with_both_words(
    category: Category, text: str, aspect: Aspect, words: str
) -> None:
    line = OrderLine(line_id="1", category=category, text=text, part_number="X-1")
    (question,) = line_questions(line)
    assert (question.code, question.aspect, question.words) == ("question.contradiction", aspect, words)
    said = sentence(question.code, question.values)
    assert words in said.say and "1" in said.say and said.do


def test_graphics_memory_on_another_line_and_two_drives_in_one_text_are_asked_about() -> None:
    assert asked(Category.BOARD, "Holloway B6-Q 8GB GDDR6") == ["category"]
    assert asked(Category.MEMORY, "2x16GB DDR5-6000 GDDR6") == ["category"]
    assert asked(Category.GRAPHICS, "Sable 210 8GB GDDR6") == []
    assert asked(Category.STORAGE, "2x 1TB NVMe SSD") == ["quantity"]
    assert asked(Category.STORAGE, "2x 1TB NVMe SSD", quantity=2) == []
    assert asked(Category.STORAGE, "1x 1TB NVMe SSD") == []
    assert asked(Category.MEMORY, "2 x Fennec 16GB DDR5-5600") == ["quantity"]
    assert asked(Category.MEMORY, "2 x Fennec 16GB DDR5-5600", quantity=2) == ["memory.count"]
    assert asked(Category.FAN, "3 x Moth 140 mm") == ["quantity"]
    assert asked(Category.DISPLAY, "2x Lindwall L27Q", quantity=2) == []


@pytest.mark.parametrize("settles", [{"part_number": "FQ5"}, {"gtin": "2004120001013"}])
def test_a_part_number_or_a_gtin_settles_what_is_open(settles: dict[str, str]) -> None:
    assert asked(Category.MEMORY, "32GB DDR5", **settles) == []


def test_an_expectation_that_the_order_gives_is_the_answer() -> None:
    speed = Expectation(aspect=Aspect.SPEED, want=6000, unit=Unit.MEGATRANSFERS)
    assert asked(Category.MEMORY, "32GB (2x16GB) DDR5", expectations=(speed,)) == []
    assert asked(Category.MEMORY, "2x16GB DDR5-5600 6000MHz", expectations=(speed,)) == []
    model = Expectation(aspect=Aspect.MODEL, want="Tarn Core i7-9")
    assert asked(Category.PROCESSOR, "Intel Core i7", expectations=(model,)) == []


def test_questions_are_the_same_before_and_after_the_texts_are_read() -> None:
    lines = (
        OrderLine(line_id="1", category=Category.MEMORY, text="16GB or 32GB DDR5"),
        OrderLine(line_id="2", category=Category.POWER_SUPPLY, text="850W"),
        OrderLine(line_id="3", category=Category.PROCESSOR, text="Core i7"),
    )
    order = Order(order_id="A", shop="Kestrel Desk", units=("A",), lines=lines)
    assert questions_of(with_expectations(order)) == questions_of(order)
    assert [question.line for question in questions_of(order)] == ["1", "1", "2", "3"]


def test_every_question_has_a_sentence_that_names_the_line_and_says_how_to_answer() -> None:
    codes = sorted(code for code in known_codes() if code.startswith("question."))
    assert len(codes) >= 17
    for code in codes:
        words = sentence(code)
        fields = {name for _, name, _, _ in string.Formatter().parse(words.say) if name}
        assert {"line", "text"} <= fields, code
        assert "?" in words.say and words.do, code


@pytest.mark.parametrize("text", ["Core i7", "Core i7, no substitution"])
def test_a_condition_of_the_sale_answers_no_question(text: str) -> None:
    assert asked(Category.PROCESSOR, text) == asked(Category.PROCESSOR, "Core i7") != []


def test_the_rate_of_sata_is_no_second_size() -> None:
    for rate in ("6Gb", "6 Gb", "6G", "III 6Gb/s", "6Gb/s"):
        line = OrderLine(line_id="1", category=Category.STORAGE, text=f"1TB SATA {rate} SSD")
        order = with_expectations(Order(order_id="o", shop="s", units=("u",), lines=(line,)))
        wish = order.lines[0].wanted(Aspect.CAPACITY)
        assert wish is not None and wish.want == 10**12
        assert "contradiction" not in asked(Category.STORAGE, line.text)
    assert "contradiction" in asked(Category.STORAGE, "1TB 500GB SATA SSD")


@pytest.mark.parametrize(
    ("text", "quantity", "fans"),
    [("3x 120mm fans", 3, None), ("120mm fan 3-pack", 3, 9), ("120mm 3-pack", 1, 3)],
)
def test_a_quantity_said_twice_counts_once(text: str, quantity: int, fans: int | None) -> None:
    line = OrderLine(line_id="1", category=Category.FAN, text=text, quantity=quantity)
    wish = (
        with_expectations(Order(order_id="o", shop="s", units=("u",), lines=(line,)))
        .lines[0]
        .wanted(Aspect.COUNT)
    )
    assert (wish.want if wish else None) == fans


def test_what_is_said_behind_a_part_is_no_part_of_its_name() -> None:
    for detail in ("Warranty: 3 years", "Colour: black", "Condition: new"):
        line = OrderLine(line_id="1", category=Category.BOARD, text=f"Holloway B650-Q WIFI; {detail}")
        wish = (
            with_expectations(Order(order_id="o", shop="s", units=("u",), lines=(line,)))
            .lines[0]
            .wanted(Aspect.MODEL)
        )
        assert wish is not None and wish.want == "Holloway B650-Q WIFI"
