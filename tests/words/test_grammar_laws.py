"""Laws of the grammar: facts written in any spelling are read back, any text is survived, none is slow."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from importlib import import_module

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.expect import line_questions, line_with_expectations
from shipworthy.words.kinds import find_pci_links
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.spans import Span, plain
from shipworthy.words.suffixes import find_suffixes

MODULES = (
    *("cooling", "counts", "forms", "kinds", "loops", "power", "rotation", "sizes", "sockets", "speeds"),
    *("suffixes", "timings", "versions"),
)
Finder = Callable[[str], tuple[Span, ...]]


def finders() -> Iterator[tuple[str, Finder]]:
    """Yield every finder of the grammar, by name; those that ask for more once for each answer."""
    for name in MODULES:
        module = import_module(f"shipworthy.words.{name}")
        for attribute, found in sorted(vars(module).items()):
            if not attribute.startswith("find_") or found.__module__ != module.__name__:
                continue
            if found is find_sizes:
                for base in Base:
                    yield f"sizes {base.name}", lambda text, base=base: find_sizes(text, base)
            elif found is find_suffixes:
                for category in Category:
                    yield f"suffixes {category}", lambda text, c=category: find_suffixes(text, c)
            else:
                yield attribute, found


FINDERS = dict(finders())
PIECES = st.sampled_from(
    [
        *(
            "16",
            "2x",
            "x2",
            "GB",
            "G",
            "TB",
            "DDR5",
            "-",
            "6000",
            "MHz",
            "CL",
            "C30",
            "30-36-36-76",
            "(",
            ")",
            "80+",
        ),
        *(
            "Gold",
            "850W",
            "1,000",
            "1.000",
            " ",
            " ",
            "\u00a0",
            "×",
            "″",
            "’",
            "Ｇ",
            "ſ",
            "K",
            "İ",
            "M.2",
            "2280",
        ),
        *(
            "PCIe",
            "Gen4",
            "x4",
            "SATA",
            "III",
            "USB",
            "Type-C",
            "Wi-Fi",
            "6E",
            "AIO",
            "360",
            "mm",
            "-pack",
            "LGA",
        ),
        *(
            "1700",
            "AM5",
            "rev",
            "1.2",
            "v2",
            "Ti",
            "SUPER",
            "KF",
            "+",
            "/",
            ",",
            '"',
            "six cores",
            "٣",
            "ATX",
            "m",
        ),
    ]
)
TEXTS = st.one_of(st.text(max_size=120), st.lists(PIECES, max_size=25).map("".join))


def test_every_module_of_the_grammar_has_its_finders_here() -> None:
    assert len(FINDERS) > 40


@settings(max_examples=150, deadline=None)
@given(TEXTS)
def test_every_find_of_any_text_lies_within_it_and_keeps_its_words(text: str) -> None:
    assert len(plain(text)) == len(text)
    for name, finder in FINDERS.items():
        for find in finder(text):
            assert 0 <= find.start < find.end <= len(text), name
            assert text[find.start : find.end] == find.words, name


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(list(Category)), TEXTS.filter(lambda text: bool(text)))
def test_any_line_has_at_most_one_expectation_and_one_question_of_an_aspect(
    category: Category, text: str
) -> None:
    line = OrderLine(line_id="1", category=category, text=text)
    found = line_with_expectations(line).expectations
    assert len({wish.aspect for wish in found}) == len(found)
    asked = line_questions(line)
    assert len({(question.code, question.aspect) for question in asked}) == len(asked)
    torn = {q.aspect for q in asked if q.code == "question.contradiction"}
    assert not torn & {wish.aspect for wish in found}


# What is written is read back

SPACES = st.sampled_from(["", " ", "\u00a0", "\u202f"])
TIMES = st.sampled_from(["x", "×", "X", "*"])
SIZES = st.sampled_from([4, 8, 16, 24, 32, 48, 64])
RATES = st.sampled_from([4800, 5200, 5600, 6000, 6400, 7200, 8000])


@st.composite
def memory_texts(draw: st.DrawFn) -> tuple[str, int, int, int, int]:
    """A memory kit's text in one of its spellings, with its count, module size in GB, speed and latency."""
    count, size, rate = draw(st.sampled_from([1, 2, 4])), draw(SIZES), draw(RATES)
    cas = draw(st.integers(min_value=26, max_value=52))
    gap, times, unit = draw(SPACES), draw(TIMES), draw(st.sampled_from(["GB", "GiB", "gb", "ＧＢ"]))
    kit = draw(
        st.sampled_from(
            [
                f"{count * size}{gap}{unit} ({count}{gap}{times}{gap}{size}{gap}{unit})",
                f"{count}{gap}{times}{gap}{size}{gap}{unit}",
                f"{size}{gap}{unit}{gap}{times}{gap}{count}",
                f"{count * size}{gap}{unit} ({count}{times}{size})",
                f"{count * size}{gap}{unit} kit of {count}",
            ]
        )
    )
    speed = draw(
        st.sampled_from(
            [
                *(f"DDR5-{rate}", f"DDR5 {rate}", f"DDR5 {rate}{gap}MHz", f"DDR5, {rate}{gap}MT/s"),
                *(
                    f"PC5-{rate * 8}",
                    f"DDR5-{rate} PC5-{rate * 8}",
                    f"DDR5 {rate // 1000},{rate % 1000:03} MHz",
                ),
            ]
        )
    )
    row = f"{cas}-{cas + 6}-{cas + 6}-{cas + 46}"
    timings = draw(st.sampled_from([row, f"CL{row}", f"CL{cas} {row}", f"({row})"]))
    words = draw(st.permutations([kit, speed, timings]))
    return f"Fennec Quiet {' '.join(words)} black", count, size, rate, cas


@settings(deadline=None)
@given(memory_texts())
def test_a_memory_kit_in_any_spelling_gives_its_facts_back(said: tuple[str, int, int, int, int]) -> None:
    text, count, size, rate, cas = said
    line = line_with_expectations(OrderLine(line_id="1", category=Category.MEMORY, text=text))
    wants = {wish.aspect: wish.want for wish in line.expectations}
    assert (wants[Aspect.CAPACITY], wants[Aspect.COUNT]) == (count * size * 2**30, count)
    assert (wants[Aspect.SPEED], wants[Aspect.TECHNOLOGY]) == (rate, "DDR5")
    assert wants[Aspect.TIMINGS] == f"{cas}-{cas + 6}-{cas + 6}-{cas + 46}"
    assert line_questions(line) == ()


@settings(deadline=None)
@given(
    st.sampled_from(
        [(250, "GB"), (500, "GB"), (1, "TB"), (2, "TB"), (1.92, "TB"), (7.68, "TB"), (1000, "GB")]
    ),
    SPACES,
    st.sampled_from([".", ","]),
    st.sampled_from(["M.2 2280", "M.2-2280", "(M.2 2280)"]),
    st.sampled_from(["NVMe PCIe 4.0 x4", "PCIe Gen4 x4 NVMe", "PCIe Gen 4x4", "NVMe"]),
)
def test_a_drive_in_any_spelling_gives_its_facts_back(
    size: tuple[float, str], gap: str, point: str, form: str, link: str
) -> None:
    number, unit = size
    text = f"Quarrel Q7 {f'{number:g}'.replace('.', point)}{gap}{unit} SSD {form} {link}"
    line = line_with_expectations(OrderLine(line_id="1", category=Category.STORAGE, text=text))
    wants = {wish.aspect: wish.want for wish in line.expectations}
    assert wants[Aspect.CAPACITY] == round(number * (10**12 if unit == "TB" else 10**9))
    assert (wants[Aspect.FORM], wants[Aspect.INTERFACE], wants[Aspect.TECHNOLOGY]) == (
        *("M.2-2280", "NVMe", "solid state"),
    )
    assert {found.generation for found in find_pci_links(text)} <= {4}


@given(
    st.sampled_from([450, 550, 750, 850, 1000, 1200, 1600]),
    SPACES,
    st.sampled_from(["W", "w", " Watt", "-Watt", " watts"]),
    st.sampled_from(["80+", "80 PLUS", "80 Plus®", "80PLUS"]),
    st.sampled_from(["Bronze", "Silver", "Gold", "Platinum", "Titanium"]),
)
def test_a_supply_in_any_spelling_gives_its_facts_back(
    watts: int, gap: str, unit: str, mark: str, grade: str
) -> None:
    text = f"Calder Still {watts}{gap if unit in 'Ww' else ''}{unit} {mark} {grade} SFX"
    line = line_with_expectations(OrderLine(line_id="1", category=Category.POWER_SUPPLY, text=text))
    wants = {wish.aspect: wish.want for wish in line.expectations}
    assert wants == {Aspect.RATED_POWER: watts, Aspect.EFFICIENCY: f"80 PLUS {grade}", Aspect.FORM: "SFX"}


@given(SIZES, SIZES)
def test_two_sizes_that_are_no_kit_are_asked_about_and_not_chosen_from(one: int, other: int) -> None:
    line = OrderLine(line_id="1", category=Category.MEMORY, text=f"{one}GB or {other}GB DDR5-6000")
    found = line_with_expectations(line).wanted(Aspect.CAPACITY)
    codes = {q.code for q in line_questions(line) if q.aspect is Aspect.CAPACITY}
    assert (found is None) == (one != other) == (codes == {"question.contradiction"})


# No text is slow

_STEMS = (
    *(
        "1",
        "1,000",
        "16GB",
        "1x",
        "2x16GB ",
        "16GB+",
        "1-",
        "30-36-",
        "CL",
        "80 ",
        "80+ ",
        "DDR5",
        "DDR5 ",
        "PC5-",
    ),
    *(
        " ",
        "\t",
        "-",
        "x",
        "USB ",
        "USB 3.2 ",
        "gen ",
        "PCIe ",
        "SATA ",
        "rev ",
        "1.",
        "M.2 ",
        "2.5 ",
        "kit of ",
    ),
    *(
        "802.11a/b/g/",
        "full ",
        "d",
        "G",
        "AIO ",
        "3 pack ",
        "LGA ",
        "Wi",
        "up to ",
        "1 cache ",
        "7200 - ",
        "9GB x",
    ),
)


@pytest.mark.parametrize("stem", _STEMS)
def test_four_times_the_text_takes_no_sixteen_times_the_time(stem: str) -> None:
    """A pattern that tries each start against each end shows in a ratio of 16; lines are at most 500 long, so
    the texts here are far longer than any that come in."""
    short, long = stem * (1500 // len(stem)), stem * (6000 // len(stem))
    assert _seconds(long) < 9 * _seconds(short) + 0.02


def _seconds(text: str) -> float:
    best = float("inf")
    for _ in range(3):
        began = time.process_time()
        for finder in FINDERS.values():
            finder(text)
        best = min(best, time.process_time() - began)
    return best


def test_no_pattern_repeats_a_repetition() -> None:
    """`(a+)+` is what makes a search exponential: an unbounded repetition within an unbounded one."""
    nested = re.compile(r"\([^()]*[+*][^()]*\)[+*]")
    for name in (*MODULES, "phrases", "spans"):
        for attribute, value in vars(import_module(f"shipworthy.words.{name}")).items():
            if isinstance(value, re.Pattern):
                assert not nested.search(re.sub(r"\\.|\[[^\]]*\]", ".", value.pattern)), (name, attribute)


def test_a_kit_of_a_long_row_of_sizes_is_found_once() -> None:
    assert len(find_kits("2x16GB " * 60)) == 60
